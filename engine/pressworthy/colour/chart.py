"""The mixes of ink that a characterization chart prints (ISO 12642-2, IT8.7/4)."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

# black, %, and the levels of cyan, magenta and yellow that are all mixed with it
_MIXED = {
    0: (0, 10, 20, 30, 40, 55, 70, 85, 100),
    10: (0, 10, 20, 40, 70),
    20: (0, 10, 20, 40, 70, 100),
    40: (0, 20, 40, 70, 100),
    60: (0, 20, 40, 70, 100),
    80: (0, 40, 70, 100),
    100: (0, 40, 100),
}
_ALONE = (2, 3, 5, 7, 10, 15, 20, 25, 30, 40, 50, 60, 70, 75, 80, 85, 90, 95, 98)
_FAINT = (0, 3, 40)
# black, %, and how many of the grays are printed with it
_GRAYS_WITH = {0: 6, 10: 3, 20: 4, 40: 5, 60: 6, 80: 6, 100: 6}
GRAYS = ((10, 6, 6), (20, 12, 12), (40, 27, 27), (60, 45, 45), (80, 65, 65), (100, 85, 85))
"""Cyan, magenta and yellow, %, that print about gray: the chart's own, and ISO 12647-7's."""


def chart() -> NDArray[np.float64]:
    """Return all different mixes of the chart's 1,617 patches, (1588, 4) in %."""
    mixes = {(*mix, black) for black, levels in _MIXED.items() for mix in product(levels, repeat=3)}
    mixes |= {tuple(level * (i == ink) for i in range(4)) for ink in range(4) for level in _ALONE}
    mixes |= set(product(_FAINT, repeat=4)) | set(product((0, 7), repeat=4))
    for black, darkest in _GRAYS_WITH.items():
        mixes |= {(*gray, black) for gray in GRAYS[:darkest]}
    mixes |= {(5, 3, 3, 0), (50, 40, 40, 0)}
    # solids of one ink and of two, and tints of two, on other blacks
    some = [mix for mix in product((0, 1), repeat=3) if 0 < sum(mix) < 3]
    mixes |= {(*(100 * ink for ink in mix), black) for mix in some for black in (10, 70)}
    mixes |= {(*(40 * ink for ink in mix), 70) for mix in some if sum(mix) == 2}
    return np.array(sorted(mixes), np.float64)
