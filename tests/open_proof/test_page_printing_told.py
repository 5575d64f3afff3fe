"""What pages say of their printing: told at their leaves as the command does, and accepted."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from asked import KEYS, OURS, asked, sent
from markupsafe import escape
from paged import two_pages, write_issue
from sheets import HOUSES, TITLE

from pressworthy.commands.main import main
from pressworthy.jobs import Run
from pressworthy.jobs.accepting import Accepting
from pressworthy.jobs.pull import Pull
from pressworthy.open_proof import guidance, page_sheet
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.page_desk import PageDesk, id_of
from pressworthy.open_proof.server import application
from pressworthy.plugins import Registry
from pressworthy.report.marked_proof.remarks import Remark, remarks
from pressworthy.testing import draw

RULES = ("page-printing", "page-inks")
WORDS = {"reason": "the printer knows of it", "by": "Ada Quillon", "until": "2099-06-30"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three pages of two pictures: a gold plate; a clear shape, no TrimBox; overprint."""
    issue = tmp_path / "issue"
    masters = two_pages(issue)
    pier, fog = ((masters / name, 20, 30, 50, 37.5) for name in ("pier.jpg", "fog.jpg"))
    path = write_issue(issue / "pages.pdf", [[pier], [fog], [pier]], words=2)
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        first, second, third = (page.obj for page in pdf.pages)
        gray = pdf.make_stream(draw(60, 45, channels=1).tobytes())
        tint = pikepdf.Dictionary(
            FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[0, 0.3, 1, 0], N=1
        )
        gray.stream_dict = pikepdf.Dictionary(
            Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image, Width=60, Height=45,
            BitsPerComponent=8, ColorSpace=pikepdf.Array(
                [pikepdf.Name.Separation, pikepdf.Name.Gold, pikepdf.Name.DeviceCMYK, tint]
            ),
        )  # fmt: skip
        first.Resources.XObject["/Gold"] = gray
        more(pdf, first, "q 90 0 0 60 100 100 cm /Gold Do Q")
        del second.TrimBox
        second.Resources.ExtGState = pikepdf.Dictionary(T=pikepdf.Dictionary(ca=0.5))
        more(pdf, second, "/T gs 90 700 30 30 re f")
        third.Resources.ExtGState = pikepdf.Dictionary(O=pikepdf.Dictionary(OP=True, op=True))
        more(pdf, third, "/O gs 90 700 30 30 re f")
        pdf.save(path)
    return issue


def more(pdf: pikepdf.Pdf, page: pikepdf.Object, content: str) -> None:
    page.Contents = pdf.make_stream(page.Contents.read_bytes() + b"\n" + content.encode())


@pytest.fixture
def pages(folder: Path, tmp_path: Path, registry: Registry) -> Iterator[PageDesk]:
    """The pages of a desk on which nothing is judged; their lanes are moved by hand."""
    aside = tmp_path / "aside"
    aside.mkdir()
    one = PageDesk(Desk(folder, Run(registry, processes=1), aside, HOUSES))
    one._is_calm = lambda: True  # type: ignore[method-assign]
    while one._find() or one._read_anew():
        pass
    yield one
    one.end()


def told_on_sheet(pages: PageDesk) -> dict[tuple[str, str, str], Remark]:
    """Return (page, finding, measured) -> what the sheet tells, accepted or not."""
    issue = pages.desk.issue
    accepting = Accepting(issue.waivers, pages.desk.run.today)
    return {
        (page.page, remark.findings[0], remark.measured): remark
        for page in pages.plan().pages
        for box in page.boxes
        if box.verdict
        for remark in remarks(accepting.waived(box.verdict), Pull())
    }


