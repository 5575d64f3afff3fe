"""One picture on two pages: told by its file, its pixels and its master, and by nothing less."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pressworthy import jobs
from pressworthy.files import opening
from pressworthy.house import House
from pressworthy.jobs import Run
from pressworthy.plugins import load
from pressworthy.testing import CREDITED, a_picture, draw, found_in_set, write_picture
from pressworthy.values.finding import Severity
from pressworthy.values.picture import Picture
from pressworthy.values.placement import PlacementRequest
from pressworthy_rules.printed_twice import rule


def on(path: Path, page: str, size: tuple[float, float] = (40, 30)) -> Picture:
    return a_picture(path, PlacementRequest(size, page=page))


def told(*pictures: Picture) -> list[str]:
    """Return what is measured of each picture, "" where nothing is found."""
    return [
        str(one["on-two-pages"].measured) if one else "" for one in found_in_set(rule, pictures, {})
    ]


def test_a_file_on_two_pages_is_found_and_another_picture_there_is_not(tmp_path: Path) -> None:
    quay = write_picture(tmp_path / "quay.png", draw())
    other = write_picture(tmp_path / "other.png", draw(seed=2))
    assert told(on(quay, "3"), on(quay, "12", (60, 45)), on(other, "9")) == [
        "also on page 12", "also on page 3", "",
    ]  # fmt: skip
    assert told(on(quay, "3"), on(other, "12")) == ["", ""]


def test_one_page_and_no_page_are_not_two_pages(tmp_path: Path) -> None:
    quay = write_picture(tmp_path / "quay.png", draw())
    assert told(on(quay, "3"), on(quay, "3")) == ["", ""]
    assert told(on(quay, ""), on(quay, "")) == ["", ""]
    assert told(on(quay, ""), on(quay, "3")) == ["", ""]


def test_the_same_pixels_under_another_name_are_the_same_picture(tmp_path: Path) -> None:
    quay = write_picture(tmp_path / "quay.png", draw())
    saved = write_picture(tmp_path / "fish.tif", draw(), words=CREDITED)
    one, two = told(on(quay, "10"), on(saved, "9"))
    assert (one, two) == (f"also on page 9 as {saved}", f"also on page 10 as {quay}")


def test_copies_of_one_master_are_the_same_picture(
    master: Callable[..., Path], prepared: Callable[..., Any]
) -> None:
    path = master()
    small = prepared(path, size=(40, 30), name="small.tif").copy.path
    large = prepared(path, name="large.tif").copy.path
    assert told(on(small, "3"), on(large, "9", (80, 60))) == [
        f"also on page 9 as {large}", f"also on page 3 as {small}",
    ]  # fmt: skip
    assert told(on(path, "3"), on(large, "9", (80, 60)))[0] == f"also on page 9 as {large}"


def test_a_run_tells_it_by_the_list_and_decodes_each_picture_once(
    tmp_path: Path, coated: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    quay = write_picture(tmp_path / "quay.png", draw(), ppi=None, words=CREDITED)
    tasks = [
        # without a size there is nothing else to judge it by, and the page still counts
        jobs.Task(quay, PlacementRequest(size, page=page), "quay.png")
        for page, size in (("3", (54, 40)), ("9", None))
    ]
    decoded = []
    stream = opening.stream

    def watched(path: Path, **how: Any) -> Any:
        decoded.append(path)
        return stream(path, **how)

    monkeypatch.setattr("pressworthy.measure.pixels.stream", watched)
    run = Run(load())
    jobs.check_picture(tasks[0], coated, run)
    assert decoded == [quay]
    report = jobs.check(tasks, coated, run)
    found = {
        verdict.page: [
            (finding.measured, finding.severity)
            for name, finding in verdict.findings()
            if name == "printed-twice"
        ]
        for verdict in report.verdicts
    }
    note = Severity.NOTE
    assert found == {"3": [("also on page 9", note)], "9": [("also on page 3", note)]}
