"""The reader's eye: contrast sensitivity by cycles/degree, and a low-pass that stands for it.

Two published contrast sensitivity functions. Their scales differ and cancel wherever they weight
something, so only their shapes matter here.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.print.optics import Floats, by_frequency, filtered

Values = NDArray[np.float64]

PEAK = 7.8909
"""Cycles/degree where Mannos and Sakrison's function is highest."""


def mannos_sakrison(frequency: Values) -> Values:
    """Return sensitivity, 0.98 at its peak (Mannos and Sakrison, IEEE Trans. IT-20, 1974)."""
    f = 0.114 * np.asarray(frequency, np.float64)
    return np.asarray(2.6 * (0.0192 + f) * np.exp(-(f**1.1)))


def cpiq(frequency: Values) -> Values:
    """Return sensitivity to luminance, 3 at its peak of 4 cycles/degree.

    Movshon's form a f^c exp(-b f) with the constants that IEEE 1858 (CPIQ) gives for luminance.
    """
    f = np.asarray(frequency, np.float64)
    return np.asarray(75 * f**0.8 * np.exp(-0.2 * f) / 34.05)


def mm_per_degree(distance: float) -> float:
    """Return the mm that one degree of the visual field takes at `distance` mm."""
    return float(2 * distance * np.tan(np.radians(0.5)))


def reach(distance: float) -> float:
    """Return how far in mm on the page light matters to the eye at `distance` mm.

    Half a degree: 8 periods of the finest detail that the eye keeps.
    """
    return mm_per_degree(distance) / 2


def low_pass(frequency: NDArray[np.floating], distance: float) -> Values:
    """Return what share of a contrast of `frequency` cycles/mm the eye gets at `distance` mm.

    Mannos and Sakrison's function over its peak above the peak, 1 below: the eye's insensitivity
    to broad gradients is left to the beholder's own eye, so means are kept.
    """
    per_degree = np.asarray(frequency, np.float64) * mm_per_degree(distance)
    share = mannos_sakrison(per_degree) / mannos_sakrison(np.array(PEAK))
    return np.where(per_degree <= PEAK, 1.0, share)


def as_seen(light: Floats, pitch: float, distance: float) -> Floats:
    """Return linear light (..., height, width) as the eye gets it; periodic at its borders.

    pitch: mm between samples; distance: the reader's in mm.
    """
    height, width = light.shape[-2:]
    return filtered(light, _eye(height, width, pitch, distance))


@lru_cache(maxsize=8)
def _eye(height: int, width: int, pitch: float, distance: float) -> Floats:
    return by_frequency(lambda f: low_pass(f, distance), height, width, pitch)
