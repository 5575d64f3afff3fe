"""The tone curve: smooth, rising, never clipping, and landing where it should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressworthy.colour.lightness import printed
from pressworthy.prepare.tone import INSIDE, Window, bend, curve

WIDE = Window(0, 100, 100)
ALL = np.linspace(0, 100, 1001)


@given(st.floats(5, 70), st.floats(0, 35), st.floats(78, 96))
def test_the_print_shows_what_the_screen_showed(median: float, black: float, paper: float) -> None:
    moved = curve(np.array(median), bend(median, black, paper, WIDE))
    shown = printed(float(moved), black, paper)
    # where the paper is lighter than the tone and the black darker, it can
    if printed(1.0, black, paper) < median < printed(99.0, black, paper):
        assert shown == pytest.approx(median, abs=0.05)


@given(st.floats(1.5, 98.5), st.floats(0, 35), st.floats(78, 96), st.floats(0, 40))
def test_no_tone_is_clipped_and_none_become_one(
    median: float, black: float, paper: float, lift: float
) -> None:
    bent = bend(median, black, paper, Window(30, 80, lift))
    values = curve(ALL, bent)
    assert values[0] == 0 and values[-1] == pytest.approx(100)
    slopes = np.diff(values) / np.diff(ALL)
    assert slopes.min() >= min(bent, 1 / bent) - 1e-3 > 0
    assert abs(float(curve(np.array(median), bent)) - median) <= lift + 0.02


def test_the_window_and_the_largest_lift_hold() -> None:
    def shown(median: float, window: Window) -> float:
        return printed(float(curve(np.array(median), bend(median, 9, 95, window))), 9, 95)

    assert shown(20, Window(38, 80, 100)) == pytest.approx(38 + INSIDE, abs=0.05)
    assert shown(95, Window(38, 80, 100)) == pytest.approx(80 - INSIDE, abs=0.05)
    assert float(curve(np.array(20.0), bend(20, 9, 95, Window(38, 80, 5)))) == pytest.approx(25)


def test_black_and_white_pictures_are_left_alone() -> None:
    assert bend(0.2, 9, 95, WIDE) == 1 and bend(99.9, 9, 95, WIDE) == 1
    assert np.allclose(curve(ALL, 1.0), ALL)
