"""Many pictures in Chromium: what is far is held as its words alone, and nobody's work is lost."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pypdfium2
import pytest
from sheets import TITLE, Opened, opened
from test_open_browser import Sheet, browser, cache

from pressworthy.testing import CREDITED, draw, write_picture

__all__ = ["browser", "cache"]

PICTURES = 44
"""On as many pages: more than are filled at once, of either."""

FAR = 16
"""A picture in the middle: neither among the first nor among those looked at last."""

MOST_ELEMENTS = 30
"""Of a picture with its page, far from view, with what stands of it at a glance."""

MOST_BESIDE = 6000
"""Elements of what is in view, and of the sheet itself."""


@pytest.fixture(scope="module")
def many(
    browser: Any, cache: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Opened, Sheet]]:
    folder = tmp_path_factory.mktemp("many")
    (folder / "masters").mkdir()
    rows = ["picture,page,house,width,height"]
    for number in range(1, PICTURES + 1):
        name = f"masters/{number:03}.jpg"
        values = draw(96, 72, seed=number)
        write_picture(folder / name, values, words=CREDITED, ppi=300, Q=90)
        rows.append(f"{name},{number},{TITLE},8,6")
    (folder / "issue.csv").write_text("\n".join(rows) + "\n", "utf-8")
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server)
        # a narrow window has few of them near
        sheet.page.set_viewport_size({"width": 390, "height": 600})
        sheet.page.locator("#judged", has_text=f"All {PICTURES}").wait_for()
        sheet.page.wait_for_function(
            f"() => document.querySelectorAll('.on-page').length === {PICTURES}"
        )
        yield server, sheet
        assert sheet.complaints == []
        sheet.close()


def go(page: Any, selector: str) -> None:
    at = page.locator(selector)
    at.evaluate("at => at.scrollIntoView({ block: 'center', behavior: 'instant' })")


def walked(page: Any, last: int) -> None:
    """Look at the pictures down to one, each of which is filled."""
    for number in range(1, last + 1):
        go(page, f"#p{number}")
        page.wait_for_selector(f"#p{number}:not(.stub) .beside")


def filled(page: Any) -> list[str]:
    found: list[str] = page.evaluate(
        "[...document.querySelectorAll('article.picture:not(.stub)')].map(one => one.id)"
    )
    return found


def test_far_pages_are_bare_and_near_ones_drawn(many: tuple[Opened, Sheet]) -> None:
    page = many[1].page
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    go(page, "#on-1")
    page.wait_for_selector(".spread:not(.bare) #on-1 .frame")
    # its words and links are there, nothing that is drawn
    last = page.locator(".spread.bare", has=page.locator(f"#on-{PICTURES}"))
    last.wait_for(state="attached")
    assert last.locator("svg, img, .margin").count() == 0
    assert page.locator(f"#on-{PICTURES}").get_attribute("href") == f"#p{PICTURES}"
    assert f"{PICTURES:03}.jpg" in page.locator(f"#on-{PICTURES}").get_attribute("aria-label")
    elements = page.evaluate("document.querySelectorAll('*').length")
    assert elements < MOST_ELEMENTS * PICTURES + MOST_BESIDE
    of_far = page.evaluate(
        "['.spread.bare', 'article.stub'].map(one => { const all = document.querySelectorAll(one);"
        "return [all.length, [...all].reduce((sum, at) => sum + at.querySelectorAll('*').length, "
        "all.length)]; })"
    )
    (spreads, in_spreads), (stubs, in_stubs) = of_far
    assert spreads > 5 and in_spreads <= 19 * spreads
    assert stubs > 5 and in_stubs <= 5 * stubs


def test_pages_fill_as_one_comes_near_and_are_bare_again_far_away(
    many: tuple[Opened, Sheet],
) -> None:
    page = many[1].page
    first = page.locator(".spread", has=page.locator("#on-1"))
    for number in [*range(1, PICTURES + 1, 2), PICTURES]:
        go(page, f"#on-{number}")
        page.wait_for_selector(f".spread:not(.bare) #on-{number} .frame")
    assert "bare" in first.get_attribute("class").split()
    assert first.locator("svg, img, .margin").count() == 0
    assert page.locator(".spread:not(.bare)").count() <= 24
    go(page, "#on-1")
    page.wait_for_selector(".spread:not(.bare) #on-1 .frame")


def test_a_page_that_is_looked_at_closer_or_has_the_focus_is_not_laid_away(
    many: tuple[Opened, Sheet],
) -> None:
    page = many[1].page
    # by keys, far from view: it fills, and the focus stays
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    page.wait_for_selector(f".spread.bare #on-{FAR}", state="attached")
    closer = page.get_by_role("button", name=f"look closer pages {FAR} and {FAR + 1}")
    closer.evaluate("at => at.focus({ preventScroll: true })")
    page.keyboard.press("Enter")
    large = page.locator(f".spread[data-large]:has(#on-{FAR})")
    large.locator(".margin").wait_for()
    assert page.evaluate("document.activeElement.getAttribute('aria-expanded')") == "true"
    page.evaluate("document.activeElement.blur()")
    for number in [*range(1, FAR, 2), *range(FAR + 3, PICTURES, 2)]:
        go(page, f"#on-{number}")
        page.wait_for_selector(f".spread:not(.bare) #on-{number} .frame")
    assert large.locator(".margin").count() == 1
    go(page, f"#on-{FAR}")
    large.locator(".closer").click()
    page.locator("#on-1").focus()
    page.wait_for_selector(".spread:not(.bare) #on-1 .frame")
    assert page.evaluate("document.activeElement.id") == "on-1"


def test_far_pictures_are_emptied_but_what_is_half_written_stays(
    many: tuple[Opened, Sheet],
) -> None:
    page = many[1].page
    page.locator("#pages-open > summary").click()
    go(page, "#p2")
    page.wait_for_selector("#p2 .beside")
    page.locator("#p2").get_by_text("place it").first.click()
    page.locator("#p2").get_by_label("width").fill("7")
    go(page, "#p3")
    page.wait_for_selector("#p3 .beside")
    page.locator("#p3 .hand button", has_text="prepare").focus()
    walked(page, 34)
    left = filled(page)
    assert "p2" in left and "p3" in left and "p1" not in left and len(left) <= 26
    assert page.locator("#p2").get_by_label("width").input_value() == "7"
    # once it is decided or let be, it goes like the others
    page.locator("#p2").get_by_label("width").evaluate("at => delete at.dataset.dirty")
    page.locator("#p2 [id^=place-]").evaluate("at => at.open = false")
    page.evaluate("document.activeElement.blur()")
    for number in range(35, PICTURES + 1):
        go(page, f"#p{number}")
        page.wait_for_selector(f"#p{number}:not(.stub) .beside")
    left = filled(page)
    assert "p2" not in left and "p3" not in left and len(left) <= 26
    # its name is there as before, and its place fills anew
    assert "002.jpg" in page.locator("#p2").inner_text()
    go(page, "#p2")
    page.wait_for_selector("#p2:not(.stub) .beside")
    assert page.locator("#p2").get_by_label("width").input_value() == "8"
    page.locator("#pages-open > summary").click()


def test_the_browser_finds_what_is_far(many: tuple[Opened, Sheet]) -> None:
    page = many[1].page
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    page.evaluate("getSelection().removeAllRanges()")
    assert page.evaluate(f"find('{PICTURES - 1:03}.jpg')")
    at = page.evaluate("getSelection().anchorNode.parentElement.closest('article').id")
    assert at == f"p{PICTURES - 1}"
    page.evaluate("getSelection().removeAllRanges()")
    # what stands at a page too, where it is bare
    of_pages = """() => {
        for (let times = 0; times < 40 && find('not a layout'); times++)
            if (getSelection().anchorNode.parentElement.closest('.spread.bare')) return true;
        return false;
    }"""
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    assert page.evaluate(of_pages)
    page.evaluate("getSelection().removeAllRanges()")


def test_paper_is_printed_whole(many: tuple[Opened, Sheet]) -> None:
    page = many[1].page
    page.evaluate("scrollTo({ top: 0, behavior: 'instant' })")
    assert page.locator(".spread.bare").count() > 5
    assert page.locator("article.stub").count() > 5
    paper = pypdfium2.PdfDocument(page.pdf())
    drawn = [
        one for sheet in paper for one in sheet.get_objects((pypdfium2.raw.FPDF_PAGEOBJ_IMAGE,))
    ]
    assert len(drawn) >= PICTURES
    printed = "".join(sheet.get_textpage().get_text_range() for sheet in paper)
    assert all(f"{number:03}.jpg" in printed for number in range(1, PICTURES + 1))
    # it is as it was again
    assert page.locator(".spread.bare").count() > 5
    assert page.locator("article.stub").count() > 5
    assert page.locator(".on-page").count() == PICTURES
