"""Each route of the servers, attacked in every way that any is: strangers, forms, bodies, ids."""

from __future__ import annotations

import errno
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked import COOKIE, HOME, KEYS, OURS, asked, sent
from sheets import HOUSES, an_issue

from pressworthy.jobs import Run
from pressworthy.open_proof import sending
from pressworthy.open_proof.asking import MOST_ASKED_BYTES
from pressworthy.open_proof.choosing import choice
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.entry import Entry
from pressworthy.open_proof.recent import Recent
from pressworthy.open_proof.server import application
from pressworthy.plugins import Registry
from pressworthy.prepare.store import part_of
from pressworthy.report import pdf

ROUTES: dict[str, tuple[str, tuple[str, ...]]] = {
    "/": ("GET", ("/",)),
    "/news": ("GET", ("/news",)),
    "/part/{name}": ("GET", ("/part/top", "/part/glances", "/part/record")),
    "/pages": ("GET", ("/pages",)),
    "/pages/changed": ("POST", ("/pages/changed",)),
    "/pages/in-view": ("POST", ("/pages/in-view",)),
    "/pages/place": ("POST", ("/pages/place",)),
    "/pages/{id}": ("GET", ("/pages/ID",)),
    "/picture/{id}": ("GET", ("/picture/ID",)),
    "/seen/{name}": ("GET", ("/seen/ID",)),
    "/spaces/{id}": ("GET", ("/spaces/ID",)),
    "/tones/{id}": ("GET", ("/tones/ID",)),
    "/mixes/{id}": ("GET", ("/mixes/ID",)),
    "/compare/{id}": ("GET", ("/compare/ID",)),
    "/pixels/{id}": ("GET", ("/pixels/ID",)),
    "/decide": ("POST", ("/decide",)),
    "/take-back": ("POST", ("/take-back",)),
    "/in-view": ("POST", ("/in-view",)),
    "/do/{what}": (
        "POST",
        tuple(
            f"/do/{what}" for what in ("stop", "go-on", "prepare", "save", "zip", "contacts", "x")
        ),
    ),
    "/drop": ("POST", ("/drop?name=pier.jpg",)),
    "/taken-in": ("POST", ("/taken-in",)),
    "/house": ("GET", ("/house",)),
    "/house/{id}": ("GET", ("/house/ID",)),
    "/house/{id}/try": ("POST", ("/house/ID/try",)),
    "/house/{id}/write": ("POST", ("/house/ID/write",)),
    "/house/{id}/start": ("POST", ("/house/ID/start",)),
    "/house/{id}/profile": ("POST", ("/house/ID/profile?name=press.icc",)),
    "/house/{id}/build": ("POST", ("/house/ID/build",)),
    "/house/{id}/building": ("GET", ("/house/ID/building",)),
    "/house/{id}/let-be": ("POST", ("/house/ID/let-be",)),
    "/house/{id}/agree": ("POST", ("/house/ID/agree",)),
    "/{name}": ("GET", ("/open.js", "/page.css", "/issue.csv")),
}
"""Route of an issue's server -> how it is asked, and by which addresses; ID stands for any id."""

CHOOSING: dict[str, tuple[str, tuple[str, ...]]] = {
    "/": ("GET", ("/",)),
    "/choose": ("POST", ("/choose",)),
    "/{name}": ("GET", ("/choosing.js",)),
}
"""The same of the server that asks which issue."""

RAW = ("/drop", "/house/{id}/profile")
"""Take a file's bytes as they are; no form of another page has our origin."""

STRANGERS: dict[str, dict[str, str]] = {
    "no key": {"origin": f"http://{HOME}"},
    "a guessed cookie": {**OURS, "cookie": f"{KEYS.cookie}=guessed"},
    "the key as the cookie": {**OURS, "cookie": f"{KEYS.cookie}={KEYS.key}"},
    "a name pointed here": {**OURS, "host": "evil.example:4711"},
    "another page": {**OURS, "origin": "http://evil.example"},
    "a page of another port": {**OURS, "origin": "http://127.0.0.1:1"},
    "a frame without origin": {**OURS, "origin": "null"},
    "another site's image": {**OURS, "sec-fetch-site": "cross-site"},
    "another port's script": {**OURS, "sec-fetch-site": "same-site"},
}
FILLED = ("/pages/{id}", "/picture/{id}")
"""What has just gone may be asked for there by the id that it had: nothing comes."""

