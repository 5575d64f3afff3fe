"""The RGB spaces of the trade by their open standards, recognised by measure and not by name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.icc import Curve, IccProfile

TOLERANCE = 0.002
"""Largest difference of a colorant's component or a tone curve's value, of 1."""


@dataclass(frozen=True)
class RgbSpace:
    """An RGB space: colorants as rows R, G, B of XYZ adapted to D50, and its decoding curve."""

    name: str
    standard: str
    colorants: NDArray[np.float64]
    decode: Curve


def _srgb(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)


@cache
def srgb_codes() -> NDArray[np.uint8]:
    """Return sRGB's 8-bit codes of 65536 linear values, IEC 61966-2-1."""
    linear = np.linspace(0, 1, 65536)
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(coded * 255), np.uint8)


def _rec2020(v: NDArray[np.float64]) -> NDArray[np.float64]:
    alpha, beta = 1.09929682680944, 0.018053968510807
    low = v < 4.5 * beta
    return np.where(low, v / 4.5, ((np.maximum(v, 0) + alpha - 1) / alpha) ** (1 / 0.45))


def _romm(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(v < 16 / 512, v / 16, np.maximum(v, 0) ** 1.8)


def _lstar(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(v <= 0.08, v * 100 / 903.2963, ((np.maximum(v, 0) + 0.16) / 1.16) ** 3)


def _power(gamma: float) -> Curve:
    return lambda v: np.maximum(v, 0) ** gamma


def _space(
    name: str, standard: str, rows: list[list[float]], decode: Callable[..., NDArray[np.float64]]
) -> RgbSpace:
    colorants = np.array(rows)
    colorants.setflags(write=False)
    return RgbSpace(name, standard, colorants, decode)


# Colorants: the standards' primaries and white adapted to D50 by the Bradford transform; checked
# against colour-science and against independent ICC profiles in tests/reference.
SPACES = {
    space.name: space
    for space in (
        _space(
            "sRGB",
            "IEC 61966-2-1",
            [[0.4360, 0.2225, 0.0139], [0.3851, 0.7169, 0.0971], [0.1431, 0.0606, 0.7139]],
            _srgb,
        ),
        _space(
            "opRGB",
            "IEC 61966-2-5",
            [[0.6097, 0.3111, 0.0195], [0.2053, 0.6257, 0.0609], [0.1492, 0.0632, 0.7446]],
            _power(563 / 256),
        ),
        _space(
            "ROMM RGB",
            "ISO 22028-2",
            [[0.7977, 0.2880, 0.0], [0.1352, 0.7119, 0.0], [0.0313, 0.0001, 0.8249]],
            _romm,
        ),
        _space(
            "Display P3",
            "SMPTE EG 432-1 primaries, D65, sRGB curve",
            [[0.5151, 0.2412, -0.0010], [0.2920, 0.6922, 0.0419], [0.1571, 0.0666, 0.7841]],
            _srgb,
        ),
        _space(
            "Rec.2020",
            "ITU-R BT.2020",
            [[0.6735, 0.2790, -0.0019], [0.1657, 0.6753, 0.0300], [0.1251, 0.0456, 0.7969]],
            _rec2020,
        ),
        _space(
            "eciRGB v2",
            "ISO 22028-4",
            [[0.6502, 0.3203, 0.0], [0.1781, 0.6021, 0.0678], [0.1359, 0.0777, 0.7571]],
            _lstar,
        ),
    )
}

_SAMPLES = np.array([0.1, 0.25, 0.5, 0.75, 0.9])


def identify(profile: IccProfile) -> str:
    """Return the name of the RGB space the profile describes, or "" where it is none of them."""
    colorants = profile.colorants()
    curves = [profile.tone_curve(name) for name in ("rTRC", "gTRC", "bTRC")]
    if profile.space != "RGB" or colorants is None:
        return ""
    for space in SPACES.values():
        if np.abs(colorants - space.colorants).max() > TOLERANCE:
            continue
        wanted = space.decode(_SAMPLES)
        if all(c is not None and np.abs(c(_SAMPLES) - wanted).max() <= TOLERANCE for c in curves):
            return space.name
    return ""
