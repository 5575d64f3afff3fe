"""Percentiles, differences and means of many numbers, where numpy's own take longer.

It sorts faster than it picks out several ranks; a single one it picks out faster. Its own
percentile and median load numpy.ma on first use.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def percentiles(values: NDArray[np.floating], ranks: Sequence[float]) -> NDArray[np.float64]:
    """Return what stands at the ranks (0..100) of values (..., n), (..., ranks).

    Between two values by their distance from the rank, as numpy.percentile does.
    """
    last = values.shape[-1] - 1
    at = np.asarray(ranks, np.float64) / 100 * last
    below = np.floor(at).astype(np.intp)
    above = np.minimum(below + 1, last)
    if len(at) == 1:
        ordered = np.partition(values, below[0], axis=-1)
        high = ordered[..., above[0] :].min(axis=-1, keepdims=True)
    else:
        ordered = np.sort(values, axis=-1)
        high = ordered[..., above]
    low = ordered[..., below].astype(np.float64)
    return np.asarray(low + (high.astype(np.float64) - low) * (at - below))


def median(values: NDArray[np.floating], axis: int = -1) -> NDArray[np.float64]:
    """Return the middle of values along an axis, as numpy.median does."""
    return percentiles(np.moveaxis(values, axis, -1), [50])[..., 0]


def differences(values: NDArray[np.float32], axis: int) -> NDArray[np.float32]:
    """Return how far the next one lies over each of contiguous values (height, width), as large.

    Without regard to rows, which is quicker: the last ones along the axis mean nothing.
    """
    step, done = 1 if axis else values.shape[1], np.zeros_like(values)
    flat = values.ravel()
    np.subtract(flat[step:], flat[:-step], out=done.ravel()[:-step])
    return done


def mean_along(values: NDArray[np.float32], axis: int) -> NDArray[np.float32]:
    """Return the mean of values (height, width) along an axis, by a product of matrices."""
    weights = np.full(values.shape[axis], 1 / values.shape[axis], np.float32)
    return np.asarray(values @ weights if axis else weights @ values)
