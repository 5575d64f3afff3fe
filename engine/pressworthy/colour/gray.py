"""Colour to gray: how much red, green and blue light count for the gray of a print."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.spaces import SPACES


def row_for_romm(weights: Sequence[float]) -> NDArray[np.float64]:
    """Return the three numbers by which linear ROMM RGB is multiplied for the gray of a mix.

    weights: of linear sRGB; they are brought to the sum 1, so that neutrals stay.
    """
    mix = np.asarray(weights, np.float64)
    if mix.shape != (3,) or mix.sum() <= 0:
        raise ValueError(f"{weights!r}: a gray mix is three numbers whose sum is above 0")
    srgb, romm = SPACES["sRGB"].colorants, SPACES["ROMM RGB"].colorants
    row = np.asarray(mix @ np.linalg.inv(srgb.T) @ romm.T, np.float64)
    return np.asarray(row / row.sum())
