"""Line art from its file on: judged by its own rule, placed as it is, and gray on a screen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pressworthy.files.opening import decode
from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.plugins import Registry
from pressworthy.prepare.making import make
from pressworthy.prepare.order import Order
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.placement import PlacementRequest

LINES = np.where(draw(1260, 945, channels=1) > 128, np.uint8(255), np.uint8(0))
PLACED = PlacementRequest((40, 30))


@pytest.mark.parametrize("name", ["p.tif", "p.png"])
@pytest.mark.parametrize(("mm", "codes"), [(40, set()), (41, {"line-art/too-few-pixels"})])
def test_line_art_is_judged_as_such_alone(
    name: str, mm: float, codes: set[str], tmp_path: Path, coated: House, registry: Registry
) -> None:
    path = write_picture(
        tmp_path / name, LINES, mode="gray", icc=None, bitdepth=1, words=CREDITED, ppi=800
    )
    request = PlacementRequest((mm, mm * 0.75))
    verdict = check_picture(Task(path, request), coated, Run(registry, processes=1))
    assert {f"{rule}/{finding.code}" for rule, finding in verdict.findings()} == codes
    assert not verdict.unjudged()


def test_a_screen_gets_grays_of_line_art(tmp_path: Path, coated: House, registry: Registry) -> None:
    path = write_picture(tmp_path / "p.tif", LINES, mode="gray", icc=None, bitdepth=1)
    order = Order(path, tmp_path / "copy.jpg", PlacementRequest((40, 30)), scale=2.0)
    made = make(order, load_house("screen", registry))
    assert made.copy.header.depth == 8
    assert len(np.unique(decode(order.target).numpy())) > 100
