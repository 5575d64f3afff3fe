"""The marked proof in headless Chromium: opened, switched, filtered, printed, and tested by axe."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import axe_playwright_python
import numpy as np
import pytest
import pyvips
from conftest import need

from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import from_xyz
from pressworthy.colour.spaces import SPACES
from pressworthy.house import House
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import Sheet, proof_picture
from pressworthy.jobs.pull import Pull
from pressworthy.plugins import Registry
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print import softproof
from pressworthy.report import marked_proof, pdf
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.report import Report

if os.environ.get("CI"):
    import playwright.sync_api as playwright
else:
    playwright = pytest.importorskip("playwright.sync_api")

ROOT = Path(__file__).parents[2]
# the package carries axe-core itself
AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")
EVIL = '"><img src=x onerror=window.hit=1>'
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = [390, 1280, 1900]
PREPARING = ("pressworthy", "prepare", "two words.jpg", "--house", "a.yaml", "--into", "copies")
LANDINGS = """async () => {
    const settled = () => new Promise(done => requestAnimationFrame(() =>
        requestAnimationFrame(() => setTimeout(done, 20))));
    const landed = {};
    for (const link of document.querySelectorAll('a[href^="#"]')) {
        scrollTo(0, 0);
        link.click();
        await settled();
        const target = document.querySelector(link.getAttribute('href'));
        const slip = document.querySelector('.slip').offsetHeight;
        landed[link.getAttribute('href')] = target.getBoundingClientRect().top - slip;
    }
    return landed;
}"""
"""Clicks every link, and returns how many px below the slip's foot its target comes to lie."""


@pytest.fixture(scope="module")
def sheets(
    tmp_path_factory: pytest.TempPathFactory, houses: dict[str, House], registry: Registry
) -> list[Sheet]:
    """Four pictures for a magazine, one of them hostile, one too small and too green."""
    folder = tmp_path_factory.mktemp("masters")
    house = houses["coated-magazine"]
    scene = np.clip(dead_leaves(640, 480, seed=2, noise=0), 0, 255).astype(np.uint8)
    green = scene.copy()
    green[:, 320:] = (0, 250, 30)

    def written(name: str, values: np.ndarray, caption: str = "A scene.") -> Path:
        words = {**CREDITED, "caption": caption}
        return write_picture(folder / name, values, words=words, Q=95)

    wide = PlacementRequest((54, 40), page="3")
    tasks = [
        Task(written("plain.jpg", scene), wide),
        Task(written("green.jpg", green), PlacementRequest((108, 81), page="12")),
        Task(
            written(f"{EVIL}.jpg", scene, "</script><script>window.hit=2</script>"),
            PlacementRequest((48, 36), 3.0, frozenset({"left", "top"}), page=EVIL),
        ),
        Task(written("flat.jpg", np.full_like(scene, 150)), PlacementRequest((30, 22.5))),
    ]
    done = [proof_picture(task, house, Run(registry)) for task in tasks]
    verdicts = tuple(verdict for verdict, _ in done)
    report = Report("proof", house.name, "The Press", "print in cmyk", house.chain, {}, verdicts)
    return [Sheet(report, house, tuple(pull for _, pull in done))]


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory, sheets: list[Sheet]) -> Path:
    path = tmp_path_factory.mktemp("proof") / "marked-proof.html"
    path.write_text(marked_proof.render(sheets, PREPARING), "utf-8")
    return path


@pytest.fixture(scope="module")
def long_file(tmp_path_factory: pytest.TempPathFactory, sheets: list[Sheet]) -> Path:
    """The page with each picture four times, so with sixteen."""
    (sheet,) = sheets
    report = replace(sheet.report, verdicts=[*sheet.report.verdicts] * 4)
    path = tmp_path_factory.mktemp("long") / "marked-proof.html"
    many = replace(sheet, report=report, pulls=sheet.pulls * 4)
    path.write_text(marked_proof.render([many]), "utf-8")
    return path


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    path = need("chromium")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def context(chromium: Any) -> Callable[..., Any]:
    """Return what gives a browser's context, begun once: the page keeps nothing there."""

    @cache
    def begun(width: int, **options: Any) -> Any:
        return chromium.new_context(viewport={"width": width, "height": 900}, **options)

    return begun


def opened_in(context: Any, file: Path) -> Any:
    """Open a page that keeps what it complains of and asks for."""
    page = context.new_page()
    page.problems = []
    page.on("console", lambda message: page.problems.append(message.text))
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    page.requested = []
    page.on("request", lambda request: page.requested.append(request.url))
    page.goto(file.as_uri())
    return page


