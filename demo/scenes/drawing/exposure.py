"""From linear light to the picture: tones set, then a lens's softness and a sensor's noise."""

import numpy as np

from scenes.drawing.light import ENCODED, strips
from scenes.drawing.noise import fbm
from scenes.drawing.view import Array, View, f32


def develop(picture: Array, dark: float, middle: float, light: float) -> Array:
    """Expose so that the 5th, 50th and 95th percentiles of L* fall on the values given."""
    weights = f32([0.2126, 0.7152, 0.0722])
    found = 116 * np.cbrt(np.percentile(picture[::5, ::5] @ weights, [5, 50, 95])) - 16
    scale = np.linspace(0, 120, 481)
    tones = np.interp(scale, [0, *found, 120], [0, dark, middle, light, 99])
    # Averaging rounds the corners of the curve.
    tones = np.convolve(np.pad(tones, 24, "reflect", reflect_type="odd"), np.ones(49) / 49, "valid")
    before, after = ((scale + 16) / 116) ** 3, ((np.maximum(tones, 0.5) + 16) / 116) ** 3
    floor = (16 / 116) ** 3
    gain = np.maximum(after - floor, 1e-4) / np.maximum(before - floor, 1e-4)
    # Read through a table spaced by the root of luminance, which is fine where eyes are.
    roots = np.linspace(0, float(np.sqrt(before[-1])), 8192)
    table = f32(np.interp(roots**2, before, gain))
    for rows in strips(len(picture)):
        place = np.sqrt(np.maximum(picture[rows] @ weights, 0)) * (8191 / roots[-1])
        index = np.minimum(place, 8191).astype(np.int32)
        picture[rows] *= table[index][..., None]
    return picture


def finish(picture: Array, view: View, seed: int) -> Array:
    """Encode linear light as a lens and sensor would deliver it: slightly soft, slightly noisy."""
    texture = fbm(view, [seed, 999], 40, 40, gain=0.8)
    out = np.empty_like(picture)
    rng = np.random.default_rng([seed, 998])
    for rows in strips(view.height):
        near = slice(max(rows.start - 1, 0), min(rows.stop + 1, view.height))
        light = picture[near] * (1 + 0.014 * texture[near])[..., None]
        # A shoulder holds detail in highlights that would otherwise clip.
        over = np.maximum(light - 0.75, 0)
        light -= over - 0.22 * (1 - np.exp(-over / 0.22))
        light = np.pad(
            light,
            [(int(rows.start == 0), int(rows.stop == view.height))] + [(1, 1), (0, 0)],
            "edge",
        )
        light = 0.7 * light[1:-1] + 0.15 * (light[:-2] + light[2:])
        light = 0.7 * light[:, 1:-1] + 0.15 * (light[:, :-2] + light[:, 2:])
        index = np.sqrt(np.clip(light, 0, 1)) * (len(ENCODED) - 1) + 0.5
        noise = rng.standard_normal(light.shape, np.float32) * np.float32(1 / 255)
        out[rows] = np.clip(ENCODED[index.astype(np.int32)] + noise, 0, 1)
    return out
