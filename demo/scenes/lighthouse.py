"""A banded lighthouse on a turf cliff under a blue sky."""

import itertools

import numpy as np

from scenes.drawing.brush import bend, blades, cover, disc, paint, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, ramp, rgb, sheet, step
from scenes.drawing.noise import fbm, ground, ridge
from scenes.drawing.view import Array, Shape, View, f32, view_of
from scenes.drawing.weather import cloud_over


def turf_line(x: Array, seed: int) -> Array:
    """The height at which the cliff's turf meets the sky, along x."""
    return 0.60 + 0.03 * ridge(x, [seed, 23], 3) - 0.10 * step(-0.2, 0.5, x)


def cliff(picture: Array, view: View, seed: int) -> Array:
    """Draw the lighthouse's cliff and its turf; returns the land's coverage (h, w)."""
    rows = view.box(-1, 0.40, 1, 1.1)[0]
    x, y, scene = view.x, view.y[rows], picture[rows]
    brow = turf_line(x, seed)
    # The cliff runs down to the left, lit from the left, its beds dipping gently.
    face = (
        -0.17 - 0.50 * (y - 0.60) + 0.05 * ridge(y, [seed, 24], 5) + 0.02 * ridge(y, [seed, 25], 30)
    )
    inland = x - face
    land = step(-0.7, 0.7, (y - brow) * view.scale) * step(-0.7, 0.7, inland * view.scale)
    crag = fbm(view, [seed, 26], 14, 7, 0.62)[rows]
    beds = np.sin((y + 0.18 * x + 0.012 * crag) * 150) + 0.7 * np.sin((y + 0.18 * x) * 417 + crag)
    facet = crag - np.roll(crag, max(1, round(0.004 * view.scale)), axis=1)
    rock = ramp(
        [(-2.5, "2d2822"), (-0.5, "6f6252"), (0.6, "a8977c"), (2.2, "dccdae")],
        facet * 1.2 + 0.35 * beds + 0.3 * crag,
    )
    rock *= (1 - 0.5 * step(0.0, 0.5, inland))[..., None]
    blend(scene, rock, land)
    foam = (
        bell(inland + 0.012 + 0.02 * ridge(y, [seed, 27], 40), 0.02)
        * step(0.70, 0.9, y)
        * (1 - land)
    )
    blend(scene, rgb("f4f6f4"), foam * step(-0.3, 0.6, crag))
    tufts = fbm(view, [seed, 28], 30, 60, 0.7)[rows]
    turf = land * step(
        0.0, 0.05, inland - 0.02 - 0.9 * np.maximum(y - brow - 0.03, 0) + 0.015 * crag
    )
    green = ramp(
        [(-2.5, "24351a"), (0, "5b7a34"), (1.2, "8fa64d"), (3, "c9c985")], tufts + 0.5 * crag
    )
    blend(scene, green, turf)
    whole = np.zeros((view.height, view.width), np.float32)
    whole[rows] = land
    return whole


