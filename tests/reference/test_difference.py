"""CIEDE2000 against the 34 pairs of Sharma, Wu and Dalal (2005), and colour-science."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np

from pressworthy.colour.difference import delta_e_2000

PAIRS = np.loadtxt(Path(__file__).parent / "sharma34.csv", delimiter=",", comments="#")


def test_the_34_pairs() -> None:
    """Both orders of arguments, to the four decimals printed in the paper."""
    assert len(PAIRS) == 34
    for first, second in ((slice(0, 3), slice(3, 6)), (slice(3, 6), slice(0, 3))):
        ours = delta_e_2000(PAIRS[:, first], PAIRS[:, second])
        assert np.abs(ours - PAIRS[:, 6]).max() < 1e-4


def test_random_colours_against_colour_science() -> None:
    rng = np.random.default_rng(5)
    first, second = rng.uniform([0, -100, -100], [100, 100, 100], (2, 20_000, 3))
    theirs = colour.delta_E(first, second, method="CIE 2000")
    assert np.abs(delta_e_2000(first, second) - theirs).max() < 1e-9
    single = delta_e_2000(first.astype(np.float32), second.astype(np.float32))
    assert np.abs(single - theirs).max() < 0.02
