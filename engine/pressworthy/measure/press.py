"""A picture as the output's press will print it: its inks, and how far its colours move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import as_vips, convert, to_lab, to_lightness
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import laid_on, to_xyz
from pressworthy.colour.lightness import luminance, printed
from pressworthy.colour.linear import in_black
from pressworthy.colour.separation import asks_for_more, held_to
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.lightness import own_lightness
from pressworthy.measure.pixels import small_copy, survey
from pressworthy.values.condition import Profile
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture, is_known, measurement

FULL = 65535


@dataclass(frozen=True)
class Coverage:
    """Total ink in % of paper: the most, the 99.9th percentile, and by how many pixels.

    histogram[i] is the share (0..1) of the picture whose inks sum to i / resolution %.
    """

    most: float
    p999: float
    histogram: NDArray[np.float64]
    resolution: float

    def share_over(self, limit: float) -> float:
        """Return the share (0..1) of the picture over `limit` %."""
        # half a step of the coding is no excess
        first = int(np.floor(limit * self.resolution + 0.5)) + 1
        return float(self.histogram[first:].sum())


def prints_as_it_stands(picture: Picture) -> bool:
    """Tell whether a picture's own inks go to the press: nothing is converted, no colour moves."""
    return picture.header.mode == "CMYK" and picture.output.colour == "cmyk"


def separated_to(output: Output) -> float | None:
    """Return the ink limit, %, for which an output's separation is made anew; None for none.

    None where the condition's own profile keeps to the limit. Raises Unmeasured.
    """
    profile = output.condition.profiles.get(output.colour)
    if output.most_ink is None or profile is None or not asks_for_more(profile, output.most_ink):
        return None
    return output.most_ink


@measurement(anywhere=True)
def sample(picture: Picture) -> NDArray[Any]:
    """Return every other row and column of the small copy: about 60 000 raw values."""
    return np.ascontiguousarray(small_copy(picture)[::2, ::2])


@measurement(anywhere=True)
def sample_lab(picture: Picture) -> NDArray[np.float32]:
    """Return the sample's colours as meant: CIELAB relative to white and black point."""
    mode, profile = picture.header.mode, profile_for_pixels(picture)
    return to_lab(sample(picture), mode, profile, black_point=True)


@measurement(anywhere=True)
def sample_inks(picture: Picture) -> NDArray[np.uint16]:
    """Return the sample in the output's colours: 16-bit inks, gray or RGB.

    CMYK for a CMYK output as it stands; gray for one in black alone, if the house prints it so;
    everything else relative colorimetric with black point compensation through the condition's ICC
    profile, within the ink limit. Raises Unmeasured.
    """
    if prints_as_it_stands(picture):
        values = sample(picture)
        return values if values.dtype == np.uint16 else values.astype(np.uint16) * np.uint16(257)
    mode, profile = picture.header.mode, profile_for_pixels(picture)
    if _black_of_four(picture):
        light = luminance(sample_lab(picture)[..., 0].astype(np.float64)) * FULL
        shown = as_vips(np.round(light).astype(np.uint16), "gray")
        return np.asarray(in_black(shown, _target(picture), black_point=True, depth=16).numpy())
    target = held_to(_target(picture), picture.output.most_ink)
    return convert(sample(picture), mode, profile, target)


def _black_of_four(picture: Picture) -> bool:
    return picture.in_black_alone and picture.output.colour == "cmyk"


@measurement(anywhere=True)
def colour_shift(picture: Picture) -> NDArray[np.float32]:
    """Return by how many dE00 each colour of the sample misses what is meant, (height, width).

    Both are seen on the output's paper, CIELAB (D50) as an instrument reads it there, in which
    tolerances of print are stated (ISO 12647). Meant is the most that this paper and this black
    allow: white is the bare paper, black the black that the condition prints, and every colour
    between them keeps its share of light (black point compensation, ISO 18619). Printed is what
    the picture's inks give by the condition's ICC profile. So only what the inks do not reach
    counts. Were both stretched to a black of L* 0, browns that newsprint, whose black prints at
    L* 34, misses by 1 dE00 on paper would count as 4 to 6.

    A gray picture in black alone has no colour to lose. Raises Unmeasured.
    """
    if _black_of_four(picture):
        return np.zeros(sample(picture).shape[:2], np.float32)
    paper = to_xyz(picture.output.condition.paper)
    meant = laid_on(
        sample_lab(picture), paper, _printed_black(_target(picture), picture.output.mode)
    )
    return np.asarray(delta_e_2000(meant, laid_on(_inked_lab(picture), paper)), np.float32)


@measurement(anywhere=True)
def _inked_lab(picture: Picture) -> NDArray[np.float32]:
    """Return what the sample's inks print, CIELAB relative to the paper. Raises Unmeasured."""
    return to_lab(sample_inks(picture), picture.output.mode, _target(picture).read_bytes())


