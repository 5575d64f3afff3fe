"""Differences between neighbours, taken without regard to rows, are those within rows alone."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.measure import halo, jpeg, upscaling
from pressworthy.measure.halo import Floats
from pressworthy.measure.ranks import percentiles


@pytest.fixture
def tile() -> Floats:
    """Return a tile whose rows end far from where the next begins."""
    steps = np.random.default_rng(6).normal(1, 4, (101, 90)).cumsum(1)
    return np.asarray(np.clip(steps + 20, 0, 255), np.float32)


@pytest.mark.parametrize("along", [0, 1])
def test_mean_sizes_along_lines(tile: Floats, along: int) -> None:
    some = tile[:, ::2] if along else tile[::2]
    for order, profile in enumerate(upscaling._profiles(tile, along), 1):
        sizes = np.abs(np.diff(some, order, axis=1 - along))
        picked = sizes[::2, ::4] if along else sizes[::4, ::2]
        capped = np.minimum(sizes, percentiles(picked.ravel(), [90]) + 1)
        assert profile == pytest.approx(capped.mean(axis=along), rel=1e-5)


def test_steps_by_their_place_in_a_block(tile: Floats) -> None:
    for found, axis in zip(jpeg._border_profiles(tile), (1, 0), strict=True):
        steps = np.abs(np.diff(tile, axis=axis)).mean(axis=1 - axis)
        whole = steps[: len(steps) // 8 * 8].reshape(-1, 8).mean(axis=0)
        assert found == pytest.approx(whole, rel=1e-5)


def test_slopes_along_lines(tile: Floats) -> None:
    width = tile.shape[1] - len(halo._RISE) + 1
    wanted = [np.convolve(row, halo._RISE[::-1], "valid") for row in tile.astype(np.float64)]
    assert halo._risen(tile)[:, :width] == pytest.approx(np.array(wanted), abs=1e-4)


def test_energy_of_cells_by_distance() -> None:
    """As the cosine transform of each cell has it, cell by cell."""
    part = np.random.default_rng(7).normal(90, 20, (24, 43)).astype(np.float32)
    energy = upscaling._cell_energy(part)
    assert energy.shape == (8, 15)
    distance = np.hypot(*np.indices((8, 8)))
    cosines = upscaling._COSINES.astype(np.float64)
    for number in range(15):
        row, column = divmod(number, 5)
        cell = part[8 * row : 8 * row + 8, 8 * column : 8 * column + 8]
        waves = cosines @ cell @ cosines.T
        wanted = [(waves[distance >= start] ** 2).sum() for start in range(8)]
        assert energy[:, number] == pytest.approx(wanted, rel=1e-4)
