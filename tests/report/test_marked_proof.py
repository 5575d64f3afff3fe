"""The marked proof as text: what is said, in which order, and that text stays text."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from dataclasses import replace
from datetime import date
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from markupsafe import Markup

from pressworthy.house import House
from pressworthy.jobs.accepting import let_stand
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.report import marked_proof, pdf
from pressworthy.report.marked_proof.environment import shown
from pressworthy.report.marked_proof.remarks import numbered
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.waiver import Use, Waiver, WaiverUse


def finding(code: str, severity: Severity, **given: object) -> Finding:
    values = {"measured": 205.0, "limit": 300.0, "unit": "ppi", "remedy": "Supply more.", **given}
    bound = None if isinstance(values["measured"], str) else Bound.LEAST
    return Finding(code, severity=severity, bound=bound, **values)  # type: ignore[arg-type]


def verdict(path: str, *outcomes: Outcome, page: str = "") -> Verdict:
    return Verdict(path, outcomes, page=page, facts={})


def found(rule: str, *findings: Finding) -> Outcome:
    return Outcome(rule, State.FOUND, findings)


TEMPLATES = Path(marked_proof.__file__).with_name("templates")

SHORT = found("resolution", finding("too-few-pixels", Severity.STOP))
GAMUT = found("gamut", finding("out-of-gamut", Severity.QUERY))
DARK = found("luminance", finding("too-dark", Severity.STOP))


def sheet(house: House, *pairs: tuple[Verdict, Pull]) -> Sheet:
    report = Report(
        "proof", house.name, "", "print in cmyk", house.chain, {}, tuple(v for v, _ in pairs)
    )
    return Sheet(report, house, tuple(p for _, p in pairs))


def test_a_copy_alone_puts_right_nothing_that_neighbours_show(coated: House) -> None:
    twice = found(
        "printed-twice", finding("on-two-pages", Severity.NOTE, measured="also", limit="")
    )
    alone = Outcome("printed-twice", State.PASSED, evidence=["a", "b"])
    mended = Outcome("resolution", State.PASSED)
    pull = Pull(copy=verdict("/tmp/copy.tif", alone, mended))
    (done,) = numbered([sheet(coated, (verdict("a.jpg", SHORT, twice), pull))])
    assert [remark.fate for remark in done[0].remarks] == ["Preparing puts this right.", ""]


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


def test_what_is_told_of_many_pictures_stands_once_at_the_foot(coated: House) -> None:
    one = sheet(coated, (verdict("night.jpg", DARK), Pull()))
    told = replace(one, report=replace(one.report, told_once=("source-profile: 12 <pictures>.",)))
    page = marked_proof.render([told])
    foot = page[page.index('<footer id="words">') :]
    assert page.count("12 &lt;pictures&gt;.") == foot.count("12 &lt;pictures&gt;.") == 1


def test_an_accepted_lack_of_a_measurement_is_shown(coated: House) -> None:
    day = date(2026, 6, 15)
    waiver = Waiver("credit/unmeasured", "known", "A. Editor", day, picture="a.jpg")
    unmeasured = Outcome("credit", State.UNMEASURED, reason="no metadata")
    given = sheet(coated, (verdict("a.jpg", unmeasured), Pull()))
    page = marked_proof.render(let_stand([given], [waiver], day))
    assert "no metadata; accepted by A. Editor until 2026-06-15: known" in page


class TestText:
    def test_text_becomes_one_line_without_characters_that_hide_or_turn_it(self) -> None:
        assert shown("a\r\nb\nc\td") == "a b c d"
        assert shown("a\u202egpj.exe\x1b[2J") == "a\\u202egpj.exe\\x1b[2J"

    def test_text_joined_to_html_is_made_readable_too_and_html_keeps_its_lines(self) -> None:
        joined = Markup("<b>\n</b>") + "<i>\x07"
        assert shown(joined) == "<b>\n</b>&lt;i&gt;\\x07"

    def test_no_template_passes_text_by(self) -> None:
        templates = sorted(TEMPLATES.glob("*.html"))
        assert "picture.html" in [path.name for path in templates]
        for path in templates:
            assert not re.search(r"\|\s*safe|autoescape", path.read_text("utf-8")), path.name


def test_templates_are_read_only_for_a_proof() -> None:
    code = (
        "import sys; from pressworthy.commands import main, proof; from pressworthy.plugins "
        "import load; load(()); sys.exit('jinja2' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


EVIL = "\"><img src=x onerror='alert(1)'></script><script>{{ 7 * 7 }}&amp;\x1b[2J\u202e\nend"
EVIL_SHOWN = "\"><img src=x onerror='alert(1)'></script><script>{{ 7 * 7 }}&amp;\\x1b[2J\\u202e end"
FIELDS = {
    *("path", "name", "page", "placement", "mode", "format", "icc", "rule", "code", "measured"),
    *("limit", "remedy", "reason", "accepted", "caption", "credit", "step", "why", "copy remedy"),
    *("house", "about", "publisher", "chain", "output", "off", "waiver", "waived picture", "near"),
    *("marks", "broken marks"),
}


class Parsed(HTMLParser):
    """A page's elements with the names of their attributes, and all its texts and values."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, ...]] = []
        self.texts: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, name: str, given: list[tuple[str, str | None]]) -> None:
        self.elements.append((name, *(key for key, _ in given)))
        self.texts += [value for _, value in given if value]

    def handle_data(self, text: str) -> None:
        self.texts.append(text)


