"""Landscapes drawn in a known RGB space, and what a camera writes of opRGB."""

from __future__ import annotations

from typing import Any

import numpy as np

from pressworthy.colour.spaces import SPACES

R03 = {
    "exif-ifd2-ColorSpace": "65535 (Uncalibrated, Short, 1 components, 2 bytes)",
    "exif-ifd4-InteroperabilityIndex": "R03 (R03, ASCII, 4 components, 4 bytes)",
}


def landscape(seed: int = 1, vivid: float = 1.0) -> Any:
    """Return an sRGB scene of sky, leaves, earth, skin and a few bright things, values 0..1."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:360, 0:480] / 360
    sky = np.stack([0.35 + 0.4 * y, 0.55 + 0.3 * y, 0.85 + 0.1 * y], -1)
    leaves = np.array([0.25, 0.38, 0.12]) * (0.5 + rng.random((360, 480, 1)))
    earth = np.array([0.52, 0.40, 0.28]) * (0.7 + 0.5 * rng.random((360, 480, 1)))
    scene = np.where((y < 0.45)[..., None], sky, np.where((x < 0.7)[..., None], leaves, earth))
    for _ in range(40):
        at_x, at_y, radius = rng.random() * 1.3, rng.random(), 0.02 + 0.05 * rng.random()
        colour = np.array([
            [0.85, 0.64, 0.54], [0.80, 0.15, 0.12], [0.95, 0.80, 0.15], [0.20, 0.25, 0.60],
            [0.92, 0.90, 0.88], [0.90, 0.45, 0.10],
        ])[rng.integers(6)]  # fmt: skip
        scene[(x - at_x) ** 2 + (y - at_y) ** 2 < radius**2] = colour
    grey = scene.mean(axis=2, keepdims=True)
    scene = grey + vivid * (scene - grey) + rng.normal(0, 0.01, scene.shape)
    return np.clip(scene, 0, 1)


def as_space(scene: Any, name: str) -> Any:
    """Return an sRGB scene's colours as 8-bit values of another space."""
    xyz = SPACES["sRGB"].decode(scene) @ SPACES["sRGB"].colorants
    linear = np.clip(xyz @ np.linalg.inv(SPACES[name].colorants), 0, 1)
    steps = np.linspace(0, 1, 4097)
    coded = np.interp(linear, SPACES[name].decode(steps), steps)
    return np.rint(coded * 255).astype(np.uint8)
