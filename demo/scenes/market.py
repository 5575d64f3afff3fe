"""Dyed cloths in the strongest colours a screen can show, hung out on a stall."""

import numpy as np

from scenes.drawing.brush import disc, paint, stroke
from scenes.drawing.exposure import develop, finish
from scenes.drawing.light import bell, blend, rgb, sheet, step
from scenes.drawing.noise import fbm, noise_tile, ridge, sample
from scenes.drawing.view import Array, Shape, f32, view_of


def market(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 4])
    picture = sheet(view, [(0, "4a3c30"), (0.07, "30261f"), (0.6, "1d1714"), (1, "3a2d24")])
    picture *= (1 + 0.2 * fbm(view, [seed, 41], 6, 6))[..., None]
    tile, billow, rail = noise_tile([seed, 42], 1.2), noise_tile([seed, 47], 2.6), 0.085
    dyes = [
        "e0121b",
        "ff7a00",
        "00a9c8",
        "6f1fb0",
        "009a45",
        "e6007a",
        "ffc400",
        "1238c8",
        "00b8a0",
    ]
    edges = np.linspace(-0.74, 0.74, len(dyes) + 1)
    threads = 330
    # Threads finer than three pixels would beat against the grid, so they fade out.
    crisp = float(np.clip(view.scale / threads / 2 - 1, 0, 1))
    for k in (0, 2, 4, 6, 8, 1, 3, 5, 7):
        left, right = float(edges[k]) - 0.012, float(edges[k + 1]) + 0.012
        hem = rng.uniform(0.66, 0.74) if k % 2 else rng.uniform(0.74, 0.80)
        box = view.box(left - 0.04, rail - 0.015, right + 0.04, hem + 0.06)
        if box[1].stop - box[1].start < 3:
            continue
        px, py = x[:, box[1]], y[box[0]]
        hang = (py - rail) / (hem - rail)
        flare = 1 + 0.10 * hang + 0.05 * ridge(py, [seed, 43, k], 2.5)
        across = (px - (left + right) / 2) / ((right - left) / 2) / flare
        drift = sample(billow, px * 0.55 + 0.13 * k, py * 0.20)
        phase = across * rng.uniform(1.3, 1.9) + 0.33 * drift + rng.uniform(0, 6)
        fold = np.cos(2 * np.pi * phase) * (0.35 + 0.65 * step(-0.1, 0.5, hang))
        fold = f32(fold + 0.3 * np.cos(2 * np.pi * (phase * 2.3 + 0.2 * drift)))
        slope = np.gradient(fold, axis=1) * view.scale * 0.018
        crease = sample(billow, px * 2.3 + 0.3 * k, py * 1.3)
        light = 0.62 + 0.30 * np.tanh(1.3 * slope) + 0.17 * fold + 0.06 * crease
        light = np.clip(light, 0.05, 1.3) * (0.85 + 0.35 * bell(hang - 0.3, 0.5))
        u, v = across * 3 + 0.12 * fold, (py + 0.006 * fold) / 0.06
        weft = np.cos(2 * np.pi * threads * (px + 0.012 * fold))
        warp = np.cos(2 * np.pi * threads * py)
        light = f32(
            light * (1 + crisp * 0.10 * weft * warp) * (1 + 0.05 * sample(tile, px * 9, py * 4))
        )
        cell_u, cell_v = u - np.floor(u) - 0.5, v - np.floor(v) - 0.5
        radius = np.hypot(cell_u, cell_v)
        motif = {
            1: bell(radius - 0.30, 0.10) + bell(radius, 0.09),
            2: step(0.30, 0.36, np.abs(cell_v)) * step(0.2, 0.3, np.sin(v * 0.9)),
            4: step(0.12, 0.2, np.abs(np.abs(cell_u) - np.abs(cell_v + 0.25))) * 0.0
            + step(0.10, 0.04, np.abs(np.abs(cell_u) * 1.4 - cell_v - 0.2)),
            6: step(
                0.26, 0.20, np.hypot(cell_u, cell_v) - 0.08 * np.cos(5 * np.arctan2(cell_v, cell_u))
            ),
            7: step(0.22, 0.16, radius + 0.05 * crease),
        }.get(k)
        cloth = np.broadcast_to(rgb(dyes[k]), (*light.shape, 3)).copy()
        if motif is not None:
            second = {1: "ffd23a", 2: "f2fbff", 4: "d8f000", 6: "d81a10", 7: "dff0ff"}[k]
            blend(cloth, rgb(second), np.clip(f32(motif), 0, 1))
        # Light that has passed twice through the cloth comes out deeper in colour.
        cloth = cloth ** np.clip(1.45 - 0.45 * light, 1, 1.5)[..., None] * light[..., None]
        cloth += (0.05 * np.clip(slope, 0, 1) ** 2)[..., None]
        fringe = 0.006 * np.abs(np.cos(np.pi * 150 * px)) + 0.008 * ridge(px, [seed, 44, k], 4)
        edge = 1.0 / view.scale / (right - left) * 2
        mask = step(1 + edge, 1 - edge, np.abs(across)) * step(
            hem + fringe + 0.001, hem + fringe, py
        )
        mask = mask * step(rail - 0.012, rail - 0.010, py)
        near = f32(step(1.35, 0.85, np.abs(across)) * step(1.08, 0.97, hang))
        picture[box] *= (1 - 0.6 * near)[..., None]
        blend(picture[box], cloth, f32(mask))
    grain = 1 + 0.2 * fbm(view, [seed, 45], 4, 80, 0.7)
    pole = [
        (stroke([(-0.8, rail + d), (0.8, rail + d)], w), rgb(c))
        for d, w, c in (
            (0.003, 0.020, "3d2a1a"),
            (-0.001, 0.014, "8a6238"),
            (-0.004, 0.004, "d0a872"),
        )
    ]
    for at in np.linspace(-0.70, 0.70, 37):
        at += rng.normal(0, 0.006)
        pole += [
            (stroke([(at, rail - 0.02), (at + 0.002, rail + 0.03)], 0.011), rgb("6f5230")),
            (stroke([(at - 0.002, rail - 0.02), (at, rail + 0.03)], 0.006), rgb("c9a873")),
        ]
    paint(picture, view, pole, shade=grain)
    # Folded lengths on the counter below.
    counter: list[Shape] = [
        (f32([(-0.8, 0.90), (0.8, 0.90), (0.8, 1.02), (-0.8, 1.02)]), rgb("6a4a2e"))
    ]
    counter.append((stroke([(-0.8, 0.90), (0.8, 0.90)], 0.012), rgb("b98d5c")))
    paint(picture, view, counter, shade=grain)
    weave = 1 + crisp * 0.12 * np.cos(2 * np.pi * threads * x) * np.cos(2 * np.pi * threads * y)
    weave = f32(weave * (1 + 0.12 * fbm(view, [seed, 46], 8, 20, 0.6)))
    for pile in range(8):
        middle, floor = -0.66 + 0.188 * pile + rng.normal(0, 0.008), 0.898
        shapes: list[Shape] = [(disc(middle + 0.004, 0.901, 0.086, 0.006), rgb("120d0a"))]
        for layer in range(3 * int(rng.integers(3, 5))):
            if layer % 3 == 0:
                colour, wide = rgb(dyes[rng.integers(len(dyes))]), rng.uniform(0.070, 0.082)
            thick, half = rng.uniform(0.0075, 0.0095), wide + rng.normal(0, 0.0012)
            for k in range(8):
                t = k / 7
                band = [
                    (middle - half + 0.006 * abs(t - 0.5), floor - thick * (t + 0.08)),
                    (middle + half - 0.006 * abs(t - 0.5), floor - thick * (t + 0.08)),
                ]
                shapes.append(
                    (stroke(band, thick / 6.5), colour * (0.18 + 0.82 * np.sin(0.15 + 2.3 * t)))
                )
            floor -= thick * 1.02
        paint(picture, view, shapes, shade=weave)
    return finish(develop(picture, 13, 50, 86), view, seed)
