"""What a test strip shows, drawn by code: all that sharpening may help or harm, on one card.

From top to bottom: foliage, which is soft before anything else; lettering and a star of lines,
which show halos; skin with lashes, where noise must stay down and fine lines stand alone.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pressworthy.prepare.charts import dead_leaves
from pressworthy.values.placement import pixels_for
from pressworthy.values.units import MM_PER_INCH

Pixels = NDArray[np.uint8]
Stops = tuple[tuple[float, tuple[int, int, int]], ...]

_OVER = 3
_BANDS = (0.38, 0.30)  # of the height, of the first and second; skin takes the rest
_SPOKES = 36
_LETTERING = ((9.0, "Slack water"), (7.0, "reeds, ropes, gulls"), (5.0, "and every pebble told"))
_SKIN: Stops = ((0.0, (84, 50, 38)), (0.55, (196, 140, 112)), (1.0, (238, 202, 178)))
_LEAF: Stops = (
    (0.0, (20, 30, 16)),
    (0.45, (66, 96, 38)),
    (0.8, (138, 158, 76)),
    (1.0, (226, 228, 178)),
)


def detail(width: float, height: float, ppi: float) -> Pixels:
    """Return the card of `width` x `height` mm as sRGB, (height, width, 3)."""
    across, down = pixels_for(width, ppi), pixels_for(height, ppi)
    first, second = (round(down * share) for share in _BANDS)
    middle = np.concatenate([_star(second), _letters(across - second, second, ppi)], axis=1)
    bands = [_foliage(across, first), middle, _skin(across, down - first - second, ppi)]
    return np.concatenate(bands)


def _foliage(width: int, height: int) -> Pixels:
    scene = dead_leaves(width, height, seed=11, noise=1.5, smallest=2) / 255
    tone = np.clip((scene.mean(axis=2) - 0.08) / 0.84, 0, 1)
    # leaves differ in hue as well as in light
    warmth = (scene[..., 0] - scene[..., 2])[..., None] * (1.0, 0.3, -0.6)
    return _coded(_along(_LEAF, tone) + 0.5 * warmth)


def _star(side: int) -> Pixels:
    """A star of dark and light sectors, finer towards its middle than any print can part."""
    y, x = (np.mgrid[0 : side * _OVER, 0 : side * _OVER] + 0.5) / _OVER - side / 2
    reach = np.hypot(x, y)
    dark = np.sin(np.arctan2(y, x) * _SPOKES) > 0
    tone = np.where(reach < side * 0.46, np.where(dark, 0.012, 0.82), 0.62)
    return _coded(np.repeat(_smaller(tone)[..., None], 3, axis=2) ** (1 / 2.2))


def _letters(width: int, height: int, ppi: float) -> Pixels:
    """Dark lettering on light and light on dark, point sizes falling."""
    sheet = Image.new("RGB", (width * _OVER, height * _OVER), (232, 226, 212))
    draw = ImageDraw.Draw(sheet)
    half = height * _OVER // 2
    draw.rectangle((0, half, width * _OVER, height * _OVER), fill=(46, 58, 72))
    point = ppi * _OVER / 72
    for top, colour in ((0, (38, 34, 30)), (half, (236, 232, 222))):
        y = top + 4 * point
        for size, words in _LETTERING:
            draw.text((6 * point, y), words, fill=colour, font=ImageFont.load_default(size * point))
            y += size * 1.35 * point
    linear = (np.asarray(sheet, np.float32) / 255) ** 2.2
    return _coded(np.stack([_smaller(linear[..., i]) for i in range(3)], axis=2) ** (1 / 2.2))


def _skin(width: int, height: int, ppi: float) -> Pixels:
    """A cheek lit from above, with pores that hardly show, and the lashes of a closed eye."""
    rng = np.random.default_rng(5)
    y, x = (np.mgrid[0:height, 0:width] + 0.5) / height
    centre = width / height / 2
    form = 1 - ((x - centre) / (centre * 1.5)) ** 2 - ((y - 0.35) / 1.05) ** 2
    pores = pyvips.Image.new_from_array(rng.normal(0, 1, (height, width)).astype(np.float32))
    skin = _along(_SKIN, np.clip(form, 0, 1) + 0.012 * pores.gaussblur(ppi / 200).numpy())
    lines = Image.new("L", (width * _OVER, height * _OVER))
    draw = ImageDraw.Draw(lines)
    px = ppi / MM_PER_INCH * _OVER
    lid = [(width / 2 + at * width * 0.31, height * (0.36 + 0.16 * (1 - at**2)))
           for at in np.linspace(-1, 1, 41)]  # fmt: skip
    draw.line([(_OVER * a, _OVER * b) for a, b in lid], fill=200, width=max(1, round(0.3 * px)))
    for at in np.linspace(-1, 1, 46) + rng.normal(0, 0.012, 46):
        root = np.array([width / 2 + at * width * 0.3, height * (0.36 + 0.16 * (1 - at**2))])
        way = np.array([at * 0.9, 0.5 + 0.5 * (1 - abs(at))]) * height * rng.uniform(0.16, 0.24)
        bend = np.linspace(0, 1, 12)[:, None]
        path = (root + way * bend + np.array([at, -0.9]) * height * 0.05 * bend**2) * _OVER
        for step, (start, end) in enumerate(pairwise(path)):
            thick = max(1, round(0.16 * px * (1 - step / 13)))
            draw.line([*start, *end], fill=235, width=thick)
    hair = _smaller(np.asarray(lines, np.float32) / 255)[..., None]
    return _coded(skin * (1 - hair) + np.array([0.10, 0.06, 0.05]) * hair)


def _along(stops: Stops, tone: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return the coded sRGB (0..1) that stands at each tone (0..1) between `stops`."""
    at = [stop for stop, _ in stops]
    bands = [np.interp(tone, at, [colour[i] / 255 for _, colour in stops]) for i in range(3)]
    return np.stack(bands, axis=2)


def _smaller(values: NDArray[np.floating]) -> NDArray[np.float32]:
    """Return means over `_OVER` x `_OVER` samples."""
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values, np.float32))
    return np.asarray(image.shrink(_OVER, _OVER).numpy(), np.float32)


def _coded(values: NDArray[np.floating]) -> Pixels:
    return np.asarray(np.rint(np.clip(values, 0, 1) * 255), np.uint8)
