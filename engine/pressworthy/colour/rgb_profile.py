"""The ICC profile of a standard RGB space (ICC.1:2010, version 2 matrix and tone curve)."""

from __future__ import annotations

from functools import cache

import numpy as np

from pressworthy.colour.icc_writing import curve_tag, icc_profile, named, xyz_tag
from pressworthy.colour.spaces import SPACES

_VERSION = 0x02400000
_CURVE_POINTS = 1024


@cache
def rgb_profile(name: str) -> bytes:
    """Return the ICC profile of the space called `name`, one of `spaces.SPACES`."""
    space = SPACES[name]
    curve = curve_tag(space.decode(np.linspace(0, 1, _CURVE_POINTS)))
    tags = named(name)
    tags |= dict(zip(("rXYZ", "gXYZ", "bXYZ"), map(xyz_tag, space.colorants), strict=True))
    tags |= dict.fromkeys(("rTRC", "gTRC", "bTRC"), curve)
    return icc_profile("mntr", "RGB ", tags, version=_VERSION)
