"""Shapes of halftone dots: what each covers, where they touch, what is left of their pattern."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from pressworthy.house import House
from pressworthy.print import halftone, printlook
from pressworthy.print.eye import as_seen
from pressworthy.print.halftone import SHAPES, Screen, kinds, shares, stochastic, threshold_tile
from pressworthy.print.printlook import Press
from pressworthy.values.units import MM_PER_INCH


def press_with(house: House, shape: str) -> Press:
    condition = house.output.condition
    return printlook.press_of(replace(condition, values={**condition.values, "dots": shape}))


def tile_of(shape: str) -> NDArray[Any]:
    screen = stochastic(0, 2400) if shape == "stochastic" else Screen(6.0, 45, shape)
    return threshold_tile(screen, 2400)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_tone_inks_its_exact_share(shape: str) -> None:
    tile = tile_of(shape)
    for share in (0.03, 0.25, 0.5, 0.785, 0.97):
        assert (tile < share).mean() == pytest.approx(share, abs=1 / 4096)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("tone", [26, 128, 217])
def test_a_tint_prints_as_measured_whatever_its_dots(
    houses: dict[str, House], shape: str, tone: int
) -> None:
    """The mean of the dots, and of the samples, is the tint's own luminance."""
    press = press_with(houses["mono"], shape)
    tones = np.full((96, 96, 1), tone, np.uint8)
    steps, xyz = press.inks.ramps[3]
    measured = np.interp(tone / 255, steps, np.sqrt(xyz[:, 1])) ** 2
    assert printlook.dots_light(tones, 300, press)[1].mean() == pytest.approx(measured, abs=0.006)
    samples = printlook.printed_luminance(tones, 300, press)
    assert samples.mean() == pytest.approx(measured, abs=0.006)


@pytest.mark.parametrize("shape", SHAPES)
def test_what_dots_cover_of_a_square_by_its_place(shape: str) -> None:
    """Counted in the dots themselves, wherever in the cell the square lies."""
    cell_px = 64.0
    screen = Screen(1 / cell_px, 90 if shape == "stochastic" else 15, shape)
    pitch, area, rng = 13.0, 0.4, np.random.default_rng(3)
    places = kinds(screen)
    assert len(np.unique(places)) == (64 * 64 if shape == "stochastic" else 258)
    covered = shares(screen, np.array([0.1, area]), pitch)[1]
    thresholds = halftone._cell(shape)
    p, q = screen.vector()
    within = (rng.random((2, 20_000)) - 0.5) * pitch
    for v, u in rng.integers(0, screen.phases, (40, 2)):
        start = 0.5 / screen.phases if shape == "stochastic" else 0.0
        across = u / screen.phases + start + p * within[0] + q * within[1]
        down = v / screen.phases + start + p * within[1] - q * within[0]
        at = (np.floor(part % 1 * 64).astype(int) for part in (down, across))
        counted = float((thresholds[tuple(at)] < area).mean())
        assert covered[places[v, u]] == pytest.approx(counted, abs=0.025)


def test_round_dots_touch_at_79_percent() -> None:
    """Pi / 4 of a square is the largest circle in it; a checkerboard meets at a half.

    Ink runs from edge to edge of one cell where they touch.
    """
    for shape, before, after in (("euclidean", 0.47, 0.53), ("round", 0.76, 0.81)):
        tile = threshold_tile(Screen(MM_PER_INCH**-1 * 2400 / 64, 0, shape), 2400)
        assert len(tile) == 64
        for share, runs in ((before, False), (after, True)):
            inked = tile[:64, :64] < share
            paths = inked.all(axis=1).any() or _joined(inked)
            assert paths == runs, (shape, share)


def _joined(inked: NDArray[Any]) -> bool:
    """Whether ink leads from the first column to the last, over sides of pixels."""
    reached = np.zeros_like(inked)
    reached[:, 0] = inked[:, 0]
    while True:
        grown = reached.copy()
        for axis, shift in ((0, 1), (0, -1), (1, 1), (1, -1)):
            moved = np.roll(reached, shift, axis)
            if axis == 1:
                moved[:, 0 if shift > 0 else -1] = False
            grown |= moved & inked
        if (grown == reached).all():
            return bool(reached[:, -1].any())
        reached = grown


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.8])
def test_a_stochastic_pattern_is_blue_noise(share: float) -> None:
    """Next to nothing below half of the principal frequency, sqrt(g) dots (Ulichney 1988)."""
    pattern = tile_of("stochastic")[1::2, 1::2] < share
    power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2
    along = np.fft.fftfreq(len(pattern))
    frequency = np.hypot(along[:, None], along[None, :])
    principal = min(np.sqrt(min(share, 1 - share)), 0.5)
    assert power[frequency < principal / 2].mean() < 0.12 * power.mean()


def test_stochastic_dots_are_whole_and_meet_by_chance() -> None:
    """0.02 mm is two pixels of 2400 dpi; two inks of a half overprint on a quarter."""
    first, second = (threshold_tile(stochastic(ink, 2400), 2400) < 0.5 for ink in (0, 1))
    assert first.shape == (128, 128)
    assert (first[::2, ::2] == first[1::2, 1::2]).all()
    assert (first & second).mean() == pytest.approx(0.25, abs=0.02)
    assert (second == np.rot90(first, -1)).all() or (second == np.rot90(first)).all()


def test_the_eye_sees_less_of_stochastic_dots(houses: dict[str, House]) -> None:
    """On a half tint, from the reader's distance, a screen of 60 lines/cm is the plainer."""
    left = {}
    for shape in ("euclidean", "stochastic"):
        press = press_with(houses["coated-magazine"], shape)
        light = printlook.dots_light(np.full((96, 96, 1), 128, np.uint8), 300, press)[1]
        seen = as_seen(light, MM_PER_INCH / press.device, 317.5)
        left[shape] = float(seen[200:-200, 200:-200].std())
    assert 0 < left["stochastic"] < left["euclidean"]
