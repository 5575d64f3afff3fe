"""Pictures drawn by code for the demonstration: the invented places and people of Slack Tide.

Every scene is a function of width and height in pixels and a seed. It returns (height, width, 3)
float32, sRGB-encoded, 0..1. The composition lives in scene units: y runs from 0 at the top to 1
at the bottom, x is 0 in the middle, and the full view is ten units wide to seven high; other
proportions see a central crop. Light is added up linearly and encoded once, at the end.
"""

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image, ImageDraw, ImageFilter

Array = NDArray[np.float32]
Shape = tuple[Array, Array]  # outline (n, 2) in scene units, linear colour (3,)
Box = tuple[slice, slice]
Corners = tuple[float, float, float, float]

SPAN = 10 / 7  # the full view's width in scene units
TILE = 1024  # side of the repeating noise tile, a power of two


# --- toolbox ------------------------------------------------------------------------------------


class View(NamedTuple):
    """The pixel grid: width and height in pixels, scale in pixels per scene unit."""

    width: int
    height: int
    scale: float

    @property
    def x(self) -> Array:
        """(1, width) scene abscissae."""
        return f32((np.arange(self.width) + 0.5 - self.width / 2) / self.scale)[None, :]

    @property
    def y(self) -> Array:
        """(height, 1) scene ordinates."""
        return f32((np.arange(self.height) + 0.5 - self.height / 2) / self.scale + 0.5)[:, None]

    def box(self, left: float, top: float, right: float, bottom: float) -> Box:
        """Rows and columns covering a rectangle given in scene units, clipped to the grid."""
        cols = [round(v * self.scale + self.width / 2) for v in (left, right)]
        rows = [round((v - 0.5) * self.scale + self.height / 2) for v in (top, bottom)]
        (x0, x1), (y0, y1) = np.clip(cols, 0, self.width), np.clip(rows, 0, self.height)
        return slice(int(y0), int(y1)), slice(int(x0), int(x1))


def view_of(width: int, height: int) -> View:
    return View(width, height, max(float(height), width / SPAN))


def f32(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float32)


def decode(encoded: ArrayLike) -> Array:
    """sRGB-encoded 0..1 to linear light."""
    v = f32(encoded)
    return f32(np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4))


def encode(linear: Array) -> Array:
    """Linear light 0..1 to sRGB-encoded."""
    low = linear * 12.92
    high = 1.055 * np.maximum(linear, 1e-6) ** np.float32(1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, low, high)


LINEAR = decode(np.arange(256) / 255)
ENCODED = encode(f32(np.linspace(0, 1, 16384) ** 2))  # indexed by the root of linear light


def rgb(code: str) -> Array:
    """A six-digit hexadecimal sRGB colour as linear (3,)."""
    return LINEAR[list(bytes.fromhex(code))]


def step(low: ArrayLike, high: ArrayLike, value: ArrayLike) -> Array:
    """Smooth ramp from 0 at low to 1 at high."""
    start = f32(low)
    t = np.clip((f32(value) - start) / (f32(high) - start), 0, 1)
    return f32(t * t * (3 - 2 * t))


def bell(value: ArrayLike, width: float) -> Array:
    """Bell curve: 1 where value is 0, 1/e where it is width."""
    return f32(np.exp(-np.square(f32(value) * np.float32(1 / width))))


def strips(rows: int, tall: int = 48) -> list[slice]:
    """Bands of rows small enough to stay in the processor's cache."""
    return [slice(top, min(top + tall, rows)) for top in range(0, rows, tall)]


def blend(under: Array, over: Array, mask: Array) -> None:
    """Lay a colour (3,) or picture (h, w, 3) over a picture, in place, by mask (h, w)."""
    for rows in strips(len(under)):
        colour = over if over.ndim == 1 else over[rows]
        under[rows] += mask[rows, :, None] * (colour - under[rows])


def ramp(stops: Sequence[tuple[float, str]], at: Array) -> Array:
    """Colours interpolated between (position, hexadecimal) stops: at's shape + (3,)."""
    places = [place for place, _ in stops]
    colours = np.stack([rgb(code) for _, code in stops])
    first, span = places[0], places[-1] - places[0]
    steps = first + span * np.arange(4096) / 4095
    table = f32(np.stack([np.interp(steps, places, colours[:, c]) for c in range(3)], axis=-1))
    out = np.empty((*at.shape, 3), np.float32)
    for rows in strips(len(at)):
        index = np.clip((at[rows] - first) * (4095 / span) + 0.5, 0, 4095).astype(np.int32)
        out[rows] = table[index]
    return out


