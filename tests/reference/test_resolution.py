"""Effective ppi: worked values by exact arithmetic, 25.4 mm to the inch."""

from pathlib import Path

import numpy as np
import pytest

from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, found, write_picture
from pressworthy.values.placement import PlacementRequest

OPTIONS = {"below": 0.0, "above": 5.0, "distortion": 1.0, "most cropped": 100.0}


@pytest.mark.parametrize(
    ("px", "mm", "ppi", "code"),
    [
        (640, 120, 135.467, "too-few-pixels"),
        (2476, 210, 299.478, "too-few-pixels"),
        (2604, 210, 314.960, None),
        (1772, 150, 300.059, None),
        (5640, 210, 682.171, "too-many-pixels"),
    ],
)
def test_the_rule_measures_worked_values(
    px: int, mm: float, ppi: float, code: str | None, tmp_path: Path, registry: Registry
) -> None:
    ground = np.zeros((px // 4, px, 1), np.uint8)
    path = write_picture(tmp_path / "p.png", ground, mode="gray", icc=None)
    picture = a_picture(path, PlacementRequest((mm, mm / 4)))
    findings = found(registry.rules["resolution"], picture, OPTIONS)
    assert set(findings) == ({code} if code else set())
    for finding in findings.values():
        assert finding.measured == pytest.approx(ppi, abs=5e-4)
        assert finding.unit == "ppi"
