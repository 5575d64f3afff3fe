"""A heron and two waders among reeds at first light."""

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.brush import bend, blades, disc, paint, rod, spin, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import blend, rgb, sheet, step
from scenes.drawing.noise import fbm, ridge
from scenes.drawing.view import Array, Shape, f32, view_of
from scenes.drawing.weather import cloud_over, reflect


def reeds(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 7])
    shore = 0.44
    picture = sheet(view, [(0, "8fa3b3"), (0.25, "c3c3bb"), (0.40, "ead6b0"), (0.46, "dcc196")])
    pale = [(0, "9b9ba3"), (1, "f3e0c2")]
    cloud_over(picture, view, [seed, 71], (2, 8), 0.35, pale, np.full_like(y, 0.6))
    for k, (base, tone) in enumerate(((0.37, "a7a08d"), (0.40, "7d775f"), (0.425, "5f5a41"))):
        crest = base + 0.02 * ridge(x, [seed, 72, k], 3) + 0.022 * ridge(x, [seed, 73, k], 90, 0.8)
        blend(picture, rgb(tone), f32(step(0, 0.012, y - crest) * (0.75 + 0.1 * k)))
    reflect(picture, view, shore, [seed, 74], "4a4f48")
    streaks = 1 + 0.22 * fbm(view, [seed, 76], 90, 6, 0.7)
    straw = ["8f7f4c", "b39c5f", "6d6a3a", "c9b57c", "4f5330", "7a8046"]

    def stand(
        left: float, right: float, base: float, spread: float, count: int, tall: float, wide: float
    ) -> None:
        roots = f32(
            np.stack([rng.uniform(left, right, count), base + rng.uniform(0, spread, count)], 1)
        )
        roots[:, 1] += 0.01 * ridge(roots[:, 0], [seed, 75], 8)
        leaves = blades(rng, roots, tall, wide, 0.05, straw)
        mirror = [
            (f32((p - (0, r)) * (1, -0.8) + (0, r)), c * 0.35)
            for (p, c), r in zip(leaves, np.sort(roots[:, 1]), strict=True)
        ]
        paint(picture, view, mirror, blur=0.002, opacity=0.75)
        heads: list[Shape] = []
        for root in roots[::6]:
            top = root + f32([rng.normal(0.06, 0.08) * tall, -tall * rng.uniform(0.9, 1.25)])
            stem = bend(root, (root[0], top[1] + 0.3 * tall), top, 9)
            tone = rgb(rng.choice(["6b5434", "856a45", "a58a62"]))
            heads.append((stroke(stem, wide * 0.5), rgb("8f8452")))
            droop = top + f32([0.05 * tall, -0.10 * tall])
            heads.append(
                (
                    stroke(
                        bend(top, top - f32([0, 0.08 * tall]), droop, 7),
                        wide * 0.5,
                        wide * 1.7,
                        wide * 0.3,
                    ),
                    tone * 0.6,
                )
            )
            starts = top + (droop - top) * rng.uniform(0, 1, (9, 1))
            drift = np.stack([rng.normal(0.022, 0.012, 9), rng.uniform(-0.03, 0.02, 9)], 1) * tall
            wisps = stroke(np.stack([starts, starts + drift], 1), wide * 0.5, wide * 0.1)
            heads += [(wisp, tone * rng.uniform(0.6, 2.0)) for wisp in wisps]
        paint(picture, view, [*leaves, *heads], shade=streaks)

    stand(-0.75, 0.75, 0.44, 0.02, 1500, 0.11, 0.0016)
    stand(-0.75, -0.22, 0.52, 0.05, 900, 0.24, 0.003)
    stand(0.40, 0.75, 0.54, 0.05, 600, 0.26, 0.003)

    def wader(px: float, py: float, s: float, face: int) -> None:
        shapes: list[Shape] = []

        def at(points: ArrayLike) -> Array:
            return f32(f32(points) * (s * face, s) + f32([px, py]))

        for dx in (-0.05, 0.12):
            shapes.append(
                (
                    stroke(at([(dx, -0.5), (dx + 0.02, -0.25), (dx - 0.03, 0)]), 0.035 * s),
                    rgb("b9502f"),
                )
            )
        turn = np.linspace(0, 2 * np.pi, 40)
        body = np.stack(
            [
                0.62 * np.cos(turn) * (1 - 0.1 * np.sin(turn)),
                -0.62 + 0.24 * np.sin(turn) - 0.10 * np.cos(turn),
            ],
            1,
        )
        for k in range(7):
            shapes.append(
                (
                    at((body - (0, -0.62)) * (1 - 0.1 * k) + (0.02 * k, -0.62 - 0.018 * k)),
                    rgb("d9d3c4") * (0.40 + 0.11 * k),
                )
            )
        for k in range(26):
            t = k / 25
            root = (0.30 - 0.75 * t, -0.70 - 0.07 * np.sin(3 * t) + 0.05 * (k % 3))
            quill = bend(
                root, (root[0] - 0.12, root[1] - 0.02), (root[0] - 0.28, root[1] + 0.07), 6
            )
            dark = rgb("35302b") if k % 3 else rgb("7b6d5b")
            shapes += [
                (stroke(at(quill), 0.03 * s, 0.07 * s, 0.01 * s), dark * 0.5),
                (stroke(at(quill), 0.015 * s, 0.045 * s, 0.004 * s), dark * 1.4),
            ]
        neck = bend((0.42, -0.72), (0.66, -0.82), (0.62, -1.08), 9)
        shapes += [(p, c) for p, c in rod(at(neck), rgb("d9d3c4"), 0.30 * s, 0.17 * s, 0.15 * s)]
        shapes += [
            (at(disc(0.65, -1.10, 0.13, 0.105)), rgb("c9c0ae")),
            (at(disc(0.62, -1.14, 0.12, 0.07)), rgb("3a332c")),
        ]
        shapes += [
            (
                stroke(
                    at(bend((0.75, -1.10), (1.0, -1.06), (1.25, -1.12))),
                    0.05 * s,
                    0.03 * s,
                    0.012 * s,
                ),
                rgb("2b2724"),
            )
        ]
        shapes += [
            (at(disc(0.69, -1.115, 0.026, 0.026)), rgb("0d0b0a")),
            (at(disc(0.68, -1.122, 0.009, 0.009)), rgb("f5efe0")),
        ]
        paint(
            picture,
            view,
            [(f32((p - (0, py)) * (1, -0.9) + (0, py)), c * 0.45) for p, c in shapes],
            blur=0.0025,
            opacity=0.7,
        )
        paint(picture, view, shapes)

    wader(0.27, 0.70, 0.10, -1)
    wader(0.36, 0.60, 0.06, 1)
    # The heron: feathers are laid from tail to breast so that each covers the root of the next.
    bird: list[Shape] = []
    ox, oy, s = -0.10, 0.80, 0.30

    def place(points: ArrayLike) -> Array:
        return f32(f32(points) * s + f32([ox, oy]))

    for dx, dim in ((0.06, 0.6), (-0.05, 1.0)):
        bird += rod(
            place([(dx, -0.62), (dx - 0.05, -0.33), (dx + 0.01, 0.02)]),
            rgb("8a7a4d") * dim,
            0.022 * s,
            0.016 * s,
            0.018 * s,
        )
    t = np.linspace(0, 2 * np.pi, 50)
    oval = np.stack([0.46 * np.cos(t), 0.19 * np.sin(t) * (1 + 0.25 * np.cos(t))], 1)
    hull = spin(f32(oval), 0, 0, -24) + f32([0, -0.78])
    for k in range(9):
        bird.append(
            (
                place((hull - (0, -0.78)) * (1 - 0.08 * k) + (-0.01 * k, -0.78 - 0.012 * k)),
                rgb("a9b2ba") * (0.35 + 0.09 * k),
            )
        )
    neck_path = np.concatenate(
        [
            bend((0.36, -0.93), (0.66, -1.02), (0.44, -1.28), 14),
            bend((0.44, -1.28), (0.28, -1.50), (0.44, -1.62), 14)[1:],
        ]
    )
    bird += [
        (p, c)
        for p, c in rod(place(neck_path), rgb("cfd3d3"), 0.24 * s, 0.13 * s, 0.085 * s, 0.08 * s)
    ]
    for _ in range(70):
        i = int(rng.integers(1, 24))
        start = neck_path[i] + rng.normal(0, 0.018, 2)
        bird.append(
            (
                stroke(
                    place([start, start + (neck_path[max(i - 3, 0)] - neck_path[i]) * 0.7]),
                    0.007 * s,
                    0.002 * s,
                ),
                rgb(rng.choice(["3d4348", "8b9298", "eef0ee"])),
            )
        )
    for _ in range(26):
        root = (0.40 + rng.normal(0, 0.045), -0.93 + rng.normal(0, 0.04))
        bird.append(
            (
                stroke(
                    place(
                        bend(
                            root,
                            (root[0] + 0.03, root[1] + 0.12),
                            (root[0] - 0.04, root[1] + rng.uniform(0.16, 0.30)),
                            7,
                        )
                    ),
                    0.012 * s,
                    0.009 * s,
                    0.002 * s,
                ),
                rgb("dfe2e0") * rng.uniform(0.5, 1.1),
            )
        )
    for row in range(13, -1, -1):
        for lane in range(11):
            fx, fy = (
                -0.36 + 0.055 * row,
                (lane - 5) / 5 * 0.135 * np.sin(0.45 + 0.19 * row) + 0.012 * (row % 2),
            )
            fx, fy = (row_col := spin(f32([[fx, fy]]), 0, 0, -24)[0])[0], row_col[1] - 0.80
            long = 0.15 + 0.012 * (13 - row)
            quill = bend(
                (fx, fy), (fx - 0.6 * long, fy + 0.20 * long), (fx - long, fy + 0.55 * long), 7
            )
            sheen = (0.95 - 0.055 * lane) * rng.uniform(0.85, 1.15)
            slate = rgb("6f7d8b") if row > 5 else rgb("4d5966")
            bird += [
                (
                    stroke(place(quill), 0.012 * s, 0.052 * s, 0.030 * s, 0.006 * s),
                    slate * 0.40 * sheen,
                ),
                (
                    stroke(place(quill), 0.008 * s, 0.040 * s, 0.020 * s, 0.003 * s),
                    slate * 1.25 * sheen,
                ),
                (stroke(place(quill), 0.003 * s), slate * 2.0 * sheen),
            ]
    bird += [
        (place(spin(disc(0.49, -1.64, 0.10, 0.055), 0.49, -1.64, 8)), rgb("dcdedb")),
        (
            stroke(
                place([(0.55, -1.665), (0.68, -1.645), (0.90, -1.60)]),
                0.055 * s,
                0.045 * s,
                0.006 * s,
            ),
            rgb("a8822f"),
        ),
        (
            stroke(
                place([(0.55, -1.675), (0.68, -1.655), (0.88, -1.606)]),
                0.022 * s,
                0.016 * s,
                0.004 * s,
            ),
            rgb("d9b45a"),
        ),
        (stroke(place([(0.56, -1.645), (0.88, -1.598)]), 0.006 * s), rgb("4b3814")),
    ]
    for k in range(5):
        bird.append(
            (
                stroke(
                    place(
                        bend(
                            (0.53, -1.68 + 0.006 * k),
                            (0.40, -1.72 + 0.01 * k),
                            (0.16 + 0.03 * k, -1.60 + 0.02 * k),
                            9,
                        )
                    ),
                    0.02 * s,
                    0.012 * s,
                    0.002 * s,
                ),
                rgb("22262b"),
            )
        )
    bird += [
        (place(disc(0.535, -1.655, 0.019, 0.018)), rgb("d9b43a")),
        (place(disc(0.536, -1.655, 0.011, 0.011)), rgb("0c0b0a")),
        (place(disc(0.531, -1.661, 0.004, 0.004)), rgb("ffffff")),
    ]
    paint(
        picture,
        view,
        [(f32((p - (0, oy)) * (1, -0.75) + (0, oy)), c * 0.4) for p, c in bird],
        blur=0.003,
        opacity=0.75,
    )
    for px, py, r in ((-0.10, 0.80, 0.05), (0.27, 0.70, 0.02), (0.36, 0.60, 0.012)):
        for swell in (1.0, 1.8, 2.9):
            around = disc(px, py, r * swell, r * swell * 0.22, 60)
            paint(
                picture,
                view,
                [(stroke(np.concatenate([around, around[:1]]), 0.0016), rgb("f0e2c4"))],
                opacity=0.5 / swell,
            )
    paint(picture, view, bird)
    stand(-0.75, -0.36, 0.86, 0.12, 420, 0.55, 0.006)
    stand(0.52, 0.75, 0.90, 0.12, 300, 0.60, 0.006)
    stand(-0.75, 0.75, 1.0, 0.06, 330, 0.16, 0.006)
    return finish(develop(picture, 14, 56, 87), view, seed)
