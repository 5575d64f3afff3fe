"""The tone curve: mid-tones that ink and paper take away are put back before printing.

All L* here are as the eye takes them that has grown used to the page: the paper is 100 and the
print's black 0, which is what a relative colorimetric conversion with black point compensation
lays them on. Such a conversion keeps the proportions of light, and so it keeps white and black;
but the black of a print sends light back, and this light weighs on every dark tone: what stands
half-way between black and white on a screen stands at 46 % of the way from black to paper in
lightness on coated paper, and at 31 % on newsprint. That is what makes a print look duller. The
curve takes the picture's median back towards its place, as far as the slope allows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lightness import lightness, luminance

LOW_KEY = (10.0, 20.0)
"""Medians, L*, of a dark picture with lights: left below the first, lifted fully above the other.

The other is that of the house standard's window; that the two lie 10 apart is a choice.
"""
LIT = (40.0, 60.0)
"""95th percentile, L*: below the first a picture holds no lights, above the other it does.

A dark picture with lights was exposed for them and is meant to be dark; one without is short of
light all over. The middle of all tones with a soft border: a choice, the trade's word for the
first kind is low key.
"""
HIGH_KEY = (65.0, 80.0)
"""Medians, L*, of a light picture: lifted fully below the first, left above the other.

A picture of lights has no mid-tones to lose, and its lights must not run into the paper.
"""

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Tones:
    """L* at the 5th, 50th and 95th percentile of a picture, 0..100 between black and paper."""

    dark: float
    median: float
    light: float


@dataclass(frozen=True)
class Curve:
    """What is done to a picture's tones. kind: ``low key``, ``high key`` or ""; see `curve`.

    held: whether a person asked for more than the steepest slope allows.
    """

    bend: float
    kind: str = ""
    held: bool = False

    def moved(self, median: float) -> float:
        """Return where a median of that L* comes to."""
        return float(curve(np.array(median), self.bend))


def holds_both(tones: Tones) -> bool:
    """Tell whether a picture holds darks and lights, so that its median is no fault of exposure."""
    return tones.dark < sum(LIT) / 2 < tones.light


def house_curve(tones: Tones, black: float, paper: float, steepest: float) -> Curve:
    """Return the curve of the house for a picture of such tones; it never darkens.

    black, paper: L* of the print, the screen's white being 100; steepest: the greatest slope
    anywhere. On a screen, black 0 and paper 100, all is left as it is.
    """
    kind, share = _key(tones)
    median = tones.median
    whole = Curve(max(_bend(median, lightness_for(median, black, paper)), 1 / steepest))
    bend = _bend(median, median + share * (whole.moved(median) - median))
    # where the median is all but black, rounding alone would darken
    return Curve(min(bend, 1.0), kind)


def chosen_curve(
    tones: Tones, lift: float | None, black: float, paper: float, steepest: float
) -> Curve:
    """Return the curve by a person's lift in L*, or the house's where that is None."""
    if lift is None:
        return house_curve(tones, black, paper, steepest)
    return asked_curve(tones.median, lift, steepest)


def asked_curve(median: float, lift: float, steepest: float) -> Curve:
    """Return the curve that lifts the median by so many L*, as far as the slope allows."""
    bend = _bend(median, median + lift)
    held = min(max(bend, 1 / steepest), steepest)
    return Curve(held, held=abs(held - bend) > 1e-6)


def lightness_for(tone: float, black: float, paper: float) -> float:
    """Return which L* must be sent to print for the print to stand `tone` % from black to paper."""
    low, high = luminance(black), luminance(paper)
    return lightness((luminance(black + (paper - black) * tone / 100) - low) / (high - low))


def curve(lightness: Values, bend: float) -> Values:
    """Return L* through the curve x / (x + bend (1 - x)), x = L* / 100.

    It is smooth, rises everywhere and ends at 0 and 100, so no tone is clipped and no two become
    one; its slope falls from 1 / `bend` at black to `bend` at white, or rises where it lowers.
    """
    x = lightness / 100
    return np.asarray(100 * x / (x + bend * (1 - x)))


def slope(lightness: Values, bend: float) -> Values:
    """Return the slope of the curve at L*."""
    x = lightness / 100
    return np.asarray(bend / (x + bend * (1 - x)) ** 2)


def _key(tones: Tones) -> tuple[str, float]:
    """Return the kind of picture, and the share (0..1) of the whole lift that it gets."""
    dark = 1 - _ramp(tones.median, LOW_KEY)
    lit, high = _ramp(tones.light, LIT), _ramp(tones.median, HIGH_KEY)
    kind = "low key" if dark and lit > 0.5 else "high key" if high else ""
    return kind, (1 - dark * lit) * (1 - high)


def _ramp(value: float, ends: tuple[float, float]) -> float:
    return min(max((value - ends[0]) / (ends[1] - ends[0]), 0.0), 1.0)


def _bend(median: float, moved: float) -> float:
    # a median on white or black has no curve, and none is meant to go there
    if not 1 < median < 99:
        return 1.0
    moved = min(max(moved, 1.0), 99.0)
    return median * (100 - moved) / (moved * (100 - median))
