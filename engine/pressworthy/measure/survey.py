"""A picture looked through once, from top to bottom, while it is decoded.

Memory holds the rows of its tiles that are under way, and what is kept of the picture: however
large it is, a few dozen megabytes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.files.opening import TOPS, digest_of, is_inked, lost_in, opaque

SMALL_PX = 250_000
TILE = 512
MOST_TILES = 16
Place = tuple[int, int]
"""Left and top of a tile in px."""

_TYPES = pyvips.vimage.FORMAT_TO_TYPESTR
_STRIP = 32
_SUMS = 4 * 255 + 1


@dataclass(frozen=True, eq=False)
class Survey:
    """What one look keeps of a picture laid on paper, in its file's own values.

    width, height, format, interpretation: as libvips has them.
    small: about 0.25 megapixel, (height, width, channels), box-averaged.
    drawn: (height, width), where that is picture and not the paper behind its transparent parts.
    tiles: up to `MOST_TILES` parts at full resolution by their place, the busiest first.
    largest: the largest absolute value, 0 where the format itself tells it.
    ink: of CMYK how many px have inks of which sum, in 1/255 of one, (1021,).
    digest: SHA-256 as `opening.hash_pixels` gives it, "" where it was not asked for.
    lost: what its reader could not read and filled in, in words, or "".
    in_step: whether it was seen that a JPEG's data end where the picture does.
    """

    width: int
    height: int
    format: str
    interpretation: str
    small: NDArray[Any]
    drawn: NDArray[np.bool_]
    tiles: dict[Place, NDArray[Any]]
    largest: float
    ink: NDArray[np.int64]
    digest: str
    lost: str
    in_step: bool = False


def look_through(image: Any, mode: str, *, hashed: bool, region: Any = None) -> Survey:
    """Return what is kept of a libvips image of `mode`, alpha included, read once downwards.

    hashed: whether its pixels are to be hashed as well. region: what they are fetched from, where
    that is not the image's own. Raises pyvips.Error where it is damaged.
    """
    strips = _Strips(image, mode)
    # asked of libvips each time they would cost more than the rows
    width, height, format_ = image.width, image.height, strips.laid.format
    across, down = strips.across, strips.down
    size = _halves_up(height, down), _halves_up(width, across)
    small = np.zeros((*size, strips.laid.bands), _TYPES[format_])
    inked = np.full(size, 255, np.uint8)
    tiles = _Tiles(width, height, small)
    largest, ink = 0.0, np.zeros(_SUMS, np.int64)
    digest = digest_of(opaque(image, mode)) if hashed else None
    region = region or pyvips.Region.new(image)
    for top in range(0, height, strips.rows):
        rows = min(strips.rows, height - top)
        values = strips.fill(region.fetch(0, top, width, rows), rows)
        if digest:
            digest.update(values.data)
        if format_ not in TOPS:
            largest = float(np.fmax.reduce(np.abs(values), axis=None, initial=largest))
        if mode == "CMYK":
            ink += np.bincount(_ink_sums(values), minlength=_SUMS)
        at = top // down
        ends = at + _halves_up(rows, down)
        if ends > at:
            small[at:ends] = strips.small.first(ends - at)
            if strips.inked:
                inked[at:ends] = strips.inked.first(ends - at)[..., 0]
        tiles.add(values, top, ends)
    return Survey(
        width,
        height,
        format_,
        strips.laid.interpretation,
        small,
        inked >= 128,
        tiles.kept(),
        largest,
        ink,
        digest.hexdigest() if digest else "",
        lost_in(image),
    )


class _Strips:
    """A few rows of a picture, and what libvips makes of them, set up once for all of its strips.

    laid: the rows on paper; small: shrunk by `across` and `down`; inked: where they are picture,
    shrunk, None without alpha.
    """

    def __init__(self, image: Any, mode: str) -> None:
        factor = max(1, math.floor(math.sqrt(image.width * image.height / SMALL_PX)))
        self.across, self.down = min(factor, image.width), min(factor, image.height)
        self.rows = self.down * max(1, _STRIP // self.down)
        shape = self.rows, image.width, image.bands
        self._buffer = np.zeros(shape, _TYPES[image.format])
        self._image = pyvips.Image.new_from_array(self._buffer).copy(
            interpretation=image.interpretation
        )
        self.laid = opaque(self._image, mode)
        self._on_paper = None if self.laid is self._image else _Made(self.laid)
        self.small = _Made(self._shrunk(self.laid))
        over = image.bands > self.laid.bands
        inked = is_inked(self._image, self.laid.bands) if over else None
        self.inked = None if inked is None else _Made(self._shrunk(inked))

    def fill(self, data: Any, rows: int) -> NDArray[Any]:
        """Take the values of the next rows and return them on paper.

        Below the last row of a picture stand copies of it: half a row of the small copy is one.
        """
        values = np.frombuffer(data, self._buffer.dtype).reshape(rows, *self._buffer.shape[1:])
        self._buffer[:rows] = values
        self._buffer[rows:] = values[-1]
        self._image.invalidate()
        return self._on_paper.first(rows) if self._on_paper else values

    def _shrunk(self, image: Any) -> Any:
        if self.across == self.down == 1:
            return image
        return image.shrink(self.across, self.down)


class _Made:
    """What libvips makes of the rows, computed here and not in threads, by one region."""

    def __init__(self, image: Any) -> None:
        self._region, self._width = pyvips.Region.new(image), image.width
        self._dtype = _TYPES[image.format]

    def first(self, rows: int) -> NDArray[Any]:
        data = self._region.fetch(0, 0, self._width, rows)
        return np.frombuffer(data, self._dtype).reshape(rows, self._width, -1)


class _Tiles:
    """The busiest tiles so far, and the strips that those still under way are cut from."""

    def __init__(self, width: int, height: int, small: NDArray[Any]) -> None:
        self._places = tile_places(width, height)
        self._waiting = sorted({top for _, top in self._places})
        self._height, self._small = height, small
        self._scale = small.shape[1] / width
        self._strips: list[tuple[int, NDArray[Any]]] = []
        self._found: list[tuple[float, int, NDArray[Any]]] = []

    def add(self, values: NDArray[Any], top: int, small_rows: int) -> None:
        """Take the rows from `top` on; `small_rows` of the small copy are there."""
        if not self._waiting:
            return
        self._strips.append((top, values))
        bottom = top + len(values)
        while self._waiting and self._is_there(self._waiting[0], bottom, small_rows):
            self._cut(self._waiting.pop(0))
            needed = self._waiting[0] if self._waiting else bottom
            self._strips = [one for one in self._strips if one[0] + len(one[1]) > needed]

    def kept(self) -> dict[Place, NDArray[Any]]:
        return {self._places[number]: tile for _, number, tile in self._found}

    def _is_there(self, top: int, bottom: int, small_rows: int) -> bool:
        if bottom == self._height:
            return True
        return bottom >= top + TILE and small_rows > int(top * self._scale) + self._side()

    def _side(self) -> int:
        return max(1, int(TILE * self._scale))

    def _cut(self, top: int) -> None:
        """Keep the tiles at `top` that are among the busiest so far."""
        detail, side = self._detail(int(top * self._scale)), self._side()
        ranks = {
            number: -_busy(detail, int(left * self._scale), side)
            for number, (left, at) in enumerate(self._places)
            if at == top
        }
        known = [(rank, number) for rank, number, _ in self._found]
        here = [(rank, number) for number, rank in ranks.items()]
        best = set(sorted([*known, *here])[:MOST_TILES])
        found = [one for one in self._found if one[:2] in best]
        found += [(*one, self._tile(*self._places[one[1]])) for one in here if one in best]
        self._found = sorted(found, key=lambda one: one[:2])

    def _detail(self, top: int) -> NDArray[np.float32]:
        rows = self._small[top : top + self._side() + 1].astype(np.float32)
        # band by band: numpy sums a short last axis slowly
        grey = sum(rows[..., band] for band in range(rows.shape[2])) / np.float32(rows.shape[2])
        across, down = np.abs(np.diff(grey, axis=1)), np.abs(np.diff(grey, axis=0))
        return np.asarray(down[:, :-1] + across[:-1])

    def _tile(self, left: int, top: int) -> NDArray[Any]:
        parts = [
            values[max(top - at, 0) : max(top + TILE - at, 0), left : left + TILE]
            for at, values in self._strips
        ]
        return np.concatenate(parts)


def tile_places(width: int, height: int) -> list[Place]:
    """Return the left and top of tiles that reach every edge and overlap by less than half."""

    def starts(length: int) -> list[int]:
        last = max(length - TILE, 0) // 8
        steps = max(1, round(length / TILE))
        return [8 * round(last * i / max(steps - 1, 1)) for i in range(steps)]

    return [(left, top) for top in starts(height) for left in starts(width)]


def _busy(detail: NDArray[np.float32], left: int, side: int) -> float:
    part = detail[:, left : left + side]
    return float(part.mean()) if part.size else 0.0


def _ink_sums(values: NDArray[Any]) -> NDArray[np.uint32]:
    """Return the sum of the inks of each px, (n,), in 1/255 of one."""
    if values.dtype != np.uint8:
        values = (values / 257 + 0.5).astype(np.uint8)
    # four inks in one number, two sums of two in one, and those of both
    inks = np.ascontiguousarray(values).view(np.uint32).ravel()
    pairs = inks & 0xFF00FF
    pairs += inks >> 8 & 0xFF00FF
    return (pairs & 0xFFFF) + (pairs >> 16)


def _halves_up(length: int, step: int) -> int:
    """Return how many steps a length is, as libvips rounds it when it shrinks."""
    return math.floor(length / step + 0.5)