def sheet_of_texts(house: House, evil: str) -> Sheet:
    """Return a sheet that has a text from a file wherever it can have one, `evil` at its end."""
    text = {field: f"{field}: {evil}" for field in FIELDS}
    worst = finding(
        text["code"],
        Severity.STOP,
        measured=text["measured"],
        limit=text["limit"],
        remedy=text["remedy"],
    )
    mended = finding("dark", Severity.STOP)
    one = Verdict(
        text["path"],
        (
            found(text["rule"], worst),
            found("tones", mended),
            Outcome("broken", State.BROKEN, reason=text["reason"]),
            Outcome("waived", State.WAIVED, (mended,), reason=text["accepted"]),
        ),
        name=text["name"],
        page=text["page"],
        placement=text["placement"],
        facts={"width": 4, "height": 3, **{key: text[key] for key in ("mode", "format", "icc")}},
    )
    soft = found("soft", finding("soft", Severity.QUERY, remedy=text["copy remedy"]))
    pull = Pull(
        views={"supplied": b"\xff\xd8", "print": b"\xff\xd8"},
        overlays={"gamut": b"\x89PNG"},
        marked=((0.25, text["marks"]), (None, text["broken marks"])),
        small=b"\xff\xd8",
        paper=b"\xff\xd8",
        paper_view="print",
        size=(4, 3),
        mm=(40, 30),
        bleed=(3, 0, 0, 3),
        close={"read": b"\xff\xd8"},
        close_mm=(24, 18),
        tones=(0.02,) * 50,
        supplied_tones=(0.02,) * 50,
        steps=(text["step"],),
        copy=verdict("copy.tif", Outcome("tones", State.PASSED), soft),
        why=text["why"],
        caption=text["caption"],
        credit=text["credit"],
    )
    plain = Verdict(text["path"], ()), Pull(why=text["why"])
    waiver = Waiver("a/b", text["waiver"], "A", date(2026, 6, 1), picture=text["waived picture"])
    named = replace(house, name=text["house"], about=text["about"], publisher=text["publisher"])
    report = Report(
        "proof",
        named.name,
        named.publisher,
        text["output"],
        (text["chain"].replace("/", "|"),),
        {"a-rule": text["off"]},
        (one, plain[0]),
        (WaiverUse(waiver, Use.ASTRAY, (text["near"],)),),
    )
    return Sheet(report, named, (pull, plain[1]))


class TestHostileText:
    def test_it_adds_no_element_and_no_attribute(self, coated: House) -> None:
        hostile = Parsed(marked_proof.render([sheet_of_texts(coated, EVIL)] * 2))
        tame = Parsed(marked_proof.render([sheet_of_texts(coated, "x")] * 2))
        assert len(tame.elements) > 100
        assert hostile.elements == tame.elements

    def test_every_text_is_shown_with_what_it_hides_written_out(self, coated: House) -> None:
        page = marked_proof.render([sheet_of_texts(coated, EVIL)] * 2)
        assert page.replace("\n", "").isprintable()
        texts = Parsed(page).texts
        for field in FIELDS:
            # a name is shown from its last slash on, a rule without its hyphens
            wanted = (
                "script><script>{{ 7 * 7 }}&amp;\\x1b[2J\\u202e end"
                if field in ("path", "name")
                else f"{field}: {EVIL_SHOWN.replace('/', '|') if field == 'chain' else EVIL_SHOWN}"
            )
            assert any(wanted.casefold() in text.casefold() for text in texts), field
        inside = [text for text in texts if "onerror" in text or "7 * 7" in text]
        assert all("\\x1b[2J\\u202e end" in text for text in inside)