def resize(field: Array, width: int, height: int, box: Corners | None = None) -> Array:
    image = Image.fromarray(field)
    return np.asarray(image.resize((width, height), Image.Resampling.BICUBIC, box))


def fbm(view: View, key: Sequence[int], across: int, down: int, gain: float = 0.5) -> Array:
    """Fractal noise (h, w), mean 0 and deviation about 1, down to the pixel.

    across and down are the coarsest octave's cells per scene unit. Each octave has its own
    generator, so a larger picture adds octaves and keeps those of a smaller one.
    """
    cols, rows = int(np.ceil(1.5 * across)), down
    field, octave, weight = np.zeros((rows, cols), np.float32), 0, 1.0
    while True:
        noise = np.random.default_rng([*key, octave]).standard_normal((rows, cols), np.float32)
        noise -= noise.mean()
        field = field + weight * noise
        if max(across, down) * 2**octave > 0.5 * view.scale:
            break
        octave, weight, rows, cols = octave + 1, weight * gain, rows * 2, cols * 2
        field = resize(field, cols, rows)
    centre, wide, high = cols / 2, view.width / view.scale / 2, view.height / view.scale / 2
    unit = across * 2**octave
    box = (centre - wide * unit, (0.5 - high) * rows, centre + wide * unit, (0.5 + high) * rows)
    return resize(field, view.width, view.height, box) * np.float32(1.15 * (1 - gain**2) ** 0.5)


def ridge(x: Array, key: Sequence[int], cells: float, gain: float = 0.5) -> Array:
    """Fractal profile along x, about -1..1, for skylines and edges; any shape."""
    total = np.zeros(np.shape(x), np.float32)
    for octave in range(9):
        knots = np.random.default_rng([*key, octave]).uniform(-1, 1, 4096).astype(np.float32)
        at = f32(x * (cells * 2**octave)) + 2048
        floor = np.floor(at)
        part, index = at - floor, floor.astype(np.int32) & 4095
        value = knots[index] * (1 - part) + knots[(index + 1) & 4095] * part
        total += np.float32(gain**octave) * value
    return total


def speckle(key: Sequence[int], i: Array, j: Array) -> Array:
    """A random level -1..1 for each whole-numbered place (i, j)."""
    table = f32(np.random.default_rng(key).uniform(-1, 1, (64, 64)))
    return f32(table[i.astype(np.int16) & 63, j.astype(np.int16) & 63])


def noise_tile(key: Sequence[int], slope: float = 1.0) -> Array:
    """(TILE, TILE) repeating noise, deviation 1, amplitude falling as frequency ** -slope."""
    white = np.random.default_rng(key).standard_normal((TILE, TILE), np.float32)
    fx, fy = np.fft.rfftfreq(TILE) * TILE, np.fft.fftfreq(TILE) * TILE
    radius = np.maximum(np.hypot(fx[None, :], fy[:, None]), 4)
    tile = np.fft.irfft2(np.fft.rfft2(white) / radius**slope)
    return f32((tile - tile.mean()) / tile.std())


def sample(tile: Array, u: Array, v: Array) -> Array:
    """The repeating tile read at (u across, v down), in tiles, between its points."""
    u, v = np.broadcast_arrays(u, v)
    out, flat, last = np.empty(u.shape, np.float32), tile.ravel(), TILE - 1
    for rows in strips(len(u)):
        x, y = f32(u[rows] * TILE), f32(v[rows] * TILE)
        left, top = np.floor(x), np.floor(y)
        x, y = x - left, y - top
        i, j = left.astype(np.int32), top.astype(np.int32)
        above, below = (j & last) * TILE, ((j + 1) & last) * TILE
        i, k = i & last, (i + 1) & last
        upper = flat[above + i] * (1 - x) + flat[above + k] * x
        out[rows] = upper * (1 - y) + (flat[below + i] * (1 - x) + flat[below + k] * x) * y
    return out


