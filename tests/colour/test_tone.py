"""The tone curve: smooth, rising, never darkening, no steeper than stated, and landing in place."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressworthy.colour.lightness import printed
from pressworthy.colour.tone import (
    HIGH_KEY,
    LOW_KEY,
    Tones,
    asked_curve,
    chosen_curve,
    curve,
    house_curve,
    lightness_for,
    slope,
)

ALL = np.linspace(0, 100, 1001)
BLACK, PAPER = st.floats(0, 40), st.floats(75, 100)
MIDDLE = st.floats(LOW_KEY[1], HIGH_KEY[0])
# L* of the darkest print and of the paper (ISO 12647 data, NOTICE.md)
PAPERS = {"coated": (8.75, 95.0), "newsprint": (34.01, 80.11), "uncoated": (31.88, 95.71)}


def tones(median: float, light: float = 90.0) -> Tones:
    return Tones(0.0, median, light)


@given(MIDDLE, BLACK, PAPER)
def test_a_mid_tone_stands_where_it_stood_between_black_and_paper(
    median: float, black: float, paper: float
) -> None:
    moved = house_curve(tones(median), black, paper, 1e3).moved(median)
    assert (printed(moved, black, paper) - black) / (paper - black) * 100 == pytest.approx(median)


@given(st.floats(0, 100), st.floats(0, 100), BLACK, PAPER, st.floats(1, 3))
def test_it_never_darkens_and_no_slope_is_steeper_than_stated(
    median: float, light: float, black: float, paper: float, steepest: float
) -> None:
    done = house_curve(tones(median, light), black, paper, steepest)
    values = curve(ALL, done.bend)
    assert values[0] == 0 and values[-1] == pytest.approx(100)
    assert (values >= ALL - 1e-9).all()
    slopes = np.diff(values) / np.diff(ALL)
    assert 1 / steepest - 1e-6 <= slopes.min() and slopes.max() <= steepest + 1e-6
    # smooth: the slope only falls
    assert (np.diff(slopes) <= 1e-9).all()


@given(st.floats(0.3, 3))
def test_the_slope_is_the_curves(bend: float) -> None:
    assert np.allclose(np.gradient(curve(ALL, bend), ALL)[1:-1], slope(ALL, bend)[1:-1], atol=2e-3)


@pytest.mark.parametrize("black, paper", PAPERS.values(), ids=PAPERS)
@pytest.mark.parametrize("light", [30.0, 90.0])
def test_a_lighter_picture_stays_the_lighter(black: float, paper: float, light: float) -> None:
    medians = np.arange(1.5, 99, 0.5)
    moved = [house_curve(tones(m, light), black, paper, 1.5).moved(m) for m in medians.tolist()]
    assert (np.diff(moved) > 0).all()


def test_the_poorer_the_paper_the_more_is_lifted_and_a_screen_nothing() -> None:
    lifts = [house_curve(tones(40), *PAPERS[n], 3).moved(40) for n in ("coated", "uncoated")]
    assert 40 < lifts[0] < lifts[1] < house_curve(tones(40), *PAPERS["newsprint"], 3).moved(40)
    assert house_curve(tones(40), 0, 100, 3).bend == pytest.approx(1)
    # worked by hand: half-way from L* 34.01 to 80.11 is L* 57.06, Y 0.2498; newsprint's black is
    # Y 0.0801, its paper Y 0.5688, so Y 0.3473 must be sent, L* 65.5
    assert lightness_for(50, *PAPERS["newsprint"]) == pytest.approx(65.54, abs=0.01)


def test_a_picture_meant_to_be_dark_stays_so_and_one_short_of_light_does_not() -> None:
    night, short = tones(9, light=70), tones(9, light=30)
    assert house_curve(night, *PAPERS["newsprint"], 1.5).moved(9) == pytest.approx(9)
    assert house_curve(night, *PAPERS["newsprint"], 1.5).kind == "low key"
    assert house_curve(short, *PAPERS["newsprint"], 1.5).moved(9) > 12
    assert house_curve(short, *PAPERS["newsprint"], 1.5).kind == ""
    snow = house_curve(tones(85), *PAPERS["newsprint"], 1.5)
    assert snow.bend == pytest.approx(1)
    assert snow.kind == "high key"


def test_a_persons_lift_holds_as_far_as_the_slope_lets() -> None:
    assert asked_curve(40, 6, 1.5).moved(40) == pytest.approx(46)
    assert asked_curve(40, -6, 1.5).moved(40) == pytest.approx(34)
    assert not asked_curve(40, 6, 1.5).held
    much = asked_curve(40, 30, 1.5)
    assert much.held and much.bend == pytest.approx(1 / 1.5)
    assert chosen_curve(tones(40), 0.0, *PAPERS["newsprint"], 1.5).bend == 1


@pytest.mark.parametrize("median", [0.2, 99.9])
def test_black_and_white_pictures_are_left_alone(median: float) -> None:
    assert house_curve(tones(median, median), 9, 95, 1.5).bend == 1
    assert np.allclose(curve(ALL, 1.0), ALL)
