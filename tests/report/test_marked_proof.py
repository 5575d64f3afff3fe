"""The marked proof as text: what is said, in which order, and that text stays text."""

from __future__ import annotations

import os
import re
import sys
import tempfile
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from pressworthy.house import House
from pressworthy.jobs.accepting import let_stand
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.report import marked_proof, pdf
from pressworthy.report.marked_proof.markup import Markup, tag
from pressworthy.report.marked_proof.remarks import numbered
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.waiver import Use, Waiver


def finding(code: str, severity: Severity, **given: object) -> Finding:
    values = {"measured": 205.0, "limit": 300.0, "unit": "ppi", "remedy": "Supply more.", **given}
    return Finding(code, severity=severity, **values)  # type: ignore[arg-type]


def verdict(path: str, *outcomes: Outcome, page: str = "") -> Verdict:
    return Verdict(path, outcomes, page=page, facts={})


def found(rule: str, *findings: Finding) -> Outcome:
    return Outcome(rule, State.FOUND, findings)


SHORT = found("resolution", finding("too-few-pixels", Severity.STOP))
GAMUT = found("gamut", finding("out-of-gamut", Severity.QUERY))
DARK = found("luminance", finding("too-dark", Severity.STOP))


def sheet(house: House, *pairs: tuple[Verdict, Pull]) -> Sheet:
    report = Report(
        "proof", house.name, "", "print in cmyk", house.chain, {}, tuple(v for v, _ in pairs)
    )
    return Sheet(report, house, tuple(p for _, p in pairs))


def test_what_is_accepted_is_let_stand_on_the_copy_too(coated: House) -> None:
    day = date(2026, 6, 15)
    waiver = Waiver("luminance/too-dark", "night", "A. Editor", day, picture="a.jpg")
    pull = Pull(copy=verdict("/tmp/copy.tif", DARK))
    given = sheet(coated, (verdict("a.jpg", SHORT), pull), (verdict("b.jpg"), pull))
    (done,) = let_stand([given], [waiver], day)
    one, two = (marked.remarks for marked in next(numbered([done])))
    assert [(remark.kind, remark.what) for remark in one] == [
        ("stop", "resolution: too few pixels"),
        ("waived", "luminance: too dark"),
    ]
    assert [remark.what for remark in two] == ["luminance: too dark"]
    assert [use.use for use in done.report.waivers] == [Use.APPLIED]
    assert "1</b> with something accepted" in marked_proof.render([done])


def test_what_became_of_waivers_is_told_once_for_all_houses(coated: House) -> None:
    day = date(2026, 6, 15)
    night, dusk, old = (
        Waiver("luminance/too-dark", name, "A. Editor", until, picture=f"{name}.jpg")
        for name, until in (("night", day), ("dusk", day), ("old", date(2026, 6, 1)))
    )
    one = sheet(coated, (verdict("night.jpg", DARK), Pull()))
    two = sheet(coated, (verdict("dusk.jpg", SHORT), Pull()))
    page = marked_proof.render(let_stand([one, two], [night, dusk, old], day))
    assert "night.jpg; accepted" not in page
    assert page.count("A waiver was not needed: luminance/too-dark, dusk.jpg") == 1
    assert page.count("A waiver has expired and counts no more: luminance/too-dark, old.jpg") == 1


def test_an_accepted_lack_of_a_measurement_is_shown(coated: House) -> None:
    day = date(2026, 6, 15)
    waiver = Waiver("credit/unmeasured", "known", "A. Editor", day, picture="a.jpg")
    unmeasured = Outcome("credit", State.UNMEASURED, reason="no metadata")
    given = sheet(coated, (verdict("a.jpg", unmeasured), Pull()))
    page = marked_proof.render(let_stand([given], [waiver], day))
    assert "no metadata; accepted by A. Editor until 2026-06-15: known" in page


class TestMarkup:
    def test_text_and_attributes_are_escaped(self) -> None:
        assert tag("p", "<b>&", title='"x"') == '<p title="&quot;x&quot;">&lt;b&gt;&amp;</p>'

    def test_characters_that_hide_or_turn_text_are_written_out(self) -> None:
        assert "\\u202e" in tag("p", "a\u202egpj.exe")

    def test_markup_is_left_alone(self) -> None:
        assert tag("p", Markup("<i>x</i>")) == "<p><i>x</i></p>"


class TestRemarks:
    def test_figures_limit_and_remedy_are_said(self, coated: House) -> None:
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", SHORT), Pull()))])
        assert "205 ppi" in page
        assert "the house wants at least 300 ppi" in page
        assert "Supply more." in page

    def test_what_preparing_mends_is_told_and_done_first(self, coated: House) -> None:
        copy = verdict("copy.tif", Outcome("luminance", State.PASSED), SHORT)
        pull = Pull(copy=copy)
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", DARK, SHORT), pull))])
        assert page.count("Preparing puts this right.") == 1
        assert "That puts right 1 of 2 remarks" in page
        first = page.index("Prepare the copies")
        assert first < page.index("resolution: too few pixels")

    def test_a_query_is_left_to_a_person_even_if_the_copy_is_quiet(self, coated: House) -> None:
        copy = verdict("copy.tif", Outcome("gamut", State.PASSED))
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", GAMUT), Pull(copy=copy)))])
        assert "The copy cannot show this any more: compare it with its soft proof." in page
        assert "Prepare the copies" not in page

    def test_a_rule_that_does_not_judge_copies_mends_nothing(self, coated: House) -> None:
        copy = verdict("copy.tif", Outcome("luminance", State.WAIVED))
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", DARK), Pull(copy=copy)))])
        assert "Preparing puts this right." not in page

    def test_what_only_the_copy_shows_is_said(self, coated: House) -> None:
        soft = found("acutance", finding("soft-in-print", Severity.QUERY, measured=70, unit="%"))
        pull = Pull(copy=verdict("copy.tif", soft))
        page = marked_proof.render([sheet(coated, (verdict("a.jpg"), pull))])
        assert "acutance: soft in print" in page
        assert "On the prepared copy." in page

    def test_what_was_not_measured_is_never_a_pass(self, coated: House) -> None:
        broken = Outcome("ink", State.BROKEN, reason="it divided by zero")
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", broken), Pull(why="x")))])
        assert 'data-kind="unjudged"' in page
        assert "It divided by zero." in page

    def test_waived_findings_let_stand_with_their_reason(self, coated: House) -> None:
        accepted = replace(
            SHORT, state=State.WAIVED, reason="accepted by M. T. until 2026-12-31", waiver="M. T."
        )
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", accepted), Pull()))])
        assert 'data-kind="waived"' in page
        assert "accepted by M. T." in page


