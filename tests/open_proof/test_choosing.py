"""A start without a folder: which issue, by ids and safe names alone; and an end without a key."""

from __future__ import annotations

import json
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from asked import KEYS, OURS, asked, sent
from sheets import until

from pressworthy.open_proof import recent, serving
from pressworthy.open_proof.choosing import choice
from pressworthy.open_proof.recent import Recent


@pytest.fixture
def told() -> list[Recent]:
    return []


@pytest.fixture
def app(tmp_path: Path, told: list[Recent]) -> Any:
    folders = [tmp_path / "lately" / name for name in ("winter", "<b>spring")]
    for folder in folders:
        folder.mkdir(parents=True)
    lately = [Recent(folder, None) for folder in folders]
    return choice(lately, tmp_path / "new", tmp_path / "houses", KEYS, told.append)


def chosen(app: Any, **fields: Any) -> tuple[int, str]:
    status, _, text = asked(app, "/choose", "POST", OURS, sent(fields))
    return status, json.loads(text).get("why", "")


def test_issues_opened_lately_are_offered_by_number(app: Any, told: list[Recent]) -> None:
    status, _, page = asked(app, "/", headers=OURS)
    assert status == 200 and "winter" in page and "&lt;b&gt;spring" in page
    assert chosen(app, number=1) == (200, "")
    assert told[0].folder.name == "<b>spring"


def test_a_new_one_is_begun_below_one_folder(app: Any, told: list[Recent], tmp_path: Path) -> None:
    assert chosen(app, name="Winter 7") == (200, "")
    assert told == [Recent(tmp_path / "new" / "Winter 7", tmp_path / "houses")]
    assert (tmp_path / "new" / "Winter 7").is_dir()
    status, why = chosen(app, name="Winter 7")
    assert status == 409 and "already" in why


@pytest.mark.parametrize("name", ["../out", "/etc/out", "..", "C:\\out", "a/../../out", ".hidden"])
def test_a_hostile_name_leads_nowhere_else(
    app: Any, told: list[Recent], tmp_path: Path, name: str
) -> None:
    before = set(tmp_path.rglob("*"))
    chosen(app, name=name)
    fresh = set(tmp_path.rglob("*")) - before
    assert all(path.is_relative_to(tmp_path / "new") for path in fresh)
    assert all(one.folder.parent == tmp_path / "new" for one in told)


@pytest.mark.parametrize(
    "fields", [{}, {"number": 2}, {"number": -1}, {"number": "0"}, {"name": ""}, {"name": ["x"]}]
)
def test_what_makes_no_sense_chooses_nothing(
    app: Any, told: list[Recent], fields: dict[str, Any]
) -> None:
    assert chosen(app, **fields)[0] == 400 and not told


def test_a_stranger_chooses_nothing(app: Any, told: list[Recent]) -> None:
    heads = {**OURS, "cookie": ""}
    assert asked(app, "/choose", "POST", heads, sent({"number": 0}))[0] == 403
    assert asked(app, "/choose", "POST", {**OURS, "origin": "http://x.example"}, b"{}")[0] == 403
    assert "winter" not in asked(app, "/")[2] and not told


def test_what_was_opened_is_remembered_and_what_is_gone_is_not_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recent, "_file", lambda: tmp_path / "data" / "recent.json")
    assert recent.recents() == []
    folders = [tmp_path / f"issue {number}" for number in range(recent.MOST + 2)]
    for folder in folders:
        folder.mkdir()
        recent.remember(folder, tmp_path)
    recent.remember(folders[-2], None)
    found = recent.recents()
    assert [one.folder for one in found[:2]] == [folders[-2], folders[-1]]
    assert len(found) == recent.MOST and found[0].house_folder is None
    assert found[1].house_folder == tmp_path
    folders[-1].rmdir()
    assert recent.recents()[1].folder == folders[-3]
    (tmp_path / "data" / "recent.json").write_text('[{"folder": 7}]', "utf-8")
    assert recent.recents() == []
    for text in ("", "{}", "[1, null]", '["/nowhere"]', "\xff"):
        (tmp_path / "data" / "recent.json").write_text(text, "latin-1")
        assert recent.recents() == []


def test_when_its_last_sheet_was_closed_it_ends_and_not_before(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(serving, "CLOSED_S", 0.05)
    watched, looks = [True], [0]

    def wait(_: float) -> bool:
        looks[0] += 1
        time.sleep(0.01)
        return False

    desk = SimpleNamespace(is_watched=lambda: watched[0])
    server, closing = SimpleNamespace(should_exit=False), SimpleNamespace(wait=wait)
    thread = threading.Thread(target=serving._end_when_left, args=(desk, server, closing))
    thread.start()
    for _ in until():
        if looks[0] > 30:
            break
    assert looks[0] > 30
    assert not server.should_exit
    watched[0] = False
    thread.join(10)
    assert server.should_exit
