"""Copies of earlier runs: recognised where nothing changed, and never where anything did."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
import pyvips

from pressworthy.commands.main import main
from pressworthy.jobs import preparing
from pressworthy.jobs.running import cache as caching
from pressworthy.jobs.running import workers
from pressworthy.prepare import amount
from pressworthy.testing import CREDITED, draw, write_picture


class Desk:
    """Runs `prepare` here, with a cache, and knows what was handed to workers."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.masters, self.copies = folder / "masters", folder / "copies"
        self.masters.mkdir()
        self.folder, self.capsys = folder, capsys
        self.handed: list[str] = []
        self.house = "coated-magazine"

    def master(self, name: str, seed: int = 0, **how: Any) -> Path:
        how = {"words": CREDITED, **how}
        return write_picture(self.masters / name, draw(240, 180, seed=seed), **how)

    def prepare(self, *more: str) -> dict[str, Any]:
        """Return master's name -> what is told of it; `handed` tells which workers were given."""
        self.handed.clear()
        call = ["prepare", str(self.masters), "--house", self.house, "--into", str(self.copies)]
        if "--no-cache" not in more:
            call += ["--cache", str(self.folder / "kept")]
        main([*call, "--format", "json", *more])
        told = self.capsys.readouterr()
        assert told.err == ""
        pictures = json.loads(told.out)["pictures"]
        return {Path(p["facts"]["master"]).name: p for p in pictures if p["facts"]}

    def copy(self, name: str) -> Path:
        return self.copies / f"{Path(name).stem}-{self.house}.tif"


@pytest.fixture
def desk(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Desk:
    at = Desk(tmp_path, capsys)

    def here(work: Callable[..., Any], left: Sequence[Any], *_: Any, given: Any, **__: Any) -> Any:
        at.handed += [one.master.name for one in left if hasattr(one, "master")]
        return [work(one, *given) for one in left]

    monkeypatch.setattr(workers, "run", here)
    monkeypatch.setattr(caching, "SETTLED_NS", 0)
    return at


def made(told: dict[str, Any]) -> dict[str, str]:
    return {name: picture["facts"].get("made", "") for name, picture in told.items()}


def test_what_stands_is_told_as_it_was_and_nothing_is_handed_out(desk: Desk) -> None:
    for number in range(2):
        desk.master(f"{number}.jpg", number)
    first = desk.prepare()
    assert sorted(desk.handed) == ["0.jpg", "1.jpg"]
    again = desk.prepare()
    assert desk.handed == []
    assert made(again) == {"0.jpg": preparing.UP_TO_DATE, "1.jpg": preparing.UP_TO_DATE}
    anew = desk.prepare("--no-cache")
    assert sorted(desk.handed) == ["0.jpg", "1.jpg"]
    assert again == anew
    for name, picture in first.items():
        assert picture["outcomes"] == again[name]["outcomes"]


def harmed(path: Path, place: int) -> None:
    """Change one byte of a file, and let its times be as they were."""
    before, data = path.stat(), bytearray(path.read_bytes())
    data[place] ^= 1
    path.write_bytes(data)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:20_000])


def edited(path: Path) -> None:
    image = pyvips.Image.new_from_buffer(path.read_bytes(), "")
    image.linear(1, 1).cast("uchar").copy(interpretation="cmyk").tiffsave(str(path))


ANEW, EDITED = "kept 240 x 180 px", "was edited by hand"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        # the byte is one of its words, and not of its pixels or ticket
        (lambda desk: harmed(desk.copy("0.jpg"), -3000), preparing.UP_TO_DATE),
        (lambda desk: edited(desk.copy("0.jpg")), EDITED),
        (lambda desk: desk.copy("0.jpg").unlink(), ANEW),
        (lambda desk: desk.copy("1.jpg").replace(desk.copy("0.jpg")), "not made"),
        (lambda desk: desk.master("0.jpg", 7), ANEW),
        (lambda desk: harmed(desk.masters / "0.jpg", -2), ANEW),
        (lambda desk: cut(desk.copy("0.jpg")), "not made"),
        (lambda desk: cut(desk.masters / "0.jpg"), "not made"),
    ],
    ids=["a byte", "edited", "no copy", "another's", "another master", "a master's byte",
         "a cut copy", "a cut master"],
)  # fmt: skip
def test_what_changed_is_handed_out(change: Callable[[Desk], Any], told: str, desk: Desk) -> None:
    for number in range(2):
        desk.master(f"{number}.jpg", number)
    desk.prepare()
    desk.prepare()
    assert desk.handed == []
    change(desk)
    # what an earlier run made, for a second look where it is edited
    for _ in range(2 if told == EDITED else 1):
        found = desk.prepare()
        assert "0.jpg" in desk.handed
        assert made(found).get("0.jpg", "not made").startswith(told)


@pytest.mark.parametrize("more", [("--size", "18x13.5mm"), ("--force",), ("--no-cache",)])
def test_another_order_is_carried_out(more: tuple[str, ...], desk: Desk) -> None:
    desk.master("0.jpg")
    desk.prepare()
    before = desk.copy("0.jpg").stat().st_ino
    told = desk.prepare(*more)
    assert desk.handed == ["0.jpg"]
    fresh = "--no-cache" not in more
    assert (made(told)["0.jpg"] != preparing.UP_TO_DATE) == fresh
    assert (desk.copy("0.jpg").stat().st_ino != before) == fresh
    if fresh and "--force" not in more:
        assert made(desk.prepare(*more))["0.jpg"] == preparing.UP_TO_DATE
        assert desk.handed == []


def test_a_master_left_for_a_person_is_recalled_with_what_stops_it(
    desk: Desk, tmp_path: Path
) -> None:
    desk.master("0.jpg", words={**CREDITED, "copyright": ""})
    first = desk.prepare()
    assert desk.handed == ["0.jpg"]
    again = desk.prepare()
    assert desk.handed == [] and again == first
    assert not list(desk.copies.iterdir())
    waivers = tmp_path / "accepted.yaml"
    waivers.write_text(WAIVED.format(path=desk.masters / "0.jpg"))
    accepted = desk.prepare("--waivers", str(waivers))
    assert desk.handed == ["0.jpg"] and made(accepted)["0.jpg"].startswith(ANEW)


WAIVED = """
waivers:
  - finding: credit/no-copyright
    picture: {path}
    by: the picture desk
    until: 2999-12-31
    reason: the heirs are asked
"""


def test_the_amount_is_derived_only_where_a_copy_is_made(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    derived: list[Any] = []

    def watched(house: Any) -> Any:
        derived.append(house)
        return amount.with_amount(house)

    monkeypatch.setattr(preparing, "with_amount", watched)
    desk.master("0.jpg", words={**CREDITED, "copyright": ""})
    desk.prepare()
    assert derived == []
    desk.master("1.jpg", 1)
    desk.prepare()
    assert len(derived) == 1
    desk.prepare()
    assert len(derived) == 1


def test_a_master_is_hashed_as_it_is_judged_and_when_its_copy_is_made(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    master, digest = desk.master("0.jpg"), hashlib.file_digest
    hashed: list[int] = []

    def counted(stream: Any, kind: Any) -> Any:
        hashed.append(os.fstat(stream.fileno()).st_ino)
        return digest(stream, kind)

    monkeypatch.setattr(hashlib, "file_digest", counted)
    told = desk.prepare()["0.jpg"]
    assert {one["rule"]: one["state"] for one in told["outcomes"]}["prepared-copy"] == "passed"
    assert hashed.count(master.stat().st_ino) == 2
