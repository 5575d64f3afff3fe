"""Boats aground at low water under an evening sky."""

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.brush import bend, disc, paint, spin, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, ramp, rgb, sheet, step
from scenes.drawing.noise import fbm, ground, ridge
from scenes.drawing.view import Array, Shape, f32, view_of
from scenes.drawing.weather import cloud_over, reflect


def boat(
    cx: float, keel: float, size: float, lean: float, hull: str, below: str, mast: float
) -> list[Shape]:
    """A clinker boat aground, bow to the right; mast is its height in hull half-lengths, or 0."""
    shapes: list[Shape] = []
    t = f32(np.linspace(-1, 1, 30))
    sheer = -0.40 - 0.17 * t**2 - 0.05 * t
    foot = -0.55 * np.abs(t) ** 4 * np.where(t > 0, 0.9, 0.5)

    def add(outline: ArrayLike, colour: Array) -> None:
        shapes.append((spin(f32(outline) * size + f32([cx, keel]), cx, keel, lean), colour))

    def strake(low: float, high: float, colour: Array) -> None:
        rake = t * (0.84 + 0.16 * np.array([[low], [high]]))
        edges = [
            np.stack([rake[i], foot + (sheer - foot) * v], 1) for i, v in ((0, low), (1, high))
        ]
        add(np.concatenate([edges[0], edges[1][::-1]]), colour)

    if mast:
        wood = rgb("8a6a45")
        add(stroke([(0.15, -0.4), (0.13, -mast)], 0.045, 0.025), wood)
        add(stroke([(0.137, -0.4), (0.122, -mast)], 0.015, 0.008), wood * 2.2)
        add(stroke([(0.13, -0.75), (-0.85, -0.80)], 0.03), wood * 0.8)
        roll = f32(np.linspace(0.1, -0.8, 40))
        lumps = 0.055 + 0.012 * np.sin(roll * 17) + 0.006 * np.sin(roll * 41)
        lower = np.full_like(roll, -0.77)
        for thick, tone in ((1.0, "8d7c66"), (0.6, "b9a88c")):
            top = np.stack([roll, lower - 0.02 * roll - lumps * thick - 0.05 * (1 - thick)], 1)
            add(
                np.concatenate([top, np.stack([roll, lower - 0.05 * (1 - thick)], 1)[::-1]]),
                rgb(tone),
            )
        for foot_x, head in (
            (1.02, 1.0),
            (0.98, 0.72),
            (-1.0, 1.0),
            (-0.3, 0.9),
            (0.45, 0.9),
            (0.3, 0.9),
        ):
            foot_y = -0.6 if abs(foot_x) > 0.9 else -0.42
            add(stroke([(foot_x, foot_y), (0.13, -mast * head)], 0.008), rgb("2a241f"))
        for k in range(7):
            add(
                stroke(
                    [(0.30 - 0.02 * k, -0.5 - 0.17 * k), (0.45 - 0.043 * k, -0.5 - 0.17 * k)], 0.008
                ),
                rgb("2a241f"),
            )
        add([(0.13, -mast), (-0.06, -mast + 0.05), (0.13, -mast + 0.1)], rgb("a8302a"))
    add([(-0.62, -0.4), (-0.58, -0.74), (-0.08, -0.76), (0.02, -0.4)], rgb("d8cdb6"))
    add([(-0.66, -0.72), (-0.64, -0.77), (-0.02, -0.80), (-0.03, -0.74)], rgb("6d5a48"))
    for left in (-0.53, -0.37, -0.21):
        add(
            [(left, -0.55), (left, -0.68), (left + 0.11, -0.68), (left + 0.11, -0.55)],
            rgb("27333b"),
        )
        add([(left, -0.59), (left, -0.68), (left + 0.04, -0.68)], rgb("7f7a76"))
    for k in range(9):
        low, high = k / 9, (k + 1) / 9
        colour = rgb(below) if k < 3 else rgb(hull)
        strake(low, high, colour * (0.45 + 0.09 * k))
        strake(high - 0.03, high, colour * (0.25 + 0.04 * k))
    strake(0.33, 0.37, rgb("d9d2c0"))
    strake(0.93, 1.0, rgb("c9a06a"))
    for at in (-0.5, 0.0, 0.42):
        add(disc(at, -0.28, 0.045, 0.10), rgb("30302e"))
        add(disc(at - 0.012, -0.31, 0.018, 0.05), rgb("8a8780"))
        add(stroke([(at, -0.36), (at, -0.43)], 0.012), rgb("d8cdb6"))
    return shapes


