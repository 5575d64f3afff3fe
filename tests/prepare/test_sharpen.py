"""The unsharp mask's limits: noise is left alone, halos are bounded."""

from __future__ import annotations

import numpy as np
import pytest
import pyvips

from pressworthy.prepare.sharpen import Sharpening, blurred, boosts, radius_for, reach, sharpen


def applied(values: np.ndarray, how: Sharpening) -> np.ndarray:
    return sharpen(values.astype(np.float32), how)


def test_the_radius_is_an_angle() -> None:
    # 0.0004 rad: ppi / 200 at 12.5 in, common practice
    assert radius_for(12.5 * 25.4, 300, 0.0004) == pytest.approx(1.5)
    assert radius_for(25 * 25.4, 300, 0.0004) == pytest.approx(3.0)


def test_overshoot_beside_a_step_is_bounded() -> None:
    step = np.where(np.arange(200) < 100, 30.0, 70.0)[None].repeat(40, 0)
    free = applied(step, Sharpening(1.5, 1.0, 0.0, 100.0))
    held = applied(step, Sharpening(1.5, 1.0, 0.0, 6.0))
    assert 12 < free[20].max() - 70 < 20
    assert held[20].max() == pytest.approx(76, abs=0.01)
    assert held[20].min() == pytest.approx(24, abs=0.01)


def test_noise_below_the_threshold_stays_as_it_is() -> None:
    grain = np.random.default_rng(1).normal(0, 0.3, (200, 200))
    quiet = applied(50 + grain, Sharpening(1.5, 1.5, 2.0, 10.0))
    loud = applied(50 + grain, Sharpening(1.5, 1.5, 0.0, 10.0))
    assert quiet.std() < 1.08 * grain.std() < loud.std() * 0.5
    detail = 50 + 10 * np.sin(np.arange(200))[None].repeat(200, 0)
    kept = applied(detail, Sharpening(1.5, 1.5, 1.0, 100.0)).std()
    assert kept > 0.97 * applied(detail, Sharpening(1.5, 1.5, 0.0, 100.0)).std()


def test_the_boost_grows_with_the_difference_and_has_no_step() -> None:
    added = boosts(Sharpening(1.5, 1.0, 0.5, 10.0))
    assert (np.diff(added) >= 0).all() and np.diff(added).max() < 0.006
    assert added.min() == -10 and added.max() == 10


def test_at_the_threshold_half_the_difference_counts() -> None:
    difference = np.linspace(-100, 100, 65536)
    added = boosts(Sharpening(1.5, 3.0, 4.0, 100.0))
    for d, share in ((2.0, 0.2), (4.0, 0.5), (8.0, 0.8), (-4.0, 0.5)):
        assert np.interp(d, difference, added) == pytest.approx(3 * d * share, abs=0.02)


def test_what_is_flat_stays_as_it_is() -> None:
    for level in (0.0, 41.7, 100.0):
        flat = np.full((20, 20), level)
        assert applied(flat, Sharpening(1.5, 4.0, 0.0, 100.0)) == pytest.approx(flat, abs=1e-4)


def test_the_least_radius_is_one_that_sharpens() -> None:
    step = np.where(np.arange(40) < 20, 30.0, 70.0)[None].repeat(9, 0)
    assert applied(step, Sharpening(0.3, 2.0, 0.0, 100.0)).max() > 70.1


def test_no_amount_or_no_radius_changes_nothing() -> None:
    image = np.zeros((8, 8), np.float32)
    assert sharpen(image, Sharpening(1.5, 0, 0, 10)) is image
    assert sharpen(image, Sharpening(0.1, 1, 0, 10)) is image


@pytest.mark.parametrize("radius", [0.3, 0.55, 1.5, 4.2])
@pytest.mark.parametrize("size", [(1, 1), (5, 33), (97, 64), (64, 131)])
def test_a_blur_is_that_of_libvips(radius: float, size: tuple[int, int]) -> None:
    values = np.random.default_rng(2).uniform(0, 100, size).astype(np.float32)
    image = pyvips.Image.new_from_array(values)
    known = image.gaussblur(radius, min_ampl=0.001, precision="float").numpy()
    assert blurred(values, radius) == pytest.approx(known.reshape(size), abs=2e-4)


def test_rows_are_sharpened_as_in_the_whole_where_those_around_are_there() -> None:
    how = Sharpening(1.5, 1.0, 1.0, 10.0)
    values = np.random.default_rng(3).uniform(20, 80, (90, 70)).astype(np.float32)
    around = reach(how)
    part = sharpen(values[30 - around : 60 + around], how)[around:-around]
    assert part == pytest.approx(sharpen(values, how)[30:60], abs=0.01)