FORMS = ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "")
NO_OBJECTS = (b"[]", b"{", b"\xff", b"[" * 100_000, b'"x"', b"null", b"0")
HOSTILE_IDS = (
    "x", "0" * 12, "%00", "%2e%2e%2fissue.csv", "..%5c..%5cissue.csv", "masters%2Fharbour.jpg",
    "<script>", "a" * 5000, "%ff%fe", "-1",
)  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return an_issue(tmp_path / "issue", ("harbour.jpg", "crew.tif"))


@pytest.fixture
def desk(folder: Path, tmp_path: Path, registry: Registry) -> Desk:
    """A desk whose lanes do not run: nothing is judged."""
    aside = tmp_path / "aside"
    aside.mkdir()
    return Desk(folder, Run(registry, processes=1), aside, HOUSES)


@pytest.fixture
def app(desk: Desk) -> Entry:
    return application(desk, KEYS)


@pytest.fixture
def choosing(folder: Path, tmp_path: Path) -> Entry:
    def never(_: Recent) -> None:
        pytest.fail("an issue was chosen")

    return choice([Recent(folder, HOUSES)], tmp_path / "new", HOUSES, KEYS, never)


def every(table: dict[str, tuple[str, tuple[str, ...]]]) -> Iterator[tuple[str, str, str]]:
    """Yield route, method and address of all that a table holds."""
    for route, (method, addresses) in table.items():
        for address in addresses:
            yield route, method, address


def state(*folders: Path) -> dict[Path, bytes]:
    return {
        path: path.read_bytes()
        for folder in folders
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(".pressworthy")
    }


def test_every_route_stands_in_the_table(app: Entry, choosing: Entry) -> None:
    for server, table in ((app, ROUTES), (choosing, CHOOSING)):
        there = {route.path: route for route in server._app.routes}  # type: ignore[attr-defined]
        assert there.keys() == table.keys()
        for path, (method, _) in table.items():
            assert method in there[path].methods


@pytest.mark.parametrize("how", STRANGERS)
def test_a_stranger_is_turned_away_from_every_route(
    app: Entry, choosing: Entry, folder: Path, tmp_path: Path, how: str
) -> None:
    before = state(tmp_path)
    for server, table in ((app, ROUTES), (choosing, CHOOSING)):
        for _, method, address in every(table):
            body = b"{}" if method == "POST" else b""
            status, heads, text = asked(server, address, method, STRANGERS[how], body)
            assert status in (403, 421), address
            assert "harbour" not in text and str(folder) not in text
            assert "set-cookie" not in heads and KEYS.key not in text and KEYS.pass_ not in text
    assert state(tmp_path) == before


def test_what_changes_anything_is_asked_by_our_page_alone(
    app: Entry, choosing: Entry, tmp_path: Path
) -> None:
    before = state(tmp_path)
    for server, table in ((app, ROUTES), (choosing, CHOOSING)):
        for route, method, address in every(table):
            if method == "GET":
                # reading says nothing of its page; what changes things must
                for other in ("POST", "PUT", "DELETE"):
                    assert asked(server, address, other, OURS, b"{}")[0] == 405, address
                continue
            assert asked(server, address, "GET", OURS)[0] in (404, 405), address
            assert asked(server, address, "POST", COOKIE, b"{}")[0] == 403, address
            if route in RAW:
                continue
            address = with_id(server, address)
            for kind in FORMS:
                heads = {**OURS, "content-type": kind}
                assert asked(server, address, "POST", heads, b"{}")[0] == 415, (address, kind)
            for body in NO_OBJECTS:
                status, _, text = asked(server, address, "POST", OURS, body)
                assert status == 400 and "Traceback" not in text, (address, body[:9])
            much = b" " * (MOST_ASKED_BYTES + 1)
            assert asked(server, address, "POST", OURS, much)[0] == 413, address
    assert state(tmp_path) == before


def with_id(server: Entry, address: str) -> str:
    """Return the address with the id of a house profile that there is."""
    if "/house/ID" not in address:
        return address
    first = asked(server, "/house", headers=OURS)[1]["location"]
    return address.replace("/house/ID", first)


