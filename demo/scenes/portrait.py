"""Three of a boat's crew, from light skin to dark, with the harbour behind out of focus."""

import numpy as np
from numpy.typing import ArrayLike

from scenes.drawing.brush import bend, disc, paint, rod, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, rgb, sheet, step
from scenes.drawing.noise import fbm, noise_tile, sample
from scenes.drawing.view import Array, Box, Shape, View, f32, view_of


def knit(view: View, box: Box, pitch: float) -> Array:
    """Brightness of stocking-stitch over box, 0.5..1.1, in columns pitch scene units wide."""
    x, y = view.x[:, box[1]] / pitch, view.y[box[0]] / pitch
    fold = np.abs(x - np.floor(x) - 0.5) * 2
    loop = np.cos(2 * np.pi * (y * 1.25 + fold * 0.55))
    crisp = float(np.clip(pitch * view.scale / 4 - 0.6, 0, 1))
    return f32(
        0.85 + crisp * (0.20 * loop * (1 - 0.4 * fold) - 0.28 * (1 - fold) ** 6 - 0.20 * fold**8)
    )


def person(
    picture: Array,
    view: View,
    rng: np.random.Generator,
    at: tuple[float, float, float],
    turn: float,
    skin: Array,
    hair: str,
    style: str,
    wool: str,
    gloss: Array,
) -> None:
    """A head and shoulders: at is the face's centre and half-height; turn looks left or right.

    style is one of "long", "cropped", "hat" or "beard".
    """
    cx, cy, r = at
    key = [int(abs(cx) * 1000), int(cy * 1000)]
    dark, tile, billow = rgb(hair), noise_tile([*key, 1], 1.2), noise_tile([*key, 3], 2.4)

    def put(points: ArrayLike) -> Array:
        return f32(f32(points) * r + f32([cx, cy]))

    if style == "long":
        back = [
            (0, -1.12),
            (0.55, -1.02),
            (0.92, -0.5),
            (1.0, 0.3),
            (1.08, 1.1),
            (0.9, 1.75),
            (-0.9, 1.75),
            (-1.08, 1.1),
            (-1.0, 0.3),
            (-0.92, -0.5),
            (-0.55, -1.02),
        ]
        paint(picture, view, [(put(back), dark * 0.30)], blur=0.05 * r)
    # Shoulders, in a knitted jumper.
    body = view.box(cx - 2.3 * r, cy + 0.7 * r, cx + 2.3 * r, 1.01)
    u, v = (view.x[:, body[1]] - cx) / r, (view.y[body[0]] - cy) / r
    slope = 1.22 + 0.62 * step(0.3, 1.9, np.abs(u)) + 2.2 * step(1.55, 2.2, np.abs(u))
    edge = 2.0 / (r * view.scale)
    shape = step(-edge, edge, v - slope)
    folds = sample(billow, u * 0.22, v * 0.16)
    arm = bell(np.abs(u) - 1.18 - 0.1 * (v - 1.8), 0.10) * step(1.9, 2.5, v)
    form = 0.62 - 0.22 * u - 0.10 * u**2 + 0.06 * folds - 0.22 * arm + 0.15 * bell(v - slope, 0.25)
    shirt = rgb(wool) * (np.clip(form, 0.08, 1.2) * knit(view, body, 0.060 * r))[..., None]
    blend(picture[body], shirt, shape)
    shade = np.ones((view.height, view.width), np.float32)
    throat = view.box(cx - r, cy + 0.5 * r, cx + r, cy + 1.8 * r)
    nu, nv = (view.x[:, throat[1]] - cx) / r, (view.y[throat[0]] - cy) / r
    shade[throat] = np.clip(0.60 - 0.55 * nu - 0.5 * nu**2, 0.08, 1) * (
        0.35 + 0.65 * step(0.95, 1.5, nv + 0.25 * nu)
    )
    paint(
        picture,
        view,
        [
            (
                put(
                    [
                        (-0.42, 0.5),
                        (0.42, 0.5),
                        (0.44, 1.25),
                        (0.55, 1.45),
                        (0, 1.62),
                        (-0.55, 1.45),
                        (-0.44, 1.25),
                    ]
                ),
                skin,
            )
        ],
        shade=shade,
    )
    collar: list[Shape] = []
    for k in range(46):
        t = -1 + 2 * k / 45
        top, low = (
            (0.53 * t, 1.22 + 0.22 * np.sqrt(1 - t * t)),
            (0.62 * t, 1.40 + 0.27 * np.sqrt(1 - t * t)),
        )
        collar += rod(put([top, low]), rgb(wool) * (0.62 - 0.25 * t), 0.040 * r, 0.046 * r)
    paint(picture, view, collar, shade=gloss)
    ears: list[Shape] = []
    for side in (-1, 1):
        for k in range(5):
            ears.append(
                (
                    put(
                        disc(
                            side * (0.74 + 0.01 * k) - 0.10 * turn,
                            0.08,
                            0.11 - 0.018 * k,
                            0.22 - 0.035 * k,
                        )
                    ),
                    skin * f32([1, 0.85, 0.8]) * (0.42 - 0.10 * side + 0.05 * k * (-1) ** k),
                )
            )
    paint(picture, view, ears)
    # The face: a relief map, lit from the upper left.
    face = view.box(cx - 0.95 * r, cy - 1.15 * r, cx + 0.95 * r, cy + 1.15 * r)
    u, v = np.broadcast_arrays((view.x[:, face[1]] - cx) / r, (view.y[face[0]] - cy) / r)
    jaw = 0.735 * (1 - 0.17 * step(0.25, 1.0, v)) * (1 + 0.02 * bell(v - 0.15, 0.25))
    inside = np.maximum(1 - np.abs(u / jaw) ** 2.3 - np.abs(v) ** 2.3, 0)
    z = 0.80 * np.sqrt(inside)
    t = turn

    def spot(px: float, py: float, wide: float, high: float) -> Array:
        return f32(np.exp(-(((u - px) / wide) ** 2) - ((v - py) / high) ** 2))

    nose = bell(u - t, 0.055 + 0.035) * step(-0.25, 0.25, v) * step(0.42, 0.32, v)
    eyes = [(t * 0.85 + side * 0.29 * (1 - 0.25 * side * t), -0.02) for side in (-1, 1)]
    z = z + 0.15 * nose + 0.075 * spot(t, 0.31, 0.085, 0.085)
    z = z + 0.045 * (spot(t - 0.10, 0.34, 0.05, 0.05) + spot(t + 0.10, 0.34, 0.05, 0.05))
    for ex, ey in eyes:
        z = z - 0.095 * spot(ex, ey - 0.01, 0.16, 0.10) + 0.045 * spot(ex, ey + 0.005, 0.11, 0.065)
        z = z + 0.035 * spot(ex, ey - 0.17, 0.18, 0.06) - 0.010 * spot(ex, ey + 0.11, 0.13, 0.03)
        z = z + 0.065 * spot(ex * 1.25, 0.25, 0.20, 0.17)
    z = z + 0.060 * spot(t * 0.95, 0.565, 0.20, 0.085) + 0.07 * spot(t * 0.8, 0.85, 0.17, 0.13)
    z = z - 0.022 * spot(t * 0.95, 0.70, 0.18, 0.035) - 0.018 * spot(t, 0.465, 0.03, 0.05)
    smile = v - 0.565 + 0.10 * ((u - t) / 0.26) ** 2 * 0.45
    z = z - 0.02 * bell(smile, 0.016) * spot(t, 0.56, 0.22, 0.2)
    pores = sample(tile, u * 0.55 + 0.3, v * 0.55)
    z = z + 0.0007 * pores
    dv, du = np.gradient(z, 1 / (r * view.scale))
    length = np.sqrt(1 + du**2 + dv**2)
    facing = (0.50 * du + 0.46 * dv + 0.74) / length
    wrap = f32([0.36, 0.25, 0.20])  # light bleeds farthest into the shadow in red
    light = np.clip((facing[..., None] + wrap) / (1 + wrap), 0, None) ** 1.15
    light = 0.93 * light + (0.13 * np.clip(0.6 - 0.4 * dv / length, 0, 1))[..., None] * f32(
        [0.85, 0.95, 1.1]
    )
    flesh = (
        np.broadcast_to(skin, light.shape)
        * (1 + 0.018 * pores + 0.02 * sample(tile, u * 0.1, v * 0.1))[..., None]
    )
    warm = 0.5 * (
        spot(eyes[0][0] * 1.3, 0.27, 0.2, 0.16) + spot(eyes[1][0] * 1.3, 0.27, 0.2, 0.16)
    ) + 0.55 * spot(t, 0.33, 0.11, 0.1)
    flesh = flesh * (1 - warm[..., None] * f32([0.0, 0.13, 0.15]))
    for ex, ey in eyes:
        flesh = flesh * (1 - 0.22 * spot(ex, ey + 0.02, 0.17, 0.11))[..., None]
    halfwidth = np.clip(1 - ((u - t * 0.95) / 0.235) ** 2, 0, 1)
    upper, lower = (
        0.065 * halfwidth**0.8 * (1 - 0.25 * spot(t, 0.5, 0.04, 0.2)),
        0.085 * halfwidth**0.8,
    )
    lips = (
        step(-0.012, 0.012, smile + upper)
        * step(0.012, -0.012, smile - lower)
        * step(0, 0.12, halfwidth)
    )
    flesh = flesh * (1 - lips[..., None] * f32([0.16, 0.52, 0.42]))
    flesh = flesh * (1 - 0.75 * bell(smile, 0.011) * step(0, 0.25, halfwidth))[..., None]
    for side in (-1, 1):
        flesh = flesh * (1 - 0.6 * spot(t + 0.075 * side, 0.385, 0.035, 0.018))[..., None]
    if style in ("beard", "cropped"):
        stubble = (
            step(0.28, 0.55, v + 0.35 * (np.abs(u) - 0.45))
            * (1 - 0.9 * lips)
            * (1 - spot(t, 0.35, 0.25, 0.12))
        )
        flesh = flesh * (1 - (0.35 if style == "beard" else 0.16) * stubble)[..., None]
    drawn = flesh * light
    blink = np.clip((0.50 * du + 0.46 * dv + 0.74 + 0.35) / length / 1.35, 0, 1)
    oil = 0.05 * np.clip(blink, 0, 1) ** 22 * (1 + 0.3 * pores)
    drawn = drawn + oil[..., None] + (0.10 * lips * spot(t - 0.05, 0.61, 0.08, 0.022))[..., None]
    iris_colour = rgb(
        {"long": "5a7a6a", "cropped": "3a2415", "hat": "46301c", "beard": "55707f"}[style]
    )
    for ex, ey in eyes:
        a = (u - ex) / 0.145
        lid = 0.072 * np.clip(1 - a**2, 0, 1) ** 0.75
        sag = 0.050 * np.clip(1 - a**2, 0, 1) ** 0.9
        w = v - ey
        opening = (
            step(-0.008, 0.008, w + lid)
            * step(0.008, -0.008, w - sag)
            * step(1.02, 0.97, np.abs(a))
        )
        ball = f32(
            np.broadcast_to(rgb("d9d2ca"), drawn.shape)
            * (0.85 - 0.35 * a**2 - 0.5 * bell(w + lid, 0.03))[..., None]
        )
        rad = np.hypot(u - ex - 0.05 * t, w + 0.012)
        fibres = (
            0.75
            + 0.5 * step(0.02, 0.06, rad)
            + 0.25 * np.cos(np.arctan2(w + 0.012, u - ex - 0.05 * t) * 24)
        )
        blend(ball, f32(iris_colour * fibres[..., None]), step(0.066, 0.056, rad))
        ball *= (1 - 0.6 * bell(rad - 0.062, 0.008) - 0.95 * step(0.032, 0.025, rad))[
            ..., None
        ].clip(0.02)
        ball += (0.85 * step(0.014, 0.008, np.hypot(u - ex - 0.05 * t + 0.022, w + 0.036)))[
            ..., None
        ]
        blend(drawn, np.clip(ball, 0, 1), opening)
        lash = bell(w + lid - 0.004, 0.013) * step(1.08, 0.9, np.abs(a))
        blend(drawn, rgb("1a100c"), 0.88 * lash)
        drawn = (
            drawn
            * (1 - 0.35 * bell(w + lid * 1.25 + 0.042, 0.014) * step(1.1, 0.7, np.abs(a)))[
                ..., None
            ]
        )
        drawn = drawn * (1 - 0.30 * bell(w - sag, 0.010) * step(1.05, 0.8, np.abs(a)))[..., None]
    if style == "hat":
        drawn = drawn * (1 - 0.55 * step(-0.30, -0.62, v))[..., None]
    rim = 0.02 + 3 / (r * view.scale)
    blend(picture[face], f32(drawn), step(0, rim * 2, inside))
    # Hair, strand by strand.
    strands: list[Shape] = []
    brow_count = 110
    for ex, ey in eyes:
        out = 1 if ex > t else -1
        for _ in range(brow_count):
            q = rng.uniform(-1, 1)
            px, py = (
                ex + 0.20 * q,
                ey - 0.185 - 0.045 * (1 - (q - 0.25 * out) ** 2) + rng.normal(0, 0.010),
            )
            tip = 0.05 * (q * out - 0.45) * 0.6
            hairline = bend(
                (px, py), (px + 0.03 * out, py - 0.014), (px + 0.075 * out, py + tip), 4
            )
            strands.append(
                (stroke(put(hairline), 0.010 * r, 0.003 * r), dark * rng.uniform(0.35, 0.8))
            )
    count = 2600
    if style in ("long", "beard"):
        way = np.where(rng.random(count) < 0.42, -1.0, 1.0)
        reach = rng.uniform(0, 1, count) ** 0.8
        start = np.stack([-0.12 + rng.normal(0, 0.03, count), -0.98 - 0.12 * rng.random(count)], 1)
        if style == "long":
            end = np.stack([way * (0.70 + 0.38 * rng.random(count)), 0.1 + 1.6 * reach], 1)
            pull = np.stack([way * (0.62 + 0.55 * rng.random(count)), -1.25 + 0.25 * reach], 1)
        else:
            end = np.stack([way * (0.70 + 0.10 * rng.random(count)), -0.55 + 0.55 * reach], 1)
            pull = np.stack([way * (0.45 + 0.25 * rng.random(count)), -1.25 + 0.2 * reach], 1)
        curves = bend(start, pull, end, 18)
        phase = rng.normal(0, 0.5, (count, 1)) + 1.5 * way[:, None]
        sway = (0.055 if style == "long" else 0.01) * np.linspace(0, 1, 18) ** 1.5
        curves[..., 0] += f32(sway * np.sin(5.2 * curves[..., 1] + phase))
        order = np.argsort(rng.random(count) - 0.4 * reach)
        for outline in stroke(put(curves), 0.012 * r, 0.022 * r, 0.016 * r, 0.003 * r)[order]:
            strands.append((outline, dark * rng.uniform(0.35, 1.5)))
    elif style == "hat":
        for side in (-1, 1):
            for _ in range(260):
                px, py = side * rng.uniform(0.64, 0.735), rng.uniform(-0.45, -0.15)
                end_of = (px + side * rng.uniform(-0.01, 0.03), py + rng.uniform(0.15, 0.30))
                strands.append(
                    (
                        stroke(
                            put(bend((px, py), (px + side * 0.02, py + 0.1), end_of, 5)),
                            0.014 * r,
                            0.003 * r,
                        ),
                        dark * rng.uniform(0.4, 1.3),
                    )
                )
    elif style == "cropped":
        scalp = [
            (-0.70, -0.25),
            (-0.80, -0.50),
            (-0.72, -0.80),
            (-0.45, -1.04),
            (0, -1.12),
            (0.45, -1.04),
            (0.72, -0.80),
            (0.80, -0.50),
            (0.70, -0.25),
            (0.64, -0.50),
            (0.48, -0.66),
            (0, -0.70),
            (-0.48, -0.66),
            (-0.64, -0.50),
        ]
        paint(picture, view, [(put(scalp), dark * 0.8)], blur=0.02 * r)
        for _ in range(5000):
            angle, q = rng.uniform(np.pi, 2 * np.pi), rng.uniform(0, 1) ** 0.5
            px, py = 0.79 * np.cos(angle) * q, -0.32 + 0.78 * np.sin(angle) * q
            if (
                py < -0.60 + 0.45 * max(abs(px) - 0.45, 0) * 2.6 + rng.normal(0, 0.02)
                or abs(px) > 0.66
            ):
                strands.append(
                    (
                        put(disc(px, py - 0.04, 0.017, 0.014, 6)),
                        dark * rng.uniform(0.3, 1.6) * (1.1 - 0.5 * px),
                    )
                )
    if style == "beard":
        for _ in range(1900):
            px, q = rng.uniform(-0.66, 0.66), rng.uniform(0, 1)
            py = 0.42 + 0.62 * q - 0.45 * max(abs(px) - 0.36, 0)
            if (
                np.hypot((px - t) / 0.25, (py - 0.59) / 0.10) < 1
                or abs(px) > 0.70 - 0.32 * max(py - 0.45, 0)
                or (py < 0.46 and abs(px - t) < 0.10)
            ):
                continue
            end_of = (px * 1.05 + rng.normal(0, 0.03), py + rng.uniform(0.10, 0.22))
            strands.append(
                (
                    stroke(
                        put(bend((px, py), (px * 1.08, py + 0.06), end_of, 5)), 0.014 * r, 0.004 * r
                    ),
                    dark * rng.uniform(0.5, 1.5) * (1.0 - 0.45 * px),
                )
            )
    sheen = gloss.copy()
    mop = view.box(cx - 1.4 * r, cy - 1.5 * r, cx + 1.4 * r, cy + 2.0 * r)
    hu, hv = (view.x[:, mop[1]] - cx) / r, (view.y[mop[0]] - cy) / r
    sheen[mop] *= np.clip(
        0.75
        - 0.35 * hu
        + 0.9 * bell(hv + 0.66 - 0.25 * np.abs(hu + 0.2), 0.20) * step(0.6, -0.6, hu),
        0.25,
        2.2,
    )
    paint(picture, view, strands, shade=sheen)
    if style == "hat":
        cap = view.box(cx - 1.1 * r, cy - 1.6 * r, cx + 1.1 * r, cy - 0.2 * r)
        u, v = np.broadcast_arrays((view.x[:, cap[1]] - cx) / r, (view.y[cap[0]] - cy) / r)
        dome = np.maximum(1 - (u / 0.79) ** 2 - ((v + 0.55) / 0.76) ** 2, 0)
        hem = -0.50 + 0.10 * u**2 - 0.08 * (1 - u**2)
        yarn = (
            rgb("b5472e")
            * (
                np.clip(0.25 + 0.75 * np.sqrt(dome) - 0.35 * u - 0.15 * (v + 0.9), 0.08, 1.2)
                * knit(view, cap, 0.055 * r)
            )[..., None]
        )
        blend(picture[cap], f32(yarn), step(0, 0.02, dome) * step(hem, hem - 0.01, v))
        turnup: list[Shape] = []
        for k in range(48):
            q = -0.80 + 1.60 * k / 47
            base = -0.47 + 0.17 * q**2 - 0.06
            turnup += rod(
                put([(q * 0.98, base - 0.26 + 0.02 * q**2), (q, base)]),
                rgb("c9563a") * (0.72 - 0.38 * q) * (1 - 0.3 * abs(q)),
                0.042 * r,
                0.046 * r,
            )
        paint(picture, view, turnup, shade=gloss)