def lighthouse(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 2])
    sea = 0.58
    picture = sheet(view, [(0, "2f6cb3"), (0.3, "6ba3d6"), (0.56, "c6dcea"), (sea, "d5e4ec")])
    puff = [(0, "8fa3b8"), (0.5, "dfe5ea"), (1, "fffdf8")]
    cloud_over(picture, view, [seed, 21], (3, 5), 0.22, puff, 1 - 0.35 * y)
    rows = view.box(-1, sea, 1, 1)[0]
    swell = ground(view, (rows, slice(0, view.width)), [seed, 22], sea - 0.01, stretch=0.3)
    depth = y[rows] - sea
    water = ramp(
        [(-2, "16466b"), (0, "2f7396"), (1.5, "5fa3b5"), (3.2, "e8f2f2")], swell + 0.8 - 4 * depth
    )
    picture[rows] = water
    blend(picture[rows], rgb("bcd3df"), np.broadcast_to(np.exp(-depth * 28), swell.shape))
    land = cliff(picture, view, seed)
    # The keeper's cottage.
    ground_y, stucco = 0.535, 1 + 0.05 * fbm(view, [seed, 29], 40, 40, 0.7)
    cottage: list[Shape] = [
        (f32([(0.42, ground_y), (0.42, 0.45), (0.60, 0.45), (0.60, ground_y)]), rgb("e9e4d6")),
        (
            f32([(0.60, ground_y), (0.60, 0.45), (0.635, 0.40), (0.67, 0.45), (0.67, ground_y)]),
            rgb("a9a59c"),
        ),
        (f32([(0.41, 0.452), (0.445, 0.395), (0.635, 0.395), (0.605, 0.452)]), rgb("5c6670")),
        (stroke([(0.48, 0.36), (0.48, 0.40)], 0.022), rgb("d5cdbd")),
        (stroke([(0.60, 0.36), (0.60, 0.40)], 0.022), rgb("c9c1b1")),
    ]
    for k in range(7):
        cottage.append(
            (
                stroke(
                    [
                        (0.414 + 0.005 * k, 0.446 - 0.008 * k),
                        (0.608 + 0.0042 * k, 0.446 - 0.008 * k),
                    ],
                    0.0012,
                ),
                rgb("434b55"),
            )
        )
    for at in (0.45, 0.57):
        cottage.append((stroke([(at, 0.47), (at, 0.505)], 0.026), rgb("f5f2ea")))
        cottage.append((stroke([(at, 0.473), (at, 0.502)], 0.020), rgb("2d3d4a")))
        cottage.append((stroke([(at, 0.473), (at, 0.502)], 0.002), rgb("f5f2ea")))
    cottage.append((stroke([(0.51, 0.475), (0.51, ground_y)], 0.024), rgb("27557a")))
    paint(picture, view, cottage, shade=stucco)
    # The tower: light falls off round the cylinder.
    tower = view.box(0.08, 0.03, 0.36, 0.60)
    tx, ty = x[:, tower[1]] - 0.22, y[tower[0]]
    radius = 0.043 + 0.022 * step(0.18, 0.58, ty) * 1.0
    across = tx / radius
    round_light = np.clip(
        0.30 + 0.85 * np.sqrt(np.clip(1 - (across + 0.45) ** 2 / 2.1, 0, 1)), 0, 1.2
    )
    shade = np.ones((view.height, view.width), np.float32)
    shade[tower] = round_light * stucco[tower]

    def ring(top: float, low: float, wide_top: float, wide_low: float, colour: str) -> Shape:
        dip = 0.006
        turn = f32(np.linspace(-1, 1, 15))
        sag = dip * np.sqrt(1 - turn**2)
        upper = np.stack([0.22 + turn * wide_top, top + sag], 1)
        lower = np.stack([0.22 + turn * wide_low, low + sag], 1)
        return f32(np.concatenate([upper, lower[::-1]])), rgb(colour)

    def girth(at: float) -> float:
        return 0.043 + 0.022 * float(step(0.18, 0.58, f32(at)))

    bands = np.linspace(0.185, 0.555, 6)
    parts = [
        ring(a, b, girth(float(a)), girth(float(b)), "f2efe6" if k % 2 == 0 else "c0392b")
        for k, (a, b) in enumerate(itertools.pairwise(bands))
    ]
    parts += [
        ring(0.158, 0.166, 0.062, 0.062, "efece4"),
        ring(0.166, 0.187, 0.056, 0.044, "c9c4b8"),
        ring(0.100, 0.158, 0.030, 0.030, "cfe0e6"),
        ring(0.092, 0.101, 0.037, 0.036, "b03426"),
        (
            f32([(0.184, 0.094), (0.197, 0.068), (0.22, 0.054), (0.243, 0.068), (0.256, 0.094)]),
            rgb("c0392b"),
        ),
        (disc(0.22, 0.051, 0.006, 0.006), rgb("d9c27a")),
    ]
    paint(picture, view, parts, shade=shade)
    trim: list[Shape] = [
        (disc(0.22, 0.133, 0.013, 0.020), rgb("fff3c4")),
        (disc(0.22, 0.133, 0.006, 0.012), rgb("fffdf2")),
    ]
    trim += [
        (stroke([(0.22 + d, 0.102), (0.22 + d, 0.160)], 0.0022), rgb("3d4a52"))
        for d in (-0.029, -0.015, 0.0, 0.015, 0.029)
    ]
    trim += [
        (stroke([(0.22 + d, 0.136), (0.22 + d, 0.161)], 0.0014), rgb("30353a"))
        for d in np.linspace(-0.061, 0.061, 15)
    ]
    trim += [(stroke([(0.158, h), (0.282, h)], 0.0016), rgb("30353a")) for h in (0.137, 0.149)]
    trim.append((stroke([(0.22, 0.051), (0.22, 0.025)], 0.0016), rgb("30353a")))
    for h, d in ((0.24, -0.012), (0.35, 0.010), (0.455, -0.012)):
        trim += [
            (stroke([(0.22 + d, h), (0.22 + d, h + 0.026)], 0.013), rgb("d9d3c4")),
            (stroke([(0.22 + d, h + 0.002), (0.22 + d, h + 0.025)], 0.009), rgb("232b33")),
        ]
    trim += [(stroke([(0.214, 0.515), (0.214, 0.562)], 0.027), rgb("1f3f5f"))]
    paint(picture, view, trim)
    cast = cover(
        view, [f32([(0.16, 0.565), (0.285, 0.562), (0.80, 0.615), (0.80, 0.635)])], blur=0.004
    )
    picture *= (1 - 0.5 * cast * land)[..., None]
    # Grass, from the brow to the reader's feet.
    for near, count, long, wide in (
        (0, 5000, 0.022, 0.0014),
        (1, 4500, 0.06, 0.0026),
        (2, 1300, 0.17, 0.005),
    ):
        px = rng.uniform(-0.3, 0.8, count)
        base = (0.565, 0.70, 0.98)[near]
        py = base + rng.uniform(0, 1, count) * (0.15, 0.32, 0.16)[near]
        crest = turf_line(f32(px), seed)
        edge = -0.14 + 0.9 * np.maximum(py - 0.66, 0) - 0.75 * (near == 2)
        keep = (px > edge + rng.uniform(0, 0.06, count)) & (py > crest)
        roots = f32(np.stack([px, py], 1)[keep])
        greens = ["4d6b2c", "6f8c3c", "8aa04a", "a9b060", "3a5524", "c2b878"]
        paint(picture, view, blades(rng, roots, long, wide, -0.15, greens))
    thrift: list[Shape] = []
    for _ in range(120):
        fx, fy = rng.uniform(-0.05, 0.75), rng.uniform(0.72, 0.98)
        size = 0.012 * (fy - 0.45)
        thrift.append(
            (
                stroke(
                    bend((fx, fy), (fx, fy - 4 * size), (fx + size, fy - 6 * size), 5), size * 0.25
                ),
                rgb("5f7a3a"),
            )
        )
        for _ in range(9):
            dx, dy = rng.normal(0, 0.45, 2) * size
            thrift.append(
                (
                    disc(fx + size + dx, fy - 6.3 * size + dy * 0.7, size * 0.5, size * 0.4, 8),
                    rgb("d86f9f") * rng.uniform(0.6, 1.4),
                )
            )
    paint(picture, view, thrift)
    return finish(develop(picture, 15, 57, 90), view, seed)
