"""A boatbuilder's tools on a worn bench, seen from above."""

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.brush import bend, cover, disc, paint, rod, spin, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, ramp, rgb, step
from scenes.drawing.noise import fbm, ridge, soft
from scenes.drawing.view import Array, Shape, f32, view_of


def workshop(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 10])
    board = np.floor((y + 0.03) / 0.21)
    within = (y + 0.03) / 0.21 - board
    wander = fbm(view, [seed, 101], 1, 5, 0.4)
    knots = np.zeros((view.height, view.width), np.float32)
    for _ in range(9):
        kx, ky = rng.uniform(-0.7, 0.7), rng.uniform(0, 1)
        knots += bell(np.hypot((x - kx) / 2.6, y - ky), 0.022)
    rings = (y * 34 + 0.9 * wander + 3.2 * knots + 7 * ridge(board * 5.3, [seed, 102], 1)) * 2.2
    grain = 0.5 + 0.5 * np.sin(2 * np.pi * rings)
    pores = fbm(view, [seed, 103], 8, 220, 0.75)
    tone = (
        0.10 * grain
        + 0.16 * pores
        + 0.18 * wander
        + 0.55 * ridge(board * 3.1, [seed, 104], 1)
        - 0.9 * knots
    )
    picture = ramp(
        [(-1.8, "4a3018"), (-0.4, "94683c"), (0.2, "b98b57"), (1.4, "e0bd8a")], f32(tone)
    )
    gap = np.minimum(within, 1 - within) * 0.21
    picture *= (1 - 0.85 * bell(gap, 0.0022))[..., None]
    scratch: list[Shape] = []
    for _ in range(160):
        px, py, long = rng.uniform(-0.72, 0.72), rng.uniform(0, 1), rng.uniform(0.01, 0.10)
        turn = rng.normal(0, 0.7)
        line = [(px, py), (px + long * np.cos(turn), py + long * np.sin(turn))]
        scratch.append(
            (stroke(line, 0.0003, 0.0012, 0.0003), rgb(rng.choice(["3a2412", "e2c493", "5a3b20"])))
        )
    paint(picture, view, scratch, opacity=0.55)
    for px, py, r in ((0.55, 0.18, 0.055), (-0.60, 0.78, 0.05)):
        ring = np.abs(np.hypot(x - px, y - py) - r + 0.002 * wander)
        picture *= (1 - 0.35 * bell(ring, 0.004) * (0.6 + 0.4 * step(-1, 1, pores)))[..., None]
    timber = 1 + 0.10 * fbm(view, [seed, 105], 110, 110, 0.85)
    steel = 1 + 0.10 * fbm(view, [seed, 106], 3, 200, 0.75)

    def lay(
        shapes: list[Shape], px: float, py: float, turn: float, lift: float, shade: Array
    ) -> None:
        placed = [(spin(p + f32([px, py]), px, py, turn), c) for p, c in shapes]
        for drop, blur, dark in ((1.0, 0.9, 0.45), (0.35, 0.3, 0.45)):
            cast = [(p + f32([0.9, 1.1]) * lift * drop, rgb("1a0f06")) for p, _ in placed]
            paint(picture, view, cast, blur=lift * blur, opacity=dark)
        paint(picture, view, placed, shade=shade)

    def bevelled(points: ArrayLike, colour: Array, edge: float) -> list[Shape]:
        """A flat slab with a lit upper-left arris and a shaded lower-right one."""
        p = f32(points)
        middle = p.mean(0)
        inner = middle + (p - middle) * (1 - edge)
        return [
            (p, colour * 0.45),
            (p + (inner - p) * 0.6 - f32([edge, edge]) * 0.012, colour * 1.7),
            (inner, colour),
        ]

    # The hand saw.
    teeth = np.linspace(-0.40, 0.18, 117)
    lower = np.stack([teeth, 0.055 + 0.006 * (np.arange(117) % 2)], 1)
    blade = np.concatenate([[(0.18, -0.075), (-0.40, -0.005)], lower])
    saw: list[Shape] = [(f32(blade), rgb("8f979b"))]
    for k in range(14):
        t = k / 13
        saw.append(
            (
                stroke([(-0.40, 0.0 + 0.05 * t), (0.18, -0.070 + 0.12 * t)], 0.010),
                rgb("a9b0b3") * (0.62 + 0.55 * np.exp(-(((t - 0.35) / 0.22) ** 2))),
            )
        )
    saw += [(stroke([(-0.40, -0.004), (0.18, -0.074)], 0.002), rgb("eef2f2"))]
    grip = np.concatenate(
        [
            bend((0.15, -0.095), (0.24, -0.13), (0.33, -0.085), 12),
            bend((0.33, -0.085), (0.30, -0.03), (0.345, 0.06), 12),
            bend((0.345, 0.06), (0.26, 0.115), (0.16, 0.075), 12),
        ]
    )
    hole = np.concatenate(
        [
            bend((0.225, -0.055), (0.26, -0.075), (0.285, -0.045), 9),
            bend((0.285, -0.045), (0.275, 0.0), (0.295, 0.045), 9),
            bend((0.295, 0.045), (0.25, 0.065), (0.225, 0.035), 9),
        ]
    )
    saw += bevelled(grip, rgb("8a4f2a"), 0.07) + [
        (hole - f32([0.004, 0.004]), rgb("3a1d0c")),
        (hole, rgb("8b653d")),
    ]
    for px, py in ((0.185, -0.05), (0.19, 0.0), (0.18, 0.045)):
        saw += [
            (disc(px, py, 0.009, 0.009), rgb("6b4d1c")),
            (disc(px - 0.001, py - 0.001, 0.0075, 0.0075), rgb("d9b45a")),
            (stroke([(px - 0.006, py), (px + 0.006, py + 0.001)], 0.0016), rgb("5a4118")),
        ]
    lay(saw, -0.20, 0.20, -9, 0.009, timber)
    # Chisels, in order of width.
    for k, wide in enumerate((0.040, 0.028, 0.018, 0.012)):
        iron = rgb("a2a9ad")
        tool: list[Shape] = [
            (
                f32([(-wide / 2, -0.22), (wide / 2, -0.22), (wide / 2, -0.02), (-wide / 2, -0.02)]),
                iron * 0.8,
            )
        ]
        tool += [
            (
                f32(
                    [(-wide / 2, -0.22), (-wide / 4, -0.20), (-wide / 4, -0.02), (-wide / 2, -0.02)]
                ),
                iron * 1.5,
            ),
            (
                f32([(wide / 2, -0.22), (wide / 4, -0.20), (wide / 4, -0.02), (wide / 2, -0.02)]),
                iron * 0.4,
            ),
            (
                f32(
                    [
                        (-wide / 2, -0.222),
                        (wide / 2, -0.222),
                        (wide / 4, -0.195),
                        (-wide / 4, -0.195),
                    ]
                ),
                rgb("eef3f4"),
            ),
        ]
        tool += rod([(0, -0.03), (0, 0.02)], iron * 0.8, wide * 0.9, 0.012, 0.016)
        tool += rod([(0, 0.015), (0, 0.038)], rgb("c0923a"), 0.024, 0.028)
        handle = rgb(("b07a3c", "8a4526", "b98a4a", "6b3a1e")[k])
        tool += rod(
            [(0, 0.035), (0, 0.06), (0, 0.10), (0, 0.14), (0, 0.175)],
            handle,
            0.026,
            0.030,
            0.040,
            0.036,
            0.030,
        )
        tool += rod([(0, 0.165), (0, 0.178)], rgb("4a3a2c"), 0.033, 0.030)
        lay(tool, 0.25 + 0.095 * k, 0.46 + 0.015 * k, 8 - 4 * k, 0.008, timber)
    # The mallet.
    head: list[Shape] = rod([(0, 0.03), (0, 0.20), (0, 0.40)], rgb("b98a54"), 0.034, 0.042, 0.036)
    head += bevelled(
        [(-0.105, -0.075), (0.105, -0.055), (0.105, 0.055), (-0.105, 0.075)], rgb("a87440"), 0.10
    )
    for k in range(16):
        q = -0.06 + 0.008 * k
        head.append(
            (
                stroke(
                    bend((-0.095, q), (0, q * 0.8 + rng.normal(0, 0.004)), (0.095, q * 0.75)),
                    0.0012,
                ),
                rgb("7d5028"),
            )
        )
    head += [
        (stroke([(-0.017, -0.058), (-0.017, 0.060)], 0.002), rgb("4f3015")),
        (stroke([(0.017, -0.056), (0.017, 0.058)], 0.002), rgb("4f3015")),
    ]
    lay(head, -0.47, 0.46, -28, 0.016, timber)
    # A folding rule, half open.
    for px, py, turn in ((-0.11, 0.905, -4), (0.21, 0.845, -17)):
        rule = bevelled(
            [(-0.18, -0.017), (0.18, -0.017), (0.18, 0.017), (-0.18, 0.017)], rgb("d9b860"), 0.02
        )
        for k in range(97):
            long = 0.014 if k % 8 == 0 else 0.010 if k % 4 == 0 else 0.006
            at = -0.174 + 0.348 * k / 96
            rule.append((stroke([(at, -0.017), (at, -0.017 + long)], 0.0009), rgb("2a1c0a")))
        rule += bevelled(
            [(-0.181, -0.018), (-0.165, -0.018), (-0.165, 0.018), (-0.181, 0.018)],
            rgb("b9872f"),
            0.12,
        )
        rule += [
            (disc(0.172, 0, 0.018, 0.018), rgb("8a6420")),
            (disc(0.171, -0.001, 0.015, 0.015), rgb("d9aa4a")),
            (disc(0.172, 0, 0.004, 0.004), rgb("6a4a16")),
        ]
        lay(rule, px, py, turn, 0.004, steel)
    # Shavings: ribbons that curl, pale where they face the light.
    for _ in range(15):
        px, py, turns = rng.normal(-0.02, 0.17), rng.normal(0.60, 0.10), rng.uniform(1.2, 2.6)
        sense = rng.choice([-1, 1])
        roll = np.linspace(0, turns * 2 * np.pi, 70)
        size = rng.uniform(0.014, 0.032)
        curl = np.stack(
            [
                px + 0.010 * roll * sense + size * np.cos(roll + 1) * (1 - 0.03 * roll),
                py + size * 0.8 * np.sin(roll + 1) + 0.004 * roll,
            ],
            1,
        )
        ribbon = rng.uniform(0.010, 0.020)
        paint(
            picture,
            view,
            [(stroke(curl + f32([0.008, 0.011]), ribbon), rgb("2a180a"))],
            blur=0.005,
            opacity=0.5,
        )
        pieces: list[Shape] = []
        for i in range(69):
            bright = 0.62 + 0.36 * np.sin(roll[i] + 2.4)
            segment = curl[i : i + 2] + (curl[i + 1] - curl[i]) * f32([[-0.4], [0.4]])
            pieces.append((stroke(segment, ribbon), rgb("efcf9a") * bright))
            edge = segment + f32([0, -ribbon / 2.2])
            pieces.append((stroke(edge, ribbon * 0.12), rgb("fff0cf") * min(1.0, bright * 1.2)))
        paint(picture, view, pieces, shade=timber)
    # Copper rivets and a pencil.
    for _ in range(26):
        px, py, turn = rng.normal(0.53, 0.07), rng.normal(0.88, 0.04), rng.uniform(0, 360)
        rivet = rod([(0, 0), (0.026, 0)], rgb("b4683a"), 0.0042, 0.003) + [
            (disc(0, 0, 0.0036, 0.0075, 16), rgb("7a3f1e")),
            (disc(-0.001, -0.001, 0.0024, 0.006, 16), rgb("e6a272")),
        ]
        lay(rivet, px, py, turn, 0.002, timber)
    pencil: list[Shape] = []
    for k, level in enumerate((0.55, 1.25, 0.8)):
        d = -0.005 + 0.005 * k
        pencil.append((stroke([(-0.10, d), (0.09, d)], 0.0056), rgb("b0362a") * level))
        pencil.append(
            (f32([(0.09, d - 0.0026), (0.09, d + 0.0026), (0.118, d * 0.1)]), rgb("dcb07a") * level)
        )
    pencil += [(f32([(0.111, -0.0016), (0.111, 0.0016), (0.121, 0)]), rgb("24211f"))]
    lay(pencil, 0.10, 0.74, -33, 0.004, steel)
    # Window light, strongest at the upper left.
    fall = 1.15 * np.exp(-((np.hypot(x + 0.45, y - 0.1) / 1.25) ** 2)) + 0.12
    mullion = soft(
        cover(
            view,
            [
                stroke([(-0.75, 0.55), (0.30, -0.1)], 0.035),
                stroke([(-0.30, 1.1), (0.75, 0.42)], 0.035),
            ],
        ),
        view,
        0.02,
    )
    picture *= (fall * (1 - 0.28 * mullion))[..., None]
    return finish(develop(picture, 15, 54, 88), view, seed)
