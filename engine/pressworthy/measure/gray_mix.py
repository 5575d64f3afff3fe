"""Colour to one black ink: how much contrast survives, what merges, which mix parts it mildly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import D50, laid_on, to_xyz
from pressworthy.colour.lightness import lightness, printed
from pressworthy.colour.spaces import SPACES
from pressworthy.measure.lightness import lab as small_lab
from pressworthy.measure.place import where
from pressworthy.measure.press import sample_lab
from pressworthy.measure.ranks import median, percentiles
from pressworthy.values.picture import Picture, measurement, preset

THRESHOLDS = 15
MOST_SHARE = 0.8  # the house's choice: a bare channel shows all the noise and blocks of its file
TILE = 8
MOST_LIGHTENED = 18  # L*; the house's choice: beyond it the colour is another
PLAINLY = 20.0  # dE00; common practice: two colours nobody would call the same
VEIL = 0.01
"""Light, white 1, that lies over every print: what its black on good paper still sends back (L* 9).

Without it dE00 tells colours apart in the dark that no eye does, as rock against a night sky.
"""
LEAST_PIECE, LEAST_AREA = 0.001, 0.01
"""Of the picture; the house's choice: smaller pieces are texture, smaller areas nobody misses."""
LEAST_INSIDE = 0.12
"""Of a piece, without the samples at its rim: what is thinner is the rim of something blurred."""
ACROSS = 0.015
"""Of the longer side: areas so near meet, though a line or a blurred edge lies between.

So what is nowhere so broad is a line itself, as a beam's shadow, and no area.
"""
LEAST_BORDER = 0.1  # of the longer side; the house's choice
AT_BORDER = 12.0  # dE00 that must be left of `PLAINLY` there: edges are soft
MOST_PLACES = 500  # along a border, evenly spaced: as many tell what all of them do
Mix = tuple[float, float, float]


@dataclass(frozen=True)
class Area:
    """A part of the picture of one colour: in words, where, its mean CIELAB and linear sRGB."""

    name: str
    place: str
    lab: NDArray[np.float64]
    linear: NDArray[np.float64]

    def __str__(self) -> str:
        return f"{self.name} ({self.place})"


@dataclass(frozen=True)
class Merging:
    """Two neighbouring areas of plainly different colour and nearly equal gray.

    difference: of their printed L*; colour: of their colours in dE00.
    """

    first: Area
    second: Area
    difference: float
    colour: float

    def in_words(self) -> str:
        """Return which areas they are and how far their colours differ."""
        return f"{self.first} and {self.second} differ by {self.colour:.0f} dE00 in colour."


@dataclass(frozen=True)
class Border:
    """Where two areas, by number, meet.

    length: over the picture's longer side; colour: dE00 between the areas; sides: linear sRGB on
    the first's side and on the other's, (2, places, 3).
    """

    first: int
    second: int
    length: float
    colour: float
    sides: NDArray[np.float64]


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


@dataclass(frozen=True)
class Limits:
    """What a picture's gray must hold to.

    closest: printed L* under which neighbouring areas merge; least: % of colour contrast kept;
    grain: L* by which a mix may raise the noise of flat places.
    """

    closest: float
    least: float
    grain: float


def limits_of(options: Mapping[str, Any]) -> Limits:
    """Return the options of the rule grayscale as limits."""
    return Limits(options["closest"], options["least contrast"], options["grain"])


def mix_for(picture: Picture, limits: Limits | None) -> Mix:
    """Return the mix its gray copy is made with, as a person or else the output asks.

    limits: that a mix of the picture's own is to hold to; without them, where the house leaves out
    the rule grayscale, nothing is found that a mix should mend. Raises Unmeasured.
    """
    asked = picture.gray_mix or picture.output.gray_mix
    if isinstance(asked, tuple):
        red, green, blue = (share / sum(asked) for share in asked)
        return red, green, blue
    own = mildest_mix(picture, limits) if asked and limits else None
    return own or luminance_mix()


def mildest_mix(picture: Picture, limits: Limits) -> Mix | None:
    """Return the mix nearest that of lightness in which no areas merge and contrast is kept.

    Of all mixes in twentieths, no share above `MOST_SHARE`, that raise no grain over its limit;
    that of lightness itself where it will do. Where none keeps the contrast asked for, one that
    keeps as much as lightness does; None where areas merge in all. Raises Unmeasured.
    """
    plain, noise = luminance_mix(), grain(picture, luminance_mix())
    parting = [
        mix
        for mix in _mixes()
        if merging(picture, mix, limits.closest) is None
        and (mix == plain or grain(picture, mix) <= noise + limits.grain)
    ]
    for least in (limits.least, min(limits.least, contrast_in(picture, plain))):
        for mix in parting:
            if contrast_in(picture, mix) >= least:
                return mix
    return None


