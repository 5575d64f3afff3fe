"""A plain ground is the piece that holds most of a picture's outline, however it is looked for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import pyvips
from numpy.typing import NDArray

from pressworthy.measure import lightness
from pressworthy.measure.lightness import GROUND
from pressworthy.measure.pixels import is_drawn
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.picture import Picture, preset


@pytest.fixture
def a_master(tmp_path: Path) -> Picture:
    return a_picture(write_picture(tmp_path / "p.png", draw()))


def by_all_pieces(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    numbers = pyvips.Image.new_from_array(mask.astype(np.uint8)).labelregions().numpy()
    rows, columns = np.indices(mask.shape)
    height, width = mask.shape
    # a corner lies on two sides
    sides = [rows == 0, rows == height - 1, columns == 0, columns == width - 1]
    for number in np.unique(numbers[mask]):
        piece = numbers == number
        if sum(int(piece[side].sum()) for side in sides) >= GROUND * 2 * (width + height):
            return np.asarray(piece)
    return np.zeros_like(mask)


@pytest.mark.parametrize("tries", [0, 1, 3])
def test_the_piece_that_fills_most_of_the_outline(
    tries: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lightness, "_TRIES", tries)
    rng, found = np.random.default_rng(1), 0
    for number in range(120):
        height, width = rng.integers(1, 40, 2)
        mask = rng.random((height, width)) < (0.6, 0.75, 0.9, 0.97)[number % 4]
        if number % 3:
            mask[:, width // 3] = False
        piece = lightness._most_of_the_rim(mask)
        assert np.array_equal(piece, by_all_pieces(mask))
        found += bool(piece.any())
    assert 20 < found < 100


def test_the_outline_alone_tells_that_there_is_none(
    monkeypatch: pytest.MonkeyPatch, a_master: Picture
) -> None:
    """And never where there is one."""
    rng, found = np.random.default_rng(4), 0
    for number in range(120):
        height, width = rng.integers(2, 40, 2)
        values = rng.normal(50, (0.1, 0.6, 0.9, 9)[number % 4], (height, width)).astype(np.float32)
        drawn = rng.random((height, width)) < (1, 0.97)[number % 2]
        picture = replace(a_master)
        preset(picture, lightness.seen_lightness, values)
        preset(picture, is_drawn, drawn)
        plain = (lightness._spread(values) <= lightness.PLAIN) & drawn
        seen = lightness.ground(picture)
        assert np.array_equal(seen, lightness._most_of_the_rim(plain))
        found += bool(seen.any())
    assert 20 < found < 100


def test_how_far_neighbours_lie_apart() -> None:
    values = np.random.default_rng(2).normal(50, 9, (7, 9)).astype(np.float32)
    padded = np.pad(values, 1, "edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, (3, 3))
    assert np.array_equal(lightness._spread(values), np.ptp(windows, axis=(2, 3)))
