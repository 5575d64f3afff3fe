"""A picture at another place: what its place has no part in is not measured anew, all else is."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import pressworthy.measure
from pressworthy.house import House
from pressworthy.testing import CREDITED, a_picture, draw, write_picture
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import _ANYWHERE, Picture, elsewhere, measurement
from pressworthy.values.placement import Placement

for module in pkgutil.iter_modules(pressworthy.measure.__path__):
    importlib.import_module(f"pressworthy.measure.{module.name}")
OURS = [one for one in _ANYWHERE if one.__module__.startswith("pressworthy.measure.")]


class Unasked:
    """A placement that must not be read."""

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"it asked for the placement's {name}")

    def __bool__(self) -> bool:
        raise AssertionError("it asked for the placement")


@pytest.mark.parametrize("name", ["p.jpg", "p.tif"])
def test_the_place_takes_no_part(name: str, coated: House, tmp_path: Path) -> None:
    path = write_picture(tmp_path / name, draw(300, 200), words=CREDITED)
    unasked: Any = Unasked()
    picture = replace(a_picture(path, output=coated.output), placement=unasked)
    assert len(OURS) > 20
    for measure in OURS:
        try:
            measure(picture)
        except Unmeasured:
            continue


def test_what_may_depend_on_it_is_measured_anew(coated: House, tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.tif", draw(300, 200), words=CREDITED)
    calls = []

    @measurement
    def width(picture: Picture) -> float:
        calls.append("width")
        return picture.placement.width if picture.placement else 0.0

    @measurement(anywhere=True)
    def pixels_across(picture: Picture) -> int:
        calls.append("pixels")
        return picture.header.width

    one = replace(a_picture(path, output=coated.output), placement=Placement(30, 20))
    other = elsewhere(one, Placement(60, 40))
    for picture in (one, one, other):
        width(picture), pixels_across(picture)
    there = elsewhere(one, Placement(15, 10))
    assert (width(there), pixels_across(there)) == (15, 300)
    assert calls == ["width", "pixels", "width", "pixels", "width"]
