"""A dim chapel, lit by one coloured window and two candles."""

import numpy as np

from scenes.drawing.brush import cover, disc, paint, rod, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, rgb, step
from scenes.drawing.noise import fbm, ground, ridge, soft, speckle
from scenes.drawing.view import Array, Shape, f32, view_of


def chapel(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 8])
    cx, floor = 0.10, 0.70
    rough = fbm(view, [seed, 81], 8, 8, 0.62)
    course = y / 0.052
    row = np.floor(course)
    along = x / 0.11 + 0.5 * (row % 2) + 0.2 * ridge(row * 1.7, [seed, 82], 1)
    joint = np.maximum(bell(course - np.round(course), 0.035), bell(along - np.round(along), 0.018))
    tint = speckle([seed, 83], np.floor(along), row)
    stone = (
        rgb("a39276") * (1 + 0.16 * tint + 0.14 * rough)[..., None] * (1 - 0.5 * joint)[..., None]
    )
    spread = np.exp(-np.hypot((x - cx) / 0.34, (y - 0.40) / 0.40))
    picture = stone * (0.05 + 0.32 * spread)[..., None]
    # The floor: flags in perspective.
    rows = view.box(-1, floor, 1, 1)[0]
    far = 0.30 / (y[rows] - floor + 0.06)
    fx, fy = (x - cx) * far * 2.2, far * 2.6
    line = np.maximum(bell(fx - np.round(fx), 0.022), bell(fy - np.round(fy), 0.022))
    worn = ground(view, (rows, slice(0, view.width)), [seed, 84], floor - 0.06)
    shade = speckle([seed, 85], np.floor(fx), np.floor(fy))
    flag = (
        rgb("8c7c66")
        * (
            (1 + 0.15 * shade + 0.10 * worn)
            * (1 - 0.55 * line)
            * (0.05 + 0.20 * np.exp(-np.abs(x - cx) / 0.4))
        )[..., None]
    )
    picture[rows] = flag

    def lancet(left: float, right: float, spring: float, low: float) -> Array:
        reach = right - left
        turn = np.linspace(0, np.pi / 3, 20)
        rise = np.stack([left + reach * np.cos(turn), spring - reach * np.sin(turn)], 1)
        fall = np.stack(
            [right - reach * np.cos(turn[::-1]), spring - reach * np.sin(turn[::-1])], 1
        )
        return f32(np.concatenate([[(left, low), (right, low)], rise, fall]))

    for k in range(7):
        grow = 0.030 - 0.005 * k
        tone = rgb("b09c7c") * (0.10 + 0.055 * k)
        paint(
            picture,
            view,
            [(lancet(cx - 0.16 - grow, cx + 0.16 + grow, 0.32, 0.585 + grow), tone)],
            shade=1 + 0.14 * rough,
        )
    glass = cover(
        view,
        [
            lancet(a, b, 0.34, 0.575)
            for a, b in ((cx - 0.15, cx - 0.058), (cx - 0.046, cx + 0.046), (cx + 0.058, cx + 0.15))
        ],
    )
    glass = np.maximum(
        glass,
        cover(
            view,
            [
                disc(cx, 0.170, 0.040, 0.040),
                disc(cx - 0.062, 0.248, 0.026, 0.026),
                disc(cx + 0.062, 0.248, 0.026, 0.026),
            ],
        ),
    )
    frame = view.box(cx - 0.16, 0.10, cx + 0.16, 0.60)
    across, updown = (x[:, frame[1]] - cx) / 0.0153, y[frame[0]] / 0.027
    a, b = across + updown, across - updown
    lead = np.maximum(bell(a - np.round(a), 0.06), bell(b - np.round(b), 0.06))
    pane_a, pane_b = np.floor(a).astype(np.int16), np.floor(b).astype(np.int16)
    codes = "2b5fc0 c8342b e9b83a 2f8f5a 7a3f9a d9e3e6 3a8fc0 e07a2a"
    tones = np.stack([rgb(code) for code in codes.split()])
    chance = np.random.default_rng([seed, 86]).integers(0, 8, (256, 256))
    shine = 0.75 + 0.25 * np.sin(f32(pane_a) * 12.9 + f32(pane_b) * 78.2)
    shine = shine * (1 + 0.10 * rough[frame]) * (1 - 0.93 * lead)
    shine = shine * 1.15 * bell(y[frame[0]] - 0.33, 0.30)
    window = tones[chance[pane_a & 255, pane_b & 255]] * shine[..., None]
    blend(picture[frame], window, glass[frame])
    bars = [
        (stroke([(cx - 0.149, h), (cx + 0.149, h)], 0.004), rgb("0c0b0a"))
        for h in (0.30, 0.39, 0.48)
    ]
    paint(picture, view, bars)
    bloom = soft(glass, view, 0.07)
    picture += bloom[..., None] * rgb("c9c4b0") * 0.10
    # The shaft falls to the left; its patch on the floor carries the colours of the glass.
    shaft = cover(
        view, [f32([(cx - 0.15, 0.2), (cx + 0.15, 0.35), (-0.12, 0.95), (-0.52, 0.95)])], blur=0.03
    )
    picture += (shaft * np.clip(0.10 - 0.06 * y, 0, 1) * (1 + 0.10 * rough))[..., None] * rgb(
        "ffe6bc"
    )
    pools: list[Shape] = []
    for _ in range(70):
        u, v = rng.uniform(-1, 1), rng.uniform(0, 1)
        px, py = -0.30 + 0.15 * u + 0.10 * (0.5 - v), 0.78 + 0.17 * v
        pools.append(
            (
                f32([(px, py - 0.012), (px + 0.03, py), (px, py + 0.012), (px - 0.03, py)]),
                tones[rng.integers(8)],
            )
        )
    glow = np.zeros_like(picture)
    paint(glow, view, pools, blur=0.009)
    patch = view.box(-0.60, 0.72, 0.0, 1.0)
    picture[patch] += glow[patch] * 0.22 * (1 + 0.2 * rough[patch])[..., None]
    del glow
    # The altar and its candles.
    table: list[Shape] = [
        (
            f32([(cx - 0.15, 0.635), (cx + 0.15, 0.635), (cx + 0.15, 0.745), (cx - 0.15, 0.745)]),
            rgb("57504a"),
        ),
        (
            f32([(cx - 0.16, 0.625), (cx + 0.16, 0.625), (cx + 0.165, 0.675), (cx - 0.165, 0.675)]),
            rgb("7d776a"),
        ),
        (
            f32([(cx - 0.16, 0.622), (cx + 0.16, 0.622), (cx + 0.16, 0.630), (cx - 0.16, 0.630)]),
            rgb("b5ad9a"),
        ),
    ]
    for k in range(16):
        table.append(
            (
                stroke(
                    [(cx - 0.155 + 0.0207 * k, 0.632), (cx - 0.157 + 0.0209 * k, 0.674)],
                    0.004,
                    0.007,
                ),
                rgb("59544a"),
            )
        )
    for side in (-0.115, 0.115):
        table += rod([(cx + side, 0.57), (cx + side, 0.625)], rgb("b9ab8c"), 0.011)
        table += rod([(cx + side, 0.604), (cx + side, 0.625)], rgb("a8782f"), 0.012, 0.006, 0.024)
        table += [
            (
                stroke(
                    [(cx + side, 0.570), (cx + side, 0.558), (cx + side, 0.540)],
                    0.004,
                    0.010,
                    0.001,
                ),
                rgb("ffb84a"),
            ),
            (
                stroke(
                    [(cx + side, 0.567), (cx + side, 0.558), (cx + side, 0.549)],
                    0.002,
                    0.005,
                    0.001,
                ),
                rgb("fff3cf"),
            ),
        ]
    paint(picture, view, table, shade=1 + 0.12 * rough)
    for side in (-0.115, 0.115):
        halo = np.exp(-np.hypot(x - cx - side, y - 0.555) / 0.045)
        picture += (0.30 * halo * (0.4 + 0.6 * halo))[..., None] * rgb("ff9a3a")
    # Pews, nearest last, and the two piers that frame the view.
    grain = 1 + 0.25 * fbm(view, [seed, 87], 5, 60, 0.7)
    for k in range(6):
        near = k / 5
        top, tall, gap = (
            0.735 + 0.038 * k + 0.012 * k * near,
            0.060 + 0.05 * near,
            0.10 + 0.10 * near,
        )
        pews: list[Shape] = []
        for side in (-1, 1):
            inner, outer = cx - 0.03 * near + side * gap, cx + side * (0.75 + near)
            wood = rgb("5a3d26") * (0.22 + 0.10 * near + (0.22 if side < 0 else 0.0))
            pews.append(
                (
                    f32([(inner, top), (outer, top), (outer, top + tall), (inner, top + tall)]),
                    wood * 0.55,
                )
            )
            for panel in range(9):
                at = inner + side * (0.03 + 0.075 * panel) * (1 + near * 0.5)
                pews.append(
                    (
                        f32(
                            [
                                (at, top + 0.014),
                                (at + side * 0.055 * (1 + near * 0.5), top + 0.014),
                                (at + side * 0.055 * (1 + near * 0.5), top + tall),
                                (at, top + tall),
                            ]
                        ),
                        wood * 0.36,
                    )
                )
            pews.append((stroke([(inner, top), (outer, top)], 0.008 + 0.004 * near), wood * 1.5))
            pews.append((stroke([(inner, top - 0.003), (outer, top - 0.003)], 0.0025), wood * 3.6))
            end = [(inner, top - 0.02), (inner, top + tall + 0.03)]
            pews += rod(end, wood * 1.5, 0.014 + 0.010 * near)
            pews.append(
                (disc(inner, top - 0.028, 0.010 + 0.006 * near, 0.013 + 0.008 * near), wood * 2.2)
            )
        paint(picture, view, pews, shade=grain)
    for left, right, lit in ((-0.80, -0.50, 1.0), (0.56, 0.80, -1.0)):
        for inner, outer, top in ((left, right, -1.0), (left - 0.01, right + 0.012, 0.886)):
            pier = view.box(inner - 0.01, top, outer + 0.01, 1.1)
            bulge = (x[:, pier[1]] - (inner + outer) / 2) / ((outer - inner) / 2)
            body = step(1 + 3 / view.scale, 1, np.abs(bulge)) * np.ones_like(y[pier[0]])
            round_off = np.sqrt(np.clip(1 - bulge**2, 0, 1))
            curve = np.clip(0.16 + 0.55 * lit * bulge * round_off, 0.03, 1)
            light = 0.30 * curve * (1 + 0.25 * np.cos(bulge * 16))
            blend(picture[pier], stone[pier] * light[..., None], body)
    return finish(develop(picture, 8, 28, 70), view, seed)
