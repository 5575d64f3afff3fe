"""A printing condition's inks: their measured colours, and the light that they let through.

Neugebauer's model: inks that cover a share of the paper each, meeting by chance (Demichel 1924),
leave sixteen colours side by side. They are mixed here as the share of light that passes once, the
root of what a solid reflects of the paper's light, since what passes twice depends on the paper
(`optics`).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_xyz
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.lab import D50
from pressworthy.values.condition import Condition
from pressworthy.values.finding import Unmeasured

Floats = NDArray[np.float32]
Values = NDArray[np.float64]

INKS = "CMYK"
BLACK = 3
XYZ = (0, 1, 2)
Y = (1,)
"""Channels of light: all three, or luminance alone."""


@dataclass(frozen=True, eq=False)
class InkSet:
    """Measured colours of a printing condition, XYZ (D50, perfect white 1).

    primaries: (16, 3), paper and all overprints; the index adds 1 for cyan, 2 magenta, 4 yellow
    and 8 black. ramps: for each ink, tone 0..1 (n,) and XYZ (n, 3).
    """

    primaries: Values
    ramps: tuple[tuple[Values, Values], ...]

    def paper(self) -> Floats:
        """Return the XYZ (3,) of the bare paper."""
        return np.asarray(self.primaries[0], np.float32)

    def roots(self) -> Floats:
        """Return the transmittance, one way, (16, 3) of paper and overprints."""
        return np.asarray(np.sqrt(self.primaries / self.primaries[0]), np.float32)


_STEP = 5
"""Tone, %, between two rows of a ramp read from a profile, whose curves are smooth."""


def inks_of(condition: Condition) -> InkSet:
    """Return the inks of a printing condition: as measured, or else as its ICC profile has them.

    Raises Unmeasured, and OSError where the profile cannot be read.
    """
    if condition.inks is not None:
        return read_inks(condition.inks)
    colour = "cmyk" if "cmyk" in condition.profiles else "gray"
    if colour not in condition.profiles:
        raise Unmeasured(f"the condition {condition.name} has no ICC profile of inks")
    return profile_inks(condition.profiles[colour].read_bytes())


@lru_cache(maxsize=16)
def profile_inks(data: bytes) -> InkSet:
    """Return the inks of an output profile for CMYK or gray, by its table from inks to colours.

    The colours of paper, solids, overprints and tints are absolute colorimetric (A2B1, ICC.1), as
    if measured. Of a gray profile all inks are its black. Raises Unmeasured.
    """
    try:
        profile = parse(data)
    except DamagedProfile as error:
        raise Unmeasured(f"no usable ICC profile: {error}") from None
    mixes = np.arange(16)[:, None] >> np.arange(4) & 1
    steps = np.arange(0, 100 + _STEP, _STEP) / 100
    tints = np.eye(4)[:, None, :] * steps[:, None]
    asked = np.concatenate([mixes.astype(np.float64), tints.reshape(-1, 4)])
    if profile.space == "gray":
        asked = 1 - asked.max(axis=1, keepdims=True)
    values = np.round(asked * 65535).astype(np.uint16)[None]
    xyz = to_xyz(values, profile.space, data, intent="relative", black_point=False)[0] / 100
    white = profile.xyz("wtpt")
    # ICC.1:2022 clause 6.3.2; no ink is blacker than a table's own rounding
    absolute = np.maximum(xyz * (1 if white is None else white / D50), 1e-5).astype(np.float64)
    ramps = absolute[16:].reshape(4, len(steps), 3)
    return InkSet(absolute[:16], tuple((steps, ramp) for ramp in ramps))


@lru_cache(maxsize=16)
def read_inks(path: Path) -> InkSet:
    """Return the inks of an inks.json. Raises Unmeasured where it is missing or not whole."""
    try:
        data = json.loads(path.read_text("ascii"))
        names = ["".join(INKS[i] for i in range(4) if mix >> i & 1) for mix in range(16)]
        primaries = np.array([data["primaries"][name] for name in names], np.float64) / 100
        tables = [np.array(data["ramps"][ink], np.float64) / 100 for ink in INKS]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Unmeasured(f"{path} does not give the colours of the inks: {error}") from None
    return InkSet(primaries, tuple((table[:, 0], table[:, 1:]) for table in tables))


def mixed(areas: Sequence[Floats], inks: InkSet, channels: Sequence[int]) -> Floats:
    """Return the transmittance, one way, (channels, ...) where inks cover `areas`.

    areas: arrays of one shape, 0..1, of black alone or of cyan, magenta, yellow and black.
    """
    roots, shape = inks.roots()[:, list(channels)], areas[0].shape
    if len(areas) == 1:
        solid = roots[1 << BLACK].reshape(-1, *[1] * len(shape))
        return np.asarray(1 - (1 - solid) * areas[0])
    # Demichel's sixteen products, as four times four of the areas themselves
    cyan, magenta, yellow, black = (area.ravel() for area in areas)
    second = _products(yellow, black)
    out, parts = np.empty((len(channels), cyan.size), np.float32), np.empty_like(second)
    for row, table in zip(out, roots.T, strict=True):
        np.matmul(_FROM_SHARES.T @ table.reshape(4, 4).T @ _FROM_SHARES, second, out=parts)
        # one + cyan * other + magenta * (third + cyan * both)
        parts[1::2] *= cyan
        parts[::2] += parts[1::2]
        np.multiply(parts[2], magenta, out=row)
        row += parts[0]
    return out.reshape(len(channels), *shape)


_FROM_SHARES = np.array([(1, -1, -1, 1), (0, 1, 0, -1), (0, 0, 1, -1), (0, 0, 0, 1)], np.float32)
"""Shares of neither of two inks, the one, the other and both, by 1, their areas and the product."""


def _products(one: Floats, other: Floats) -> Floats:
    """Return 1, the areas of two inks (n,) and their product, (4, n)."""
    done = np.empty((4, len(one)), np.float32)
    done[0] = 1
    done[1] = one
    done[2] = other
    np.multiply(one, other, out=done[3])
    return done
