"""Where a picture may show skin, by colour, size and shape: a ground to argue with, no proof.

Sand, wood and fur have its colours too. What is told as skin must be one area, of some size, shaded
as a body is and smooth, in a picture that is not of its colour all over. The limits were set on the
photographs of tests/benchmarks/detection.py, where docs/detection.md says how often they hold.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.measure.ranks import median, percentiles

ENOUGH_PX = 20_000
"""Px that are looked at, at least; a picture of less is looked at whole."""

SMALLEST, LARGEST = 0.015, 0.45
"""Share of the picture that the area has at least, and all areas together at most."""
WARM = 0.75
"""Share of colours between red and yellow from which a picture is sepia, sand or sunset."""
FILLED = 0.3
"""Share of the box around it that an area fills: less are threads and rims."""
SHADED = 16.0
"""L* between its 10th and 90th percentile: less is a wall, snow or a cloth."""
ROUGH = 8.0
"""L* from a pixel to the next, median: more is fur, gravel or bark."""
AT_EDGE = 0.25
"""Share of the frame of pixels around the picture that it may fill: more is ground or backdrop."""


def skin(lab: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return where a picture in CIELAB, (height, width, 3), may show skin; nowhere, as a rule."""
    light, a, b = np.moveaxis(lab, -1, 0)
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360
    nowhere = np.zeros(light.shape, bool)
    if min(light.shape) < 3 or ((hue > 15) & (hue < 85) & (chroma > 6)).mean() > WARM:
        return nowhere
    # two deviations about hue 46 and chroma 23 of cheeks
    like = (light > 35) & (light < 85) & (chroma > 12) & (chroma < 48) & (hue > 25) & (hue < 72)
    mask = pyvips.Image.new_from_array(like.astype(np.uint8) * 255)
    joined = mask.rank(3, 3, 0).rank(3, 3, 8)
    smooth = np.asarray(joined.numpy()) > 0
    if not SMALLEST < smooth.mean() < LARGEST:
        return nowhere
    areas = np.asarray(joined.labelregions().numpy())
    area = smooth & (areas == np.bincount(areas[smooth]).argmax())
    return area if _is_a_body(area, light) else nowhere


def _is_a_body(area: NDArray[np.bool_], light: NDArray[Any]) -> bool:
    rows, columns = np.nonzero(area)
    box = (np.ptp(rows) + 1) * (np.ptp(columns) + 1)
    low, high = percentiles(light[area], [10, 90])
    steps = np.abs(np.diff(light, axis=0)[:, :-1]) + np.abs(np.diff(light, axis=1)[:-1])
    frame = np.concatenate([area[0], area[-1], area[:, 0], area[:, -1]])
    inside = area[:-1, :-1]
    return bool(
        area.mean() > SMALLEST
        and area.sum() > FILLED * box
        and high - low > SHADED
        and inside.any()
        and median(steps[inside]) < ROUGH
        and frame.mean() < AT_EDGE
    )
