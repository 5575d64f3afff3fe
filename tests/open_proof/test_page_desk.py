"""The pages on the desk, without a browser: read, drawn, followed, kept, and told in words."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked import KEYS, OURS, asked, sent
from paged import two_pages, write_issue
from sheets import HOUSES, until

from pressworthy.jobs import Run, drawing
from pressworthy.open_proof import page_sheet
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.page_desk import PageDesk, id_of
from pressworthy.open_proof.server import application
from pressworthy.plugins import Registry

SIZE = (50.0, 37.5)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An issue of two pictures on two pages, and their PDF."""
    issue = tmp_path / "issue"
    masters = two_pages(issue)
    write_issue(issue / "pages.pdf", spots(masters), words=2)
    return issue


def spots(masters: Path) -> list[list[tuple[Path, float, float, float, float]]]:
    return [[(masters / "pier.jpg", 20, 30, *SIZE)], [(masters / "fog.jpg", 100, 200, *SIZE)]]


@pytest.fixture
def pages(folder: Path, tmp_path: Path, registry: Registry) -> Iterator[PageDesk]:
    """The pages of a desk on which nothing is judged; their lanes are moved by hand."""
    aside = tmp_path / "aside"
    aside.mkdir()
    desk = Desk(folder, Run(registry, processes=1), aside, HOUSES, tmp_path / "kept.sqlite")
    one = PageDesk(desk)
    yield one
    one.end()


def moved(pages: PageDesk) -> None:
    """Let both lanes come to rest."""
    while pages._draw() or pages._find():
        pass


def calm(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PageDesk, "_is_calm", lambda _: True)


