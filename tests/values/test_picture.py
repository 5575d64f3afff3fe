"""A picture keeps what was measured of it, once, and takes what is known of it beforehand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pressworthy.measure.pixels import pixels, small_copy
from pressworthy.testing import a_picture
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement, preset


@pytest.fixture
def picture(master: Callable[..., Path]) -> Picture:
    return a_picture(master())


def test_a_measurement_runs_once_a_picture(picture: Picture) -> None:
    runs = []

    @measurement
    def numbered(_: Picture) -> int:
        runs.append(1)
        return len(runs)

    assert [numbered(picture), numbered(picture)] == [1, 1]
    assert numbered(replace(picture, page_object="im0")) == 2


def test_what_is_known_is_not_measured(picture: Picture) -> None:
    known = np.full((4, 4, 3), 7, np.uint8)
    preset(picture, small_copy, known)
    assert small_copy(picture) is known
    with pytest.raises(ValueError, match="read-only"):
        small_copy(picture)[0, 0] = 0


def test_what_cannot_be_read_is_unmeasured_in_all_that_needs_it(picture: Picture) -> None:
    preset(picture, pixels, Unmeasured("it is drawn in spot colours"))
    for measure in (pixels, small_copy):
        with pytest.raises(Unmeasured, match="spot colours"):
            measure(picture)
