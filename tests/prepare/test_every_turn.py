"""Every orientation in every format, and every crop and bleed, against pixels computed by numpy.

A master's red tells its column and its green its row, so that a copy's pixels tell where they are
from. Turns are those of CIPA DC-008, Orientation; rectangles are worked out here anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.house import House
from pressworthy.measure.pixels import pixels
from pressworthy.prepare import Made
from pressworthy.values.placement import Crop, Focus, PlacementRequest
from pressworthy.values.units import MM_PER_INCH

Master = Callable[..., Path]
Prepared = Callable[..., Made]
WIDE, HIGH = 240, 180
BASE, STEP = 70, 0.7
WIDTH, HEIGHT, BLEED, PPI = 20.0, 12.0, 2.0, 96.0
AS_SEEN = PlacementRequest((WIDTH, HEIGHT), sharpen=False, tone="as supplied")

STORED: dict[int, Callable[[Any], Any]] = {
    1: lambda seen: seen,
    2: lambda seen: seen[:, ::-1],
    3: lambda seen: seen[::-1, ::-1],
    4: lambda seen: seen[::-1],
    5: lambda seen: seen.transpose(1, 0, 2),
    6: lambda seen: np.rot90(seen, 1),
    7: lambda seen: seen[::-1, ::-1].transpose(1, 0, 2),
    8: lambda seen: np.rot90(seen, -1),
}
"""Orientation -> how what is seen lies in the file."""


def places(width: int, height: int) -> Any:
    """Return muted pixels, BASE more than STEP times their column in red and their row in green."""
    row, column = np.mgrid[:height, :width]
    shown = np.stack([BASE + STEP * column, BASE + STEP * row, np.full(row.shape, 120)], axis=2)
    return np.round(shown).astype(np.uint8)


@pytest.fixture
def screen(houses: dict[str, House]) -> House:
    house = houses["screen"]
    return replace(house, prepare={**(house.prepare or {}), "format": "TIFF"})


@pytest.mark.parametrize("orientation", STORED)
@pytest.mark.parametrize("suffix", ["jpg", "tif", "png", "webp", "avif"])
def test_a_copy_is_upright(
    suffix: str, orientation: int, screen: House, master: Master, prepared: Prepared
) -> None:
    seen = places(96, 64)
    stored = np.ascontiguousarray(STORED[orientation](seen))
    save: dict[str, Any] = {"Q": 95} if suffix in ("jpg", "webp", "avif") else {}
    path = master(f"p.{suffix}", stored, fields={"orientation": orientation}, **save)
    request = replace(AS_SEEN, size=(96 / PPI * MM_PER_INCH, 64 / PPI * MM_PER_INCH))
    made = prepared(path, screen, request=request, scale=1)
    assert np.abs(pixels(made.copy).numpy().astype(int) - seen).mean() < 3


PARTS: dict[str, dict[str, Any]] = {
    "the middle": {},
    "the top left": {"crop": Focus(0, 0)},
    "the bottom right": {"crop": Focus(1, 1)},
    "around a point": {"crop": Focus(0.3, 0.7)},
    "a quarter": {"crop": Crop(0.0, 0.5, 0.5, 0.5)},
    "an inner part": {"crop": Crop(0.25, 0.1, 0.55, 0.8)},
    "all, pulled": {"fit": "stretch"},
}


@pytest.mark.parametrize("edges", ["", "left", "top right", "top right bottom left"])
@pytest.mark.parametrize("part", PARTS)
def test_a_copy_shows_its_part(
    part: str, edges: str, screen: House, master: Master, prepared: Prepared
) -> None:
    bleeds = frozenset(edges.split())
    asked = replace(AS_SEEN, bleed=BLEED if bleeds else 0.0, edges=bleeds, **PARTS[part])
    path = master("p.png", places(WIDE, HIGH))
    copy = prepared(path, screen, request=asked, scale=1).copy
    shown = pixels(copy).numpy().astype(float)
    across = WIDTH + BLEED * len(bleeds & {"left", "right"})
    down = HEIGHT + BLEED * len(bleeds & {"top", "bottom"})
    assert shown.shape[:2] == (round(down * PPI / MM_PER_INCH), round(across * PPI / MM_PER_INCH))
    column, row = middles(asked, across, down, shown.shape[1], shown.shape[0])
    off = (shown[..., :2] - BASE) / STEP - np.stack(np.meshgrid(column, row), axis=2)
    # px of the master: up to one for rounding its part; at an edge the resampler repeats pixels
    assert np.abs(off[2:-2, 2:-2]).max() <= 3 and np.abs(off.mean(axis=(0, 1))).max() <= 0.75


def middles(
    asked: PlacementRequest, across: float, down: float, wide: int, high: int
) -> tuple[Any, Any]:
    """Return the master's columns and rows in which the middles of the copy's pixels lie."""
    crop = asked.crop if isinstance(asked.crop, Crop) else Crop(0, 0, 1, 1)
    focus = asked.crop if isinstance(asked.crop, Focus) else Focus(0.5, 0.5)
    width, height = crop.width * WIDE, crop.height * HIGH
    if asked.fit != "stretch":
        scale = min(width / across, height / down)
        width, height = across * scale, down * scale
    left = (crop.left + focus.x * crop.width) * WIDE - width / 2
    top = (crop.top + focus.y * crop.height) * HIGH - height / 2
    left = min(max(left, crop.left * WIDE), (crop.left + crop.width) * WIDE - width)
    top = min(max(top, crop.top * HIGH), (crop.top + crop.height) * HIGH - height)
    column = left + (np.arange(wide) + 0.5) * width / wide - 0.5
    row = top + (np.arange(high) + 0.5) * height / high - 0.5
    return column, row