def told_by_command(folder: Path, capsys: Any) -> dict[tuple[str, str, str], dict[str, Any]]:
    """Return the same -> what `check --pages` tells."""
    words = ["check", "--pages", folder / "pages.pdf", folder / "masters", "--house", TITLE]
    words += ["--house-folder", HOUSES, "--format", "json"]
    if (folder / "waivers.yaml").exists():
        words += ["--waivers", folder / "waivers.yaml"]
    capsys.readouterr()
    main(list(map(str, words)))
    found = {}
    for picture in json.loads(capsys.readouterr().out)["pictures"]:
        for outcome in picture["outcomes"]:
            if outcome["rule"] not in RULES:
                continue
            for finding in outcome["findings"]:
                name = f"{outcome['rule']}/{finding['code']}"
                key = picture["page"], name, str(finding["measured"])
                found[key] = {**finding, "state": outcome["state"]}
    return found


def agree(pages: PageDesk, folder: Path, capsys: Any) -> dict[tuple[str, str, str], Remark]:
    """See that sheet and command tell the same, and return what the sheet tells."""
    shown, told = told_on_sheet(pages), told_by_command(folder, capsys)
    assert shown.keys() == told.keys()
    html = page_sheet.pages(pages)
    for key, remark in shown.items():
        one = told[key]
        kind = "waived" if one["state"] == "waived" else one["severity"]
        assert remark.kind == kind
        assert remark.limit == f"the house wants {one['limit']}"
        for words in (remark.what, remark.measured, remark.limit, remark.remedy):
            assert str(escape(words)) in html
        if kind != "waived":
            # the command may add which file to prepare, which the box leads to
            assert one["remedy"].startswith(remark.remedy)
    return shown


