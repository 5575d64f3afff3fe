"""Light brought to coarser samples, and shares of it by frequency."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.print.optics import blur_share, by_frequency, coarser, frequencies


def wave(height: int, width: int, cycles: tuple[float, float], start: float = 0.0) -> np.ndarray:
    """Return a cosine of cycles/sample down and across, its samples from `start` on."""
    y, x = np.mgrid[0:height, 0:width] + start
    return np.asarray(np.cos(2 * np.pi * (cycles[0] * y + cycles[1] * x)), np.float32)


@pytest.mark.parametrize("size", [(90, 120), (91, 119)])
def test_what_is_broad_enough_stays_where_it_is(size: tuple[int, int]) -> None:
    fine = wave(3 * size[0], 3 * size[1], (0.05, 0.03))
    # the middle one of three is where the coarser sample lies
    wanted = wave(*size, (0.15, 0.09), 1 / 3)
    found = coarser(fine, 3, 8)
    assert found.shape == size
    assert np.abs(found - wanted)[12:-12, 12:-12].max() < 0.03


def test_what_is_too_fine_goes_and_does_not_come_back_as_another() -> None:
    fine = np.stack([0.5 + wave(270, 360, (0.26, 0.0)), 0.25 + wave(270, 360, (0.2, 0.3))])
    found = coarser(fine.astype(np.float32), 3, 8)[:, 12:-12, 12:-12]
    assert found[0] == pytest.approx(0.5, abs=0.03)
    assert found[1] == pytest.approx(0.25, abs=0.03)


def test_shares_by_frequency_are_those_of_each_coefficient() -> None:
    found = by_frequency(lambda f: blur_share(f, 0.08), 96, 75, 0.17)
    wanted = blur_share(frequencies(96, 75, 0.17), 0.08)
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 5e-4
    assert found[0, 0] == 1
