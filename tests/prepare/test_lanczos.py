"""Reduced by matrix products: the same as the kernel's sums in double precision, at every size."""

from __future__ import annotations

import numpy as np
import pytest
import pyvips

from pressworthy.prepare.lanczos import kernel, reduced

RNG = np.random.default_rng(5)


def summed(values: np.ndarray, width: int, height: int) -> np.ndarray:
    """Return (height, width, bands) by one sum for each pixel and axis, unrounded."""
    for axis, after in ((0, height), (1, width)):
        line = np.moveaxis(values, axis, 0).astype(np.float64)
        first, weights = kernel(len(line), after)
        sums = [
            np.tensordot(share, line[np.clip(np.arange(at, at + len(share)), 0, len(line) - 1)], 1)
            for at, share in zip(first, weights, strict=True)
        ]
        values = np.moveaxis(np.array(sums), 0, axis)
    return np.asarray(np.clip(values, 0, 65535))


@pytest.mark.parametrize(
    "before, after",
    [
        ((401, 303), (190, 145)),  # (width, height), no whole blocks and strips
        ((401, 303), (400, 303)),  # one axis as it is
        ((64, 200), (1, 3)),
        ((900, 5), (3, 4)),  # down to a third of a thousandth, and fewer rows than the kernel has
        ((7, 3000), (7, 10)),  # as much of the master for one row of the copy
    ],
)
@pytest.mark.parametrize("bands", [1, 3])
def test_it_sums_as_the_kernel_does(
    before: tuple[int, int], after: tuple[int, int], bands: int
) -> None:
    # black beside white, so that the kernel swings beyond both
    values = RNG.choice(np.array([0, 300, 65535], np.uint16), (before[1], before[0], bands))
    done = reduced(pyvips.Image.new_from_array(values), *after)
    assert (done.width, done.height, done.bands, done.format) == (*after, bands, "ushort")
    found = done.numpy().reshape(after[1], after[0], bands)
    assert np.abs(found - summed(values, *after)).max() < 0.55


def test_the_kernel_is_that_of_lanczos() -> None:
    first, weights = kernel(100, 50)
    # by hand: the copy's pixel 10 has its middle at 20.5, between the master's 20 and 21
    at = (first[10] + np.arange(weights.shape[1]) - 20.5) / 2
    curve = np.sinc(at) * np.sinc(at / 3) * (np.abs(at) < 3)
    assert weights[10] == pytest.approx(curve / curve.sum())
    assert weights.sum(axis=1) == pytest.approx(np.ones(50))


def test_one_value_stays() -> None:
    image = pyvips.Image.black(700, 500).linear(1, 40_123).cast("ushort")
    assert (reduced(image, 333, 217).numpy() == 40_123).all()


def test_its_colours_stay_what_they_were_called() -> None:
    image = pyvips.Image.black(20, 20, bands=3).cast("ushort").copy(interpretation="rgb16")
    assert reduced(image, 10, 10).interpretation == "rgb16"