@cache
def _mixes() -> tuple[Mix, ...]:
    """Return the mixes to choose from, the mildest first: nearest to that of lightness."""
    steps = range(21)
    mixes = [(r / 20, g / 20, (20 - r - g) / 20) for r in steps for g in steps[: 21 - r]]
    mild = [mix for mix in mixes if max(mix) <= MOST_SHARE]
    return luminance_mix(), *sorted(mild, key=lambda mix: math.dist(mix, luminance_mix()))


def contrast_in(picture: Picture, mix: Mix) -> float:
    """Return the share (%) of the picture's colour contrast that its gray of `mix` keeps."""
    first, second = _pairs(mixed(_linear(picture), mix)[..., None])
    return _score(_colour_steps(picture), np.abs(first - second)[:, 0]) * 100


@measurement(anywhere=True)
def _linear(picture: Picture) -> NDArray[np.float64]:
    return linear_srgb(sample_lab(picture))


@measurement(anywhere=True)
def _colour_steps(picture: Picture) -> NDArray[np.float64]:
    first, second = _pairs(sample_lab(picture).astype(np.float64))
    return np.asarray(np.linalg.norm(first - second, axis=1))


def grain(picture: Picture, mix: Mix) -> float:
    """Return the noise, L*, of the picture's gray on the flat place where it is nearly worst.

    The root mean square step between neighbours, over the square root of 2; of the picture's flat
    places the 90th percentile, 0 where it has none. Raises Unmeasured.
    """
    flat = _flat_places(picture)
    if not len(flat):
        return 0.0
    steps = np.diff(mixed(flat, mix), axis=2)
    return float(percentiles(np.sqrt((steps**2).mean(axis=(1, 2)) / 2), [90])[0])


@measurement(anywhere=True)
def _flat_places(picture: Picture) -> NDArray[np.float64]:
    """Return the quarter of the small copy's tiles with least drawing, (n, 8, 8, 3) linear sRGB.

    Tiles near black or white are left out: what is clipped there hides the noise.
    """
    values = linear_srgb(small_lab(picture))
    rows, columns = values.shape[0] // TILE, values.shape[1] // TILE
    tiles = (
        values[: rows * TILE, : columns * TILE]
        .reshape(rows, TILE, columns, TILE, 3)
        .swapaxes(1, 2)
        .reshape(-1, TILE, TILE, 3)
    )
    means = mixed(tiles.mean(axis=(1, 2)), luminance_mix())
    tiles = tiles[(means > 5) & (means < 95)]
    drawing = lightness(np.clip(tiles, 0, 1)).std(axis=(1, 2)).max(axis=1)
    return np.asarray(tiles[np.argsort(drawing, kind="stable")[: math.ceil(len(tiles) / 4)]])


def as_written(mix: Mix) -> str:
    """Return a mix as a picture list writes it."""
    return " ".join(f"{share:.4g}" for share in mix)


@cache
def luminance_mix() -> Mix:
    """Return the mix that keeps every colour's lightness: Y of the sRGB colorants (D50)."""
    red, green, blue = (float(v) for v in SPACES["sRGB"].colorants[:, 1])
    return red, green, blue


@measurement(anywhere=True)
def areas(picture: Picture) -> tuple[tuple[Area, ...], NDArray[np.int64]]:
    """Return the picture's areas of one colour, and which of them each sample is in, or -1.

    Colours are gathered in cells of CIELAB 20 x 24 x 24. An area is all pieces of one cell that
    hang together, fill `LEAST_PIECE` of the picture, are mostly more than a rim and somewhere as
    broad as `ACROSS`.
    """
    colours = _smooth(picture)
    cells = np.floor(colours / [20, 24, 24]).astype(np.int64)
    keys, labels = np.unique(cells @ [10_000, 100, 1], return_inverse=True)
    labels = labels.reshape(colours.shape[:2])
    pieces = pyvips.Image.new_from_array(labels.astype(np.uint16)).labelregions()
    numbers = pieces.numpy()
    sizes = np.bincount(numbers.ravel())
    insides = _squares_in(pieces, 3, len(sizes))
    broad = _squares_in(pieces, _across(labels), len(sizes)) > 0
    whole = (sizes >= LEAST_PIECE * labels.size) & (insides >= LEAST_INSIDE * sizes) & broad
    labels = np.where(whole[numbers], labels, -1)
    shares = np.bincount(labels[labels >= 0], minlength=len(keys)) / labels.size
    kept = np.nonzero(shares >= LEAST_AREA)[0].tolist()
    number = np.full(len(keys) + 1, -1)
    number[kept] = np.arange(len(kept))
    labels = number[labels]
    regions = []
    for index in range(len(kept)):
        mask = labels == index
        mean = colours[mask].mean(axis=0)
        regions.append(Area(colour_name(mean), where(mask), mean, linear_srgb(mean)))
    return tuple(regions), labels


def _across(labels: NDArray[np.int64]) -> int:
    """Return `ACROSS` in samples, at least one."""
    longer: int = max(labels.shape)
    return max(1, round(longer * ACROSS))