@pytest.fixture
def opened(context: Callable[..., Any], page_file: Path) -> Iterator[Callable[..., Any]]:
    pages = []

    def open_page(width: int = 1280, file: Path = page_file, **options: Any) -> Any:
        pages.append(opened_in(context(width, **options), file))
        return pages[-1]

    yield open_page
    for page in pages:
        page.close()


@pytest.fixture(scope="module")
def untouched(context: Callable[..., Any], page_file: Path) -> Callable[..., Any]:
    """Return the page of a width that is only looked at, opened once."""

    @cache
    def page(width: int = 1280) -> Any:
        return opened_in(context(width), page_file)

    return page


def empty(sheet: np.ndarray) -> float:
    """Return the share of a printed A4 page's type area that is blank at its foot."""
    mm = sheet.shape[0] / 297
    area = sheet[round(15 * mm) : round((297 - 19) * mm)].reshape(-1, sheet.shape[1])
    inked = np.flatnonzero((area < 200).any(axis=1))
    return float(1 - (inked[-1] + 1) / len(area)) if len(inked) else 1.0


def shown_views(page: Any) -> Any:
    """Return the states that each plate's visible pictures serve, one entry a visible picture."""
    return page.evaluate(
        """[...document.querySelectorAll('.plate img[data-s]')]
        .filter(i => getComputedStyle(i).display !== 'none').map(i => i.dataset.s)"""
    )


def shown_names(page: Any) -> Any:
    return page.evaluate(
        """[...document.querySelectorAll('.picture')]
        .filter(p => getComputedStyle(p).display !== 'none')
        .map(p => p.querySelector('.name').textContent)"""
    )