def portrait(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    rng = np.random.default_rng([seed, 9])
    picture = sheet(
        view, [(0, "a9b9c4"), (0.35, "cfd0c4"), (0.46, "7d8a8c"), (0.7, "5c666a"), (1, "3a3f40")]
    )
    picture *= (1 + 0.06 * fbm(view, [seed, 91], 2, 3, 0.4))[..., None]
    far: list[Shape] = []
    for _ in range(26):
        px, wide, tall = rng.uniform(-0.8, 0.8), rng.uniform(0.05, 0.12), rng.uniform(0.04, 0.16)
        tone = rgb(rng.choice(["8a5a4a", "d9d2c0", "4a6a80", "5f5a50", "b08a5a", "37454d"]))
        far.append(
            (
                f32([(px, 0.47), (px, 0.47 - tall), (px + wide, 0.47 - tall), (px + wide, 0.47)]),
                tone,
            )
        )
    for _ in range(9):
        px = rng.uniform(-0.75, 0.75)
        far.append((stroke([(px, 0.5), (px + 0.01, rng.uniform(0.0, 0.2))], 0.010), rgb("4a4640")))
    paint(picture, view, far, blur=0.016, opacity=0.85)
    glints: list[Shape] = []
    for _ in range(60):
        r = rng.uniform(0.010, 0.022)
        glints.append(
            (
                disc(rng.uniform(-0.75, 0.75), rng.uniform(0.50, 0.80), r, r),
                rgb("dfe6e2") * rng.uniform(0.25, 0.8),
            )
        )
    paint(picture, view, glints, blur=0.003, opacity=0.5)
    gloss = 1 + 0.18 * fbm(view, [seed, 92], 60, 60, 0.7)
    person(
        picture,
        view,
        rng,
        (0.0, 0.355, 0.185),
        0.02,
        rgb("6b4330"),
        "171210",
        "cropped",
        "c99a2e",
        gloss,
    )
    person(
        picture,
        view,
        rng,
        (-0.42, 0.47, 0.185),
        0.10,
        rgb("cb9d88"),
        "6a3a1e",
        "long",
        "27466a",
        gloss,
    )
    person(
        picture,
        view,
        rng,
        (0.42, 0.45, 0.185),
        -0.10,
        rgb("a8745a"),
        "20160f",
        "hat",
        "3f6a52",
        gloss,
    )
    return finish(develop(picture, 14, 54, 86), view, seed)
