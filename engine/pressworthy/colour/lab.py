"""CIELAB and XYZ, relative to the PCS white (ISO/CIE 11664-4)."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = TypeVar("Floats", np.float32, np.float64)

D50 = np.array([0.9642, 1.0, 0.8249])
"""XYZ of the PCS white, ICC.1:2022."""
D50.setflags(write=False)


def to_xyz(lab: ArrayLike) -> NDArray[np.float64]:
    """Return XYZ (..., 3), white 1, of CIELAB (..., 3)."""
    return np.asarray(_light(np.asarray(lab, np.float64)) * D50)


def from_xyz(xyz: ArrayLike) -> NDArray[np.float64]:
    """Return CIELAB (..., 3) of XYZ (..., 3), white 1."""
    return _seen(np.asarray(xyz, np.float64) / D50)


def laid_on(
    lab: NDArray[Floats], paper: NDArray[np.float64], black: float = 0.0
) -> NDArray[Floats]:
    """Return CIELAB (..., 3) relative to a paper as an instrument reads it there.

    paper: its XYZ (3,), white 1. Light is scaled by it (ICC.1:2022 clause 6.3.2), and L* 0 laid on
    a neutral of luminance `black`, the paper's being 1 (ISO 18619). Computes in the array's own
    float type.
    """
    white = (paper / D50).astype(lab.dtype)
    return _seen((black + (1 - black) * _light(lab)) * white)


def _light(lab: NDArray[Floats]) -> NDArray[Floats]:
    """Return XYZ over that of the white, of CIELAB."""
    lightness, a, b = np.moveaxis(lab, -1, 0)
    fy = (lightness + 16) / 116
    # planes while computing: several times as fast
    f = np.stack([fy + a / 500, fy, fy - b / 200])
    light = np.where(f > 6 / 29, f * f * f, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    return np.moveaxis(light, 0, -1)


def _seen(light: NDArray[Floats]) -> NDArray[Floats]:
    """Return CIELAB of XYZ over that of the white."""
    line = light / (3 * (6 / 29) ** 2) + 4 / 29
    f = np.where(light > (6 / 29) ** 3, np.cbrt(light), line)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)
