"""Scenes drawn by code, with optics and sharpening known: the engine's chart, an unsharp mask."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.prepare import charts

__all__ = ["as_bytes", "dead_leaves", "unsharp"]


@cache
def dead_leaves(*size: int, **chart: Any) -> NDArray[np.float32]:
    """Return the engine's chart, drawn once for each set of values."""
    scene = charts.dead_leaves(*size, **chart)
    scene.setflags(write=False)
    return scene


def unsharp(values: NDArray[Any], sigma: float, amount: float) -> NDArray[np.float32]:
    """Return v + amount (v - blurred v), by channel on the coded values."""
    image = pyvips.Image.new_from_array(values.astype(np.float32))
    smooth = image.gaussblur(sigma, precision="float", min_ampl=0.001).numpy()
    smooth = smooth.reshape(values.shape)
    return np.asarray(values + amount * (values - smooth), np.float32)


def as_bytes(values: NDArray[Any]) -> NDArray[np.uint8]:
    return np.asarray(np.clip(np.rint(values), 0, 255), np.uint8)
