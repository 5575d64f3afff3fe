"""Outlines in scene units, and painting them with smooth edges."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike
from PIL import Image, ImageDraw, ImageFilter

from scenes.drawing.light import LINEAR, blend, encode, rgb
from scenes.drawing.view import Array, Shape, View, f32


def disc(cx: float, cy: float, rx: float, ry: float, sides: int = 40) -> Array:
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    return f32(np.stack([cx + rx * np.cos(turn), cy + ry * np.sin(turn)], axis=1))


def stroke(path: ArrayLike, *widths: float) -> Array:
    """Outline of a brush drawn along path (..., n, 2), its widths spread evenly from end to end."""
    path = f32(path)
    ahead = path[..., 1:, :] - path[..., :-1, :]
    along = np.concatenate(
        [ahead[..., :1, :], ahead[..., 1:, :] + ahead[..., :-1, :], ahead[..., -1:, :]], axis=-2
    )
    normal = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-9)
    at = np.linspace(0, 1, path.shape[-2])
    half = np.interp(at, np.linspace(0, 1, len(widths)), widths)[:, None] / 2
    sides = [path + normal * half, (path - normal * half)[..., ::-1, :]]
    return f32(np.concatenate(sides, axis=-2))


def bend(start: ArrayLike, pull: ArrayLike, end: ArrayLike, points: int = 12) -> Array:
    """Quadratic curve (..., points, 2) from start (..., 2) to end, drawn towards pull."""
    t = np.linspace(0, 1, points)[:, None]
    a, b, c = (f32(p)[..., None, :] for p in (start, pull, end))
    return f32((1 - t) ** 2 * a + 2 * t * (1 - t) * b + t**2 * c)


def rod(path: ArrayLike, colour: Array, *widths: float) -> list[Shape]:
    """A rounded bar or limb along path (n, 2), lit from the upper left."""
    shapes, path = [], f32(path)
    for k in range(6):
        inset, offset = 1 - k / 6.5, -0.19 * k / 6 * max(widths)
        thin = stroke(path + f32([offset, offset * 0.6]), *(w * inset for w in widths))
        shapes.append((thin, colour * (0.35 + 0.15 * k)))
    return shapes


def spin(points: Array, cx: float, cy: float, degrees: float) -> Array:
    """Points turned clockwise, as seen, about (cx, cy)."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return f32((points - (cx, cy)) @ f32([[c, s], [-s, c]]) + (cx, cy))


def paint(
    picture: Array,
    view: View,
    shapes: Iterable[Shape],
    shade: Array | None = None,
    blur: float = 0.0,
    opacity: float = 1.0,
) -> None:
    """Fill shapes over picture in order, in place, with smooth edges.

    shade (h, w) multiplies their light; blur, in scene units, puts them out of focus.
    """
    shapes = list(shapes)
    corners = np.concatenate([outline for outline, _ in shapes])
    (left, top), (right, bottom) = corners.min(0) - 2 * blur - 0.004, corners.max(0) + 2 * blur
    rows, cols = view.box(left, top, right + 0.004, bottom + 0.004)
    high, wide = rows.stop - rows.start, cols.stop - cols.start
    if high <= 0 or wide <= 0:
        return
    # Small pictures are drawn much enlarged, so that hairlines keep their true weight.
    fine = 1 if blur * view.scale > 2 else max(2, int(np.ceil(2400 / view.scale)))
    layer = Image.new("RGBA", (wide * fine, high * fine))
    draw = ImageDraw.Draw(layer)
    shift = f32([view.width / 2 - cols.start, view.height / 2 - 0.5 * view.scale - rows.start])
    inks = np.rint(encode(np.clip(np.stack([c for _, c in shapes]), 0, 1)) * 255).astype(int)
    for (outline, _), (red, green, blue) in zip(shapes, inks.tolist(), strict=True):
        points = (outline * view.scale + shift) * fine
        draw.polygon(points.ravel().tolist(), fill=(red, green, blue, 255))
    layer = layer.convert("RGBa").reduce(fine)
    if blur:
        layer = layer.filter(ImageFilter.GaussianBlur(blur * view.scale))
    drawn = np.asarray(layer.convert("RGBA"))
    light = LINEAR[drawn[..., :3]]
    if shade is not None:
        light *= shade[rows, cols][..., None]
    blend(picture[rows, cols], light, drawn[..., 3] * np.float32(opacity / 255))


def cover(view: View, outlines: Iterable[Array], blur: float = 0.0) -> Array:
    """(h, w) coverage 0..1 of filled outlines."""
    sheet = np.zeros((view.height, view.width, 3), np.float32)
    paint(sheet, view, [(outline, f32([1, 1, 1])) for outline in outlines], blur=blur)
    return sheet[..., 0]


def blades(
    rng: np.random.Generator,
    roots: Array,
    length: float,
    width: float,
    lean: float,
    colours: Sequence[str],
) -> list[Shape]:
    """Tapered, bent leaves growing up from roots (n, 2), farthest first."""
    roots = roots[np.argsort(roots[:, 1])]
    count = len(roots)
    tall = length * rng.uniform(0.55, 1.15, count)
    tips = roots + np.stack([tall * rng.normal(lean, 0.28, count), -tall], 1)
    knees = roots + np.stack([tall * rng.normal(0, 0.06, count), -0.6 * tall], 1)
    outlines = stroke(bend(roots, knees, tips, 7), width, width * 0.8, width * 0.1)
    palette = np.stack([rgb(code) for code in colours])[rng.integers(len(colours), size=count)]
    palette = f32(palette * rng.uniform(0.7, 1.3, (count, 1)))
    return list(zip(outlines, palette, strict=True))
