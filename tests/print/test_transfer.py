"""The coherent transfer: what it must be where the answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pressworthy.print.eye import mm_per_degree
from pressworthy.print.optics import filtered, frequencies
from pressworthy.print.transfer import BANDS, transfer
from pressworthy.values.units import MM_PER_INCH

PPI, AWAY = 300.0, 317.5


@pytest.fixture(scope="module")
def noise() -> NDArray[np.float64]:
    return 0.4 + np.random.default_rng(4).normal(0, 0.03, (256, 320))


def test_a_print_like_its_reference_is_1(noise: NDArray[np.float64]) -> None:
    seen = transfer([(noise, noise)], PPI, AWAY)
    assert seen.values == pytest.approx([1] * len(BANDS))
    assert seen.acutance == pytest.approx(1)
    assert seen.doubt < 1e-5


def test_contrast_counts_and_not_brightness(noise: NDArray[np.float64]) -> None:
    assert transfer([(noise, 0.5 * noise)], PPI, AWAY).values == pytest.approx([1] * len(BANDS))
    raised = transfer([(noise, noise + 0.4)], PPI, AWAY)
    assert raised.values == pytest.approx([0.5] * len(BANDS), rel=2e-3)


def test_a_blur_is_its_own_transfer_function(noise: NDArray[np.float64]) -> None:
    sigma = 0.8
    height, width = noise.shape
    f = frequencies(height, width, 1.0)
    blurred = filtered(noise.astype(np.float32), np.exp(-2 * np.pi**2 * sigma**2 * f**2))
    seen = transfer([(noise, blurred)], PPI, AWAY)
    cycles_per_px = seen.frequencies / mm_per_degree(AWAY) * MM_PER_INCH / PPI
    truth = np.exp(-2 * np.pi**2 * sigma**2 * cycles_per_px**2)
    assert seen.response == pytest.approx(truth, abs=0.02)


def test_larger_prints_are_aligned(noise: NDArray[np.float64]) -> None:
    """Every pixel drawn as 4 x 4 samples: the box of a pixel takes sinc, and nothing is shifted."""
    large = noise.repeat(4, axis=0).repeat(4, axis=1)
    seen = transfer([(noise, large)], PPI, AWAY)
    f = seen.frequencies / mm_per_degree(AWAY) * MM_PER_INCH / PPI
    # the mean over all directions of sinc(fx) sinc(fy)
    turn = np.linspace(0, np.pi / 2, 91)
    truth = (np.sinc(np.outer(f, np.cos(turn))) * np.sinc(np.outer(f, np.sin(turn)))).mean(axis=1)
    assert seen.response == pytest.approx(truth, abs=0.02)


def test_what_is_not_in_the_picture_drops_out(noise: NDArray[np.float64]) -> None:
    other = np.random.default_rng(9).normal(0, 0.03, noise.shape)
    seen = transfer([(noise, noise + other)], PPI, AWAY)
    assert seen.acutance == pytest.approx(1, abs=0.03)
    assert 0.001 < seen.doubt < 0.03


def test_doubt_is_the_scatter_of_the_acutance(noise: NDArray[np.float64]) -> None:
    rng = np.random.default_rng(1)
    seen = [
        transfer([(noise, noise + rng.normal(0, 0.06, noise.shape))], PPI, AWAY) for _ in range(24)
    ]
    scatter = np.std([one.acutance for one in seen])
    assert np.mean([one.doubt for one in seen]) == pytest.approx(scatter, rel=0.5)


def test_a_picture_without_detail_is_all_doubt() -> None:
    flat = np.full((128, 128), 0.3)
    busy = flat + np.random.default_rng(0).normal(0, 0.05, flat.shape)
    assert not transfer([(flat, busy)], PPI, AWAY).doubt < 1


def test_bands_beyond_the_pixels_are_not_told(noise: NDArray[np.float64]) -> None:
    seen = transfer([(noise, noise)], 100, AWAY)
    assert np.isnan(seen.values[-1])
    assert seen.values[0] == pytest.approx(1)


def test_sizes_that_do_not_fit_are_refused(noise: NDArray[np.float64]) -> None:
    with pytest.raises(ValueError, match="fit"):
        transfer([(noise, noise[:-1])], PPI, AWAY)
