"""Linear light brought down by Lanczos' kernel, as products of matrices.

Every pixel of the copy is a weighted mean of some 6 pixels of the master for each one it stands
for, along each axis. Neighbours share most of them, so a block of neighbours is one product, a few
times as many multiplications and many times as quick. Sums are of float32, so that a whole copy
lies within rounding to 16 bits of sums in double precision.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pyvips
from numpy.typing import NDArray

LOBES = 3
_ACROSS, _DOWN, _BLOCKS = 16, 8, 4
"""Pixels of a copy that are one block, and blocks of rows that go across together.

They are quick on a picture of 30 megapixels brought to 4.
"""
_FETCHED = 8
_MORE = 64
"""Rows held beyond a block's: those that the next ones need are moved less often."""
"""Rows that are asked of libvips at a time: it keeps many times as many in memory."""

Floats = NDArray[np.float32]


class _Block(NamedTuple):
    """Pixels `first` to `end` of the copy: `weights`, (copy's, master's), of `low` to `high`."""

    first: int
    end: int
    low: int
    high: int
    weights: Floats


def reduced(image: Any, width: int, height: int) -> Any:
    """Return a libvips image of 16 bits at width x height px, no more than it has, in memory.

    It is read once, downwards. Beyond its edges the last pixel counts. Raises pyvips.Error where it
    cannot be read.
    """
    wide, high, bands = image.width, image.height, image.bands
    columns = [
        block._replace(weights=np.ascontiguousarray(block.weights.T))
        for block in _blocks(wide, width, _ACROSS)
    ]
    rows = list(_blocks(high, height, _DOWN))
    done = np.empty((height, width, bands), np.uint16)
    held = _Rows(image, max(block.high - block.low for block in rows))
    lines = np.empty((_BLOCKS * _DOWN, wide * bands), np.float32)
    for number in range(0, len(rows), _BLOCKS):
        strip = rows[number : number + _BLOCKS]
        top, end = strip[0].first, strip[-1].end
        # downwards first: rows lie as they come, and few are left to be parted into bands
        for block in strip:
            masters = held.rows(block.low, block.high)
            np.matmul(block.weights, masters, out=lines[block.first - top : block.end - top])
        planes = np.ascontiguousarray(
            lines[: end - top].reshape(-1, wide, bands).transpose(2, 0, 1)
        )
        planes = planes.reshape(-1, wide)
        values = np.empty((len(planes), width), np.float32)
        for part in columns:
            part_of = planes[:, part.low : part.high]
            np.matmul(part_of, part.weights, out=values[:, part.first : part.end])
        # the kernel swings below black and above white
        np.clip(values, 0, np.iinfo(np.uint16).max, out=values)
        values += 0.5
        done[top:end] = values.reshape(bands, -1, width).transpose(1, 2, 0)
    made = pyvips.Image.new_from_memory(done.data, width, height, bands, "ushort")
    return made.copy(interpretation=image.interpretation)


class _Rows:
    """Rows of a libvips image as they are needed, downwards, up to `most` of them at a time."""

    def __init__(self, image: Any, most: int) -> None:
        self._width = image.width
        self._region = pyvips.Region.new(image)
        self._held = np.empty((most + _MORE, image.width * image.bands), np.float32)
        self._low = self._there = 0  # which rows are held

    def rows(self, low: int, high: int) -> Floats:
        """Return the rows from `low`, no less than before, up to `high`, (rows, values)."""
        if high - self._low > len(self._held):
            kept = max(self._there - low, 0)
            self._held[:kept] = self._held[self._there - self._low - kept :][:kept].copy()
            self._low = low
        while self._there < high:
            count = min(_FETCHED, high - self._there)
            data = self._region.fetch(0, self._there, self._width, count)
            at = self._there - self._low
            self._held[at : at + count] = np.frombuffer(data, np.uint16).reshape(count, -1)
            self._there += count
        return self._held[low - self._low : high - self._low]


def _blocks(before: int, after: int, size: int) -> Iterator[_Block]:
    """Yield the blocks of an axis of `before` px that becomes one of `after`."""
    first, weights = kernel(before, after)
    taps = first[:, None] + np.arange(weights.shape[1])
    inside = np.clip(taps, 0, before - 1)
    for start in range(0, after, size):
        end = min(start + size, after)
        low, high = inside[start, 0], inside[end - 1, -1] + 1
        matrix = np.zeros((end - start, high - low))
        np.add.at(
            matrix, (np.arange(end - start)[:, None], inside[start:end] - low), weights[start:end]
        )
        yield _Block(start, end, int(low), int(high), matrix.astype(np.float32))


def kernel(before: int, after: int) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the first pixel, (after,), and the weights, (after, n), of an axis of `before` px.

    Pixels are counted from the first; some lie before it or beyond the last.
    """
    step = before / after
    middle = (np.arange(after) + 0.5) * step - 0.5
    first = np.floor(middle - LOBES * step).astype(np.intp) + 1
    at = first[:, None] + np.arange(int(np.ceil(2 * LOBES * step)))
    away = (at - middle[:, None]) / step
    weights = np.where(np.abs(away) < LOBES, np.sinc(away) * np.sinc(away / LOBES), 0)
    return first, weights / weights.sum(axis=1, keepdims=True)
