"""Oranges heaped on a stall, between lemons and limes."""

import math

import numpy as np

from scenes.drawing.brush import bend, disc, paint, spin, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, rgb, sheet, step
from scenes.drawing.noise import fbm, noise_tile, sample
from scenes.drawing.view import Array, Shape, f32, view_of


def oranges(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    rng = np.random.default_rng([seed, 5])
    tile, pores = noise_tile([seed, 51], 1.3), noise_tile([seed, 52], 0.35)
    picture = sheet(view, [(0, "54606a"), (0.2, "3c3a38"), (0.4, "15100d"), (1, "0d0907")])
    lamps: list[Shape] = []
    for _ in range(60):
        r, tint = (
            rng.uniform(0.012, 0.035),
            rgb(rng.choice(["c9b48a", "8fa8b8", "d0773a", "6a7a52", "efe2c4"])),
        )
        lamps.append(
            (
                disc(rng.uniform(-0.75, 0.75), rng.uniform(-0.02, 0.22), r, r),
                tint * rng.uniform(0.2, 1.0),
            )
        )
    paint(picture, view, lamps, blur=0.006, opacity=0.7)
    awning = [
        (
            f32([(a, -0.01), (a + 0.05, -0.01), (a * 1.03 + 0.052, 0.07), (a * 1.03, 0.07)]),
            rgb("b8402e" if k % 2 else "e9dfc8"),
        )
        for k, a in enumerate(np.arange(-0.8, 0.8, 0.05))
    ]
    paint(picture, view, awning, blur=0.005)
    toward = f32([-0.48, -0.62, 0.62])

    def fruit(cx: float, cy: float, r: float, long: float, skin: Array, key: int) -> None:
        box = view.box(cx - 1.5 * r, cy - 1.35 * r, cx + 1.5 * r, cy + 1.5 * r)
        u, v = (view.x[:, box[1]] - cx) / r / long, (view.y[box[0]] - cy) / r
        if u.size < 2 or v.size < 2:
            return
        turn = rng.uniform(0, 2 * np.pi)
        wide = np.sqrt(u**2 + v**2)
        picture[box] *= (1 - 0.75 * step(1.45, 0.85, np.hypot(u - 0.08, v - 0.14)))[..., None]
        z = np.sqrt(np.maximum(1 - wide**2, 0))
        bulge = 0.7 + 0.3 / (0.45 + z)
        cosine, sine = math.cos(turn), math.sin(turn)
        pu, pv = (u * cosine - v * sine) * bulge, (u * sine + v * cosine) * bulge
        dimple = sample(pores, pu * 0.16 + key * 0.37, pv * 0.16 + key * 0.71)
        dx, dy = np.gradient(dimple, axis=1), np.gradient(dimple, axis=0)
        rough = 0.00045 * view.scale * r / 0.06
        nx, ny = u + rough * dx, v + rough * dy
        facing = nx * toward[0] + ny * toward[1] + z * toward[2]
        light = 0.95 * np.clip((facing + 0.12) / 1.12, 0, None)
        bounce = 0.16 * np.clip(0.7 + 0.5 * v, 0, None) + 0.10 * np.clip(0.3 - v, 0, None)
        blotch = 1 + 0.10 * sample(tile, pu * 0.09 + key * 0.13, pv * 0.09)
        body = skin * (light * blotch)[..., None] + skin**1.3 * bounce[..., None]
        half = toward + f32([0, 0, 1])
        half /= np.linalg.norm(half)
        glint = np.clip(nx * half[0] + ny * half[1] + z * half[2], 0, 1)
        body += (0.30 * glint**38 + 0.05 * glint**9)[..., None]
        body *= (0.30 + 0.70 * step(1.15, -0.55, v))[..., None]
        pip_u, pip_v = 0.5 * cosine, 0.5 * sine - 0.2
        pip = np.hypot(u - pip_u, v - pip_v)
        body *= (1 - 0.45 * bell(pip, 0.16))[..., None]
        blend(body, rgb("6b7a34"), bell(pip, 0.055))
        rim = 1.2 / (r * view.scale)
        blend(picture[box], body, step(1 + rim, 1 - rim, wide))

    wood = 1 + 0.22 * fbm(view, [seed, 53], 4, 70, 0.7)
    key = 0
    for row in range(9):
        level, r = 0.19 + 0.072 * row + 0.0016 * row**2, 0.044 + 0.0026 * row
        places = np.arange(-0.85, 0.85, 1.93 * r) + r * (row % 2)
        for place in rng.permutation(places).tolist():
            key += 1
            cx, cy = place + rng.normal(0, 0.15) * r, level + rng.normal(0, 0.2) * r
            wall = 0.33 + 0.012 * row
            if cx < -wall:
                skin, long, size = rgb("f2cf1e"), 1.14, 0.88
            elif cx > wall:
                skin, long, size = rgb("7fa01e"), 1.06, 0.86
            else:
                skin, long, size = rgb("ff8a00"), 1.0, 1.0
            skin = f32(skin * rng.uniform(0.85, 1.05) * f32([1, rng.uniform(0.86, 1.1), 1]))
            fruit(cx, cy, r * size * rng.uniform(0.96, 1.06), long, skin, key)
            if size == 1.0 and rng.random() < 0.10:
                tip = (cx + rng.normal(0, 1.2) * r, cy - rng.uniform(0.3, 1.0) * r)
                path = bend((cx, cy), (cx + rng.normal(0, 0.5) * r, cy - 0.9 * r), tip)
                shapes = [
                    (stroke(path + f32([0.004, 0.008]), 0.004, 0.026, 0.022, 0.002), rgb("3a1a04")),
                    (stroke(path, 0.004, 0.028, 0.024, 0.002), rgb("3f6a22")),
                    (stroke(path - f32([0.003, 0.003]), 0.002, 0.010, 0.008, 0.001), rgb("7fa650")),
                    (stroke(path, 0.0016), rgb("a9c078")),
                ]
                paint(picture, view, shapes, shade=wood)
    front: list[Shape] = []
    for k, top in enumerate((0.865, 0.945)):
        front += [
            (
                f32([(-0.8, top), (0.8, top), (0.8, top + 0.07), (-0.8, top + 0.07)]),
                rgb("a87c4c") * (1.0 - 0.12 * k),
            ),
            (stroke([(-0.8, top + 0.002), (0.8, top + 0.002)], 0.004), rgb("dcb680")),
            (stroke([(-0.8, top + 0.074), (0.8, top + 0.074)], 0.010), rgb("1d120a")),
        ]
    for post in (-0.435, 0.435):
        front += [
            (stroke([(post + 0.006, 0.82), (post + 0.006, 1.02)], 0.05), rgb("2a1a0e")),
            (stroke([(post, 0.81), (post, 1.02)], 0.045), rgb("b58a58")),
        ]
        front += [
            (disc(post + d, h, 0.004, 0.004, 12), rgb("3b3632"))
            for d in (-0.012, 0.012)
            for h in (0.89, 0.97)
        ]
    paint(picture, view, front, shade=wood)
    card = spin(f32([(-0.10, 0.80), (0.10, 0.80), (0.10, 0.92), (-0.10, 0.92)]), 0, 0.86, -3)
    paint(picture, view, [(card + f32([0.006, 0.010]), rgb("0d0805"))], blur=0.006, opacity=0.7)
    chalk = [
        bend((-0.07, 0.83), (-0.075, 0.86), (-0.07, 0.89)),
        bend((-0.05, 0.84), (-0.02, 0.81), (-0.03, 0.86)),
        bend((-0.03, 0.86), (-0.04, 0.885), (-0.052, 0.892)),
        bend((-0.052, 0.892), (-0.03, 0.885), (-0.015, 0.892)),
        bend((0.02, 0.85), (0.05, 0.81), (0.06, 0.85)),
        bend((0.06, 0.85), (0.05, 0.86), (0.035, 0.86)),
        bend((0.035, 0.86), (0.075, 0.86), (0.06, 0.885)),
        bend((0.06, 0.885), (0.04, 0.90), (0.02, 0.885)),
        bend((-0.07, 0.908), (0.0, 0.902), (0.075, 0.906)),
    ]
    paint(
        picture,
        view,
        [
            (card, rgb("2b332f")),
            *((spin(stroke(p, 0.006, 0.008, 0.006), 0, 0.86, -3), rgb("e6e4da")) for p in chalk),
        ],
        shade=1 + 0.12 * fbm(view, [seed, 54], 30, 30, 0.8),
    )
    return finish(develop(picture, 15, 56, 86), view, seed)
