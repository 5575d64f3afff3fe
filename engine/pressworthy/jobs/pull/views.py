"""Views of the whole picture, as light: as supplied, soft proof, print look and mono."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lightness import lightness
from pressworthy.colour.linear import TOP, Light
from pressworthy.prepare import Stage
from pressworthy.print import softproof
from pressworthy.print.printlook import Floats, Press
from pressworthy.values.output import Output

LONGEST = 1200
"""Most px of a view's longer edge."""

BINS = 50
"""Steps of L* from 0 to 100 in a histogram of tones."""


@dataclass(frozen=True)
class Stages:
    """A picture on its way to the page, from which its pull is made.

    light: the master, as cut for its place, at the views' size by plain means, as all views are:
    what differs between them is never how they were brought there; after: libvips image of the copy
    in the output's colours; sharp, plain: the copy before its conversion, with sharpening and
    without, None where they cannot be had; ppi: of the copy, None where unknown.
    """

    light: Light
    after: Any
    sharp: Stage | None
    plain: Stage | None
    ppi: float | None

    def parts(self, left: int, top: int, width: int, height: int) -> dict[str, Any]:
        """Return a part of the copy, libvips images, by what their views' names end in."""
        asked = left, top, width, height
        parts = {"": self.after.crop(*asked)}
        return {**parts, "-before": self.plain.part(*asked)} if self.plain else parts

    def small(self, supplied: Floats, output: Output, factor: int) -> dict[str, Floats]:
        """Return the copy's relative light at 1/`factor` by what its views' names end in.

        supplied: the master's.
        """
        if self.sharp is None or self.plain is None:
            return {"": softproof.copy_light(self.after, output, factor)}
        return {
            name: stage.small(supplied, factor)
            for name, stage in (("", self.sharp), ("-before", self.plain))
        }


def factor_for(image: Any) -> int:
    """Return how many px of a libvips image become one of its view."""
    longest: int = max(image.width, image.height)
    return max(1, ceil(longest / LONGEST))


def lights(stages: Stages, output: Output, press: Press | None) -> dict[str, Floats]:
    """Return linear XYZ (height, width, 3) of every view by its name, see `Pull`."""
    condition, factor = output.condition, factor_for(stages.after)
    supplied = softproof.relative_light(stages.light)
    views = {"supplied": supplied}
    for state, inked in stages.small(supplied, output, factor).items():
        views[f"soft{state}"] = page = softproof.soft_proof(inked, condition)
        if press and stages.ppi:
            ppi = stages.ppi / factor
            views[f"print{state}"] = softproof.page_view(
                page, ppi, press.blur, output.viewing_distance
            )
    if output.colour == "cmyk":
        views["mono"] = softproof.mono_proof(supplied, condition)
    return views


def tones(light: Floats) -> tuple[tuple[float, ...], float]:
    """Return the share (0..1) of a view in each of `BINS` steps of L*, and the median L*."""
    steps = np.clip(light[..., 1] * TOP + 0.5, 0, TOP).astype(np.intp)
    counts = np.bincount(steps.ravel(), minlength=TOP + 1)
    levels, starts = _levels()
    held = np.add.reduceat(counts, starts) / max(1, steps.size)
    median = levels[np.searchsorted(counts.cumsum(), steps.size / 2)]
    return tuple(held.tolist()), float(median)


@cache
def _levels() -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return the L* of each step of luminance, and where each of `BINS` begins in them."""
    levels = lightness(np.linspace(0, 1, TOP + 1))
    return levels, np.searchsorted(levels, np.linspace(0, 100, BINS, endpoint=False))
