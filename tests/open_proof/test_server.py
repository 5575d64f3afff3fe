"""What the server of the open proof takes from a browser: ids, never paths; little, never much."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pikepdf
import pytest
import pyvips
from asked import KEYS, OURS, asked, sent
from sheets import HOUSES, an_issue

from pressworthy.jobs import Run
from pressworthy.open_proof import dropped
from pressworthy.open_proof.asking import MOST_ASKED_BYTES
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.server import _OURS, application
from pressworthy.plugins import Registry


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return an_issue(tmp_path / "issue")


@pytest.fixture
def desk(folder: Path, tmp_path: Path, registry: Registry) -> Desk:
    """A desk whose lanes do not run: nothing is judged."""
    aside = tmp_path / "aside"
    aside.mkdir()
    return Desk(folder, Run(registry), aside, HOUSES)


@pytest.fixture
def app(desk: Desk) -> Any:
    return application(desk, KEYS)


def decided(app: Any, desk: Desk, **fields: Any) -> tuple[int, str]:
    given = {"seen": desk.issue.stamp, **fields}
    status, _, text = asked(app, "/decide", "POST", OURS, sent(given))
    return status, text


def test_a_decision_is_on_the_disk_when_it_is_answered(app: Any, desk: Desk, folder: Path) -> None:
    line = next(iter(desk.lines.values()))
    status, text = decided(app, desk, kind="place", picture=line.id, fields={"page": "44"})
    assert (status, json.loads(text)["said"]) == (200, "placed: page 44")
    assert "harbour.jpg,44," in (folder / "issue.csv").read_text("utf-8")
    assert desk.lines[line.id].task.request.page == "44"
    identity = desk.issue.decisions[-1].identity
    status, _, _ = asked(app, "/take-back", "POST", OURS, sent({"decision": identity}))
    assert status == 200
    assert "harbour.jpg,1," in (folder / "issue.csv").read_text("utf-8")


def test_a_picture_stands_on_another_page_too(app: Any, desk: Desk, folder: Path) -> None:
    line = next(iter(desk.lines.values()))
    assert decided(app, desk, kind="add", picture=line.id, fields={"page": ""})[0] == 400
    assert decided(app, desk, kind="add", picture=line.id, fields={"page": "31"})[0] == 200
    pages = [
        one.place.page for one in desk.lines.values() if one.place.picture == line.place.picture
    ]
    assert pages == ["1", "31"]
    assert line.id in desk.lines and len(desk.lines) == 8


def test_the_pages_that_are_dropped_place_their_pictures(
    app: Any, desk: Desk, folder: Path, tmp_path: Path
) -> None:
    masters = folder / "masters"
    with pikepdf.new() as pdf:
        for name in ("chapel.jpg", "marsh.jpg", "chapel.jpg"):
            page = pdf.add_blank_page(page_size=(300, 200))
            page.obj.TrimBox = page.obj.MediaBox
            page.obj.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary())
            page.obj.Resources.XObject.P = picture_on(pdf, masters / name)
            page.obj.Contents = pdf.make_stream(b"q 120 0 0 90 20 30 cm /P Do Q")
        pdf.save(tmp_path / "pages.pdf")
    status, told = dropping(app, "pages.pdf", (tmp_path / "pages.pdf").read_bytes())
    assert status == 200 and "3 pictures placed as on the pages" in told["said"]
    assert (folder / "pages.pdf").exists() and "pages.pdf" not in below(folder)
    placed = [
        (line.task.path.name, line.task.request.page, line.task.request.size)
        for line in desk.lines.values()
        if line.task.path.name in ("chapel.jpg", "marsh.jpg")
    ]
    size = (42.33, 31.75)
    assert sorted(placed) == [
        ("chapel.jpg", "1", size), ("chapel.jpg", "3", size), ("marsh.jpg", "2", size),
    ]  # fmt: skip


def picture_on(pdf: pikepdf.Pdf, path: Path) -> pikepdf.Stream:
    """Return a file's pixels as a picture that a page of a PDF can show."""
    image = pyvips.Image.new_from_file(str(path))
    stream = pdf.make_stream(bytes(image.write_to_memory()))
    stream.Type, stream.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    stream.Width, stream.Height = image.width, image.height
    stream.ColorSpace, stream.BitsPerComponent = pikepdf.Name.DeviceRGB, 8
    return stream


