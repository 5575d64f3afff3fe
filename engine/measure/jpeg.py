"""What JPEG compression left behind: the quality it was saved at, and its blocks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pressworthy.measure.pixels import tiles
from pressworthy.picture import Picture, measurement

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


@measurement
def jpeg_quality(picture: Picture) -> int | None:
    """Return the quality 1..100 whose tables lie nearest the file's own, None if not JPEG.

    Exact where the tables are scaled from annex K, as most writers do; otherwise the nearest by
    the sum of the luma table.
    """
    tables = picture.header.quantisation
    if picture.header.format != "JPEG" or not tables or len(tables[0]) != 64:
        return None
    own = [np.array(table) for table in tables[:2]]
    best = min(
        range(100, 0, -1),
        key=lambda quality: (
            abs(int(own[0].sum() - scaled_tables(quality)[0].sum())),
            sum(
                int(np.abs(mine - theirs).sum())
                for mine, theirs in zip(own, scaled_tables(quality), strict=False)
            ),
        ),
    )
    return best


@measurement
def blockiness(picture: Picture) -> float:
    """Return how much stronger luma steps are on 8-px borders than between: 1 is no blocks.

    After Wang, Sheikh and Bovik (ICIP 2002), their B/A, searched over the 8 phases so that a crop
    does not hide the grid; the weaker of the two directions counts, and the middle of all tiles.
    Raises Unmeasured.
    """
    ratios = []
    for tile in tiles(picture):
        ratios.append(_border_ratios(tile))
    across, down = np.median(np.array(ratios), axis=0)
    # one grid for the whole picture: the phase that stands out over all tiles
    return float(min(across.max(), down.max()))


def _border_ratios(tile: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return (2, 8): for each direction and phase the mean step there over that elsewhere."""
    result = []
    for values in (tile, tile.T):
        steps = np.abs(np.diff(values, axis=1)).mean(axis=0)
        steps = steps[: len(steps) // 8 * 8].reshape(-1, 8).mean(axis=0)
        others = (steps.sum() - steps) / 7
        result.append((steps + 1e-3) / (others + 1e-3))
    return np.array(result)
