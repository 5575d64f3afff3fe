"""Where in a picture something is, in words for a reader."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

_ROWS = ("upper", "middle", "lower")
_COLUMNS = ("left", "centre", "right")


def where(mask: NDArray[Any]) -> str:
    """Return the ninth of the picture that holds most of `mask` (height, width), in words.

    Returns "everywhere" where no ninth holds much more than its share.
    """
    ninths = [np.array_split(band, 3, axis=1) for band in np.array_split(mask, 3)]
    weights = np.array([[part.sum() for part in row] for row in ninths], np.float64)
    if not weights.any() or weights.max() < 0.2 * weights.sum():
        return "everywhere" if weights.any() else "nowhere"
    row, column = divmod(int(weights.argmax()), 3)
    if row == column == 1:
        return "in the centre"
    return f"{_ROWS[row]} {_COLUMNS[column]}"