def ground(
    view: View,
    box: Box,
    key: Sequence[int],
    horizon: float,
    slope: float = 1.0,
    stretch: float = 1.0,
) -> Array:
    """Noise lying on a level plane seen in perspective below the horizon, over box."""
    x, drop = view.x[:, box[1]], np.maximum(view.y[box[0]] - horizon, 1e-3)
    far = 0.45 / drop
    tile, total = noise_tile(key, slope), np.zeros((drop.size, x.size), np.float32)
    for tiles, weight in ((0.31, 1.0), (1.7, 0.5)):
        # Texture finer than a pixel must fade, or it sparkles near the horizon.
        fade = np.clip(view.scale / (TILE * tiles * far) * 3, 0, 1) ** 0.5
        total += weight * fade * sample(tile, x * far * tiles, far * tiles * 1.6 / stretch)
    return total


def soft(field: Array, view: View, radius: float) -> Array:
    """field (h, w) blurred by about radius scene units."""
    cells = [max(2, round(n / view.scale / radius)) for n in field.shape]
    image = Image.fromarray(field).resize((cells[1], cells[0]), Image.Resampling.HAMMING)
    return resize(np.asarray(image), field.shape[1], field.shape[0])


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


def develop(picture: Array, dark: float, middle: float, light: float) -> Array:
    """Expose so that the 5th, 50th and 95th percentiles of L* fall on the values given."""
    weights = f32([0.2126, 0.7152, 0.0722])
    found = 116 * np.cbrt(np.percentile(picture[::5, ::5] @ weights, [5, 50, 95])) - 16
    scale = np.linspace(0, 120, 481)
    tones = np.interp(scale, [0, *found, 120], [0, dark, middle, light, 99])
    # Averaging rounds the corners of the curve.
    tones = np.convolve(np.pad(tones, 24, "reflect", reflect_type="odd"), np.ones(49) / 49, "valid")
    before, after = ((scale + 16) / 116) ** 3, ((np.maximum(tones, 0.5) + 16) / 116) ** 3
    floor = (16 / 116) ** 3
    gain = np.maximum(after - floor, 1e-4) / np.maximum(before - floor, 1e-4)
    # Read through a table spaced by the root of luminance, which is fine where eyes are.
    roots = np.linspace(0, float(np.sqrt(before[-1])), 8192)
    table = f32(np.interp(roots**2, before, gain))
    for rows in strips(len(picture)):
        place = np.sqrt(np.maximum(picture[rows] @ weights, 0)) * (8191 / roots[-1])
        index = np.minimum(place, 8191).astype(np.int32)
        picture[rows] *= table[index][..., None]
    return picture


def finish(picture: Array, view: View, seed: int) -> Array:
    """Encode linear light as a lens and sensor would deliver it: slightly soft, slightly noisy."""
    texture = fbm(view, [seed, 999], 40, 40, gain=0.8)
    out = np.empty_like(picture)
    rng = np.random.default_rng([seed, 998])
    for rows in strips(view.height):
        near = slice(max(rows.start - 1, 0), min(rows.stop + 1, view.height))
        light = picture[near] * (1 + 0.014 * texture[near])[..., None]
        # A shoulder holds detail in highlights that would otherwise clip.
        over = np.maximum(light - 0.75, 0)
        light -= over - 0.22 * (1 - np.exp(-over / 0.22))
        light = np.pad(
            light,
            [(int(rows.start == 0), int(rows.stop == view.height))] + [(1, 1), (0, 0)],
            "edge",
        )
        light = 0.7 * light[1:-1] + 0.15 * (light[:-2] + light[2:])
        light = 0.7 * light[:, 1:-1] + 0.15 * (light[:, :-2] + light[:, 2:])
        index = np.sqrt(np.clip(light, 0, 1)) * (len(ENCODED) - 1) + 0.5
        noise = rng.standard_normal(light.shape, np.float32) * np.float32(1 / 255)
        out[rows] = np.clip(ENCODED[index.astype(np.int32)] + noise, 0, 1)
    return out


def cloud_over(
    picture: Array,
    view: View,
    key: Sequence[int],
    cells: tuple[int, int],
    amount: float,
    stops: Sequence[tuple[float, str]],
    fade: Array,
    glow: ArrayLike = 0.0,
) -> None:
    """Cover a sky with clouds, in place: amount 0 is clear, 1 overcast.

    stops run from a cloud's shaded side, 0, to its sunlit side, 1; fade thins them; glow, both
    (h, w) or alike, adds to their light.
    """
    body = fbm(view, key, *cells, gain=0.55)
    density = step(0.6 - 2 * amount, 1.9 - 2 * amount, body) * fade
    lag = max(1, round(0.02 * view.scale))
    body -= np.pad(soft(body, view, 0.02)[lag:, :-lag], ((0, lag), (lag, 0)), "edge")
    blend(picture, ramp(stops, f32(0.5 + 0.4 * body + f32(glow))), density)


