"""Light brought to coarser samples, and shares of it by frequency."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.print.optics import blur_share, by_frequency, coarser, frequencies


def wave(height: int, width: int, cycles: tuple[float, float], start: float = 0.0) -> np.ndarray:
    """Return a cosine of cycles/sample down and across, its samples from `start` on."""
    y, x = np.mgrid[0:height, 0:width] + start
    return np.asarray(np.cos(2 * np.pi * (cycles[0] * y + cycles[1] * x)), np.float32)


@pytest.mark.parametrize("times", [2, 3])
@pytest.mark.parametrize("size", [(90, 120), (91, 119)])
def test_what_is_broad_enough_stays_where_it_is(size: tuple[int, int], times: int) -> None:
    height, width = size
    fine = wave(times * height, times * width, (13 / height / times, 10 / width / times))
    # a coarser sample lies in the middle of so many
    wanted = wave(height, width, (13 / height, 10 / width), (times - 1) / 2 / times)
    found = coarser(fine, times)
    assert found.shape == size
    assert np.abs(found - wanted).max() < 1e-3


def test_what_is_too_fine_goes_and_does_not_come_back_as_another() -> None:
    one, other = wave(270, 360, (70 / 270, 0)), wave(270, 360, (54 / 270, 108 / 360))
    found = coarser(np.stack([0.5 + one, 0.25 + other]), 3)
    assert found[0] == pytest.approx(0.5, abs=1e-3)
    assert found[1] == pytest.approx(0.25, abs=1e-3)


def test_shares_by_frequency_are_those_of_each_coefficient() -> None:
    found = by_frequency(lambda f: blur_share(f, 0.08), 96, 75, 0.17)
    wanted = blur_share(frequencies(96, 75, 0.17), 0.08)
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 5e-4
    assert found[0, 0] == 1