class TestOpening:
    @pytest.mark.parametrize("width", WIDTHS)
    def test_fits_the_width_and_asks_for_nothing(
        self, untouched: Callable[..., Any], width: int
    ) -> None:
        page = untouched(width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.problems == []
        outside = [url for url in page.requested if not url.startswith(("file:", "data:"))]
        assert outside == []

    def test_numbers_and_options_stay_whole(
        self, opened: Callable[..., Any], sheets: list[Sheet], tmp_path: Path
    ) -> None:
        (sheet,) = sheets
        report = replace(sheet.report, verdicts=[*sheet.report.verdicts] * 26)
        many = replace(sheet, report=report, pulls=(Pull(why="none"),) * 104)
        (tmp_path / "many.html").write_text(marked_proof.render([many]), "utf-8")
        page = opened(390)
        lines = """wanted => [...document.querySelectorAll(wanted)].map(part =>
            [part.textContent, part.offsetHeight, part.scrollWidth - part.clientWidth])"""
        words = page.evaluate(lines, ".todo code span")
        assert [word for word, _, _ in words][:3] == ["pressworthy", "prepare", "'two words.jpg'"]
        assert page.inner_text(".todo code") == shlex.join(PREPARING)
        assert max(height for _, height, _ in words) < 30
        page.goto((tmp_path / "many.html").as_uri())
        # lists of many numbers fold
        assert (
            max(
                page.evaluate("""[...document.querySelectorAll('.links')].map(links =>
            [...links.querySelectorAll('a')].filter(a => a.checkVisibility()).length)""")
            )
            == 12
        )
        page.locator(".todo summary").first.click()
        assert page.locator(".links").first.locator("a:visible").count() >= 26
        assert len(page.evaluate(lines, ".box")) == 104
        assert max(beyond for _, _, beyond in page.evaluate(lines, ".box")) <= 0
        assert max(height for _, height, _ in page.evaluate(lines, ".box .n")) < 30

    def test_every_picture_can_be_decoded(self, untouched: Callable[..., Any]) -> None:
        page = untouched()
        broken = page.evaluate(
            """Promise.all([...document.images].map(i => {
                const copy = new Image(); copy.src = i.src;
                return copy.decode().then(() => '', () => i.alt);
            })).then(all => all.filter(Boolean))"""
        )
        assert broken == []

    def test_markup_in_names_and_captions_does_nothing(self, untouched: Callable[..., Any]) -> None:
        page = untouched()
        page.wait_for_timeout(200)
        assert page.evaluate("window.hit") is None
        assert f"{EVIL}.jpg" in shown_names(page)
        assert page.locator("text=</script><script>window.hit=2</script>").count() == 1

    @pytest.mark.parametrize("width", WIDTHS)
    def test_axe_finds_nothing_serious(self, opened: Callable[..., Any], width: int) -> None:
        script = AXE.read_text("utf-8")
        page = opened(width, bypass_csp=True)
        page.click(".slip summary")
        page.add_script_tag(content=script)
        found = page.evaluate("axe.run().then(r => r.violations)")
        serious = [v["id"] for v in found if v["impact"] in ("serious", "critical")]
        assert serious == []

    @pytest.mark.parametrize("width", WIDTHS)
    def test_the_first_screen_shows_pictures(
        self, untouched: Callable[..., Any], width: int
    ) -> None:
        page = untouched(width)
        drawn = page.evaluate(
            """[...document.querySelectorAll('.box img')].map(i => [
                i.complete && i.naturalWidth, i.clientWidth, i.getBoundingClientRect().bottom])"""
        )
        assert len(drawn) == 4
        assert all(own >= 100 and wide > 25 and bottom < 844 for own, wide, bottom in drawn)
        # at one scale: 48, 54, 108 and 30 mm wide
        widths = sorted(wide for _, wide, _ in drawn)
        assert widths[-1] / widths[-2] == pytest.approx(108 / 54, rel=0.1)

    def test_pictures_are_as_wide_as_their_places(self, untouched: Callable[..., Any]) -> None:
        page = untouched(1280)
        wide = page.evaluate(
            """Object.fromEntries([...document.querySelectorAll('.picture')].map(p =>
            [p.querySelector('.name').textContent, p.querySelector('.plate').clientWidth]))"""
        )
        assert wide["plain.jpg"] / wide["green.jpg"] == pytest.approx(0.5, abs=0.02)


class TestLanding:
    @pytest.mark.parametrize("width", WIDTHS)
    def test_every_link_lands_at_its_picture(
        self, opened: Callable[..., Any], long_file: Path, width: int
    ) -> None:
        landed = opened(width, long_file).evaluate(LANDINGS)
        assert {"#pictures", "#words", *(f"#p{number}" for number in range(1, 17))} <= set(landed)
        assert {to: px for to, px in landed.items() if abs(px) > 8} == {}

    @pytest.mark.parametrize("width", WIDTHS)
    def test_without_script_too(
        self, opened: Callable[..., Any], long_file: Path, width: int
    ) -> None:
        page = opened(width, long_file, java_script_enabled=False)
        for number in (1, 9, 16):
            page.evaluate("scrollTo(0, 0)")
            page.evaluate(f"document.querySelector('a[href=\"#p{number}\"]').click()")
            page.wait_for_timeout(50)
            top = page.locator(f"#p{number}").bounding_box()["y"]
            assert top == pytest.approx(page.locator(".slip").bounding_box()["height"], abs=8)

    def test_a_switch_that_gets_the_focus_moves_nothing(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.evaluate("document.querySelector('a[href=\"#p3\"]').click()")
        page.wait_for_timeout(50)
        before = page.evaluate("scrollY")
        for name in ("v-soft", "s-before"):
            page.evaluate(f"document.querySelector('#{name}').focus()")
            page.wait_for_timeout(50)
            assert page.evaluate("scrollY") == before > 0

    def test_a_link_to_a_picture_that_is_away_brings_it_back(
        self, opened: Callable[..., Any]
    ) -> None:
        page = opened()
        page.click(".slip summary")
        page.select_option("#only-page", "12")
        assert len(shown_names(page)) == 1
        page.locator(".box").first.click()
        assert len(shown_names(page)) == 4
        assert not page.locator(".further").is_visible()


class TestSwitches:
    @pytest.mark.parametrize("width", WIDTHS)
    def test_they_are_at_hand_beside_every_picture(
        self, opened: Callable[..., Any], width: int
    ) -> None:
        page = opened(width)
        page.evaluate("document.querySelector('#p2').scrollIntoView()")
        page.wait_for_timeout(50)
        at_hand = """id => {
            const box = document.getElementById(id).getBoundingClientRect();
            const there = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return there === document.getElementById(id);
        }"""
        for name in ("v-supplied", "v-soft", "v-print", "v-mono", "s-before", "s-after"):
            assert page.evaluate(at_hand, name), name
        assert page.locator(".slip").bounding_box()["height"] < 90

    @pytest.mark.parametrize("width", WIDTHS)
    def test_each_says_in_one_line_what_it_means(
        self, opened: Callable[..., Any], width: int
    ) -> None:
        page = opened(width)
        told = set()
        for name in ("v-supplied", "v-soft", "v-print", "v-mono", "s-before", "s-after"):
            page.check(f"#{name}")
            means = page.locator(f".m-{name[2:]}")
            assert means.is_visible()
            assert means.bounding_box()["height"] < 24
            told.add(means.inner_text())
        assert len(told) == 6
        page.click(".slip summary")
        rows = page.locator(".further li")
        assert rows.count() >= 5
        for row in rows.all():
            assert row.locator(".means").inner_text().strip()


class TestViews:
    def test_each_state_shows_one_picture_a_plate(self, opened: Callable[..., Any]) -> None:
        page = opened()
        for view in ("supplied", "soft", "print", "mono"):
            for state in ("before", "after"):
                page.check(f"#v-{view}")
                page.check(f"#s-{state}")
                shown = shown_views(page)
                assert len(shown) == 4
                assert all(f"{view}-{state}" in served.split() for served in shown)

    def test_the_keyboard_switches_and_can_be_told_not_to(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.keyboard.press("1")
        assert page.is_checked("#v-supplied")
        page.keyboard.press("b")
        assert page.is_checked("#s-before")
        at = "document.activeElement.id"
        steps = {"n": "p1", "ArrowRight": "p2", "p": "p1"}
        for key, wanted in steps.items():
            page.keyboard.press(key)
            assert page.evaluate(at) == wanted
        for key in ("j", "k"):
            page.keyboard.press(key)
            assert page.evaluate(at) == "p1"
        page.keyboard.press("n")
        page.keyboard.press("ArrowLeft")
        assert page.evaluate(at) == "p1"
        # in a choice, the arrows choose
        page.focus("#v-supplied")
        page.keyboard.press("ArrowRight")
        assert page.evaluate(at) == "v-soft"
        page.keyboard.press("1")
        page.click(".slip summary")
        page.uncheck("#keys")
        page.keyboard.press("2")
        assert page.is_checked("#v-supplied")

    def test_the_gamut_overlay_is_drawn_on_demand(self, opened: Callable[..., Any]) -> None:
        page = opened()
        visible = """[...document.querySelectorAll('.plate .over')]
            .filter(i => getComputedStyle(i).display !== 'none').length"""
        assert page.evaluate(visible) == 0
        page.keyboard.press("g")
        assert page.evaluate(visible) >= 1

    def test_the_papers_white_comes_off_as_computed(
        self, opened: Callable[..., Any], sheets: list[Sheet], tmp_path: Path
    ) -> None:
        page = opened(reduced_motion="reduce")
        page.keyboard.press("2")
        page.keyboard.press("w")
        plate = page.locator("article", has_text="plain.jpg").locator("img[data-s~=soft-after]")
        plate.scroll_into_view_if_needed()
        page.wait_for_timeout(300)
        plate.screenshot(path=tmp_path / "shot.png")
        seen = pyvips.Image.new_from_file(str(tmp_path / "shot.png"))[0:3]
        pull = sheets[0].pulls[0]
        given = pyvips.Image.new_from_buffer(pull.views["soft"], "").numpy() / 255
        space = SPACES["sRGB"]
        linear = space.decode(given) @ softproof.paper_off(sheets[0].house.output.condition).T
        wanted = np.clip(linear, 0, 1)

        def cells(light: np.ndarray) -> np.ndarray:
            image = pyvips.Image.new_from_array(light.astype(np.float32))
            small = image.resize(16 / image.width, vscale=12 / image.height, kernel="linear")
            # borders of the shot may fall between two pixels
            inner = small.numpy()[1:-1, 1:-1].astype(np.float64)
            return from_xyz(inner @ space.colorants)

        difference = delta_e_2000(cells(space.decode(seen.numpy() / 255)), cells(wanted))
        assert difference.mean() < 1

    @pytest.mark.parametrize("width", WIDTHS)
    def test_close_ups_open_at_three_times_before_beside_after(
        self, opened: Callable[..., Any], width: int
    ) -> None:
        page = opened(width)
        true = 24 / 25.4 * 96
        for kind in ("read", "dots"):
            halves = page.locator(f".close.{kind}").first.locator("img:visible")
            before, after = (half.bounding_box() for half in halves.all())
            assert before["width"] == after["width"] == pytest.approx(3 * true, abs=1)
            assert before["width"] / before["height"] == pytest.approx(24 / 18, abs=0.01)
            if width == 390:
                assert after["y"] > before["y"] + before["height"]
            else:
                assert after["y"] == before["y"]
                assert after["x"] > before["x"] + before["width"]
        words = page.locator(".close.read figcaption").first
        assert "three times as large" in words.inner_text()
        assert "what reaches a reader’s eye from 32 cm" in words.inner_text()
        seen = page.locator(".close.read").first.locator("img:visible")
        enlarged = [half.get_attribute("src") for half in seen.all()]
        page.keyboard.press("m")
        # the page's own light, once through an eye
        assert seen.count() == 2
        assert not {half.get_attribute("src") for half in seen.all()} & set(enlarged)
        assert seen.first.bounding_box()["width"] == pytest.approx(true, abs=1)
        assert seen.first.evaluate("image => image.naturalWidth") == round(24 / 25.4 * 110)
        assert "at its true size: sit 32 cm away" in words.inner_text()
        assert "ends at 12 cycles/degree" in words.inner_text()


class TestFilters:
    def test_by_severity(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.click(".slip summary")
        assert "green.jpg" in shown_names(page)
        page.uncheck("#k-stop")
        assert "green.jpg" not in shown_names(page)
        assert page.inner_text("#count").startswith(f"{len(shown_names(page))} of 4")
        page.check("#k-stop")
        assert len(shown_names(page)) == 4

    def test_by_page(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.click(".slip summary")
        page.select_option("#only-page", "12")
        assert shown_names(page) == ["green.jpg"]

    def test_an_empty_choice_is_told(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.click(".slip summary")
        for box in page.locator("input[name=kind]").all():
            box.uncheck()
        assert page.is_visible("#none")


class TestWithoutScript:
    def test_all_is_there_and_views_switch(self, opened: Callable[..., Any]) -> None:
        page = opened(java_script_enabled=False)
        remarks = page.locator(".mark")
        assert remarks.count() > 3
        assert all(remark.is_visible() for remark in remarks.all())
        assert not page.locator("#count").is_visible()
        assert page.locator(".plate img[data-s~=print-after]").first.is_visible()
        page.check("#v-supplied")
        assert page.locator(".plate img[data-s~=supplied-after]").first.is_visible()
        assert not page.locator(".plate img[data-s~=print-after]").first.is_visible()

    def test_nothing_moves_by_itself(self, opened: Callable[..., Any]) -> None:
        behaviour = "getComputedStyle(document.documentElement).scrollBehavior"
        assert opened().evaluate(behaviour) == "auto"


class TestPaper:
    def test_print_has_no_switches(self, opened: Callable[..., Any]) -> None:
        page = opened()
        page.emulate_media(media="print")
        assert not page.locator(".slip").is_visible()
        assert page.locator(".mark").first.is_visible()

    def test_the_pdf_is_a4_and_cautions_on_every_page(
        self, sheets: list[Sheet], tmp_path: Path
    ) -> None:
        browser, info, text = need("chromium"), need("pdfinfo"), need("pdftotext")
        target = tmp_path / "proof.pdf"
        pdf.print_page(browser, marked_proof.render_for_paper(sheets), target)
        told = subprocess.run([info, target], capture_output=True, text=True, check=True).stdout
        assert "A4" in told
        pages = subprocess.run(
            [text, "-layout", target, "-"], capture_output=True, text=True, check=True
        ).stdout.split("\f")[:-1]
        assert len(pages) >= 3
        assert all("No contract proof" in page for page in pages)
        assert "resolution: too few pixels" in "".join(pages)
        assert "View and filter" not in "".join(pages)
        assert target.stat().st_size < 4 * 300_000

    def test_printed_from_the_browser_pages_are_full_and_pictures_jpeg(
        self, opened: Callable[..., Any], long_file: Path, tmp_path: Path
    ) -> None:
        images, draw = need("pdfimages"), need("pdftoppm")
        page = opened(1280, long_file)
        page.check("#v-soft")
        target = tmp_path / "printed.pdf"
        page.pdf(path=target, prefer_css_page_size=True)
        told = subprocess.run([images, "-list", target], capture_output=True, text=True, check=True)
        kinds = [line.split()[8] for line in told.stdout.splitlines()[2:]]
        assert set(kinds) == {"jpeg"}
        # small, whole, and two close-ups before and after
        assert len(kinds) >= 16
        assert target.stat().st_size < 16 * 300_000
        words = subprocess.run(
            [need("pdftotext"), target, "-"], capture_output=True, text=True, check=True
        ).stdout.split("\f")
        # no heading is parted from its picture
        assert sum(text.count("640 × 480 px") for text in words) == 16
        assert all(text.count("640 × 480 px") == text.count("Printed here:") for text in words)
        subprocess.run([draw, "-r", "20", "-gray", "-png", target, tmp_path / "page"], check=True)
        sheets = [
            np.asarray(pyvips.Image.new_from_file(str(path)).numpy())
            for path in sorted(tmp_path.glob("page*.png"))
        ]
        assert len(sheets) > 8
        assert max(map(empty, sheets[:-1])) < 0.45
