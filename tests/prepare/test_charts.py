"""The charts are what their parameters say, so that amounts derived from them can be believed."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.prepare.charts import dead_leaves, slanted_edge


def test_an_edge_runs_through_the_centre_at_its_slant() -> None:
    edge = slanted_edge(200, 100, dark=20, light=80, degrees=10, blur=0.6)
    assert edge.shape == (100, 200) and edge.dtype == np.float32
    assert edge[:, :60] == pytest.approx(np.full((100, 60), 20), abs=0.01)
    assert edge[:, -60:] == pytest.approx(np.full((100, 60), 80), abs=0.01)
    # where each row crosses the middle tone, px from the left
    at = ((80 - edge) / 60).sum(axis=1)
    rows = np.arange(100) + 0.5 - 50
    assert at == pytest.approx(100 + rows * np.tan(np.radians(10)), abs=0.02)


@pytest.mark.parametrize("blur", [0.5, 1.2, 2.0])
def test_an_edge_is_blurred_by_its_sigma(blur: float) -> None:
    edge = slanted_edge(200, 60, dark=0, light=1, degrees=0.01, blur=blur).astype(np.float64)
    spread = np.diff(edge, axis=1)[30]
    x = np.arange(199) + 1.0
    mean = (spread * x).sum()
    # the difference of neighbours is itself a box of one pixel
    sigma = np.sqrt((spread * (x - mean) ** 2).sum() - 1 / 12)
    assert sigma == pytest.approx(blur, abs=0.05)


def test_defaults_are_a_middle_tone_five_degrees_off() -> None:
    edge = slanted_edge()
    assert edge.shape == (256, 256)
    assert (edge.min(), edge.max()) == pytest.approx((40, 60), abs=0.01)
    at = ((60 - edge) / 20).sum(axis=1)
    slope = np.polyfit(np.arange(256), at, 1)[0]
    assert np.degrees(np.arctan(slope)) == pytest.approx(5, abs=0.05)


def test_a_scene_is_full_of_leaves_in_every_tone() -> None:
    scene = dead_leaves(160, 120, seed=1, noise=0, smallest=3)
    assert scene.shape == (120, 160, 3) and scene.dtype == np.float32
    assert 12 <= scene.min() < 45 and 210 < scene.max() <= 243
    assert 100 < scene.mean() < 155
    # colours stray from grey by some levels, and no more
    stray = scene.std(axis=2).mean()
    assert 8 < stray < 22
    assert not np.array_equal(scene, dead_leaves(160, 120, seed=2, noise=0, smallest=3))
    assert np.array_equal(scene, dead_leaves(160, 120, seed=1, noise=0, smallest=3))


def test_noise_and_blur_are_what_was_asked_for() -> None:
    plain = dead_leaves(160, 120, seed=1, noise=0)
    noisy = dead_leaves(160, 120, seed=1, noise=4) - plain
    assert noisy.std() == pytest.approx(4, rel=0.03) and abs(noisy.mean()) < 0.1
    soft = dead_leaves(160, 120, seed=1, noise=0, blur=2.0)
    step, softer = (np.abs(np.diff(scene, axis=1)).max() for scene in (plain, soft))
    # the steepest of a step's neighbours: 1 / (sigma sqrt(2 pi))
    assert softer / step == pytest.approx(0.6 / 2.0, rel=0.35)


def test_smaller_leaves_make_more_edges() -> None:
    def edges(smallest: float) -> float:
        scene = dead_leaves(192, 144, seed=4, noise=0, smallest=smallest).mean(axis=2)
        return float((np.abs(np.diff(scene, axis=1)) > 8).mean())

    assert edges(2) > 1.2 * edges(6) > 1.2 * 1.2 * edges(18)


def test_leaves_are_round_and_of_power_law_sizes() -> None:
    scene = dead_leaves(300, 300, seed=5, noise=0, smallest=3, blur=0.5).mean(axis=2)
    # neither direction has more edges than the other
    across, down = (np.abs(np.diff(scene, axis=axis)).mean() for axis in (1, 0))
    assert across == pytest.approx(down, rel=0.15)
    # amplitude falls about as 1 / f, as in natural pictures: power by f^-2, within a half
    power = np.abs(np.fft.fft2(scene - scene.mean())) ** 2
    f = np.hypot(*np.meshgrid(np.fft.fftfreq(300), np.fft.fftfreq(300)))
    rings = [(low, power[(f >= low) & (f < 1.5 * low)].mean()) for low in (0.02, 0.04, 0.08, 0.16)]
    low, high = np.log(np.transpose(rings))
    slope = np.polyfit(low, high, 1)[0]
    assert -3.2 < slope < -1.8
