"""The marked proof's plots: what they mark lies where it should."""

from __future__ import annotations

import pytest

from pressworthy.colour.lightness import printed
from pressworthy.house import load_house
from pressworthy.jobs.pull import BINS, Pull
from pressworthy.plugins import Registry
from pressworthy.report.marked_proof.plots import FRAME, tones_plot


@pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "mono", "screen"])
def test_the_bracket_stands_where_the_houses_window_prints(name: str, registry: Registry) -> None:
    house = load_house(name, registry)
    assert house.output.median == (20, 80)
    even = tuple([1 / BINS] * BINS)
    plot = tones_plot(Pull(tones=even, supplied_tones=even, median=50.0), house)
    ends = [printed(end, *house.output.span) for end in (20.0, 80.0)]
    assert plot.wanted == (f"{ends[0]:.0f}", f"{ends[1]:.0f}")
    for at, lightness in zip(plot.bracket, ends, strict=True):
        assert float(at) == pytest.approx(FRAME.x(lightness / 100), abs=0.1)
