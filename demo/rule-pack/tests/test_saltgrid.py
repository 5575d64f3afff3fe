from pathlib import Path

import numpy as np
import pytest
from saltgrid import level_horizon, page_grid

from pressworthy.testing import a_picture, draw, found, options_of, write_picture
from pressworthy.values.finding import Unmeasured
from pressworthy.values.placement import PlacementRequest

LEVEL = options_of(level_horizon.rule, {"most": "1 deg"})


def test_off_grid_and_its_remedy(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", draw())
    options = options_of(page_grid.rule, {"column": "1 cm", "slack": "0.5 mm"})

    def codes(width: float) -> set[str]:
        picture = a_picture(path, PlacementRequest((width, 40)))
        return set(found(page_grid.rule, picture, options))

    assert codes(64) == {"off-grid"}
    assert codes(60) == codes(60.4) == set()
    picture = a_picture(path, PlacementRequest((64, 40)))
    assert found(page_grid.rule, picture, options)["off-grid"].in_words() == (
        "64 mm", "exactly 60 mm",
    )  # fmt: skip


def sea(angle: float) -> np.ndarray:
    """Light sky over a dark sea, the horizon leaning by `angle` degrees."""
    y, x = np.mgrid[0:480, 0:640]
    below = y - 240 > np.tan(np.radians(angle)) * (x - 320)
    noise = np.random.default_rng(1).normal(0, 3, (480, 640))
    return np.repeat((np.where(below, 70, 180) + noise)[..., None], 3, axis=2).astype(np.uint8)


@pytest.mark.parametrize("angle", [-4.0, -1.5, 2.0, 5.0])
def test_a_leaning_sea_is_measured(angle: float, tmp_path: Path) -> None:
    picture = a_picture(write_picture(tmp_path / "p.png", sea(angle)))
    finding = found(level_horizon.rule, picture, LEVEL)["leaning"]
    assert finding.measured == pytest.approx(abs(angle), abs=0.3)
    assert ("anticlockwise" in finding.remedy) == (angle > 0)


def test_a_level_sea_passes_and_no_sea_is_unmeasured(tmp_path: Path) -> None:
    level = a_picture(write_picture(tmp_path / "p.png", sea(0)))
    assert found(level_horizon.rule, level, LEVEL) == {}
    none = a_picture(write_picture(tmp_path / "q.png", draw()))
    with pytest.raises(Unmeasured):
        found(level_horizon.rule, none, LEVEL)