def reflect(picture: Array, view: View, shore: float, key: Sequence[int], tint: str) -> None:
    """Fill picture below shore with its rippled mirror image, darkened towards the viewer."""
    rows = view.box(-1, shore, 1, 1)[0]
    box = (rows, slice(0, view.width))
    drop = view.y[rows] - shore
    ripple = ground(view, box, key, shore - 0.02, stretch=0.25)
    wander = ripple * (0.006 + 0.08 * drop)
    source = rows.start - (drop * 1.15 + np.abs(wander) * 1.3) * view.scale
    source = np.clip(source, 0, rows.start - 1).astype(np.int32)
    column = np.arange(view.width)[None, :] + (wander * 0.25 * view.scale).astype(np.int32)
    mirrored = picture[source, np.clip(column, 0, view.width - 1)]
    deep = np.clip(0.25 + 0.6 * drop + 0.05 * ripple, 0, 1)
    picture[rows] = mirrored
    blend(picture[rows], rgb(tint), deep)


def sheet(view: View, stops: Sequence[tuple[float, str]]) -> Array:
    """A picture (h, w, 3) graded from top to bottom through (y, colour) stops."""
    return np.repeat(ramp(stops, view.y), view.width, axis=1)


def boat(
    cx: float, keel: float, size: float, lean: float, hull: str, below: str, mast: float
) -> list[Shape]:
    """A clinker boat aground, bow to the right; mast is its height in hull half-lengths, or 0."""
    shapes: list[Shape] = []
    t = f32(np.linspace(-1, 1, 30))
    sheer = -0.40 - 0.17 * t**2 - 0.05 * t
    foot = -0.55 * np.abs(t) ** 4 * np.where(t > 0, 0.9, 0.5)

    def add(outline: ArrayLike, colour: Array) -> None:
        shapes.append((spin(f32(outline) * size + f32([cx, keel]), cx, keel, lean), colour))

    def strake(low: float, high: float, colour: Array) -> None:
        rake = t * (0.84 + 0.16 * np.array([[low], [high]]))
        edges = [
            np.stack([rake[i], foot + (sheer - foot) * v], 1) for i, v in ((0, low), (1, high))
        ]
        add(np.concatenate([edges[0], edges[1][::-1]]), colour)

    if mast:
        wood = rgb("8a6a45")
        add(stroke([(0.15, -0.4), (0.13, -mast)], 0.045, 0.025), wood)
        add(stroke([(0.137, -0.4), (0.122, -mast)], 0.015, 0.008), wood * 2.2)
        add(stroke([(0.13, -0.75), (-0.85, -0.80)], 0.03), wood * 0.8)
        roll = f32(np.linspace(0.1, -0.8, 40))
        lumps = 0.055 + 0.012 * np.sin(roll * 17) + 0.006 * np.sin(roll * 41)
        lower = np.full_like(roll, -0.77)
        for thick, tone in ((1.0, "8d7c66"), (0.6, "b9a88c")):
            top = np.stack([roll, lower - 0.02 * roll - lumps * thick - 0.05 * (1 - thick)], 1)
            add(
                np.concatenate([top, np.stack([roll, lower - 0.05 * (1 - thick)], 1)[::-1]]),
                rgb(tone),
            )
        for foot_x, head in (
            (1.02, 1.0),
            (0.98, 0.72),
            (-1.0, 1.0),
            (-0.3, 0.9),
            (0.45, 0.9),
            (0.3, 0.9),
        ):
            foot_y = -0.6 if abs(foot_x) > 0.9 else -0.42
            add(stroke([(foot_x, foot_y), (0.13, -mast * head)], 0.008), rgb("2a241f"))
        for k in range(7):
            add(
                stroke(
                    [(0.30 - 0.02 * k, -0.5 - 0.17 * k), (0.45 - 0.043 * k, -0.5 - 0.17 * k)], 0.008
                ),
                rgb("2a241f"),
            )
        add([(0.13, -mast), (-0.06, -mast + 0.05), (0.13, -mast + 0.1)], rgb("a8302a"))
    add([(-0.62, -0.4), (-0.58, -0.74), (-0.08, -0.76), (0.02, -0.4)], rgb("d8cdb6"))
    add([(-0.66, -0.72), (-0.64, -0.77), (-0.02, -0.80), (-0.03, -0.74)], rgb("6d5a48"))
    for left in (-0.53, -0.37, -0.21):
        add(
            [(left, -0.55), (left, -0.68), (left + 0.11, -0.68), (left + 0.11, -0.55)],
            rgb("27333b"),
        )
        add([(left, -0.59), (left, -0.68), (left + 0.04, -0.68)], rgb("7f7a76"))
    for k in range(9):
        low, high = k / 9, (k + 1) / 9
        colour = rgb(below) if k < 3 else rgb(hull)
        strake(low, high, colour * (0.45 + 0.09 * k))
        strake(high - 0.03, high, colour * (0.25 + 0.04 * k))
    strake(0.33, 0.37, rgb("d9d2c0"))
    strake(0.93, 1.0, rgb("c9a06a"))
    for at in (-0.5, 0.0, 0.42):
        add(disc(at, -0.28, 0.045, 0.10), rgb("30302e"))
        add(disc(at - 0.012, -0.31, 0.018, 0.05), rgb("8a8780"))
        add(stroke([(at, -0.36), (at, -0.43)], 0.012), rgb("d8cdb6"))
    return shapes


