"""Colour to one black ink: how much contrast survives, what merges, which mix separates best."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import D50, to_xyz
from pressworthy.colour.lightness import lightness, printed
from pressworthy.colour.spaces import SPACES
from pressworthy.measure.place import where
from pressworthy.measure.press import sample_lab
from pressworthy.values.picture import Picture, measurement

THRESHOLDS = 15
MOST_PAIRS = 6000
PLAINLY = 20.0  # dE00; common practice: two colours nobody would call the same
Mix = tuple[float, float, float]


@dataclass(frozen=True)
class Area:
    """A part of the picture of one colour: in words, where, its mean CIELAB and linear sRGB."""

    name: str
    place: str
    lab: NDArray[np.float64]
    linear: NDArray[np.float64]


@dataclass(frozen=True)
class Merging:
    """Two neighbouring areas of plainly different colour and nearly equal gray.

    difference: of their printed L*; colour: of their colours in dE00.
    """

    first: Area
    second: Area
    difference: float
    colour: float


def contrast_kept(lab: NDArray[np.floating], gray: NDArray[np.floating]) -> float:
    """Return the share (0..1) of neighbouring pixels' colour contrast that the gray keeps.

    CCPR of Lu, Xu and Jia (ICCP 2012): of the neighbours that differ by at least t in CIELAB
    (plain distance), the share that differs by t in gray (0..100); mean over t = 1..15.
    lab: (height, width, 3); gray: (height, width).
    """
    return _score(*_differences(lab, gray))


def linear_srgb(lab: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return linear sRGB, unclipped, of CIELAB (D50), (..., 3)."""
    colorants = SPACES["sRGB"].colorants
    relative = to_xyz(lab) / D50
    return np.asarray(relative * colorants.sum(axis=0) @ np.linalg.inv(colorants), np.float64)


def mixed(linear: NDArray[np.floating], mix: Mix) -> NDArray[np.float64]:
    """Return L* of linear sRGB mixed to gray by shares of red, green and blue."""
    return lightness(np.clip(np.asarray(linear, np.float64) @ np.array(mix), 0, 1))


