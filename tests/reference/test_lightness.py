"""CIE L* against worked values and colour-science (CIE 1976 / ISO 11664-4)."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
import pytest
from PIL import Image

from pressworthy.colour.lightness import lightness, luminance, printed
from pressworthy.measure.lightness import lab
from pressworthy.testing import a_picture, write_picture


def test_worked_values() -> None:
    """L* 25, 50, 75 are Y 4.415, 18.419, 48.278 % (from the formula)."""
    for level, y in ((25.0, 0.04415), (50.0, 0.18419), (75.0, 0.48278)):
        assert luminance(level) == pytest.approx(y, abs=5e-6)
        assert lightness(y) == pytest.approx(level, abs=2e-3)


def test_formula_is_colour_sciences() -> None:
    y = np.linspace(0, 1, 101)
    assert np.abs(lightness(y) - colour.colorimetry.lightness_CIE1976(y * 100, 100)).max() < 1e-6
    assert np.abs(luminance(lightness(y)) - y).max() < 1e-12


def test_printed_ends_are_black_and_paper() -> None:
    assert printed(0.0, 16.0, 95.0) == pytest.approx(16)
    assert printed(100.0, 16.0, 95.0) == pytest.approx(95)
    assert 16 < printed(50.0, 16.0, 95.0) < 95


@pytest.mark.parametrize(
    ("value", "level"),
    [
        ((118, 118, 118), 49.637),
        ((119, 119, 119), 50.034),
        ((128, 128, 128), 53.585),
        ((255, 0, 0), 54.29),
        ((0, 0, 255), 29.57),
    ],
)
def test_srgb_through_the_icc_profile(
    value: tuple[int, int, int], level: float, tmp_path: Path
) -> None:
    """Greys: IEC 61966-2-1 by formula. Red and blue: L* in the D50 PCS by the adapted colorants,
    Y = 0.2225 and 0.0606, so they differ from the D65 values 53.23 and 32.30."""
    values = np.tile(np.array(value, np.uint8), (64, 64, 1))
    measured = lab(a_picture(write_picture(tmp_path / "p.png", values)))[..., 0].mean()
    assert measured == pytest.approx(level, abs=0.06)


def test_lab_of_a_whole_cube_is_colour_sciences(tmp_path: Path) -> None:
    """729 sRGB colours: LittleCMS through our ICC profile against colour-science, mean dE00."""
    grid = np.stack(np.meshgrid(*[np.linspace(0, 255, 9)] * 3), -1).reshape(27, 27, 3)
    path = tmp_path / "cube.png"
    Image.fromarray(grid.astype(np.uint8)).resize((27 * 8, 27 * 8), Image.Resampling.NEAREST).save(
        path
    )
    ours = lab(a_picture(path))[4::8, 4::8]
    xyz = colour.sRGB_to_XYZ(grid.astype(np.uint8) / 255)
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    d65 = colour.RGB_COLOURSPACES["sRGB"].whitepoint
    adapted = colour.chromatic_adaptation(
        xyz, colour.xy_to_XYZ(d65), colour.xy_to_XYZ(d50), method="Von Kries", transform="Bradford"
    )
    theirs = colour.XYZ_to_Lab(adapted, d50)
    difference = colour.delta_E(ours, theirs, method="CIE 2000")
    assert difference.mean() < 0.1
    assert difference.max() < 0.5