class TestPage:
    def test_pictures_stand_in_the_order_of_pages(self, coated: House) -> None:
        pages = [(verdict(f"{page}.jpg", page=page), Pull()) for page in ("10", "2", "1")]
        page = marked_proof.render([sheet(coated, *pages)])
        shown = re.findall(r'<span class="name">(\d+)\.jpg', page)
        assert shown == ["1", "2", "10"]

    def test_nothing_is_loaded_and_one_script_runs(self, coated: House) -> None:
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", SHORT), Pull()))])

        class Links(HTMLParser):
            def handle_starttag(self, name: str, given: list[tuple[str, str | None]]) -> None:
                for key, value in given:
                    if key in ("src", "href", "srcset", "action") and value:
                        assert value.startswith(("#", "data:")), (name, key, value[:60])

        Links().feed(page)
        assert page.count("<script") == 1
        assert "http" not in re.sub(r"http-equiv|www\.w3\.org|http%3A|'http://", "", page)

    def test_hostile_names_stay_text(self, coated: House) -> None:
        evil = '"><img src=x onerror=alert(1)>.jpg'
        pull = Pull(caption="</script><script>alert(2)</script>", credit="<b onclick=x>")
        page = marked_proof.render([sheet(coated, (verdict(evil, SHORT, page="<i>3"), pull))])
        for text in ("<img src=x", "<script>alert", "<b onclick", "<i>3"):
            assert text not in page

    def test_two_houses_stand_in_one_page_and_can_be_chosen(self, houses: dict[str, House]) -> None:
        sheets = [sheet(houses[name], (verdict("a.jpg"), Pull())) for name in ("newsprint", "mono")]
        page = marked_proof.render(sheets)
        assert page.count("at a glance</h2>") == 2
        assert 'id="only-house"' in page
        assert 'id="p2"' in page

    def test_it_says_that_it_is_no_contract_proof_at_top_and_foot_and_in_print(
        self, coated: House
    ) -> None:
        page = marked_proof.render([sheet(coated, (verdict("a.jpg"), Pull()))])
        head, foot = page.split("</header>")[0], page.split("<footer>")[1]
        assert "No contract proof" in head.split("<body")[1]
        assert "No contract proof" in foot
        assert "@bottom-left" in page

    def test_the_same_proof_is_the_same_page(self, coated: House) -> None:
        given = [sheet(coated, (verdict("a.jpg", SHORT, GAMUT), Pull()))]
        assert marked_proof.render(given) == marked_proof.render(given)


class TestBrowser:
    @pytest.fixture(autouse=True)
    def none_installed(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("PATH", str(tmp_path))
        monkeypatch.setattr(pdf, "MACOS", ())
        for name in pdf.WINDOWS_ROOTS:
            monkeypatch.delenv(name, raising=False)

    def test_without_chromium_pdf_says_what_to_install(self) -> None:
        with pytest.raises(SetupError, match="apt install chromium"):
            pdf.find_browser()

    def test_where_macos_keeps_it(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        app = tmp_path / "Google Chrome.app" / "Google Chrome"
        monkeypatch.setattr(pdf, "MACOS", (tmp_path / "Chromium.app" / "Chromium", app))
        app.parent.mkdir()
        app.touch()
        assert pdf.find_browser() == str(app)

    @pytest.mark.parametrize("root", pdf.WINDOWS_ROOTS)
    @pytest.mark.parametrize("place", pdf.WINDOWS)
    def test_where_windows_keeps_it(
        self, root: str, place: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        for name in pdf.WINDOWS_ROOTS:
            monkeypatch.setenv(name, str(tmp_path / name))
        program = tmp_path / root / place
        program.parent.mkdir(parents=True)
        program.touch()
        assert pdf.find_browser() == str(program)

    @pytest.mark.skipif(os.name == "nt", reason="the browser is a script with a first line")
    def test_a_folder_that_cannot_be_cleared_away_loses_no_page(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        # as on Windows, where a browser that is still closing holds its files
        browser = tmp_path / "browser"
        browser.write_text(
            f"#!{sys.executable}\nimport pathlib, sys\n"
            "(way,) = (a.partition('=')[2] for a in sys.argv if a.startswith('--print-to-pdf='))\n"
            "pathlib.Path(way).write_bytes(b'%PDF-')\n"
        )
        browser.chmod(0o755)
        unlink = os.unlink

        def held(path: Any, **options: Any) -> None:
            if str(path).endswith("page.html"):
                raise PermissionError(13, "it is being used by another process", str(path))
            unlink(path, **options)

        monkeypatch.setattr(os, "unlink", held)
        monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
        pdf.print_page(str(browser), "<p>a page</p>", tmp_path / "page.pdf")
        assert (tmp_path / "page.pdf").read_bytes() == b"%PDF-"
