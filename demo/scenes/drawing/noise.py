"""Noise: fractal over the picture, in profiles, in repeating tiles, on ground in perspective."""

from collections.abc import Sequence

import numpy as np
from PIL import Image

from scenes.drawing.light import strips
from scenes.drawing.view import Array, Box, Corners, View, f32

TILE = 1024  # side of the repeating noise tile, a power of two


def resize(field: Array, width: int, height: int, box: Corners | None = None) -> Array:
    image = Image.fromarray(field)
    return np.asarray(image.resize((width, height), Image.Resampling.BICUBIC, box))


def soft(field: Array, view: View, radius: float) -> Array:
    """field (h, w) blurred by about radius scene units."""
    cells = [max(2, round(n / view.scale / radius)) for n in field.shape]
    image = Image.fromarray(field).resize((cells[1], cells[0]), Image.Resampling.HAMMING)
    return resize(np.asarray(image), field.shape[1], field.shape[0])


def fbm(view: View, key: Sequence[int], across: int, down: int, gain: float = 0.5) -> Array:
    """Fractal noise (h, w), mean 0 and deviation about 1, down to the pixel.

    across and down are the coarsest octave's cells per scene unit. Each octave has its own
    generator, so a larger picture adds octaves and keeps those of a smaller one.
    """
    cols, rows = int(np.ceil(1.5 * across)), down
    field, octave, weight = np.zeros((rows, cols), np.float32), 0, 1.0
    while True:
        noise = np.random.default_rng([*key, octave]).standard_normal((rows, cols), np.float32)
        noise -= noise.mean()
        field = field + weight * noise
        if max(across, down) * 2**octave > 0.5 * view.scale:
            break
        octave, weight, rows, cols = octave + 1, weight * gain, rows * 2, cols * 2
        field = resize(field, cols, rows)
    centre, wide, high = cols / 2, view.width / view.scale / 2, view.height / view.scale / 2
    unit = across * 2**octave
    box = (centre - wide * unit, (0.5 - high) * rows, centre + wide * unit, (0.5 + high) * rows)
    return resize(field, view.width, view.height, box) * np.float32(1.15 * (1 - gain**2) ** 0.5)


def ridge(x: Array, key: Sequence[int], cells: float, gain: float = 0.5) -> Array:
    """Fractal profile along x, about -1..1, for skylines and edges; any shape."""
    total = np.zeros(np.shape(x), np.float32)
    for octave in range(9):
        knots = np.random.default_rng([*key, octave]).uniform(-1, 1, 4096).astype(np.float32)
        at = f32(x * (cells * 2**octave)) + 2048
        floor = np.floor(at)
        part, index = at - floor, floor.astype(np.int32) & 4095
        value = knots[index] * (1 - part) + knots[(index + 1) & 4095] * part
        total += np.float32(gain**octave) * value
    return total


def speckle(key: Sequence[int], i: Array, j: Array) -> Array:
    """A random level -1..1 for each whole-numbered place (i, j)."""
    table = f32(np.random.default_rng(key).uniform(-1, 1, (64, 64)))
    return f32(table[i.astype(np.int16) & 63, j.astype(np.int16) & 63])


def noise_tile(key: Sequence[int], slope: float = 1.0) -> Array:
    """(TILE, TILE) repeating noise, deviation 1, amplitude falling as frequency ** -slope."""
    white = np.random.default_rng(key).standard_normal((TILE, TILE), np.float32)
    fx, fy = np.fft.rfftfreq(TILE) * TILE, np.fft.fftfreq(TILE) * TILE
    radius = np.maximum(np.hypot(fx[None, :], fy[:, None]), 4)
    tile = np.fft.irfft2(np.fft.rfft2(white) / radius**slope)
    return f32((tile - tile.mean()) / tile.std())


def sample(tile: Array, u: Array, v: Array) -> Array:
    """The repeating tile read at (u across, v down), in tiles, between its points."""
    u, v = np.broadcast_arrays(u, v)
    out, flat, last = np.empty(u.shape, np.float32), tile.ravel(), TILE - 1
    for rows in strips(len(u)):
        x, y = f32(u[rows] * TILE), f32(v[rows] * TILE)
        left, top = np.floor(x), np.floor(y)
        x, y = x - left, y - top
        i, j = left.astype(np.int32), top.astype(np.int32)
        above, below = (j & last) * TILE, ((j + 1) & last) * TILE
        i, k = i & last, (i + 1) & last
        upper = flat[above + i] * (1 - x) + flat[above + k] * x
        out[rows] = upper * (1 - y) + (flat[below + i] * (1 - x) + flat[below + k] * x) * y
    return out


def ground(
    view: View,
    box: Box,
    key: Sequence[int],
    horizon: float,
    slope: float = 1.0,
    stretch: float = 1.0,
) -> Array:
    """Noise lying on a level plane seen in perspective below the horizon, over box."""
    x, drop = view.x[:, box[1]], np.maximum(view.y[box[0]] - horizon, 1e-3)
    far = 0.45 / drop
    tile, total = noise_tile(key, slope), np.zeros((drop.size, x.size), np.float32)
    for tiles, weight in ((0.31, 1.0), (1.7, 0.5)):
        # Texture finer than a pixel must fade, or it sparkles near the horizon.
        fade = np.clip(view.scale / (TILE * tiles * far) * 3, 0, 1) ** 0.5
        total += weight * fade * sample(tile, x * far * tiles, far * tiles * 1.6 / stretch)
    return total
