"""Colour of a picture as CIELAB, and how its lightness is spread."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.lightness import printed
from pressworthy.measure.icc import assumed_space, embedded_profile, profile_for_pixels
from pressworthy.measure.pixels import is_drawn, small_copy
from pressworthy.measure.ranks import percentiles
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

LIGHTEST, DARKEST = 99.5, 0.5
GROUND = 0.6
"""Share of a picture's outline that a plain white or black ground fills: that of a cut-out.

A sky that is burnt out as far down as the middle fills about half of it.
"""


@dataclass(frozen=True)
class Lightness:
    """L* of the small copy at percentiles 5, 25, 50, 75, 95, and the shares clipped (0..1).

    The paper behind transparent parts is no part of the picture. A plain ground, see `GROUND`, is,
    but nothing is lost in it: what of it reaches the edge does not count as clipped.
    """

    p5: float
    p25: float
    median: float
    p75: float
    p95: float
    white: float
    black: float


@measurement(anywhere=True)
def lab(picture: Picture) -> NDArray[np.float32]:
    """Return the small copy as CIELAB (D50), (height, width, 3), relative to its own white.

    Read through `profile_for_pixels`. Raises Unmeasured.
    """
    return to_lab(small_copy(picture), picture.header.mode, profile_for_pixels(picture))


@measurement(anywhere=True)
def lightness(picture: Picture) -> Lightness:
    """Return how L* is spread over the small copy. Raises Unmeasured."""
    values = _drawn(picture)
    p5, p25, median, p75, p95 = percentiles(values, [5, 25, 50, 75, 95]).tolist()
    return Lightness(
        p5,
        p25,
        median,
        p75,
        p95,
        white=_clipped(picture, values >= LIGHTEST),
        black=_clipped(picture, values <= DARKEST),
    )


def _clipped(picture: Picture, clipped: NDArray[np.bool_]) -> float:
    """Return the share that is clipped, without a plain ground. clipped: as `_drawn` has it."""
    drawn, share = is_drawn(picture), float(clipped.mean())
    if not share or clipped.size != drawn.sum():
        return share
    where = np.zeros(drawn.shape, bool)
    where[drawn] = clipped
    if np.concatenate([where[0], where[-1], where[:, 0], where[:, -1]]).mean() < GROUND:
        return share
    # bordered by one more row and column of ground, all that reaches the edge is one area
    areas = pyvips.Image.new_from_array(np.pad(where, 1, constant_values=True).astype(np.uint8))
    numbers = np.asarray(areas.labelregions().numpy())
    ground = (numbers == numbers[0, 0])[1:-1, 1:-1]
    return float((where & ~ground).sum() / clipped.size)


def _drawn(picture: Picture) -> NDArray[np.float32]:
    """Return L* of the small copy where it is picture: not of the paper behind transparent parts.

    On a prepared copy that paper is pixels as any other, the lightest; its ticket tells how many.
    """
    values, made = lab(picture)[..., 0], ticket(picture)
    if made and made.bare:
        values = np.sort(values, axis=None)
        bare = min(float(made.bare), float((values >= LIGHTEST).mean()))
        values = values[: round(values.size * (1 - bare))]
    else:
        values = values[is_drawn(picture)]
    if not values.size:
        raise Unmeasured("all of it is transparent")
    return values


@measurement(anywhere=True)
def printed_lightness(picture: Picture) -> Lightness:
    """Return how L* will be spread on the output's paper. Raises Unmeasured.

    RGB and gray are laid between the condition's black and its paper; what has an output profile
    is ink already, as CMYK always is, and only the paper's own tone is added to it.
    """
    darkest, paper = picture.span
    black = 0.0 if is_ink(picture) else darkest
    seen = lightness(picture)

    def laid(value: float) -> float:
        return printed(value, black, paper)

    return replace(
        seen,
        p5=laid(seen.p5),
        p25=laid(seen.p25),
        median=laid(seen.median),
        p75=laid(seen.p75),
        p95=laid(seen.p95),
    )


def is_ink(picture: Picture) -> bool:
    """Tell whether the pixels are ink already: CMYK, or what has an output profile.

    Raises Unmeasured where that is damaged.
    """
    if picture.header.mode == "CMYK":
        return True
    try:
        profile = None if assumed_space(picture) else embedded_profile(picture)
    except DamagedProfile as error:
        raise Unmeasured(f"its ICC profile is damaged: {error}") from None
    return profile is not None and profile.kind == "output"