def test_pages_are_drawn_their_pictures_found_and_printed_where_they_are_in_view(
    pages: PageDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    told: list[tuple[str, object]] = []
    pages.desk.listen(lambda what, more: told.append((what, more.get("id"))))
    moved(pages)
    first, second = pages.plan().pages
    assert told[0] == ("pages", None) and ("leaf", id_of(second)) in told
    assert [box.name for page in (first, second) for box in page.boxes] == ["pier.jpg", "fog.jpg"]
    assert set(pages.drawn(first).views) == {"supplied"}  # type: ignore[union-attr]
    pages.show([id_of(second), "no such page"])
    moved(pages)
    assert "print" in pages.drawn(second).views  # type: ignore[union-attr]
    assert set(pages.drawn(first).views) == {"supplied"}  # type: ignore[union-attr]
    html = page_sheet.pages(pages)
    assert html.count('href="#p1"') == 1 and 'id="on-2"' in html and "pages.pdf, exported" in html
    assert "not a layout" not in html and html.count("/seen/") == 2 + 5


def test_an_earlier_run_s_pages_are_shown_again_by_the_file_s_hash(
    pages: PageDesk, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    moved(pages)
    # under another name, in another run, and nothing is drawn
    (folder / "pages.pdf").rename(folder / "winter.pdf")
    again = PageDesk(pages.desk)
    monkeypatch.setattr(drawing.Artist, "draw", lambda *_: pytest.fail("drawn again"))
    moved(again)
    page = again.plan().pages[0]
    assert page.pdf and page.pdf.name == "winter.pdf"
    known = again.drawn(page)
    assert known and known.views == pages.drawn(pages.plan().pages[0]).views  # type: ignore[union-attr]
    again.end()


def test_exported_again_it_is_followed_and_one_that_is_broken_leaves_what_was(
    pages: PageDesk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    moved(pages)
    before = pages.plan().pages[0]
    masters = folder / "masters"
    write_issue(folder / "pages.pdf", [*reversed(spots(masters)), []], words=2)
    moved(pages)
    plan = pages.plan()
    assert [page.page for page in plan.pages] == ["1", "2", "3"]
    assert [box.name for box in plan.pages[0].boxes] == ["fog.jpg"]
    assert plan.pages[0].missing[0].picture == "masters/pier.jpg"
    drawn = pages.drawn(plan.pages[0])
    assert drawn and id_of(before) == id_of(plan.pages[0])
    (folder / "pages.pdf").write_bytes(b"%PDF-1.7 half of it")
    moved(pages)
    assert len(pages.plan().pages) == 3 and pages.drawn(plan.pages[0]) == drawn
    assert "damaged" in pages.plan().told[0] and "as it last was" in page_sheet.pages(pages)
    (folder / "pages.pdf").unlink()
    moved(pages)
    assert not pages.plan().shown and all(page.pdf is None for page in pages.plan().pages)
    assert "not a layout" in page_sheet.pages(pages)


def test_a_locked_pdf_and_an_empty_issue_are_told_in_words(pages: PageDesk, folder: Path) -> None:
    (folder / "pages.pdf").write_bytes(b"<script>alert(1)</script>")
    evil = folder / "<b>&.pdf"
    evil.write_bytes(b"%PDF-1.7 <i>")
    moved(pages)
    html = page_sheet.pages(pages)
    assert "pages.pdf cannot be drawn: not a PDF" in html
    assert "<b>&.pdf" not in html and "&lt;b&gt;&amp;.pdf cannot be drawn" in html
    for path in (folder / "pages.pdf", evil, folder / "issue.csv"):
        path.unlink()
    pages.desk.follow()
    moved(pages)
    assert page_sheet.pages(pages) == ""


def test_pictures_go_first(pages: PageDesk) -> None:
    moved(pages)
    # nothing is judged yet: pages out of view, prints and files wait
    assert [pages.drawn(page) for page in pages.plan().pages] == [None, None]
    assert pages._read and all(pdf.sources is None for pdf in pages._read.values())
    first = pages.plan().pages[0]
    pages.show([id_of(first)])
    moved(pages)
    assert pages.drawn(first) and first.boxes[0].name == "pier.jpg", "known by its size"


def test_a_browser_names_pages_by_ids_and_learns_nothing_else(
    pages: PageDesk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    app = application(pages.desk, KEYS, pages)
    moved(pages)
    assert asked(app, "/pages")[0] == 403 and asked(app, "/pages/x")[0] == 403
    status, _, html = asked(app, "/pages", headers=OURS)
    assert status == 200 and str(folder) not in html and "<script" not in html
    page = pages.plan().pages[0]
    status, _, spread = asked(app, f"/pages/{id_of(page)}", headers=OURS)
    assert status == 200 and spread.startswith("<li") and f'id="leaf-{id_of(page)}"' in spread
    printed = asked(app, f"/pages/{id_of(page)}?paper", headers=OURS)[2]
    # a browser that prints waits for no image
    assert '<img class="printed" src="/seen/' in spread
    assert printed.count('<img class="printed" src="data:image/jpeg;base64,') == 1
    for bad in ("pages.pdf", "..%2f..%2fissue.csv", "%00"):
        assert asked(app, f"/pages/{bad}", headers=OURS)[0] == 404
    # a page that has just gone may be asked for, and that is no fault
    assert asked(app, f"/pages/{'0' * 12}", headers=OURS)[::2] == (204, "")
    for body, wanted in (({"ids": ["x", "../y"]}, 200), ({"ids": [1]}, 400), ({}, 400)):
        assert asked(app, "/pages/in-view", "POST", OURS, sent(body))[0] == wanted
    for stamps in (None, ["x"], {"x": 1}):
        assert asked(app, "/pages/changed", "POST", OURS, sent({"stamps": stamps}))[0] == 400
    stranger = {**OURS, "origin": "http://stranger.example"}
    for path in ("/pages/in-view", "/pages/place", "/pages/changed"):
        assert asked(app, path, "POST", stranger, sent({"ids": [], "stamps": {}}))[0] == 403


def test_a_browser_is_sent_what_has_changed_and_it_bare(
    pages: PageDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    app = application(pages.desk, KEYS, pages)
    moved(pages)

    def told(stamps: dict[str, str]) -> tuple[dict[str, str], str]:
        """Return the stamp of each spread that is sent, and all that is."""
        status, _, html = asked(app, "/pages/changed", "POST", OURS, sent({"stamps": stamps}))
        assert status == 200
        return dict(re.findall(r'data-id="(\w+)"[^>]* data-stamp="(\w+)"', html)), html

    stamps, html = told({})
    plan = pages.plan().pages
    assert len(stamps) == html.count('<li class="spread') == 2
    assert all(f'id="leaf-{id_of(page)}"' in html for page in plan)
    # its words and links, nothing drawn, no margin, no node for a line's end
    assert html.count('class="on-page') == sum(len(page.boxes) for page in plan)
    assert not re.search(r'<img|class="(frame|sign|margin)"|>\n *<', html)
    for id, stamp in stamps.items():
        filled = asked(app, f"/pages/{id}", headers=OURS)[2]
        assert f'data-stamp="{stamp}"' in filled and 'class="frame"' in filled
    again, same = told(stamps)
    assert again == {} and same.count('<li class="same"') == 2
    assert "2 pages" in same and len(same) < len(html)
    first, second = stamps
    changed, one = told({first: stamps[first], second: "of old"})
    assert list(changed) == [second] and one.count('<li class="same"') == 1
    # a page that is drawn as it prints is another, though bare it has the same words
    pages.show([first])
    moved(pages)
    changed, _ = told(stamps)
    assert list(changed) == [first]


def test_pictures_are_placed_as_on_the_pages(
    pages: PageDesk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calm(monkeypatch)
    masters = folder / "masters"
    larger = spots(masters)
    larger[0] = [(masters / "pier.jpg", 20, 30, 80.0, 60.0)]
    write_issue(folder / "pages.pdf", larger, words=2)
    moved(pages)
    assert "1 picture stands here at another size" in page_sheet.pages(pages)
    app = application(pages.desk, KEYS, pages)
    status, _, told = asked(app, "/pages/place", "POST", OURS, sent({}))
    assert status == 200 and "placed as on the pages" in json.loads(told)["said"]
    assert "pier.jpg,1,slack-tide,80.00,60.00" in (folder / "issue.csv").read_text("utf-8")
    moved(pages)
    assert "at another size" not in page_sheet.pages(pages)


def test_the_lanes_themselves_follow_the_folder(pages: PageDesk, folder: Path) -> None:
    told: list[Any] = []
    pages.desk.listen(lambda what, more: told.append(what))
    pages.start()
    for _ in until(20):
        if told.count("pages") >= 2:
            break
    count = len(told)
    os.utime(folder / "pages.pdf")
    pages.desk.follow()
    for _ in until(20):
        if "pages" in told[count:]:
            break
    assert "pages" in told[count:] and pages.desk.faults == ()


def test_the_pages_own_ear_is_nobody_before_whom_the_sheet_lies(pages: PageDesk) -> None:
    pages.start()
    assert not pages.desk.is_watched()
    closed = pages.desk.listen(lambda *_: None)
    assert pages.desk.is_watched()
    closed()
    assert not pages.desk.is_watched()