def test_the_sheet_tells_what_the_command_tells(
    pages: PageDesk, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = agree(pages, folder, capsys)
    kinds = {(page, finding): remark.kind for (page, finding, _), remark in shown.items()}
    assert kinds == {
        ("1", "page-printing/no-intent"): "note",
        ("1", "page-inks/spot-ink"): "stop",
        ("2", "page-printing/no-trim-box"): "stop",
        ("2", "page-inks/transparency"): "note",
        ("3", "page-inks/overprint"): "note",
    }
    html = page_sheet.pages(pages)
    first, second, third = (leaf_of(pages, id_of(page)) for page in pages.plan().pages)
    # the page's own stand at its leaf, what is of one picture with its box
    assert second and "page printing: no trim box" in second and 'kind stop" data-look' in second
    assert first and "page printing: no intent" in first and "stop" in first
    assert third and "page inks: overprint" in third and "page printing" not in third
    assert "3 pages, 3 with something to look at" in html
    assert "It is so of 3 pages from 1 on." in html and str(folder) not in html


def leaf_of(pages: PageDesk, id: str) -> str:
    """Return a page as the sheet shows it, without the margin of its spread."""
    spread = page_sheet.spread(pages, id) or ""
    return spread.partition(f'id="leaf-{id}"')[2].partition("</figure>")[0]


def decided(
    app: Any, pages: PageDesk, kind: str, id: str, fields: dict[str, str]
) -> tuple[int, str]:
    """Return the status, and why it was refused."""
    given = {"kind": kind, "picture": id, "fields": fields, "seen": pages.desk.issue.stamp}
    status, _, text = asked(app, "/decide", "POST", OURS, sent(given))
    return status, json.loads(text).get("why", "")


def test_a_remark_on_a_page_is_accepted_as_others_are_and_taken_back(
    pages: PageDesk, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    app = application(pages.desk, KEYS, pages)
    by_page = {page.page: id_of(page) for page in pages.plan().pages}
    (fog,) = (one for one in pages.desk.lines.values() if one.place.page == "2")
    asked_of = {
        "page-inks/spot-ink": by_page["1"],
        "page-printing/no-trim-box": by_page["2"],
        "page-inks/transparency": fog.id,
    }
    html = page_sheet.pages(pages)
    for finding, id in asked_of.items():
        # a note asks for nothing
        offered = f'data-kind="accept" data-picture="{id}"' in html
        assert offered is (finding != "page-inks/transparency")
        fields = {"finding": finding, **WORDS}
        assert decided(app, pages, "accept", id, fields) == (200, "")
    assert (folder / "waivers.yaml").read_text("utf-8").count("page:") == 2
    assert 'picture: "masters/fog.jpg"' in (folder / "waivers.yaml").read_text("utf-8")
    shown = agree(pages, folder, capsys)
    accepted = [key[1] for key, remark in shown.items() if remark.kind == "waived"]
    assert sorted(accepted) == sorted(asked_of)
    html = page_sheet.pages(pages)
    assert "accepted by Ada Quillon until 2099-06-30: the printer knows of it" in html
    assert "data-look" not in (leaf_of(pages, by_page["2"]) or "data-look")
    record = asked(app, "/part/record", headers=OURS)[2]
    assert "page-printing/no-trim-box, the printer knows of it: page 2" in record
    # of the pictures' own files it is no matter
    while pages.desk._judge(urgent=False):
        pass
    assert pages.desk.left_over() == []
    for finding in ("page-printing/no-trim-box", "page-inks/transparency"):
        fields = {"finding": finding}
        done = decided(app, pages, "no longer accept", asked_of[finding], fields)
        assert done == (200, "")
    first = pages.desk.issue.decisions[0].identity
    assert asked(app, "/take-back", "POST", OURS, sent({"decision": first}))[0] == 200
    shown = agree(pages, folder, capsys)
    assert all(remark.kind != "waived" for remark in shown.values())


def test_the_next_thing_counts_what_is_to_be_answered_on_pages(pages: PageDesk) -> None:
    app = application(pages.desk, KEYS, pages)
    by_page = {page.page: id_of(page) for page in pages.plan().pages}
    stops = {"1": "page-inks/spot-ink", "2": "page-printing/no-trim-box"}

    def told() -> str:
        status, _, html = asked(app, "/part/top", headers=OURS)
        assert status == 200
        return html.partition('id="next"')[2].partition("</p>")[0]

    assert f'href="#leaf-{by_page["1"]}">Decide on page 1: spot ink, ' in told()
    assert "One further stop of a page waits too." in told()
    while pages.desk._judge(urgent=False):
        pass
    # its own stops come first
    assert "Decide on fog.jpg: too few pixels" in told() and "2 stops of pages wait too." in told()
    wanted = {"Let them be judged": True, "Leave no stop": False}
    assert {step.what: step.done for step in way(pages)}.items() >= wanted.items()
    heard: list[str] = []
    stop = pages.desk.listen(lambda what, _: heard.append(what))
    for page, finding in stops.items():
        fields = {"finding": finding, **WORDS}
        assert decided(app, pages, "accept", by_page[page], fields) == (200, "")
        assert ("stop of a page waits" in told()) is (page == "1")
    stop()
    assert "top" in heard
    assert "of a page" not in told() and "of pages" not in told()


def test_a_page_alone_keeps_the_way_from_leaving_no_stop(
    pages: PageDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    while pages.desk._judge(urgent=False):
        pass
    monkeypatch.setattr(guidance, "_is_stopped", lambda *_: False)
    done = {step.what: step.done for step in way(pages)}
    assert done["Leave no stop"] is False
    assert {step.what: step.done for step in guidance.way(pages.desk)}["Leave no stop"]


def way(pages: PageDesk) -> list[guidance.Step]:
    return guidance.way(pages.desk, pages.asked())


def test_of_a_page_nothing_else_is_decided(pages: PageDesk, folder: Path) -> None:
    app = application(pages.desk, KEYS, pages)
    page = id_of(pages.plan().pages[0])
    before = (folder / "issue.csv").read_bytes()
    for kind, fields in (
        ("place", {"page": "9"}), ("add", {"page": "9"}), ("crop", {"crop": "0 0 1 1"}),
        ("largest size", {}), ("assume", {"assume": "opRGB"}), ("sharpen", {"sharpen": "no"}),
    ):  # fmt: skip
        assert decided(app, pages, kind, page, fields)[0] == 404
    accepted = {"finding": "page-printing/no-intent"}
    status, why = decided(app, pages, "no longer accept", page, accepted)
    assert status == 400 and "page 1: page-printing/no-intent is not accepted" in why
    assert (folder / "issue.csv").read_bytes() == before
    assert not (folder / "waivers.yaml").exists()
