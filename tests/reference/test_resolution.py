"""Effective ppi: worked values by exact arithmetic, 25.4 mm to the inch."""

from pathlib import Path

import pytest

from pressworthy.placement import Placement, PlacementRequest
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.units import MM_PER_INCH

OPTIONS = {"below": 0.0, "above": 5.0, "distortion": 1.0}


@pytest.mark.parametrize(
    ("px", "mm", "ppi"),
    [(2480, 210, 299.962), (3508, 297, 300.011), (640, 120, 135.467), (5640, 210, 682.171),
     (1772, 150, 300.059)],
)  # fmt: skip
def test_ppi_of_pixels_on_millimetres(px: int, mm: float, ppi: float) -> None:
    shown = Placement(mm, mm).shown(px, px)[0]
    assert shown / mm * MM_PER_INCH == pytest.approx(ppi, abs=5e-4)


@pytest.mark.parametrize(
    ("px", "mm", "ppi", "code"),
    [(640, 120, 135.467, "too-few-pixels"), (5640, 210, 682.171, "too-many-pixels")],
)
def test_the_rule_measures_the_same(
    px: int, mm: float, ppi: float, code: str, tmp_path: Path, registry: Registry
) -> None:
    path = write_picture(tmp_path / "p.png", draw(px, px // 4))
    picture = a_picture(path, PlacementRequest((mm, mm / 4)))
    finding = found(registry.rules["resolution"], picture, OPTIONS)[code]
    assert finding.measured == pytest.approx(ppi, abs=5e-4)
    assert finding.unit == "ppi"
