"""CIEDE2000, ISO/CIE 11664-6, for arrays of CIELAB."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def delta_e_2000(lab_1: NDArray[Any], lab_2: NDArray[Any]) -> NDArray[Any]:
    """Return the colour difference of two arrays (..., 3) of CIELAB, kL = kC = kH = 1.

    Computes in the arrays' own float type. After Sharma, Wu and Dalal, Color Research and
    Application 30(1), 2005, whose 34 pairs it reproduces.
    """
    l1, a1, b1 = np.moveaxis(lab_1, -1, 0)
    l2, a2, b2 = np.moveaxis(lab_2, -1, 0)
    # no choice is made pixel by pixel: numpy is slow at it
    chroma7 = _seventh_power((_length(a1, b1) + _length(a2, b2)) / 2)
    stretch = 1 + 0.5 * (1 - np.sqrt(chroma7 / (chroma7 + 25.0**7)))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = _length(a1, b1), _length(a2, b2)
    hue, other = (_less_turns(np.arctan2(b, a), np.floor) for a, b in ((a1, b1), (a2, b2)))
    turn = _less_turns(other - hue, np.rint)
    # the middle of the shorter way; where one has no hue its weight is nothing
    hue = _less_turns(hue + turn / 2, np.floor)
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    weight = (
        1
        - 0.17 * np.cos(hue - np.pi / 6)
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + np.pi / 30)
        - 0.20 * np.cos(4 * hue - 63 * np.pi / 180)
    )
    chroma7 = _seventh_power(chroma)
    blue = np.exp(-(((np.degrees(hue) - 275) / 25) ** 2)) * np.pi / 6
    rotation = -2 * np.sqrt(chroma7 / (chroma7 + 25.0**7)) * np.sin(2 * blue)
    off = (light - 50) ** 2
    part_l = (l2 - l1) / (1 + 0.015 * off / np.sqrt(20 + off))
    part_c = (c2 - c1) / (1 + 0.045 * chroma)
    part_h = 2 * np.sqrt(c1 * c2) * np.sin(turn / 2) / (1 + 0.015 * chroma * weight)
    squares = part_l**2 + part_c**2 + part_h**2 + rotation * part_c * part_h
    return np.asarray(np.sqrt(np.maximum(squares, 0)))


def _length(a: NDArray[Any], b: NDArray[Any]) -> NDArray[Any]:
    return np.asarray(np.sqrt(a * a + b * b))


def _less_turns(angle: NDArray[Any], whole: np.ufunc) -> NDArray[Any]:
    """Return angles without their whole turns."""
    return np.asarray(angle - 2 * np.pi * whole(angle / (2 * np.pi)))


def _seventh_power(values: NDArray[Any]) -> NDArray[Any]:
    # numpy takes any other power but the square by logarithms
    cube = values * values * values
    return np.asarray(cube * cube * values)
