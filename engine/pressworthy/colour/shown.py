"""What a print shows of light, through one table: there and back by the output's ICC profile.

A copy's inks are one transform away from light, and the light that they send back is another. Where
only that light is asked for, by a small view, a table of both is worked out once and looked up: by
LittleCMS, as a profile of its own, between the nodes of the very grid that it would use itself.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import convert, to_lab, to_xyz
from pressworthy.colour.icc_writing import icc_profile, lut_tag, named
from pressworthy.colour.linear import MODES, ROMM, TOP, encoding
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.separation import held_to
from pressworthy.values.condition import MadeProfile, Profile

_NODES = 33
_ROWS = 16
"""Rows that are coded at a time: the processor's cache holds what is made of them."""


def shown(
    romm: NDArray[np.float32],
    profile: Profile,
    *,
    intent: str,
    black_point: bool,
    most_ink: float | None = None,
) -> NDArray[np.float32]:
    """Return the relative light, XYZ (height, width, 3), that an output shows of linear ROMM RGB.

    romm: (height, width, 3), 0..65535. The rest is as for `linear.from_light`; the paper is 1, and
    black as printed. Raises Unmeasured where the profile cannot be used.
    """
    coded, codes = encoding(), np.empty(romm.shape, np.uint16)
    for top in range(0, len(romm), _ROWS):
        steps = np.clip(romm[top : top + _ROWS], 0, TOP).astype(np.intp)
        coded.take(steps, out=codes[top : top + _ROWS], mode="clip")
    data = profile.read_bytes()
    target = held_to(profile, most_ink)
    # by its bytes: it may lie elsewhere the next time
    into = MadeProfile(target.name, str(target), target.read_bytes())
    table = _table(data, into, intent, black_point)
    xyz = to_xyz(codes, "RGB", table, intent="relative", black_point=False)
    xyz /= 100
    return xyz


@lru_cache(maxsize=8)
def _table(profile: bytes, into: MadeProfile, intent: str, black_point: bool) -> bytes:
    """Return an ICC profile from coded ROMM RGB to what is printed of it.

    profile: that tells what inks print; into: that mixes them.
    """
    steps = np.linspace(0, TOP, _NODES).astype(np.uint16)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1).reshape(1, -1, 3)
    inks = convert(
        grid, "RGB", rgb_profile(ROMM.name), into, intent=intent, black_point=black_point
    )
    lab = to_lab(inks, MODES[inks.shape[2]], profile)[0]
    # Lab of 16 bits as ICC.1 version 2 has it
    nodes = (lab + (0, 128, 128)) * (65280 / 100, 256, 256)
    nodes = np.clip(np.rint(nodes), 0, TOP).astype(np.uint16).reshape(*[_NODES] * 3, 3)
    tags = named("ROMM RGB as printed") | {"A2B1": lut_tag(nodes)}
    return icc_profile("scnr", "RGB ", tags, pcs="Lab ")
