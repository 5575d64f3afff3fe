"""Tone value increase: how much larger a tint prints than its plate has it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

TONES = (20, 40, 50, 80)
"""Tones, %, at which the increase is told."""

# XYZ -> what an ink takes of the light; for cyan the usual rule, after ISO/TS 10128
_SIGNAL = {
    "cyan": (1.0, 0.0, -0.55),
    "magenta": (0.0, 1.0, 0.0),
    "yellow": (0.0, 0.0, 1.0),
    "black": (0.0, 1.0, 0.0),
}
INKS = tuple(_SIGNAL)


def tone_value_increase(
    ink: str, tones: NDArray[np.float64], xyz: NDArray[np.float64]
) -> dict[int, float]:
    """Return tone -> increase, both in %, by Murray-Davies on colorimetric reflectance.

    tones: of a ramp of the ink alone, %, from 0, paper, to 100, solid, (n,); xyz: (n, 3).
    Nothing of an ink that takes no light.
    """
    signal = xyz @ np.array(_SIGNAL[ink])
    if signal[0] <= signal[-1]:
        return {}
    printed = 100 * (signal[0] - signal) / (signal[0] - signal[-1])
    at = np.interp(TONES, tones, printed)
    return {tone: float(value) - tone for tone, value in zip(TONES, at, strict=True)}
