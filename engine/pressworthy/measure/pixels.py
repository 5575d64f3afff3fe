"""A picture's pixels at full resolution, as a small copy, and as tiles."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.files.opening import TOPS, decode, is_inked, opaque
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

SMALL_PX = 250_000
TILE = 512
MOST_TILES = 16
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)
_TOP_OF_LAB = {"lab": 100.0, "labs": 32767.0}


@measurement(anywhere=True)
def pixels(picture: Picture) -> Any:
    """Return the decoded picture as a libvips image, laid on paper. Raises Unmeasured."""
    return opaque(decoded(picture), picture.header.mode)


@measurement(anywhere=True)
def decoded(picture: Picture) -> Any:
    """Return the decoded picture as a libvips image, its alpha included. Raises Unmeasured."""
    return decode(picture.path)


@measurement(anywhere=True)
def small_copy(picture: Picture) -> NDArray[Any]:
    """Return about 0.25 megapixel of raw values, (height, width, channels), box-averaged.

    The values are those of the file, unconverted, in its own depth. Raises Unmeasured.
    """
    return _shrunk(pixels(picture))


@measurement(anywhere=True)
def is_drawn(picture: Picture) -> NDArray[np.bool_]:
    """Return where the small copy is picture, not the paper behind its transparent parts.

    (height, width). Raises Unmeasured.
    """
    small = small_copy(picture)
    if not picture.header.alpha:
        return np.ones(small.shape[:2], bool)
    return _shrunk(is_inked(decoded(picture), small.shape[2]))[..., 0] >= 128


def _shrunk(image: Any) -> NDArray[Any]:
    factor = max(1, math.floor(math.sqrt(image.width * image.height / SMALL_PX)))
    across, down = min(factor, image.width), min(factor, image.height)
    values = (image.shrink(across, down) if factor > 1 else image).numpy()
    return values.reshape(values.shape[0], values.shape[1], -1)  # type: ignore[no-any-return]


@measurement(anywhere=True)
def tiles(picture: Picture) -> tuple[NDArray[np.float32], ...]:
    """Return up to 16 full-resolution luma tiles of at most 512 x 512, values 0..255.

    The busiest places of the picture, from an even grid that reaches every edge; origins are
    multiples of 8, so that a JPEG's blocks keep their phase. Luma is 0.299 R + 0.587 G + 0.114 B
    of the coded values, or L*; floating values are scaled by the picture's largest. Raises
    Unmeasured.
    """
    image = pixels(picture)
    if image.width < 64 or image.height < 64:
        raise Unmeasured(f"{image.width} x {image.height} px are too few to look at detail")
    return luma_tiles(image, busy_places(picture, MOST_TILES))


def busy_places(picture: Picture, most: int) -> list[tuple[int, int]]:
    """Return left and top of up to `most` tiles, those where the picture holds most detail."""
    image = pixels(picture)
    places = tile_places(image.width, image.height)
    if len(places) <= most:
        return places
    return _busiest(small_copy(picture), image.width, places, most)


def tile_places(width: int, height: int) -> list[tuple[int, int]]:
    """Return the left and top of tiles that reach every edge and overlap by less than half."""

    def starts(length: int) -> list[int]:
        last = max(length - TILE, 0) // 8
        steps = max(1, round(length / TILE))
        return [8 * round(last * i / max(steps - 1, 1)) for i in range(steps)]

    return [(left, top) for top in starts(height) for left in starts(width)]


def _busiest(
    small: NDArray[Any], width: int, places: list[tuple[int, int]], most: int
) -> list[tuple[int, int]]:
    grey = small.astype(np.float32).mean(axis=2)
    detail = np.abs(np.diff(grey, axis=0))[:, :-1] + np.abs(np.diff(grey, axis=1))[:-1]
    scale = grey.shape[1] / width

    def busy(place: tuple[int, int]) -> float:
        left, top = (int(v * scale) for v in place)
        side = max(1, int(TILE * scale))
        part = detail[top : top + side, left : left + side]
        return float(part.mean()) if part.size else 0.0

    return sorted(sorted(places, key=busy, reverse=True)[:most])


def luma_tiles(image: Any, places: list[tuple[int, int]]) -> tuple[NDArray[np.float32], ...]:
    """Return tiles of a libvips image as `tiles` measures them, at these left and top px."""
    top = _TOP_OF_LAB.get(image.interpretation) or TOPS.get(image.format)
    scale = np.float32(255 / (top or image.abs().max() or 1.0))
    return tuple(_luma_tile(image, *place, scale) for place in places)


def _luma_tile(image: Any, left: int, top: int, scale: np.float32) -> NDArray[np.float32]:
    width, height = min(TILE, image.width - left), min(TILE, image.height - top)
    values = image.crop(left, top, width, height).numpy().astype(np.float32)
    values = values.reshape(height, width, -1) * scale
    if values.shape[2] == 4:
        # CMYK: roughly the light that the inks leave; detail is what matters here
        values = (255 - values[..., :3]) * (255 - values[..., 3:]) / 255
    if values.shape[2] >= 3 and image.interpretation not in _TOP_OF_LAB:
        return np.asarray(values[..., :3] @ _LUMA)
    return np.asarray(values[..., 0])
