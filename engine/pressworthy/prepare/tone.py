"""The tone curve: mid-tones that ink and paper take away are put back before printing.

What the screen shows at L* 50 prints darker: the paper is no screen white, and on poor paper the
black is no black. The curve moves the picture's median to where its print shows what the screen
showed, as far as the house's window and its largest lift allow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lightness import printed

INSIDE = 0.5
"""How far, L*, the aim keeps inside the window: 8-bit inks and sharpening move a median a bit."""

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Window:
    """Where the printed median may lie, L*, and how far, L*, the curve may move it."""

    darkest: float
    lightest: float
    largest_lift: float


def bend(median: float, black: float, paper: float, window: Window) -> float:
    """Return the bend of the curve that brings the picture's median L* to its place.

    black, paper: printed L*. The aim is that the print shows the `median` the screen showed,
    within the window. Below 1 the curve lifts, above 1 it lowers, 1 leaves all as it is.
    """
    if not 1 < median < 99:
        return 1.0
    aim = min(max(median, window.darkest + INSIDE), window.lightest - INSIDE)
    steps = np.linspace(0, 100, 10_001)
    moved = float(np.interp(aim, printed(steps, black, paper), steps))
    moved = min(max(moved, median - window.largest_lift), median + window.largest_lift)
    # a median that would land on white or black has no curve; nothing is meant to go there
    moved = min(max(moved, 1.0), 99.0)
    return median * (100 - moved) / (moved * (100 - median))


def curve(lightness: Values, bend: float) -> Values:
    """Return L* through the curve x / (x + bend (1 - x)), x = L* / 100.

    It is smooth, rises everywhere and ends at 0 and 100, so no tone is clipped and no two become
    one; its slope lies between `bend` and 1 / `bend`, the outermost values being those in the
    highlights and the shadows, so what is protected there is known beforehand.
    """
    x = lightness / 100
    return np.asarray(100 * x / (x + bend * (1 - x)))