# --- scenes -------------------------------------------------------------------------------------


def harbour(width: int, height: int, seed: int = 0) -> Array:
    """Boats aground at low water under an evening sky."""
    view = view_of(width, height)
    x, y, rng = view.x, view.y, np.random.default_rng([seed, 1])
    shore = 0.50
    dusk = [(0, "3f5f8f"), (0.2, "7f93b0"), (0.36, "d9b596"), (0.47, "f7c98a"), (0.51, "f3b27a")]
    picture = sheet(view, dusk)
    sun = np.exp(-(((x + 0.28) / 0.30) ** 2 + ((y - 0.46) / 0.14) ** 2))
    picture += sun[..., None] * rgb("ffcf8a") * 0.7
    warm = [(0, "5d5a70"), (0.5, "b58c86"), (1, "ffd9a8")]
    fade = np.clip(1.05 - y * 0.9, 0, 1)
    cloud_over(picture, view, [seed, 11], (2, 7), 0.45, warm, fade, glow=0.5 * sun)
    for k, (top, tone) in enumerate(((0.455, "a58c8c"), (0.475, "75656a"))):
        skyline = top + 0.03 * ridge(x, [seed, 12, k], 2.2) - 0.03 * x * (1 - 2 * k)
        blend(picture, rgb(tone), step(-0.6, 0.6, (y - skyline) * view.scale))
    village: list[Shape] = []
    for at in np.linspace(0.12, 0.74, 17):
        at, wide, tall = at + rng.normal(0, 0.01), rng.uniform(0.03, 0.05), rng.uniform(0.02, 0.045)
        base, wall = shore + 0.002, rgb(rng.choice(["8d7a6f", "a58f7c", "75645f", "9c7f72"]))
        left, right, eaves = at - wide / 2, at + wide / 2, base - tall
        roof = [(left - 0.003, eaves), (left + 0.006, eaves - 0.02), (right - 0.006, eaves - 0.02)]
        village.append((f32([(left, base), (left, eaves), (right, eaves), (right, base)]), wall))
        village.append((f32([*roof, (right + 0.003, eaves)]), rgb("5a4647")))
        stack = right - 0.012
        village.append((stroke([(stack, eaves - 0.028), (stack, eaves - 0.01)], 0.007), wall * 0.6))
        for column in (0.28, 0.7):
            pane = rgb("ffd890") if rng.random() < 0.45 else rgb("3c3840")
            middle = left + column * wide
            village.append(
                (stroke([(middle, eaves + 0.008), (middle, eaves + 0.019)], 0.007), pane)
            )
    village.append((f32([(0.05, 0.503), (0.06, 0.492), (0.8, 0.488), (0.8, 0.505)]), rgb("54484a")))
    paint(picture, view, village)
    reflect(picture, view, shore, [seed, 13], "40454f")
    rows = view.box(-1, shore, 1, 1)[0]
    fleet = [
        (-0.10, 0.60, 0.105, -5.0, "b7bfb9", "7c3b31", 2.4),
        (0.52, 0.64, 0.13, 7.0, "2f6f74", "6e3a30", 2.2),
        (-0.40, 0.76, 0.21, -8.0, "23508a", "8a2f28", 2.6),
        (0.24, 0.86, 0.26, 6.0, "b3382c", "34503f", 0.0),
    ]
    for cx, keel, size, lean, hull, below, mast in fleet:
        mirror = [
            (f32((p - (0, keel)) * (1, -1) + (0, keel)), c * 0.6)
            for p, c in boat(cx, keel, size, lean, hull, below, mast)
        ]
        paint(picture, view, mirror, blur=0.003, opacity=0.8)
    mud = ground(view, (rows, slice(0, view.width)), [seed, 14], shore - 0.03, 1.25)
    drop = y[rows] - shore
    bank = 0.35 * ridge(x, [seed, 15], 3) + 1.2 * np.sin(7 * x + 14 * drop) * np.exp(-6 * drop)
    dry = step(-0.12, 0.30, 0.55 * mud + bank + 7 * (drop - 0.17) - 14 * np.maximum(drop - 0.3, 0))
    wet = np.zeros_like(dry)
    for cx, keel, size, *_ in fleet:
        distance = ((x - cx) / size) ** 2 + ((y[rows] - keel - 0.04 * size) / (0.22 * size)) ** 2
        dry = np.maximum(dry, step(1.7, 0.9, distance + 0.35 * mud))
        wet = np.maximum(wet, bell(distance, 1.1))
    relief = f32(mud - np.roll(mud, max(1, round(0.0025 * view.scale)), axis=0))
    stops = [(-2.5, "231c19"), (0, "5c4b3f"), (1.2, "84705e"), (3.5, "d9b48c")]
    ooze = ramp(stops, mud * 0.4 + relief * 1.5)
    ooze *= (1 - 0.75 * wet)[..., None]
    blend(picture[rows], ooze, dry * 0.94)
    gleam = step(0.2, 0.9, dry) * step(0.9, 0.5, dry)
    picture[rows] *= (1 - 0.45 * gleam)[..., None]
    grime = 1 + 0.16 * fbm(view, [seed, 16], 20, 30, 0.7)
    for each in fleet:
        cx, keel, size = each[:3]
        paint(picture, view, boat(*each), shade=grime)
        bow = spin(f32([[cx + size * 0.97, keel - size * 0.56]]), cx, keel, each[3])[0]
        warp = bend(bow, (cx + size * 1.1, keel - 0.01), (cx + size * 1.8, keel + 0.05))
        paint(picture, view, [(stroke(warp, 0.0022), rgb("3a302a"))])
    stones: list[Shape] = []
    for _ in range(500):
        deep = rng.uniform(0, 1) ** 0.5
        px, py, r = rng.uniform(-0.75, 0.75), 0.62 + 0.4 * deep, rng.uniform(0.0008, 0.005) * deep
        colour = rgb("6b5c50") * rng.uniform(0.3, 1.1)
        stones += [
            (disc(px, py, r * 1.5, r, 9), colour * 0.35),
            (disc(px - r * 0.2, py - r * 0.35, r, r * 0.5, 9), colour),
        ]
    paint(picture, view, stones)
    return finish(develop(picture, 19, 55, 88), view, seed)


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
    """A banded lighthouse on a turf cliff under a blue sky."""
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


