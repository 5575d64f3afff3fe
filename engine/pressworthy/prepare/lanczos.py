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
_ACROSS, _DOWN = 16, 16
"""Pixels of a copy that are one block: quick on a picture of 30 megapixels brought to 4."""
_FETCHED = 8
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
    held = np.empty((max(block.high - block.low for block in rows), wide * bands), np.float32)
    region = pyvips.Region.new(image)
    low = there = 0  # which rows of the master are held
    for block in rows:
        kept = max(there - block.low, 0)
        held[:kept] = held[there - low - kept : there - low].copy()
        low = block.low
        while there < block.high:
            count = min(_FETCHED, block.high - there)
            data = np.frombuffer(region.fetch(0, there, wide, count), np.uint16)
            held[there - low : there - low + count] = data.reshape(count, -1)
            there += count
        # downwards first: rows lie as they come, and few are left to be parted into bands
        lines = block.weights @ held[: block.high - low]
        planes = np.ascontiguousarray(lines.reshape(-1, wide, bands).transpose(2, 0, 1))
        values = np.empty((*planes.shape[:2], width), np.float32)
        for part in columns:
            np.matmul(
                planes[:, :, part.low : part.high],
                part.weights,
                out=values[:, :, part.first : part.end],
            )
        # the kernel swings below black and above white
        np.clip(values, 0, np.iinfo(np.uint16).max, out=values)
        values += 0.5
        done[block.first : block.end] = values.transpose(1, 2, 0)
    made = pyvips.Image.new_from_memory(done.data, width, height, bands, "ushort")
    return made.copy(interpretation=image.interpretation)


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
