"""Tone value increase, by values worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.colour.tone_value import tone_value_increase


def test_worked_by_hand() -> None:
    """FOGRA39L's black: (87.62 - 30.19) / (87.62 - 2.10) = 0.6715 at 50 %."""
    tones, light = np.array([0.0, 50, 100]), np.array([87.62, 30.19, 2.10])
    found = tone_value_increase("black", tones, np.repeat(light[:, None], 3, axis=1))
    assert found[50] == pytest.approx(17.15, abs=0.01)
    # straight lines between measured tints
    assert found[20] == pytest.approx(0.6715 * 40 - 20, abs=0.01)


def test_cyan_is_read_by_x_less_yellow_s_share() -> None:
    """X - 0.55 Z: 100 - 55, 60 - 44, 20 - 27.5."""
    xyz = np.array([[100.0, 100, 100], [60, 80, 80], [20, 40, 50]])
    found = tone_value_increase("cyan", np.array([0.0, 50, 100]), xyz)
    assert found[50] == pytest.approx(100 * (45 - 16) / (45 + 7.5) - 50)


def test_an_ink_that_takes_no_light_has_none() -> None:
    assert tone_value_increase("black", np.array([0.0, 100]), np.ones((2, 3))) == {}