class TestOnePicture:
    def test_it_is_the_same_html_as_within_the_page(self, coated: House) -> None:
        given = [sheet_of_texts(coated, "x"), sheet(coated, (verdict("alone.jpg", SHORT), Pull()))]
        page = marked_proof.render(given)
        for index, marked in enumerate(numbered(given)):
            for picture in marked:
                part = marked_proof.render_picture(picture, given[index], house_index=index)
                assert part.startswith("<article")
                assert part in page
                assert Parsed(part).elements[0][0] == "article"
        assert 'id="p3"' in part

    def test_hostile_text_stays_text_in_it(self, coated: House) -> None:
        def elements(text: str) -> list[tuple[str, ...]]:
            given = sheet_of_texts(coated, text)
            (marked,) = numbered([given])
            return Parsed(marked_proof.render_picture(marked[1], given)).elements

        assert len(elements("x")) > 40
        assert elements(EVIL) == elements("x")


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

    def test_the_command_shown_is_the_one_that_prepares_these_pictures(self, coated: House) -> None:
        copy = verdict("copy.tif", Outcome("luminance", State.PASSED))
        given = [sheet(coated, (verdict("a.jpg", DARK), Pull(copy=copy)))]
        words = ("pressworthy", "prepare", "--into", "it's/copies", "two words.jpg")
        page = marked_proof.render(given, words)
        (shown_words,) = re.findall(r"<code>(.*?)</code>", page)
        told = unescape(re.sub("<.*?>", "", shown_words))
        assert tuple(shlex.split(told)) == words
        assert "<code>" not in marked_proof.render(given)

    def test_no_figure_of_one_picture_is_said_of_several(self, coated: House) -> None:
        few = [
            found("resolution", finding("few", Severity.STOP, remedy=f"Supply at least {px} px."))
            for px in (1000, 2000)
        ]
        pairs = [(verdict(f"{i}.jpg", outcome), Pull()) for i, outcome in enumerate(few)]
        glance = marked_proof.render([sheet(coated, *pairs)]).split('id="pictures"')[0]
        assert "2 pictures</b>, resolution: few. What to do stands beside each." in glance
        assert "000 px" not in glance
        pairs = [(verdict(f"{i}.jpg", few[0]), Pull()) for i in range(2)]
        glance = marked_proof.render([sheet(coated, *pairs)]).split('id="pictures"')[0]
        assert "2 pictures</b>, resolution: few. Supply at least 1000 px." in glance

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
        head, foot = page.split("</header>")[0], page.split("<footer")[1]
        assert "No contract proof" in head.split("<body")[1]
        assert "No contract proof" in foot
        # whose paper is shown, and by which light it was measured
        assert "Its paper is L* a* b* 95.0 0.0 -2.0, measured under M0." in foot
        assert "@bottom-left" in page

    def test_the_technicians_words_are_explained(self, coated: House) -> None:
        page = marked_proof.render([sheet(coated, (verdict("a.jpg"), Pull()))])
        words = dict(re.findall("<dt>(.*?)</dt><dd>(.*?)</dd>", page))
        assert {"L*", "dE00", "cycles/degree", "opRGB", "ICC profile", "ppi"} <= set(words)
        assert words["opRGB"].startswith("a wider RGB space, IEC 61966-2-5; cameras offer it")

    def test_the_median_hangs_as_a_plumb_line_with_its_words_on_the_darker_side(
        self, coated: House
    ) -> None:
        pull = replace(sheet_of_texts(coated, "x").pulls[0], median=60.0)
        page = marked_proof.render([sheet(coated, (verdict("a.jpg"), pull))])
        (line,) = re.findall(r'class="plumb" d="M([\d.]+) ', page)
        (words,) = re.findall(r'class="plumbed" x="([\d.]+)" y="\d+" text-anchor="end"', page)
        # from 26 to 292 for L* 0 to 100
        assert float(line) == pytest.approx(26 + 266 * 0.6, abs=0.1)
        assert 0 < float(line) - float(words) < 6
        assert ">half is darker</text>" in page

    def test_what_rules_mark_is_told_with_its_share_or_that_it_is_unknown(
        self, coated: House
    ) -> None:
        pull = Pull(marked=((0.25, "of it is a corner"), (None, "is the share of the rest")))
        page = marked_proof.render([sheet(coated, (verdict("a.jpg", SHORT), pull))])
        assert "<li><b>25.0%</b> of it is a corner</li>" in page
        assert "<li><b>unknown</b> is the share of the rest</li>" in page

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
            "pathlib.Path(way).write_bytes(b'%PDF- %%EOF')\n"
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
        assert (tmp_path / "page.pdf").read_bytes() == b"%PDF- %%EOF"
        # half a page takes the place of none
        browser.write_text(browser.read_text().replace(" %%EOF", ""))
        with pytest.raises(SetupError, match="did not print the page"):
            pdf.print_page(str(browser), "<p>a page</p>", tmp_path / "page.pdf")
        assert (tmp_path / "page.pdf").read_bytes() == b"%PDF- %%EOF"