def fog(width: int, height: int, seed: int = 0) -> Array:
    """Mud flats in fog: a creek, a wreck's ribs and withies going out of sight."""
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


def market(width: int, height: int, seed: int = 0) -> Array:
    """Dyed cloths in the strongest colours a screen can show, hung out on a stall."""
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


def oranges(width: int, height: int, seed: int = 0) -> Array:
    """Oranges heaped on a stall, between lemons and limes."""
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
    """A patchwork quilt whose dyed patches differ in hue and hardly at all in lightness."""
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


def reeds(width: int, height: int, seed: int = 0) -> Array:
    """A heron and two waders among reeds at first light."""
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


def chapel(width: int, height: int, seed: int = 0) -> Array:
    """A dim chapel, lit by one coloured window and two candles."""
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
    """Three of a boat's crew, from light skin to dark, with the harbour behind out of focus."""
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


def workshop(width: int, height: int, seed: int = 0) -> Array:
    """A boatbuilder's tools on a worn bench, seen from above."""
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


SCENES: dict[str, Callable[..., Array]] = {
    "portrait": portrait,
    "harbour": harbour,
    "lighthouse": lighthouse,
    "fog": fog,
    "market": market,
    "oranges": oranges,
    "quilt": quilt,
    "reeds": reeds,
    "chapel": chapel,
    "workshop": workshop,
}