def _inked_lightness(picture: Picture) -> NDArray[np.float32]:
    """Return the L* of `_inked_lab`, which may be known of what goes to its own press."""
    known = prints_as_it_stands(picture) and is_known(picture, own_lightness)
    if known and profile_for_pixels(picture) == _target(picture).read_bytes():
        return own_lightness(picture)[::2, ::2]
    return _inked_lab(picture)[..., 0]


@lru_cache(maxsize=8)
def _printed_black(profile: Profile, mode: str) -> float:
    """Return the luminance, paper 1, at which a condition prints a picture's black."""
    black = convert(np.zeros((1, 1, 3), np.uint8), "RGB", "srgb", profile)
    return luminance(float(to_lab(black, mode, profile.read_bytes())[0, 0, 0]))


def lightness_lost(picture: Picture, largest: float) -> NDArray[np.float64]:
    """Return by how many printed L* each tone of the sample darkens where dots fill in.

    largest: %; every dot over it is taken to close to a solid. (height, width). A tone that is
    black, or a solid already, loses nothing.
    """
    return _lost_at(largest)(picture)


def lightness_gained(picture: Picture, smallest: float) -> NDArray[np.float64]:
    """Return by how many printed L* tones of the sample lighten whose every dot breaks off.

    smallest: %; every dot under it is taken to leave bare paper. (height, width), 0 elsewhere.
    """
    return _gained_at(smallest)(picture)


@lru_cache(maxsize=8)
def _gained_at(smallest: float) -> Callable[[Picture], NDArray[np.float64]]:
    @measurement(anywhere=True)
    def gained(picture: Picture) -> NDArray[np.float64]:
        inks, least = sample_inks(picture), FULL * smallest / 100
        # gray counts light, the others count ink
        if picture.output.mode == "gray":
            bare, light = FULL, inks[..., 0]
            broken = (light > FULL - least) & (light < FULL)
        else:
            bare, most = 0, _over_bands(np.maximum, inks)
            broken = (most < least) & (most > 0)
        return _moved(picture, broken, np.full_like(inks[broken], bare))

    return gained


@lru_cache(maxsize=8)
def _lost_at(largest: float) -> Callable[[Picture], NDArray[np.float64]]:
    @measurement(anywhere=True)
    def lost(picture: Picture) -> NDArray[np.float64]:
        inks, most = sample_inks(picture), FULL * largest / 100
        if picture.output.mode == "gray":
            filled = (inks[..., 0] < FULL - most) & (inks[..., 0] > 0)
            return -_moved(picture, filled, np.zeros_like(inks[filled]))
        filled = _over_bands(np.logical_or, (inks > most) & (inks < FULL))
        closed = inks[filled]
        closed[closed > most] = FULL
        return -_moved(picture, filled, closed)

    return lost


def _moved(
    picture: Picture, where: NDArray[np.bool_], inks: NDArray[np.uint16]
) -> NDArray[np.float64]:
    """Return by how many printed L* other inks (n, channels) there are lighter than the sample's.

    where: (height, width); 0 elsewhere.
    """
    paper = picture.output.condition.paper[0]
    moved = np.zeros(where.shape)
    if len(inks):
        its = _target(picture).read_bytes()
        after = to_lightness(inks[None], picture.output.mode, its)[0]
        before = _inked_lightness(picture)[where]
        light = (printed(seen.astype(np.float64), 0.0, paper) for seen in (after, before))
        moved[where] = np.subtract(*light)
    return moved


@measurement(anywhere=True)
def ink_coverage(picture: Picture) -> Coverage:
    """Return the sum of C, M, Y and K: of a CMYK file as it stands, else as converted.

    A CMYK file is measured at full resolution. Raises Unmeasured.
    """
    if picture.header.mode == "CMYK":
        return _coverage(survey(picture).ink, 255 / 100)
    sums = _over_bands(np.add, sample_inks(picture).astype(np.float64)) / FULL * 100
    steps = np.bincount(np.round(sums.ravel() * 10).astype(np.int64), minlength=4001)
    return _coverage(steps, 10)


def _over_bands(joined: np.ufunc, values: NDArray[Any]) -> NDArray[Any]:
    """Return values (height, width, bands) joined, (height, width).

    Band by band: numpy is slow along a short last axis.
    """
    return np.asarray(reduce(joined, np.moveaxis(values, 2, 0)))


def _coverage(counts: NDArray[Any], resolution: float) -> Coverage:
    shares = counts / counts.sum()
    most = int(np.nonzero(counts)[0][-1])
    p999 = int(np.searchsorted(np.cumsum(shares), 0.999))
    return Coverage(most / resolution, p999 / resolution, shares, resolution)


def _target(picture: Picture) -> Any:
    colour = picture.output.colour
    path = picture.output.condition.profiles.get(colour)
    if path is None:
        raise Unmeasured(
            f"condition {picture.output.condition.name} has no ICC profile for {colour}"
        )
    return path