def test_only_what_a_decision_touches_is_to_be_judged_again(app: Any, desk: Desk) -> None:
    before = {line.id: line.key for line in desk.lines.values()}
    line = next(iter(desk.lines.values()))
    decided(app, desk, kind="place", picture=line.id, fields={"width": "40", "height": "30"})
    changed = [one.id for one in desk.lines.values() if one.key != before[one.id]]
    assert changed == [line.id]


@pytest.mark.parametrize(
    "given",
    [
        {"kind": "place", "fields": {"page": "1"}, "picture": "masters/harbour.jpg"},
        {"kind": "place", "fields": {"page": "1"}, "picture": "../../etc/passwd"},
        {"kind": "place", "fields": {"page": "1"}, "picture": ""},
        {"kind": "add", "fields": {}, "picture": ""},
        {"kind": "add", "fields": {"page": "2"}, "picture": "masters/harbour.jpg"},
        {"kind": "no such thing", "fields": {}},
        {"kind": "place", "fields": {"page": ["1"]}},
        {"kind": "place", "fields": "page"},
        {"kind": ["place"], "fields": {}},
        {"kind": "title", "fields": {"house": "no-such-house\nwaive"}},
        {"kind": "title", "fields": {"house": ""}},
    ],
)
def test_what_makes_no_sense_is_refused_and_changes_nothing(
    app: Any, desk: Desk, folder: Path, given: dict[str, Any]
) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    status, text = decided(app, desk, **given)
    assert status in (400, 404, 409), text
    assert json.loads(text)["why"]
    after = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert {p for p in after if p.name != "decisions.jsonl"} == before.keys()
    assert all(after[path] == data for path, data in before.items())


def test_what_a_form_of_another_page_could_send_is_refused(app: Any, desk: Desk) -> None:
    line = next(iter(desk.lines))
    body = sent({"kind": "place", "picture": line, "fields": {"page": "2"}})
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        status, _, _ = asked(app, "/decide", "POST", {**OURS, "content-type": kind}, body)
        assert status == 415
    for body in (b"[]", b"{", b"\xff", b"[" * 100_000, b'"x"'):
        assert asked(app, "/decide", "POST", OURS, body)[0] == 400
    assert asked(app, "/decide", "POST", OURS, b" " * (MOST_ASKED_BYTES + 1))[0] == 413


@pytest.mark.parametrize(
    "path",
    [
        "/seen/../../../etc/passwd", "/seen/%2e%2e%2fissue.csv", "/seen/0" + "0" * 31,
        "/open.py", "/issue.csv", "/masters/harbour.jpg", "/picture/masters%2Fharbour.jpg",
        "/part/open", "/part/..%2f..%2fpage", "/idiomorph.LICENSE", "/page.html", "/../page.css",
    ],
)  # fmt: skip
def test_no_path_of_the_machine_is_reached(app: Any, path: str) -> None:
    status, _, text = asked(app, path, headers=OURS)
    assert status == 404
    assert "root:" not in text and "harbour" not in text


def test_what_the_page_is_made_of_is_there_and_names_no_other_place(app: Any) -> None:
    for name in _OURS:
        status, heads, text = asked(app, f"/{name}", headers=OURS)
        assert status == 200 and text
        assert heads["content-type"].startswith("text/")
        if name != "idiomorph.js":
            assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
            assert "https://" not in text
    page = asked(app, "/", headers=OURS)[2]
    assert "<script>" not in page and "onclick" not in page and "http" not in page
    # whoever may not enter learns nothing of what there is
    assert asked(app, "/open.js")[0] == 403


def dropping(app: Any, name: str, body: bytes, **more: str) -> tuple[int, dict[str, Any]]:
    heads = {**OURS, "content-length": str(len(body)), **more}
    status, _, text = asked(app, f"/drop?name={quote(name)}", "POST", heads, body)
    return status, json.loads(text)


def below(folder: Path) -> dict[str, bytes]:
    masters = folder / "masters"
    return {
        path.relative_to(masters).as_posix(): path.read_bytes()
        for path in masters.rglob("*")
        if path.is_file()
    }


def test_what_is_dropped_is_copied_and_never_over_another(app: Any, folder: Path) -> None:
    before = below(folder)
    assert dropping(app, "new/pier.jpg", b"abc") == (200, {"master": "new/pier.jpg"})
    assert below(folder) == {**before, "new/pier.jpg": b"abc"}
    status, told = dropping(app, "harbour.jpg", b"other")
    assert status == 409 and told["free"] == "harbour 2.jpg"
    assert below(folder)["harbour.jpg"] == before["harbour.jpg"]