@measurement
def best_mix(picture: Picture) -> Mix:
    """Return the shares of linear red, green and blue (sRGB) that keep most contrast.

    The best of all mixes in tenths, by `contrast_kept` on the sharpest colour steps of the
    picture; the mix that keeps lightness stays unless another keeps at least a tenth more.
    """
    lab = sample_lab(picture).astype(np.float64)
    first, second = _pairs(lab)
    steps = np.linalg.norm(first - second, axis=1)
    chosen = np.nonzero(steps >= 1)[0]
    if not len(chosen):
        return luminance_mix()
    chosen = chosen[:: max(1, len(chosen) // MOST_PAIRS)]
    steps = steps[chosen]
    ends = linear_srgb(first[chosen]), linear_srgb(second[chosen])

    def kept(mix: Mix) -> float:
        return _score(steps, np.abs(mixed(ends[0], mix) - mixed(ends[1], mix)))

    tenths = range(11)
    mixes: list[Mix] = [
        (r / 10, g / 10, (10 - r - g) / 10) for r in tenths for g in tenths[: 11 - r]
    ]
    best = max(mixes, key=kept)
    return best if kept(best) >= 1.1 * kept(luminance_mix()) else luminance_mix()


def mix_of(picture: Picture, house: Mix) -> Mix:
    """Return the mix of the picture's copy: a person's, or else the house's."""
    if isinstance(picture.gray_mix, tuple):
        return picture.gray_mix
    return best_mix(picture) if picture.gray_mix else house


def as_written(mix: Mix) -> Mix:
    """Return a mix as a picture list writes it, in ten-thousandths."""
    red, green, blue = (round(share, 4) for share in mix)
    return red, green, blue


@cache
def luminance_mix() -> Mix:
    """Return the mix that keeps every colour's lightness: Y of the sRGB colorants (D50)."""
    red, green, blue = (float(v) for v in SPACES["sRGB"].colorants[:, 1])
    return red, green, blue


@measurement
def areas(picture: Picture) -> tuple[tuple[Area, ...], NDArray[np.float64]]:
    """Return the picture's areas of one colour, and how often each borders on each.

    Colours are gathered in cells of CIELAB 20 x 24 x 24; areas under 1 % are left out. Areas
    border where they lie within a hundredth of the picture, so that a thin line between them
    does not part them; borders are shares (0..1) of all pixels.
    """
    lab = sample_lab(picture).astype(np.float64)
    cells = np.floor(lab / [20, 24, 24]).astype(np.int64)
    keys, labels = np.unique(cells @ [10_000, 100, 1], return_inverse=True)
    labels = labels.reshape(lab.shape[:2])
    counts = np.bincount(labels.ravel())
    kept = np.nonzero(counts >= 0.01 * labels.size)[0]
    number = np.full(len(keys), -1)
    number[kept] = np.arange(len(kept))
    labels = number[labels]
    found = []
    for index in range(len(kept)):
        mask = labels == index
        mean = lab[mask].mean(axis=0)
        found.append(Area(colour_name(mean), where(mask), mean, linear_srgb(mean)))
    borders = np.zeros((len(kept), len(kept)))
    near = max(1, round(max(labels.shape) / 100))
    for one, other in ((labels[:, :-near], labels[:, near:]), (labels[:-near], labels[near:])):
        both = (one >= 0) & (other >= 0) & (one != other)
        np.add.at(borders, (one[both], other[both]), 1)
    return tuple(found), (borders + borders.T) / (2 * labels.size)


def merging(picture: Picture, mix: Mix, closest: float) -> Merging | None:
    """Return the two areas that border most on each other and merge in gray, or None.

    mix: of linear sRGB; closest: the printed L* under which they merge. Raises Unmeasured.
    """
    found, borders = areas(picture)
    merged: list[tuple[float, Merging]] = []
    for i, first in enumerate(found):
        for j, second in enumerate(found[:i]):
            colour = float(delta_e_2000(first.lab, second.lab))
            if borders[i, j] < 0.001 or colour < PLAINLY:
                continue
            apart = printed_difference(picture, first, second, mix)
            if apart < closest:
                merged.append((borders[i, j] * colour, Merging(first, second, apart, colour)))
    return max(merged, key=lambda pair: pair[0])[1] if merged else None


def printed_difference(picture: Picture, first: Area, second: Area, mix: Mix) -> float:
    """Return by how much two areas' gray differs in L*, printed in black on the paper."""
    condition = picture.output.condition
    ends = [
        printed(float(mixed(area.linear, mix)), condition.black[0], condition.paper[0])
        for area in (first, second)
    ]
    return abs(ends[0] - ends[1])


def colour_name(lab: NDArray[np.floating]) -> str:
    """Return a colour of CIELAB in two words for a reader."""
    light, a, b = (float(v) for v in lab)
    shade = "dark " if light < 35 else "light " if light > 75 else ""
    if np.hypot(a, b) < 8:
        return f"{shade}grey"
    hue = float(np.degrees(np.arctan2(b, a)) % 360)
    names = ((20, "pink"), (45, "red"), (75, "orange"), (105, "yellow"), (165, "green"),
             (230, "turquoise"), (295, "blue"), (335, "violet"), (361, "pink"))  # fmt: skip
    return shade + next(name for end, name in names if hue < end)


def _pairs(values: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    width = values.shape[2]
    across = values[:, :-1].reshape(-1, width), values[:, 1:].reshape(-1, width)
    down = values[:-1].reshape(-1, width), values[1:].reshape(-1, width)
    return np.concatenate([across[0], down[0]]), np.concatenate([across[1], down[1]])


def _differences(
    lab: NDArray[np.floating], gray: NDArray[np.floating]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    first, second = _pairs(np.asarray(lab, np.float64))
    ends = _pairs(np.asarray(gray, np.float64)[..., None])
    return np.linalg.norm(first - second, axis=1), np.abs(ends[0] - ends[1])[:, 0]


def _score(colour: NDArray[np.float64], gray: NDArray[np.float64]) -> float:
    """Mean over t = 1..15 of #(gray >= t among colour >= t) / #(colour >= t)."""
    levels = np.minimum(np.floor(colour + 1e-9), THRESHOLDS).astype(np.int64)
    counts = np.bincount(levels, minlength=THRESHOLDS + 1)
    members = counts[::-1].cumsum()[::-1][1:]  # for t = 1..15
    used = members > 0
    if not used.any():
        return 1.0
    reward = np.concatenate([[0.0], np.cumsum(np.where(used, 1 / np.maximum(members, 1), 0))])
    both = np.minimum(levels, np.minimum(np.floor(gray + 1e-9), THRESHOLDS).astype(np.int64))
    return float(reward[both].sum() / used.sum())