def _squares_in(pieces: Any, side: int, count: int) -> NDArray[np.int64]:
    """Return how many squares of `side` samples fit into each of the numbered pieces.

    Those that reach over the picture's edge do, as if it went on there.
    """
    width, height = pieces.width + 2 * side, pieces.height + 2 * side
    edged = pieces.embed(side, side, width, height, extend="copy")
    # the least and the most of a square, by way of its rows
    least, most = (
        edged.rank(side, 1, end * (side - 1)).rank(1, side, end * (side - 1)) for end in (0, 1)
    )
    alike = (least == most).numpy()[side:-side, side:-side] > 0
    return np.bincount(pieces.numpy()[alike], minlength=count)


@measurement(anywhere=True)
def _smooth(picture: Picture) -> NDArray[np.float64]:
    """Return the sample's CIELAB, each the median of 3 x 3: without grain, with its edges."""
    planes = pyvips.Image.new_from_array(sample_lab(picture), interpretation="lab")
    edged = planes.embed(1, 1, planes.width + 2, planes.height + 2, extend="copy")
    return np.asarray(edged.rank(3, 3, 4).numpy()[1:-1, 1:-1], np.float64)


@measurement(anywhere=True)
def neighbours(picture: Picture) -> tuple[Border, ...]:
    """Return the borders of each two areas that differ plainly in colour where they meet.

    Areas meet where they lie within `ACROSS`. The colours there must differ too, not only their
    means: a sky that turns from blue to white has no border.
    """
    parts, labels = areas(picture)
    colours = _smooth(picture)
    near = _across(labels)
    places = np.arange(labels.size).reshape(labels.shape)
    ends = []
    for one, other in ((places[:, :-near], places[:, near:]), (places[:-near], places[near:])):
        met = np.stack([one.ravel(), other.ravel()])
        first, second = labels.ravel()[met]
        both = met[:, (first >= 0) & (second >= 0) & (first != second)]
        first, second = labels.ravel()[both]
        ends.append(np.where(first > second, both, both[::-1]))
    met = np.concatenate(ends, axis=1)
    pairs, of = np.unique(labels.ravel()[met], axis=1, return_inverse=True)
    found = []
    for index, (i, j) in enumerate(pairs.T.tolist()):
        its = met[:, of.ravel() == index]
        length = its.shape[1] / near / max(labels.shape)
        apart = float(_apart(parts[i].lab, parts[j].lab))
        if length < LEAST_BORDER or apart < PLAINLY:
            continue
        its = its[:, :: math.ceil(its.shape[1] / MOST_PLACES)]
        sides = colours.reshape(-1, 3)[its]
        if median(_apart(sides[0], sides[1])) >= AT_BORDER:
            found.append(Border(i, j, length, apart, linear_srgb(sides)))
    return tuple(found)


def _apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return dE00 of colours as they are seen with `VEIL` over them."""
    return delta_e_2000(laid_on(one, D50, VEIL), laid_on(other, D50, VEIL))


def merging(picture: Picture, mix: Mix, closest: float) -> Merging | None:
    """Return the two areas that border most on each other and merge in gray, or None.

    Both their means must come nearer than `closest`, printed L*, and half of their border. mix: of
    linear sRGB. Raises Unmeasured.
    """
    parts, _ = areas(picture)
    condition = picture.output.condition
    merged: list[tuple[float, Merging]] = []
    for border in neighbours(picture):
        pair = parts[border.first], parts[border.second]
        means = np.array([area.linear for area in pair])
        shown, along = (
            printed(mixed(values, mix), condition.black[0], condition.paper[0])
            for values in (means, border.sides)
        )
        apart = max(float(abs(shown[0] - shown[1])), float(median(abs(along[0] - along[1]))))
        if apart < closest:
            merged.append((border.length * border.colour, Merging(*pair, apart, border.colour)))
    return max(merged, key=lambda pair: pair[0])[1] if merged else None


@dataclass(frozen=True)
class Lightened:
    """An area made lighter on a copy: which, and by how much L*."""

    area: Area
    by: int


def parted_by_light(picture: Picture, mix: Mix, pair: Merging, closest: float) -> Lightened | None:
    """Return which of a merging pair, made lighter, leaves the picture without a merging pair.

    By the fewest L* of 3, 6 and so on to `MOST_LIGHTENED`; verified on a picture so changed. None
    where it does not come so. Raises Unmeasured.
    """
    for by in range(3, MOST_LIGHTENED + 1, 3):
        for area in (pair.first, pair.second):
            changed = replace(picture)
            preset(changed, sample_lab, lightened(picture, Lightened(area, by)))
            if merging(changed, mix, closest) is None:
                return Lightened(area, by)
    return None


def lightened(picture: Picture, change: Lightened) -> NDArray[np.float32]:
    """Return the sample's CIELAB with one area made lighter. Raises Unmeasured."""
    parts, labels = areas(picture)
    mask = labels == next(i for i, area in enumerate(parts) if area is change.area)
    colours = sample_lab(picture).copy()
    colours[mask, 0] = np.minimum(colours[mask, 0] + change.by, 100)
    return colours


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