@pytest.mark.parametrize(
    "name",
    ["../out.jpg", "/tmp/out.jpg", "..\\out.jpg", "C:\\out.jpg", "a/../../out.jpg", "out\0.jpg"],
)
def test_a_hostile_name_stays_below_the_masters(app: Any, folder: Path, name: str) -> None:
    around = {path for path in folder.parent.rglob("*") if "masters" not in path.parts}
    status, _ = dropping(app, name, b"abc")
    assert status in (200, 400)
    after = {path for path in folder.parent.rglob("*") if "masters" not in path.parts}
    assert after == around


def test_more_or_less_than_was_announced_is_refused_and_leaves_nothing(
    app: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = below(folder)
    for length in ("2", "4", "-1", "x", ""):
        assert dropping(app, "p.jpg", b"abc", **{"content-length": length})[0] == 400
    assert dropping(app, "p.jpg", b"", **{"content-length": str(10**10)})[0] == 400
    monkeypatch.setattr(dropped, "MOST_FILES", 7)
    assert dropping(app, "p.jpg", b"abc")[0] == 400
    assert below(folder) == before


def test_a_full_disk_is_told_and_leaves_nothing(
    app: Any, desk: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = below(folder), (folder / "issue.csv").read_bytes()

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    status, told = dropping(app, "p.jpg", b"abc")
    assert status == 400 and "disk is full" in told["why"]
    line = next(iter(desk.lines.values()))
    status, text = decided(app, desk, kind="place", picture=line.id, fields={"page": "9"})
    assert status in (400, 507) and "disk is full" in json.loads(text)["why"]
    assert (below(folder), (folder / "issue.csv").read_bytes()) == before
    nothing_decided(app, desk)
    # with room again the same decision is made
    monkeypatch.undo()
    assert decided(app, desk, kind="place", picture=line.id, fields={"page": "9"})[0] == 200
    assert desk.lines[line.id].task.request.page == "9"


def nothing_decided(app: Any, desk: Desk) -> None:
    """See that the sheet shows nothing as decided, nor does whoever opens the folder next."""
    assert "take it back" not in asked(app, "/part/record", headers=OURS)[2]
    assert "page 9" not in asked(app, "/", headers=OURS)[2]
    assert [line.task.request.page for line in desk.lines.values()] == list("1234567")
    desk.follow()
    assert not desk.issue.decisions and not desk.faults


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 3 MB, where this system lets one be made."""
    place = tmp_path / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", str(place)]
    if (
        not shutil.which("mount")
        or subprocess.run(mount, capture_output=True, check=False).returncode
    ):
        pytest.skip("no file system can be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_on_a_disk_that_is_full_in_earnest_nothing_is_decided_and_no_file_harmed(
    small_disk: Path, tmp_path: Path, registry: Registry
) -> None:
    folder = an_issue(small_disk / "issue")
    aside = tmp_path / "aside"
    aside.mkdir()
    desk = Desk(folder, Run(registry), aside, HOUSES)
    app = application(desk, KEYS)
    line = next(iter(desk.lines.values()))
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    filler = small_disk / "filler"
    with suppress(OSError), filler.open("wb", buffering=0) as stream:
        while True:
            stream.write(bytes(4096))
    status, text = decided(app, desk, kind="place", picture=line.id, fields={"page": "9"})
    assert status in (400, 507) and "disk is full" in json.loads(text)["why"]
    status, told = dropping(app, "p.jpg", b"abc")
    assert status == 400 and "disk is full" in told["why"]
    body = sent({"picture": line.id})
    status, _, text = asked(app, "/do/prepare", "POST", OURS, body)
    assert "no copy is made" in text or status >= 400
    nothing_decided(app, desk)
    after = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    # an empty day-book at most
    assert {path: raw for path, raw in after.items() if raw} == before
    filler.unlink()
    assert decided(app, desk, kind="place", picture=line.id, fields={"page": "9"})[0] == 200
    assert "harbour.jpg,9," in (folder / "issue.csv").read_text("utf-8")


@pytest.fixture
def parts(folder: Path) -> Iterator[Path]:
    part = folder / "masters" / f"{dropped.PART}x"
    part.write_bytes(b"half")
    yield part


def test_what_a_killed_server_left_half_dropped_goes(parts: Path, folder: Path) -> None:
    dropped.clear(folder)
    assert not parts.exists() and len(below(folder)) == 7
