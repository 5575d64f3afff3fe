"""Colours as linear light: from hexadecimal codes, laid over each other, graded in ramps."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.view import Array, View, f32


def decode(encoded: ArrayLike) -> Array:
    """sRGB-encoded 0..1 to linear light."""
    v = f32(encoded)
    return f32(np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4))


def encode(linear: Array) -> Array:
    """Linear light 0..1 to sRGB-encoded."""
    low = linear * 12.92
    high = 1.055 * np.maximum(linear, 1e-6) ** np.float32(1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, low, high)


LINEAR = decode(np.arange(256) / 255)
ENCODED = encode(f32(np.linspace(0, 1, 16384) ** 2))  # indexed by the root of linear light


def rgb(code: str) -> Array:
    """A six-digit hexadecimal sRGB colour as linear (3,)."""
    return LINEAR[list(bytes.fromhex(code))]


def step(low: ArrayLike, high: ArrayLike, value: ArrayLike) -> Array:
    """Smooth ramp from 0 at low to 1 at high."""
    start = f32(low)
    t = np.clip((f32(value) - start) / (f32(high) - start), 0, 1)
    return f32(t * t * (3 - 2 * t))


def bell(value: ArrayLike, width: float) -> Array:
    """Bell curve: 1 where value is 0, 1/e where it is width."""
    return f32(np.exp(-np.square(f32(value) * np.float32(1 / width))))


def strips(rows: int, tall: int = 48) -> list[slice]:
    """Bands of rows small enough to stay in the processor's cache."""
    return [slice(top, min(top + tall, rows)) for top in range(0, rows, tall)]


def blend(under: Array, over: Array, mask: Array) -> None:
    """Lay a colour (3,) or picture (h, w, 3) over a picture, in place, by mask (h, w)."""
    for rows in strips(len(under)):
        colour = over if over.ndim == 1 else over[rows]
        under[rows] += mask[rows, :, None] * (colour - under[rows])


def ramp(stops: Sequence[tuple[float, str]], at: Array) -> Array:
    """Colours interpolated between (position, hexadecimal) stops: at's shape + (3,)."""
    places = [place for place, _ in stops]
    colours = np.stack([rgb(code) for _, code in stops])
    first, span = places[0], places[-1] - places[0]
    steps = first + span * np.arange(4096) / 4095
    table = f32(np.stack([np.interp(steps, places, colours[:, c]) for c in range(3)], axis=-1))
    out = np.empty((*at.shape, 3), np.float32)
    for rows in strips(len(at)):
        index = np.clip((at[rows] - first) * (4095 / span) + 0.5, 0, 4095).astype(np.int32)
        out[rows] = table[index]
    return out


def sheet(view: View, stops: Sequence[tuple[float, str]]) -> Array:
    """A picture (h, w, 3) graded from top to bottom through (y, colour) stops."""
    return np.repeat(ramp(stops, view.y), view.width, axis=1)