def harbour(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 1])
    shore = 0.50
    dusk = [(0, "3f5f8f"), (0.2, "7f93b0"), (0.36, "d9b596"), (0.47, "f7c98a"), (0.51, "f3b27a")]
    picture = sheet(view, dusk)
    sun = np.exp(-(((x + 0.28) / 0.30) ** 2 + ((y - 0.46) / 0.14) ** 2))
    picture += sun[..., None] * rgb("ffcf8a") * 0.7
    warm = [(0, "5d5a70"), (0.5, "b58c86"), (1, "ffd9a8")]
    fade = np.clip(1.05 - y * 0.9, 0, 1)
    cloud_over(picture, view, [seed, 11], (2, 7), 0.45, warm, fade, glow=0.5 * sun)
    for k, (top, tone) in enumerate(((0.455, "a58c8c"), (0.475, "75656a"))):
        skyline = top + 0.03 * ridge(x, [seed, 12, k], 2.2) - 0.03 * x * (1 - 2 * k)
        blend(picture, rgb(tone), step(-0.6, 0.6, (y - skyline) * view.scale))
    village: list[Shape] = []
    for at in np.linspace(0.12, 0.74, 17):
        at, wide, tall = at + rng.normal(0, 0.01), rng.uniform(0.03, 0.05), rng.uniform(0.02, 0.045)
        base, wall = shore + 0.002, rgb(rng.choice(["8d7a6f", "a58f7c", "75645f", "9c7f72"]))
        left, right, eaves = at - wide / 2, at + wide / 2, base - tall
        roof = [(left - 0.003, eaves), (left + 0.006, eaves - 0.02), (right - 0.006, eaves - 0.02)]
        village.append((f32([(left, base), (left, eaves), (right, eaves), (right, base)]), wall))
        village.append((f32([*roof, (right + 0.003, eaves)]), rgb("5a4647")))
        stack = right - 0.012
        village.append((stroke([(stack, eaves - 0.028), (stack, eaves - 0.01)], 0.007), wall * 0.6))
        for column in (0.28, 0.7):
            pane = rgb("ffd890") if rng.random() < 0.45 else rgb("3c3840")
            middle = left + column * wide
            village.append(
                (stroke([(middle, eaves + 0.008), (middle, eaves + 0.019)], 0.007), pane)
            )
    village.append((f32([(0.05, 0.503), (0.06, 0.492), (0.8, 0.488), (0.8, 0.505)]), rgb("54484a")))
    paint(picture, view, village)
    reflect(picture, view, shore, [seed, 13], "40454f")
    rows = view.box(-1, shore, 1, 1)[0]
    fleet = [
        (-0.10, 0.60, 0.105, -5.0, "b7bfb9", "7c3b31", 2.4),
        (0.52, 0.64, 0.13, 7.0, "2f6f74", "6e3a30", 2.2),
        (-0.40, 0.76, 0.21, -8.0, "23508a", "8a2f28", 2.6),
        (0.24, 0.86, 0.26, 6.0, "b3382c", "34503f", 0.0),
    ]
    for cx, keel, size, lean, hull, below, mast in fleet:
        mirror = [
            (f32((p - (0, keel)) * (1, -1) + (0, keel)), c * 0.6)
            for p, c in boat(cx, keel, size, lean, hull, below, mast)
        ]
        paint(picture, view, mirror, blur=0.003, opacity=0.8)
    mud = ground(view, (rows, slice(0, view.width)), [seed, 14], shore - 0.03, 1.25)
    drop = y[rows] - shore
    bank = 0.35 * ridge(x, [seed, 15], 3) + 1.2 * np.sin(7 * x + 14 * drop) * np.exp(-6 * drop)
    dry = step(-0.12, 0.30, 0.55 * mud + bank + 7 * (drop - 0.17) - 14 * np.maximum(drop - 0.3, 0))
    wet = np.zeros_like(dry)
    for cx, keel, size, *_ in fleet:
        distance = ((x - cx) / size) ** 2 + ((y[rows] - keel - 0.04 * size) / (0.22 * size)) ** 2
        dry = np.maximum(dry, step(1.7, 0.9, distance + 0.35 * mud))
        wet = np.maximum(wet, bell(distance, 1.1))
    relief = f32(mud - np.roll(mud, max(1, round(0.0025 * view.scale)), axis=0))
    stops = [(-2.5, "231c19"), (0, "5c4b3f"), (1.2, "84705e"), (3.5, "d9b48c")]
    ooze = ramp(stops, mud * 0.4 + relief * 1.5)
    ooze *= (1 - 0.75 * wet)[..., None]
    blend(picture[rows], ooze, dry * 0.94)
    gleam = step(0.2, 0.9, dry) * step(0.9, 0.5, dry)
    picture[rows] *= (1 - 0.45 * gleam)[..., None]
    grime = 1 + 0.16 * fbm(view, [seed, 16], 20, 30, 0.7)
    for each in fleet:
        cx, keel, size = each[:3]
        paint(picture, view, boat(*each), shade=grime)
        bow = spin(f32([[cx + size * 0.97, keel - size * 0.56]]), cx, keel, each[3])[0]
        warp = bend(bow, (cx + size * 1.1, keel - 0.01), (cx + size * 1.8, keel + 0.05))
        paint(picture, view, [(stroke(warp, 0.0022), rgb("3a302a"))])
    stones: list[Shape] = []
    for _ in range(500):
        deep = rng.uniform(0, 1) ** 0.5
        px, py, r = rng.uniform(-0.75, 0.75), 0.62 + 0.4 * deep, rng.uniform(0.0008, 0.005) * deep
        colour = rgb("6b5c50") * rng.uniform(0.3, 1.1)
        stones += [
            (disc(px, py, r * 1.5, r, 9), colour * 0.35),
            (disc(px - r * 0.2, py - r * 0.35, r, r * 0.5, 9), colour),
        ]
    paint(picture, view, stones)
    return finish(develop(picture, 19, 55, 88), view, seed)
