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
    """Return the transmittance, one way, (channels, height, width) where inks cover `areas`.

    areas: (height, width), 0..1, of black alone or of cyan, magenta, yellow and black.
    """
    roots = inks.roots()[:, list(channels)]
    if len(areas) == 1:
        solid = roots[1 << BLACK][:, None, None]
        return np.asarray(1 - (1 - solid) * areas[0])
    cyan, magenta, yellow, black = (area.ravel() for area in areas)
    # Demichel's sixteen products, as four times four
    first = np.stack(
        [(1 - cyan) * (1 - magenta), cyan * (1 - magenta), (1 - cyan) * magenta, cyan * magenta]
    )
    second = np.stack(
        [(1 - yellow) * (1 - black), yellow * (1 - black), (1 - yellow) * black, yellow * black]
    )
    out = np.empty((len(channels), len(cyan)), np.float32)
    for row, table in zip(out, roots.T, strict=True):
        np.einsum("in,in->n", first, table.reshape(4, 4).T @ second, out=row)
    return out.reshape(len(channels), *areas[0].shape)
