"""CIELAB and XYZ, and colours laid on a paper."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from pressworthy.colour.lab import D50, from_xyz, laid_on, to_xyz
from pressworthy.colour.lightness import luminance, printed

PAPER = to_xyz([80.0, 0.5, 3.5])
LAB = np.stack(np.meshgrid([0.0, 4.0, 50.0, 100.0], [-90.0, 0.0, 70.0], [-100.0, 0.0, 60.0]), -1)


def test_there_and_back_agree_with_the_reference() -> None:
    wanted = colour.Lab_to_XYZ(LAB, colour.XYZ_to_xy(D50))
    # the reference's white has rounded coordinates
    assert to_xyz(LAB) == pytest.approx(wanted, abs=1e-3)
    assert from_xyz(to_xyz(LAB)) == pytest.approx(LAB, abs=1e-9)


@pytest.mark.parametrize("black", [0.0, 0.14])
def test_white_lies_on_the_paper_and_black_on_its_black(black: float) -> None:
    white, dark = laid_on(np.array([[100.0, 0.0, 0.0], [0.0, 0.0, 0.0]]), PAPER, black)
    assert white == pytest.approx([80.0, 0.5, 3.5], abs=1e-9)
    assert to_xyz(dark) == pytest.approx(PAPER * black, abs=1e-9)


def test_neutrals_print_as_black_point_compensation_lays_them() -> None:
    tones = np.linspace(0, 100, 11)
    gray_paper = to_xyz([80.0, 0.0, 0.0])
    neutrals = np.stack([tones, 0 * tones, 0 * tones], axis=-1)
    laid = laid_on(neutrals, gray_paper, 0.14)[:, 0]
    black = 0.14 * luminance(80.0)
    light = black + (luminance(80.0) - black) * luminance(tones)
    assert luminance(laid) == pytest.approx(light)
    assert laid == pytest.approx(printed(tones, float(laid[0]), 80.0))


def test_it_keeps_the_arrays_own_float_type() -> None:
    narrow = laid_on(LAB.astype(np.float32), PAPER, 0.14)
    assert narrow.dtype == np.float32
    assert narrow == pytest.approx(laid_on(LAB, PAPER, 0.14), abs=1e-3)
