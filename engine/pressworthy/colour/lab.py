"""CIELAB and XYZ, relative to the PCS white (ISO/CIE 11664-4)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

D50 = np.array([0.9642, 1.0, 0.8249])
"""XYZ of the PCS white, ICC.1:2022."""
D50.setflags(write=False)


def to_xyz(lab: ArrayLike) -> NDArray[np.float64]:
    """Return XYZ (..., 3), white 1, of CIELAB (..., 3)."""
    light, a, b = np.moveaxis(np.asarray(lab, np.float64), -1, 0)
    fy = (light + 16) / 116
    f = np.stack([fy + a / 500, fy, fy - b / 200], axis=-1)
    return np.asarray(np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)) * D50)


def from_xyz(xyz: ArrayLike) -> NDArray[np.float64]:
    """Return CIELAB (..., 3) of XYZ (..., 3), white 1."""
    ratio = np.asarray(xyz, np.float64) / D50
    line = ratio / (3 * (6 / 29) ** 2) + 4 / 29
    x, y, z = np.moveaxis(np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), line), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)
