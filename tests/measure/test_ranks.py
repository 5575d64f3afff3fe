"""Percentiles by sorting, or by picking one out, and means by products, are those of numpy."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.measure.ranks import mean_along, median, percentiles


@pytest.mark.parametrize("shape", [(1,), (2,), (101,), (3, 50)])
def test_as_numpy_takes_them(shape: tuple[int, ...]) -> None:
    values = np.random.default_rng(1).normal(0, 9, shape).astype(np.float32)
    ranks = [0, 5, 33.3, 50, 99.7, 100]
    wanted = np.moveaxis(np.percentile(values, ranks, axis=-1), 0, -1)
    assert percentiles(values, ranks) == pytest.approx(wanted, abs=1e-5)
    for rank, value in zip(ranks, np.moveaxis(wanted, -1, 0), strict=True):
        assert percentiles(values, [rank])[..., 0] == pytest.approx(value, abs=1e-5)
    assert median(values) == pytest.approx(np.median(values, axis=-1), abs=1e-5)
    assert median(values, axis=0) == pytest.approx(np.median(values, axis=0), abs=1e-5)


@pytest.mark.parametrize("axis", [0, 1])
def test_means_as_numpy_takes_them(axis: int) -> None:
    values = np.random.default_rng(2).normal(40, 9, (37, 51)).astype(np.float32)
    assert mean_along(values, axis) == pytest.approx(values.mean(axis=axis), rel=1e-6)
