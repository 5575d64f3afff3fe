"""A picture's pixels at full resolution, as a small copy, and as tiles.

The small copy and the tiles are kept by one look through the picture while it is decoded (survey),
so that memory need not hold it whole.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.files.opening import TOPS, InStep, decode, in_step, lost_in_step, opaque, stream
from pressworthy.measure.survey import MOST_TILES, TILE, Place, Survey, look_through, tile_places
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import MachineTrouble
from pressworthy.values.picture import Picture, is_known, measurement, preset

LARGE_PX = 2_000_000
"""From so many px on, a last row whose colours are a quarter made up shows in no digit told."""

_LUMA = np.array([0.299, 0.587, 0.114], np.float32)
_TOP_OF_LAB = {"lab": 100.0, "labs": 32767.0}


@measurement(anywhere=True)
def pixels(picture: Picture) -> Any:
    """Return the decoded picture whole as a libvips image, laid on paper. Raises Unmeasured."""
    return opaque(decoded(picture), picture.header.mode)


@measurement(anywhere=True)
def lost_pixels(picture: Picture) -> str:
    """Return what its reader could not read and filled in, in words, or "". Raises Unmeasured."""
    seen = survey(picture)
    if seen.in_step:
        return ""
    try:
        return seen.lost or lost_in_step(picture.path)
    except OSError as error:
        raise Unmeasured(f"cannot be read: {error.strerror}") from None


@measurement(anywhere=True)
def decoded(picture: Picture) -> Any:
    """Return the decoded picture whole, as its file has it, alpha included. Raises Unmeasured."""
    return decode(picture.path)


def decode_now(picture: Picture) -> None:
    """Decode the picture whole, once for all that look at it; damage is told to each of them.

    One that tells by itself whether it is whole is looked through meanwhile. Where the machine's
    memory does not hold it, each does with as little as it needs.
    """
    try:
        if seen := _seen_in_step(picture, hashed=False, kept=True):
            preset(picture, decoded, seen[1].whole())
            preset(picture, survey, seen[0])
            return
    except (pyvips.Error, UnicodeDecodeError, OSError, MachineTrouble):
        pass  # told below
    try:
        preset(picture, decoded, decode(picture.path))
    except Unmeasured as damage:
        preset(picture, decoded, damage)
    except MachineTrouble:
        return


@measurement(anywhere=True)
def survey(picture: Picture) -> Survey:
    """Return what one look through the picture keeps of it. Raises Unmeasured."""
    return looked_through(picture, hashed=False)


def looked_through(picture: Picture, *, hashed: bool) -> Survey:
    """Look through the picture now. hashed: hash its pixels too. Raises Unmeasured."""
    mode = picture.header.mode
    if is_known(picture, pixels) or is_known(picture, decoded):
        whole = pixels(picture)
        image = decoded(picture) if picture.header.alpha else whole
        return look_through(image, mode, hashed=hashed)
    try:
        if seen := _seen_in_step(picture, hashed=hashed):
            return seen[0]
        return look_through(stream(picture.path, strict=True), mode, hashed=hashed)
    except (pyvips.Error, UnicodeDecodeError, OSError):
        # read whole, it tells what is wrong with it
        return look_through(decoded(picture), mode, hashed=hashed)


def _seen_in_step(
    picture: Picture, *, hashed: bool, kept: bool = False
) -> tuple[Survey, InStep] | None:
    """Look through a JPEG that tells by itself whether it is whole; None of any other.

    hashed: hash its pixels too; kept: keep them. Raises what `in_step` does.
    """
    small = picture.header.width * picture.header.height < LARGE_PX
    found = in_step(picture.path, exactly=hashed or small, kept=kept)
    if found is None:
        return None
    seen = look_through(found.image, picture.header.mode, hashed=hashed, region=found)
    return (replace(seen, in_step=True), found) if found.has_ended() else None


@measurement(anywhere=True)
def small_copy(picture: Picture) -> NDArray[Any]:
    """Return about 0.25 megapixel of raw values, (height, width, channels), box-averaged.

    The values are those of the file, unconverted, in its own depth. Raises Unmeasured.
    """
    return survey(picture).small


@measurement(anywhere=True)
def is_drawn(picture: Picture) -> NDArray[np.bool_]:
    """Return where the small copy is picture, not the paper behind its transparent parts.

    (height, width). Raises Unmeasured.
    """
    return survey(picture).drawn


@measurement(anywhere=True)
def tiles(picture: Picture) -> tuple[NDArray[np.float32], ...]:
    """Return up to 16 full-resolution luma tiles of at most 512 x 512, values 0..255.

    The busiest places of the picture, from an even grid that reaches every edge; origins are
    multiples of 8, so that a JPEG's blocks keep their phase. Luma is 0.299 R + 0.587 G + 0.114 B
    of the coded values, or L*; floating values are scaled by the picture's largest. Raises
    Unmeasured.
    """
    seen = survey(picture)
    if seen.width < 64 or seen.height < 64:
        raise Unmeasured(f"{seen.width} x {seen.height} px are too few to look at detail")
    top = _TOP_OF_LAB.get(seen.interpretation) or TOPS.get(seen.format)
    scale = np.float32(255 / (top or seen.largest or 1.0))
    places = busy_places(picture, MOST_TILES)
    return tuple(_luma(seen.tiles[place], seen.interpretation, scale) for place in places)


def busy_places(picture: Picture, most: int) -> list[Place]:
    """Return left and top of up to `most` tiles, those where the picture holds most detail.

    most: up to `MOST_TILES`.
    """
    seen = survey(picture)
    places = tile_places(seen.width, seen.height)
    return places if len(places) <= most else sorted(list(seen.tiles)[:most])


def luma_tiles(image: Any, places: list[tuple[int, int]]) -> tuple[NDArray[np.float32], ...]:
    """Return tiles of a libvips image as `tiles` measures them, at these left and top px."""
    top = _TOP_OF_LAB.get(image.interpretation) or TOPS.get(image.format)
    scale = np.float32(255 / (top or image.abs().max() or 1.0))
    return tuple(_luma(cut(image, *place), image.interpretation, scale) for place in places)


def cut(image: Any, left: int, top: int) -> NDArray[Any]:
    """Return a tile of a libvips image, (height, width, channels)."""
    width, height = min(TILE, image.width - left), min(TILE, image.height - top)
    return np.asarray(image.crop(left, top, width, height).numpy()).reshape(height, width, -1)


def _luma(raw: NDArray[Any], interpretation: str, scale: np.float32) -> NDArray[np.float32]:
    values = raw.astype(np.float32) * scale
    if values.shape[2] == 4:
        # CMYK: roughly the light that the inks leave; detail is what matters here
        values = (255 - values[..., :3]) * (255 - values[..., 3:]) / 255
    if values.shape[2] >= 3 and interpretation not in _TOP_OF_LAB:
        return np.asarray(values[..., :3] @ _LUMA)
    return np.asarray(values[..., 0])


def turned(tile: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a tile with its rows and columns exchanged, contiguous.

    By way of rows that do not begin at multiples of a power of two: those would share few lines of
    the processor's cache, and take four times as long.
    """
    apart = np.empty((tile.shape[0], tile.shape[1] + 16), tile.dtype)[:, : tile.shape[1]]
    apart[:] = tile
    return np.ascontiguousarray(apart.T)
