"""Output sharpening: an unsharp mask on lightness at the final size, and its two limits.

The blurred lightness is taken from the lightness and a share of the difference is added:
H(f) = 1 + amount (1 - exp(-2 pi^2 radius^2 f^2)), f in cycles a pixel. Differences near the noise
are left alone; none is raised beyond the halo limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.linear import table
from pressworthy.values.units import MM_PER_INCH

LEAST_RADIUS = 0.3
"""Below this the sampled Gaussian is one pixel wide and nothing is sharpened."""

_STEPS = 65536
_SPAN = 200.0  # L* from -100 to 100 over the table


@dataclass(frozen=True)
class Sharpening:
    """radius: the Gaussian's sigma in px; amount; threshold, halo: L*."""

    radius: float
    amount: float
    threshold: float
    halo: float


def radius_for(viewing_distance: float, ppi: float, angle: float) -> float:
    """Return sigma in px of a Gaussian seen under `angle` rad at `viewing_distance` mm.

    With 0.0004 rad, common practice without a source, this is ppi / 200 at 12.5 in.
    """
    return viewing_distance * ppi * angle / MM_PER_INCH


def sharpen(lightness: Any, how: Sharpening) -> Any:
    """Return a float libvips image of L*, sharpened; the result may leave 0..100."""
    if how.amount == 0 or how.radius < LEAST_RADIUS:
        return lightness
    blurred = lightness.gaussblur(how.radius, min_ampl=0.001, precision="float")
    step = (_STEPS - 1) / _SPAN
    index = (lightness - blurred).linear(step, _STEPS / 2 + 0.5).cast("ushort")
    return lightness + index.maplut(table(boosts(how)))


def boosts(how: Sharpening) -> NDArray[np.float32]:
    """Return what is added to L* for every difference from its blurred copy, -100 to 100 L*.

    Differences well above the threshold count in full, those far below not at all: d^2 / (d^2 +
    threshold^2) of them is taken, without a step that would show in smooth tones.
    """
    difference = (np.arange(_STEPS) - _STEPS / 2) * _SPAN / (_STEPS - 1)
    square = difference**2
    share = square / (square + how.threshold**2 + 1e-12)
    boost = np.clip(how.amount * difference * share, -how.halo, how.halo)
    return boost.astype(np.float32)