def test_no_id_leads_to_anything_that_was_not_given_out(app: Entry, tmp_path: Path) -> None:
    before = state(tmp_path)
    for route, method, address in every(ROUTES):
        if "{" not in route:
            continue
        stem = address.rpartition("/")[0] if "ID" not in address else ""
        for id in HOSTILE_IDS:
            at = f"{stem}/{id}" if stem or "ID" not in address else address.replace("ID", id)
            body = sent({"path": "x", "value": "1", "token": id}) if method == "POST" else b""
            heads = {**OURS, "content-length": str(len(body))}
            status, _, text = asked(app, at, method, heads, body)
            # what is started has a name of its own, and stands on none that is asked by
            gone = route in FILLED and id == "0" * 12 and not text
            wanted = 400 if route.endswith("/start") else 204 if gone else 404
            assert status == wanted, at
            assert "root:" not in text and "harbour" not in text and "<script>" not in text
    assert state(tmp_path) == before


OUTGOING = {"zip": sending.ZIP, "contacts": sending.CONTACTS}


@pytest.fixture
def made(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A desk with a copy, made for the contact sheet and the pack; nothing prints in earnest."""
    assert desk.prepare([next(iter(desk.lines))]) == (1, 0)

    def prints(call: list[str], **_: Any) -> Any:
        (target,) = (word.partition("=")[2] for word in call if "print-to-pdf" in word)
        Path(target).write_bytes(b"%PDF-1.7 printed %%EOF\n")

    monkeypatch.setattr(pdf, "find_browser", lambda: "chromium")
    monkeypatch.setattr(subprocess, "run", prints)
    return desk


@pytest.mark.parametrize("what", OUTGOING)
def test_what_goes_out_goes_where_it_belongs_whatever_is_asked(
    made: Desk, app: Entry, folder: Path, tmp_path: Path, what: str
) -> None:
    proof, outside = folder / "proof", tmp_path / "outside"
    proof.mkdir()
    outside.write_bytes(b"somebody's")
    name = OUTGOING[what]
    # links that lead elsewhere, where it and its unfinished part would lie
    for link in (proof / name, part_of(proof / name)):
        link.symlink_to(outside)
    before = state(folder / "masters", folder / "copies")
    asked_of = {"into": "/etc", "name": "../../x", "picture": "../x", "target": str(outside)}
    status, _, text = asked(app, f"/do/{what}", "POST", OURS, sent(asked_of))
    assert status == 200 and f"proof/{name}" in text, text
    assert outside.read_bytes() == b"somebody's"
    assert (proof / name).is_file() and not (proof / name).is_symlink()
    assert state(folder / "masters", folder / "copies") == before


@pytest.mark.parametrize("what", OUTGOING)
def test_what_goes_out_waits_for_what_is_under_way(
    made: Desk, app: Entry, folder: Path, what: str
) -> None:
    with made.busy_with("copies are being made"):
        status, _, text = asked(app, f"/do/{what}", "POST", OURS, b"{}")
    assert status == 400 and "copies are being made; try again" in text
    assert not (folder / "proof" / OUTGOING[what]).exists()
    assert asked(app, f"/do/{what}", "POST", OURS, b"{}")[0] == 200 and made.busy == ""


@pytest.mark.parametrize("what", OUTGOING)
def test_a_full_disk_leaves_what_went_out_before(
    made: Desk, app: Entry, folder: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    proof = folder / "proof"
    assert asked(app, f"/do/{what}", "POST", OURS, b"{}")[0] == 200
    before = state(folder)

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    status, _, text = asked(app, f"/do/{what}", "POST", OURS, b"{}")
    assert status == 400 and "the disk is full" in text
    assert state(folder) == before and [one.name for one in proof.iterdir()] == [OUTGOING[what]]
    # a folder that cannot be made is told too
    monkeypatch.undo()
    (proof / OUTGOING[what]).unlink()
    proof.rmdir()
    proof.write_bytes(b"no folder")
    status, _, text = asked(app, f"/do/{what}", "POST", OURS, b"{}")
    assert status == 400 and "proof" in text and proof.read_bytes() == b"no folder"


def test_nothing_goes_out_where_there_is_nothing(
    app: Entry, desk: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pdf, "find_browser", lambda: "no such browser")
    status, _, text = asked(app, "/do/zip", "POST", OURS, b"{}")
    assert status == 400 and "prepare the copies first" in text
    status, _, text = asked(app, "/do/contacts", "POST", OURS, b"{}")
    assert status == 400 and "did not print the page" in text
    assert not any((folder / "proof").iterdir()) if (folder / "proof").exists() else True
    desk.lines.clear()
    status, _, text = asked(app, "/do/contacts", "POST", OURS, b"{}")
    assert status == 400 and "there is no picture yet" in text
