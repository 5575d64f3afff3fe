"""The issue by its pages in Chromium: drawn, marked, gone to and back, followed, by keys alone."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from paged import write_issue
from sheets import TITLE, opened, until
from test_open_browser import Sheet, browser, cache

from pressworthy.testing import CREDITED, draw, write_picture

__all__ = ["browser", "cache"]

SIZE = (50.0, 37.5)
FOLLOWED_SECONDS = 30
"""That a busy machine may take; the figures are tests/benchmarks/pages_open.py's."""


def spots(masters: Path) -> list[list[tuple[Path, float, float, float, float]]]:
    return [
        [(masters / "pier.jpg", 20, 30, *SIZE)],
        [(masters / "few.jpg", 100, 200, *SIZE), (masters / "pier.jpg", 20, 60, *SIZE)],
    ]


@pytest.fixture(scope="module")
def opened_pages(
    browser: Any, cache: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Path, Sheet]]:
    """Three pictures on three pages, of which a PDF has two."""
    folder = tmp_path_factory.mktemp("paged")
    masters = folder / "masters"
    masters.mkdir()
    rows = ["picture,page,house,width,height"]
    for page, (name, width) in enumerate(
        (("pier.jpg", 600), ("few.jpg", 200), ("late.jpg", 600)), 1
    ):
        values = draw(width, width * 3 // 4, seed=page)
        write_picture(masters / name, values, words=CREDITED, ppi=300, Q=95)
        rows.append(f"masters/{name},{page},{TITLE},50,37.5")
    (folder / "issue.csv").write_text("\n".join(rows) + "\n", "utf-8")
    # the first page's bleed ends within its trim
    astray = {0: {"/BleedBox": pikepdf.Array([20, 20, 300, 300])}}
    write_issue(folder / "pages.pdf", spots(masters), more=astray)
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server)
        sheet.page.get_by_text("All 3 pictures judged").wait_for()
        yield folder, sheet
        assert sheet.complaints == []
        sheet.close()


def test_pages_are_drawn_with_marks_and_a_plain_sheet_says_what_it_is(
    opened_pages: tuple[Path, Sheet],
) -> None:
    _, sheet = opened_pages
    page = sheet.page
    page.locator("#on-2.stop").wait_for()
    assert page.locator(".leaf").count() == 3
    assert "not a layout" in page.locator(".leaf").nth(2).inner_text()
    # told by a sign and in words, not by colour alone
    assert page.locator("#on-2 .tag use").get_attribute("href") == "#sign-stop"
    assert "Stop" in page.locator("#on-2").get_attribute("aria-label")
    assert "too few pixels" in page.locator("#on-2").get_attribute("aria-label")
    # in print look once it is drawn so, as supplied at the switch
    page.locator("#on-2").scroll_into_view_if_needed()
    leaf = page.locator(".leaf").nth(1)
    leaf.locator("img.on-paper[data-s~=print-after]").wait_for(state="visible")
    page.keyboard.press("1")
    leaf.locator("img.own[data-s~=supplied-after]").wait_for(state="visible")
    assert leaf.locator("img.on-paper[data-s~=print-after]").is_hidden()
    page.keyboard.press("3")
    drawn = leaf.locator("img.on-paper[data-s~=print-after]")
    page.wait_for_function("at => at.complete && at.naturalWidth > 500", arg=drawn.element_handle())


def test_a_key_leads_to_the_margin_and_back_to_the_page(opened_pages: tuple[Path, Sheet]) -> None:
    _, sheet = opened_pages
    page = sheet.page
    page.locator("#on-2").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'p2'")
    back = page.locator("article:focus").get_by_role("link", name="see it on page 2")
    back.wait_for()
    back.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'on-2'")
    # and by a click
    page.locator("#on-2").click()
    page.wait_for_function("() => document.activeElement.id === 'p2'")
    assert (
        page.evaluate("Math.abs(document.querySelector('#p2').getBoundingClientRect().top)") < 300
    )


def test_a_picture_that_has_the_focus_before_it_is_there_fills_all_the_same(
    opened_pages: tuple[Path, Sheet],
) -> None:
    page = opened_pages[1].page
    held: list[Any] = []
    page.route("**/picture/*", lambda route: held.append(route))
    page.reload()
    page.locator("#p2.stub").focus()
    for _ in until():
        page.evaluate("1")  # what is asked for comes in
        if len(held) == 3:
            break
    for one in held:
        one.continue_()
    page.unroute("**/picture/*")
    page.wait_for_selector("#p2:focus .beside")


