"""Colour to gray: how much red, green and blue light count for the gray of a print."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.spaces import SPACES

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Of linear sRGB, IEC 61966-2-1: the mix that keeps every colour's lightness."""


def separate(linear_rgb: NDArray[np.floating], weights: Sequence[float]) -> NDArray[np.float64]:
    """Return the gray, linear 0..1, (height, width), of linear sRGB (height, width, 3).

    weights: of red, green and blue; they are brought to the sum 1, so that neutrals stay.
    """
    gray: NDArray[np.float64] = np.asarray(linear_rgb, np.float64) @ _whole(weights)
    return np.clip(gray, 0, 1)


def row_for_romm(weights: Sequence[float]) -> NDArray[np.float64]:
    """Return the three numbers by which linear ROMM RGB is multiplied for the same gray."""
    srgb, romm = SPACES["sRGB"].colorants, SPACES["ROMM RGB"].colorants
    row = np.asarray(_whole(weights) @ np.linalg.inv(srgb.T) @ romm.T, np.float64)
    return np.asarray(row / row.sum())


def _whole(weights: Sequence[float]) -> NDArray[np.float64]:
    mix = np.asarray(weights, np.float64)
    if mix.shape != (3,) or mix.sum() <= 0:
        raise ValueError(f"{weights!r}: a gray mix is three numbers whose sum is above 0")
    return np.asarray(mix / mix.sum(), np.float64)
