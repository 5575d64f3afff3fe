"""Charts drawn by code, with their truth known: scenes of dead leaves, and slanted edges.

Dead-leaves scenes (discs of power-law radii that hide each other) have the edges and the spectrum
of natural pictures (Lee, Mumford and Huang, Int. J. Computer Vision 41, 2001). A slanted edge has
every distance from the edge among its pixels (ISO 12233).
"""

from __future__ import annotations

import numpy as np
import pyvips
from numpy.typing import NDArray

Floats = NDArray[np.float32]

OVER = 3


def dead_leaves(
    width: int = 768,
    height: int = 576,
    *,
    seed: int = 0,
    blur: float = 0.6,
    noise: float = 1.0,
    smallest: float = 6,
) -> Floats:
    """Return a scene, (height, width, 3) of 0..255, whose edges are blurred by `blur` px (sigma).

    smallest: least radius of a disc in px; noise: sigma of white noise in levels.
    """
    rng = np.random.default_rng(seed)
    tall, wide = height * OVER, width * OVER
    scene = np.zeros((tall, wide, 3), np.float32)
    empty = np.ones((tall, wide), bool)
    largest = min(tall, wide) / 3
    low, high = (smallest * OVER) ** -2.0, largest**-2.0
    for _ in range(20_000):
        radius = (low - rng.random() * (low - high)) ** -0.5
        x, y = rng.uniform(-radius, wide + radius), rng.uniform(-radius, tall + radius)
        grey = rng.uniform(30, 225)
        colour = np.clip(grey + rng.normal(0, 18, 3), 12, 243).astype(np.float32)
        top, bottom = max(0, int(y - radius)), min(tall, int(y + radius) + 2)
        left, right = max(0, int(x - radius)), min(wide, int(x + radius) + 2)
        if top >= bottom or left >= right:
            continue
        part = empty[top:bottom, left:right]
        if not part.any():
            continue
        rows, columns = np.ogrid[top:bottom, left:right]
        disc = ((columns - x) ** 2 + (rows - y) ** 2 <= radius**2) & part
        scene[top:bottom, left:right][disc] = colour
        part[disc] = False
        if not empty[::9, ::9].any():
            break
    scene[empty] = 128
    smooth = _optics(scene, blur)
    return (smooth + rng.normal(0, noise, smooth.shape)).astype(np.float32)


def slanted_edge(
    width: int = 256,
    height: int = 256,
    *,
    dark: float = 40,
    light: float = 60,
    degrees: float = 5,
    blur: float = 0.6,
) -> Floats:
    """Return an edge, (height, width) from `dark` to `light`, `degrees` off the vertical.

    It runs through the centre and is blurred by `blur` px (sigma).
    """
    y, x = ((np.arange(n * OVER, dtype=np.float64) + 0.5) / OVER - n / 2 for n in (height, width))
    # a ramp one sample wide: the share of each sample that lies beyond the edge
    beyond = (x[None, :] - y[:, None] * np.tan(np.radians(degrees))) * OVER + 0.5
    scene = dark + (light - dark) * np.clip(beyond, 0, 1)
    return _optics(scene.astype(np.float32), blur)


def _optics(scene: Floats, blur: float) -> Floats:
    """Return a scene drawn `OVER` times too large, blurred by `blur` px and brought to size."""
    # the box of OVER x OVER samples blurs by itself: sqrt(1/12) px
    own = np.sqrt(max(blur**2 - 1 / 12, 0.01)) * OVER
    image = pyvips.Image.new_from_array(scene)
    smooth = image.gaussblur(own, precision="float", min_ampl=0.001).shrink(OVER, OVER).numpy()
    return np.asarray(smooth, np.float32)
