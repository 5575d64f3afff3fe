"""What JPEG compression left behind: the quality it was saved at, and its blocks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.measure.pixels import tiles
from pressworthy.measure.ranks import differences, mean_along, median
from pressworthy.measure.resolution import fit
from pressworthy.print.eye import low_pass
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.units import MM_PER_INCH

BLOCK = 8  # px

# ITU-T T.81 annex K, tables K.1 and K.2, in natural order.
LUMA = np.array([
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
])  # fmt: skip
CHROMA = np.full((8, 8), 99)
CHROMA[:4, :4] = [[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]]


def scaled_tables(quality: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the luma and chroma tables (64 each) that the usual scaling gives for 1..100."""
    scale = 5000 // quality if quality < 50 else 200 - 2 * quality
    luma, chroma = (
        np.clip((table.ravel() * scale + 50) // 100, 1, 255) for table in (LUMA, CHROMA)
    )
    return luma, chroma


@measurement(anywhere=True)
def jpeg_quality(picture: Picture) -> int | None:
    """Return the quality 1..100 whose tables lie nearest the file's own, None if not JPEG.

    Exact where the tables are scaled from annex K, as most writers do; otherwise the nearest by
    the sum of the luma table.
    """
    tables = picture.header.quantisation
    if picture.header.format != "JPEG" or not tables or len(tables[0]) != 64:
        return None
    luma, chroma = _all_scaled()
    own = [np.array(table) for table in tables[:2]]
    known = (luma, chroma)[: len(own)]
    apart = sum(np.abs(theirs - mine).sum(axis=1) for mine, theirs in zip(own, known, strict=True))
    # by the sum of the luma table, then by both tables, then the higher quality
    order = np.lexsort((-_QUALITIES, apart, np.abs(luma.sum(axis=1) - own[0].sum())))
    return int(_QUALITIES[order[0]])


_QUALITIES = np.arange(1, 101)


@cache
def _all_scaled() -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the luma and the chroma tables of all qualities, (100, 64) each."""
    luma, chroma = zip(*(scaled_tables(int(quality)) for quality in _QUALITIES), strict=True)
    return np.array(luma), np.array(chroma)


@dataclass(frozen=True)
class Blocks:
    """Mean luma step on 8-px borders: over the steps between (`ratio`), and beyond them (levels).

    Without blocks the ratio is 1 and the excess 0.
    """

    ratio: float
    excess: float


@measurement(anywhere=True)
def blockiness(picture: Picture) -> Blocks:
    """Return how JPEG blocks stand out at full resolution.

    B/A of Wang, Sheikh and Bovik (ICIP 2002), searched over the 8 phases so that a crop does not
    hide the grid; the middle of all tiles counts, and the weaker of the two directions.
    Raises Unmeasured.
    """
    profiles = median(np.stack([_border_profiles(tile) for tile in tiles(picture)]), axis=0)
    return min((_stand_out(steps) for steps in profiles), key=lambda blocks: blocks.ratio)


@measurement
def visible_step(picture: Picture) -> float:
    """Return by how many levels, 0..255, the blocks' borders stand out as the reader gets them.

    At the size where the picture is placed; by the whole excess where none is known. Raises
    Unmeasured.
    """
    excess = blockiness(picture).excess
    if picture.placement is None:
        return excess
    per_mm = np.array(fit(picture).ppi() / MM_PER_INCH / BLOCK)
    return excess * float(low_pass(per_mm, picture.output.viewing_distance))


def _border_profiles(tile: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return (2, 8): the mean step at each of the 8 phases, across and down."""
    rows = []
    tile = np.ascontiguousarray(tile)
    for axis in (1, 0):
        sizes = differences(tile, axis)
        np.abs(sizes, out=sizes)
        steps = mean_along(sizes, 1 - axis)[: tile.shape[axis] - 1]
        rows.append(steps[: len(steps) // 8 * 8].reshape(-1, 8).mean(axis=0))
    return np.array(rows, np.float64)


def _stand_out(steps: NDArray[np.float64]) -> Blocks:
    border = float(steps.max())
    between = float((steps.sum() - border) / 7)
    return Blocks((border + 1e-3) / (between + 1e-3), border - between)
