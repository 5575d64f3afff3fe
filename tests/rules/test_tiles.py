"""The tiles that detail is measured on: L* alone of Lab."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips

from pressworthy.measure.pixels import tiles
from pressworthy.testing import a_picture


@pytest.mark.parametrize("space", ["lab", "labs"])
def test_lab_by_its_lightness(space: str, tmp_path: Path) -> None:
    lab = np.zeros((128, 128, 3), np.float32)
    lab[..., 0], lab[:, 64:, 1] = 50, 80
    image = pyvips.Image.new_from_array(lab).copy(interpretation="lab").colourspace(space)
    image.tiffsave(str(tmp_path / "p.tif"))
    (tile,) = tiles(a_picture(tmp_path / "p.tif"))
    assert tile == pytest.approx(np.full((128, 128), 127.5), abs=0.1)