def test_what_a_page_says_of_its_printing_is_accepted_beside_it(
    opened_pages: tuple[Path, Sheet],
) -> None:
    folder, sheet = opened_pages
    page = sheet.page
    told = page.locator(".leaf [data-look]", has_text="page printing: boxes astray")
    told.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.id.startsWith('of-page-')")
    remark = page.locator(".spread[data-large] .mark.query", has_text="boxes astray")
    assert "TrimBox beyond BleedBox" in remark.inner_text()
    remark.get_by_text("accept it").click()
    remark.get_by_label("why").fill("cut by hand")
    remark.get_by_label("who").fill("Ada Quillon")
    assert sheet.found_by_axe("#pages") == []
    # what is half written stays while pages come in
    page.evaluate("document.dispatchEvent(new CustomEvent('told', {detail: {what: 'pages'}}))")
    page.wait_for_timeout(400)
    assert remark.get_by_label("why").input_value() == "cut by hand"
    remark.get_by_label("until").fill("2099-06-30")
    remark.get_by_role("button", name="let it stand").click()
    stands = page.locator(".spread[data-large] .mark.waived", has_text="boxes astray")
    stands.get_by_text("accepted by Ada Quillon").wait_for()
    told.wait_for(state="detached")
    assert 'page: "1"' in (folder / "waivers.yaml").read_text("utf-8")
    page.get_by_role("button", name="lay back page 1").click()


def test_looked_at_closer_the_words_stand_in_the_margin_at_every_width(
    opened_pages: tuple[Path, Sheet],
) -> None:
    _, sheet = opened_pages
    page = sheet.page
    closer = page.get_by_role("button", name="pages 2 and 3")
    assert closer.inner_text().startswith("look closer")
    closer.focus()
    page.keyboard.press("Enter")
    margin = page.locator(".spread[data-large] .margin")
    margin.get_by_text("it stands here, and is listed for page 1").wait_for()
    words = margin.inner_text()
    assert "few.jpg" in words and "too few pixels" in words
    assert "Not a layout" in words
    page.locator("#pages-how > summary").click()
    for width in (390, 1024, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert sheet.found_by_axe("#pages") == [], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        box = page.locator("#on-2").bounding_box()
        plate = page.locator(".leaf .plate", has=page.locator("#on-2")).bounding_box()
        share = (box["x"] - plate["x"]) / plate["width"], box["height"] / plate["height"]
        assert share == pytest.approx((100 / 210, 37.5 / 297), abs=0.01)
    # it stays open while verdicts and pages come in
    page.evaluate("document.dispatchEvent(new CustomEvent('told', {detail: {what: 'pages'}}))")
    page.wait_for_timeout(400)
    assert closer.get_attribute("aria-expanded") == "true"
    closer.click()
    margin.wait_for(state="hidden")


def test_a_pdf_that_is_exported_again_or_goes_is_followed(
    opened_pages: tuple[Path, Sheet],
) -> None:
    folder, sheet = opened_pages
    page = sheet.page
    masters = folder / "masters"
    before = page.locator(".leaf").first.locator("img.own").get_attribute("src")
    moved = spots(masters)
    moved[0] = [(masters / "pier.jpg", 120, 30, *SIZE)]
    start = time.monotonic()
    write_issue(folder / "pages.pdf", moved)
    page.wait_for_function(
        "before => document.querySelector('.leaf img.own').getAttribute('src') !== before",
        arg=before,
    )
    page.wait_for_function("() => parseFloat(document.querySelector('#on-1').style.left) > 50")
    assert time.monotonic() - start < FOLLOWED_SECONDS
    (folder / "pages.pdf").write_bytes(b"%PDF-1.7 half")
    page.locator(".paged .faults", has_text="as it last was").wait_for()
    assert page.locator(".leaf img.own").count() >= 2
    # a page that goes while the sheet asks for it is no fault of the sheet's
    one_page = re.compile("/pages/[0-9a-f]{12}$")
    held: list[Any] = []
    page.route(one_page, lambda route: held.append(route))
    id = page.locator(".leaf").first.get_attribute("id").removeprefix("leaf-")
    told = f"{{detail: {{what: 'leaf', more: {{id: '{id}'}}}}}}"
    page.evaluate(f"document.dispatchEvent(new CustomEvent('told', {told}))")
    for _ in until():
        page.evaluate("1")  # what is asked for comes in
        if held:
            break
    (folder / "pages.pdf").unlink()
    page.get_by_text("Drop the page PDF on this sheet").wait_for()
    for one in held:
        one.continue_()
    page.unroute(one_page)
    assert page.locator(".leaf", has_text="not a layout").count() == 3
    assert sheet.complaints == []


def test_a_pdf_that_is_dropped_is_drawn_and_hostile_ones_are_told(
    opened_pages: tuple[Path, Sheet], tmp_path: Path
) -> None:
    folder, sheet = opened_pages
    page = sheet.page
    dropped = write_issue(tmp_path / "inside.pdf", spots(folder / "masters"))
    page.set_input_files("#files", [str(dropped)])
    page.locator("#pages", has_text="inside.pdf, exported").wait_for()
    page.locator(".leaf img.own").first.wait_for(state="attached")
    evil = tmp_path / "<img src=x onerror=window.hit=1>.pdf"
    evil.write_bytes(b"%PDF-1.7 nothing")
    page.set_input_files("#files", [str(evil)])
    page.locator(".paged .faults", has_text="cannot be drawn").wait_for()
    assert page.evaluate("window.hit") is None
    assert page.locator(".leaf").count() == 3
    # that it was refused stands in the browser's own log too
    assert all("400" in said for said in sheet.complaints)
    sheet.complaints.clear()
