"""Output sharpening: an unsharp mask on lightness at the final size, and its two limits.

The blurred lightness is taken from the lightness and a share of the difference is added:
H(f) = 1 + amount (1 - exp(-2 pi^2 radius^2 f^2)), f in cycles a pixel. Differences near the noise
are left alone; none is raised beyond the halo limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]

LEAST_RADIUS = 0.3
"""Below this the sampled Gaussian is one pixel wide and nothing is sharpened."""

_STEPS = 65536
_SPAN = 200.0  # L* from -100 to 100 over the table
_LEAST_SHARE = 0.001  # of a Gaussian's middle: what is less is left out
_BLOCK = 32  # px that are blurred by one product of matrices: most of their neighbours are shared


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


def sharpen(lightness: Floats, how: Sharpening) -> Floats:
    """Return L* (height, width), sharpened; the result may leave 0..100.

    Beyond an edge its pixels count; of rows alone `reach` more are to be there on either side.
    """
    if not reach(how):
        return lightness
    index = lightness - blurred(lightness, how.radius)
    index *= (_STEPS - 1) / _SPAN
    index += _STEPS / 2 + 0.5
    return lightness + boosts(how).take(index.astype(np.int32), mode="clip")


def reach(how: Sharpening) -> int:
    """Return how many px around it have a part in a sharpened one, 0 where nothing is sharpened."""
    if how.amount == 0 or how.radius < LEAST_RADIUS:
        return 0
    return len(_gaussian(how.radius)) // 2


def blurred(values: Floats, radius: float) -> Floats:
    """Return values (height, width) blurred by a Gaussian; beyond an edge its pixels count.

    radius: its sigma in px. Exact to float32, in a third of the time of libvips' gaussblur.
    """
    height, width = values.shape
    edge = len(_gaussian(radius)) // 2
    wide = np.pad(values, edge, "edge")
    across = np.empty((len(wide), width), np.float32)
    for left in range(0, width, _BLOCK):
        right = min(left + _BLOCK, width)
        part = wide[:, left : right + 2 * edge]
        np.matmul(part, _weights(radius, right - left), out=across[:, left:right])
    done = np.empty_like(values)
    for top in range(0, height, _BLOCK):
        bottom = min(top + _BLOCK, height)
        part = across[top : bottom + 2 * edge]
        np.matmul(_weights(radius, bottom - top).T, part, out=done[top:bottom])
    return done


@lru_cache
def _weights(radius: float, count: int) -> Floats:
    """Return what neighbours in a line weigh in each of `count` blurred px, (more, count)."""
    gaussian = _gaussian(radius)
    weights = np.zeros((count + len(gaussian) - 1, count), np.float32)
    for px in range(count):
        weights[px : px + len(gaussian), px] = gaussian
    return weights


@lru_cache
def _gaussian(radius: float) -> NDArray[np.float64]:
    mask = pyvips.Image.gaussmat(radius, _LEAST_SHARE, separable=True, precision="float")
    values = mask.numpy().ravel()
    return np.asarray(values / values.sum())


@lru_cache(2)
def boosts(how: Sharpening) -> Floats:
    """Return what is added to L* for every difference from its blurred copy, -100 to 100 L*.

    Differences well above the threshold count in full, those far below not at all: d^2 / (d^2 +
    threshold^2) of them is taken, without a step that would show in smooth tones.
    """
    difference = (np.arange(_STEPS) - _STEPS / 2) * _SPAN / (_STEPS - 1)
    square = difference**2
    share = square / (square + how.threshold**2 + 1e-12)
    boost = np.clip(how.amount * difference * share, -how.halo, how.halo)
    return boost.astype(np.float32)
