"""Mud flats in fog: a creek, a wreck's ribs and withies going out of sight."""

import numpy as np

from scenes.drawing.brush import bend, disc, paint, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, ramp, rgb, sheet, step
from scenes.drawing.noise import fbm, ground
from scenes.drawing.view import Array, Shape, f32, view_of


def fog(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 3])
    horizon = 0.40
    picture = sheet(view, [(0, "a9aeb0"), (0.25, "bcc0c0"), (horizon, "c6c9c7"), (1, "b5b8b5")])
    drift = fbm(view, [seed, 31], 1, 3, 0.5)
    picture *= (1 + 0.05 * drift)[..., None]
    rows = view.box(-1, horizon, 1, 1)[0]
    mud = ground(view, (rows, slice(0, view.width)), [seed, 32], horizon - 0.02, 1.5)
    drop = y[rows] - horizon
    winding = 0.08 + 0.35 * np.sin(9 * drop**0.6 + 0.3) * drop**0.6
    creek = np.abs(x - winding + 0.012 * mud) / (0.02 + 0.40 * drop**1.5)
    bank = step(0.8, 1.25, creek + 0.05 * mud)
    relief = mud - np.roll(mud, max(1, round(0.003 * view.scale)), axis=0)
    tone = ramp(
        [(-3, "4c4b47"), (0, "7b7872"), (2, "9b9891"), (4, "c4c5c0")], 0.55 * mud + 1.2 * relief
    )
    tone *= (1 - 0.35 * bell(creek - 1.15, 0.25))[..., None]
    near = np.clip(drop * 1.75, 0, 1) ** 1.15
    blend(picture[rows], tone, bank * near)
    picture[rows] *= (1 - 0.06 * (1 - bank) * near * (1 + 0.5 * mud))[..., None]
    things: list[tuple[float, list[Shape]]] = []
    for k in range(9):
        scale = 0.80**k
        px, py = -0.50 + 0.62 * (1 - scale), horizon + 0.46 * scale
        post = stroke(
            [(px, py), (px + 0.01 * scale, py - 0.34 * scale)], 0.014 * scale, 0.011 * scale
        )
        twigs = [
            stroke(
                bend(
                    (px, py - 0.25 * scale),
                    (px + s * 0.02 * scale, py - 0.3 * scale),
                    (px + s * 0.06 * scale, py - 0.38 * scale),
                    6,
                ),
                0.004 * scale,
                0.001 * scale,
            )
            for s in rng.uniform(-1, 1, 9)
        ]
        mirror = f32((post - (0, py)) * (1, -0.6) + (0, py))
        things.append(
            (scale, [(mirror, rgb("6f706d")), *((p, rgb("2b2a27")) for p in [post, *twigs])])
        )
    ribs: list[Shape] = []
    for k in range(11):
        at, tall = (
            0.28 + 0.045 * k,
            0.16 * (0.45 + 0.55 * np.sin(0.45 + k * 0.24)) * rng.uniform(0.7, 1.05),
        )
        for side in (-1, 1):
            foot = (at + 0.02 * side, 0.70 + 0.012 * side)
            rib = bend(
                foot,
                (at + 0.05 * side - 0.02, 0.70),
                (at + 0.045 * side - 0.03, 0.70 - tall * (1 + 0.1 * side)),
                9,
            )
            ribs.append(
                (stroke(rib, 0.013, 0.010, 0.006), rgb("2f2b27") * (1.5 if side < 0 else 1.0))
            )
            ribs.append((stroke(rib + f32([-0.003, 0]), 0.003, 0.002), rgb("77706a")))
    ribs.append(
        (stroke(bend((0.22, 0.70), (0.5, 0.735), (0.80, 0.69)), 0.02, 0.026, 0.012), rgb("37322d"))
    )
    things.append((0.66, ribs))
    grain = 1 + 0.25 * fbm(view, [seed, 33], 60, 8, 0.7)
    for scale, shapes in sorted(things, key=lambda thing: thing[0]):
        paint(
            picture,
            view,
            shapes,
            shade=grain,
            blur=0.0006 / scale,
            opacity=min(1.0, 0.06 + 0.95 * scale**1.4),
        )
    birds: list[Shape] = []
    for _ in range(14):
        px, py, s = rng.uniform(-0.1, 0.7), rng.uniform(0.52, 0.95), 0.0
        s = 0.022 * (py - 0.35)
        birds += [
            (disc(px, py, s * 1.5, s * 0.75, 14), rgb("57544f")),
            (disc(px + s * 1.2, py - s * 0.8, s * 0.5, s * 0.45, 10), rgb("4a4844")),
        ]
        birds += [
            (
                stroke(
                    [(px + s * 1.5, py - s * 0.8), (px + s * 2.6, py - s * 0.3)], s * 0.2, s * 0.08
                ),
                rgb("3a3733"),
            )
        ]
        birds += [
            (stroke([(px + d * s, py), (px + d * s, py + s * 1.6)], s * 0.16), rgb("4a3a33"))
            for d in (-0.1, 0.35)
        ]
    paint(picture, view, birds, opacity=0.8)
    return finish(develop(picture, 47, 67, 79), view, seed)
