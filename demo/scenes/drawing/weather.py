"""Clouds over a sky, and a sky mirrored in water."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.light import blend, ramp, rgb, step
from scenes.drawing.noise import fbm, ground, soft
from scenes.drawing.view import Array, View, f32


def cloud_over(
    picture: Array,
    view: View,
    key: Sequence[int],
    cells: tuple[int, int],
    amount: float,
    stops: Sequence[tuple[float, str]],
    fade: Array,
    glow: ArrayLike = 0.0,
) -> None:
    """Cover a sky with clouds, in place: amount 0 is clear, 1 overcast.

    stops run from a cloud's shaded side, 0, to its sunlit side, 1; fade thins them; glow, both
    (h, w) or alike, adds to their light.
    """
    body = fbm(view, key, *cells, gain=0.55)
    density = step(0.6 - 2 * amount, 1.9 - 2 * amount, body) * fade
    lag = max(1, round(0.02 * view.scale))
    body -= np.pad(soft(body, view, 0.02)[lag:, :-lag], ((0, lag), (lag, 0)), "edge")
    blend(picture, ramp(stops, f32(0.5 + 0.4 * body + f32(glow))), density)


def reflect(picture: Array, view: View, shore: float, key: Sequence[int], tint: str) -> None:
    """Fill picture below shore with its rippled mirror image, darkened towards the viewer."""
    rows = view.box(-1, shore, 1, 1)[0]
    box = (rows, slice(0, view.width))
    drop = view.y[rows] - shore
    ripple = ground(view, box, key, shore - 0.02, stretch=0.25)
    wander = ripple * (0.006 + 0.08 * drop)
    source = rows.start - (drop * 1.15 + np.abs(wander) * 1.3) * view.scale
    source = np.clip(source, 0, rows.start - 1).astype(np.int32)
    column = np.arange(view.width)[None, :] + (wander * 0.25 * view.scale).astype(np.int32)
    mirrored = picture[source, np.clip(column, 0, view.width - 1)]
    deep = np.clip(0.25 + 0.6 * drop + 0.05 * ripple, 0, 1)
    picture[rows] = mirrored
    blend(picture[rows], rgb(tint), deep)
