"""CIE lightness, and what a printing condition makes of it."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Values = TypeVar("Values", float, NDArray[np.float64])


def luminance(lightness: Values) -> Values:
    """Return Y (0..1) of CIE L* (0..100), ISO/CIE 11664-4."""
    lightness_ = np.asarray(lightness, np.float64)
    # numpy takes any power but the square by logarithms
    f = (lightness_ + 16) / 116
    y = np.where(lightness_ > 8, f * f * f, lightness_ * 27 / 24389)
    return _like(lightness, y)


def lightness(luminance: Values) -> Values:
    """Return CIE L* (0..100) of Y (0..1), ISO/CIE 11664-4."""
    y = np.maximum(np.asarray(luminance, np.float64), 0)
    value = np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)
    return _like(luminance, value)


def printed(on_screen: Values, black: float, paper: float) -> Values:
    """Return the L* a print shows where the screen shows `on_screen`.

    The screen's luminance 0..1 is laid between the printed black and the paper (both L*), as
    black point compensation does (ISO 18619).
    """
    low, high = luminance(black), luminance(paper)
    return lightness(low + (high - low) * luminance(on_screen))


def _like(given: Values, result: NDArray[np.float64]) -> Values:
    # pyright does not narrow a type variable
    return float(result) if isinstance(given, (float, int)) else result  # pyright: ignore
