"""A patchwork quilt whose dyed patches differ in hue and hardly at all in lightness."""

import math

import numpy as np
from numpy.typing import NDArray

from scenes.drawing.exposure import finish
from scenes.drawing.light import bell, blend, ramp, rgb, step, strips
from scenes.drawing.noise import fbm, ridge, soft
from scenes.drawing.view import Array, f32, view_of

BLOCK, SASH = 0.262, 0.034  # sides of the quilt's blocks and of the strips between them


def patchwork(px: Array, py: Array, order: NDArray[np.int16]) -> tuple[Array, Array, Array, Array]:
    """The quilt's cloth at (px, py) from its corner.

    order (64, 5) shuffles the dyes block by block. Returns the dyed colour (h, w, 3), the print's
    brightness (h, w), and the distance to the nearest seam within the patches alone (1 on the
    strips) and over the whole quilt (h, w).
    """
    block, sash = BLOCK, SASH
    bu, bv = px / block, py / block
    # Narrow integers, so that arithmetic with them stays in single precision.
    iu, iv = np.floor(bu).astype(np.int16), np.floor(bv).astype(np.int16)
    # Each block: four cells a side inside a pale sashing strip, every cell cut corner to corner.
    margin = sash / block
    qu, qv = ((bu - iu) - margin) / (1 - margin) * 4, ((bv - iv) - margin) / (1 - margin) * 4
    strip = (qu < 0) | (qv < 0)
    cu, cv = (np.clip(np.floor(q), 0, 3).astype(np.int16) for q in (qu, qv))
    fu, fv = f32(qu - cu), f32(qv - cv)
    flip = (cu + cv) % 2 == 1
    across = np.where(flip, fu - fv, fu + fv - 1)
    half = (across > 0).astype(np.int16)
    size = block * (1 - margin) / 4
    seam = np.minimum(
        np.minimum(np.minimum(fu, 1 - fu), np.minimum(fv, 1 - fv)), np.abs(across) * 0.7
    )
    anywhere = np.where(strip, np.minimum(np.abs(qu), np.abs(qv)), seam) * size
    seam = np.where(strip, np.float32(1), seam * size)
    # The star is laid out by symmetry: colour depends on the distance from the block's middle.
    du, dv = np.abs(2 * cu - 3), np.abs(2 * cv - 3)
    ring = ((np.minimum(du, dv) + 2 * np.maximum(du, dv)) // 2 + 3 * half) % 5
    choice = order[(iu % 8) * 8 + iv % 8, ring]
    dyes = np.stack([rgb(c) for c in ("c87d6a", "8c9c68", "00a1a5", "6294ce", "ad81b9")])
    cloth = f32(dyes[choice])
    cloth[strip] = rgb("e4dac3")
    su, sv = px / 0.0105, py / 0.0105
    du, dv = su - np.floor(su) - 0.5, sv - np.floor(sv) - 0.5
    prints = [
        step(0.26, 0.18, np.hypot(du, dv)),
        step(0.05, 0.15, np.abs(du) - 0.12),
        step(-0.05, 0.05, np.sin(2 * np.pi * su / 1.4)) * 0.5
        + step(-0.05, 0.05, np.sin(2 * np.pi * sv / 1.4)) * 0.5,
        step(0.1, 0.0, np.hypot(du, dv) - 0.22 - 0.14 * np.cos(5 * np.arctan2(dv, du))),
        np.zeros_like(du),
    ]
    kind = (choice * 2 + iu + 3 * iv) % 5
    printed = np.choose(kind, prints) - 0.4 * f32(kind != 4)
    light = np.where(strip, np.float32(1), 1 + 0.2 * printed)
    return cloth, f32(light), f32(seam), f32(anywhere)


def quilt(width: int, height: int, seed: int = 0) -> Array:
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 6])
    boards = fbm(view, [seed, 61], 2, 60, 0.7) + 0.8 * ridge(
        np.floor(y / 0.115) * 3.7, [seed, 62], 1
    )
    picture = ramp([(-3, "1c120c"), (0, "3a281b"), (3, "6a4c34")], boards)
    picture *= (1 - 0.8 * bell(y / 0.115 - np.round(y / 0.115), 0.025))[..., None]
    cosine, sine = math.cos(math.radians(-5)), math.sin(math.radians(-5))
    drape = 0.006 * fbm(view, [seed, 63], 3, 3, 0.35)
    px = x * cosine + (y - 0.5) * sine + 0.02 + drape
    py = (y - 0.5) * cosine - x * sine + 0.5 - 0.6 * drape
    px += 0.575
    py -= 0.045
    order = np.stack([rng.permutation(5) for _ in range(64)]).astype(np.int16)
    cloth = np.empty_like(picture)
    light, seam, near = (np.empty_like(px) for _ in range(3))
    for rows in strips(view.height):
        cloth[rows], light[rows], seam[rows], near[rows] = patchwork(px[rows], py[rows], order)
    pucker = fbm(view, [seed, 64], 14, 14, 0.55)
    loft = np.sqrt(np.clip(seam / 0.02, 0, 1)) * 0.0065 + 0.0011 * pucker * (
        1.2 - np.clip(seam / 0.03, 0, 1)
    )
    loft += 0.014 * fbm(view, [seed, 65], 2, 2, 0.3)
    down, along = np.gradient(f32(loft))
    # Lit raking from the upper left.
    light *= np.clip(1 + 0.6 * view.scale * (along + 0.9 * down), 0.35, 1.5)
    light *= 1 - 0.35 * bell(seam, 0.0016)
    threads = 420
    crisp = float(np.clip(view.scale / threads / 2 - 1, 0, 1))
    weave = np.cos(2 * np.pi * threads * px) * np.cos(2 * np.pi * threads * py)
    light *= 1 + 0.07 * crisp * weave
    light *= 1 + 0.03 * fbm(view, [seed, 66], 40, 40, 0.8)
    light *= 1.03 - 0.10 * (x + 0.3 * y)
    cloth *= light[..., None]
    # Running stitches keep a constant distance from the seams.
    dash = step(0.1, 0.3, np.sin(2 * np.pi * (px + 0.4 * py) / 0.0085))
    stitch = bell(seam - 0.0062, 0.0007) * dash
    blend(cloth, rgb("f4ecd8"), f32(stitch * 0.9))
    # The patches are cut pixel by pixel; softening the seams alone rounds off the steps.
    softer = cloth.copy()
    softer[1:-1, 1:-1] = (
        cloth[:-2, 1:-1] + cloth[2:, 1:-1] + cloth[1:-1, :-2] + cloth[1:-1, 2:]
    ) / 4
    blend(cloth, softer, 0.8 * bell(near, 1.5 / view.scale))
    beyond = np.maximum(px - (4 * BLOCK + SASH), py - 3.35 * BLOCK)
    outer = np.maximum(beyond, np.maximum(-px, -py))
    binding = f32(step(0.020, 0.018, outer))
    lag = max(1, round(0.008 * view.scale))
    shadow = np.pad(soft(binding, view, 0.012)[:-lag, :-lag], ((lag, 0), (lag, 0)), "edge")
    picture *= (1 - 0.75 * shadow)[..., None]
    rounded = f32(np.clip(0.6 + 0.5 * np.sin(np.clip(outer / 0.019, 0, 1) * np.pi), 0, 1.1))
    blend(cloth, rgb("2c2f45") * rounded[..., None], f32(step(-0.0005, 0.0005, outer)))
    blend(picture, cloth, binding)
    return finish(picture, view, seed)
