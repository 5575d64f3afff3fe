"""The house standard in Chromium: read, tried, written and taken back, with and without a mouse."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import TR002, need
from one_picture import ICC, an_issue
from sheets import HOUSES, TITLE, Opened, opened
from test_open_browser import (  # noqa: F401 - its fixtures are ours too
    OF_WIDTH,
    Sheet,
    browser,
    cache,
)

from pressworthy.house import load_house
from pressworthy.plugins import Registry

pytestmark = pytest.mark.xdist_group("a condition made")
MADE_MS = 600_000
"""That a busy machine may take to make a coarse profile, which is seconds of a processor."""

Standing = tuple[Sheet, Path]


@pytest.fixture(scope="module")
def standing(
    browser: Any,  # noqa: F811
    tmp_path_factory: pytest.TempPathFactory,
    cache: Path,  # noqa: F811
) -> Iterator[tuple[Opened, Sheet, Path]]:
    """A sheet of one picture, and its house's folder."""
    houses = Path(shutil.copytree(HOUSES, tmp_path_factory.mktemp("press") / "houses"))
    folder = an_issue(tmp_path_factory.mktemp("autumn") / "autumn")
    with opened(folder, cache, "--house-folder", houses) as server:
        sheet = Sheet(browser, server)
        sheet.page.get_by_text("1 picture judged").wait_for()
        yield server, sheet, houses
        assert sheet.complaints == []
        sheet.close()


def field(page: Any, path: str) -> Any:
    return page.locator(f'form.try[data-path="{path}"] .value')


def beside(page: Any, path: str) -> Any:
    """Return what is told beside a value."""
    within = page.locator(f'form.try[data-path="{path}"]')
    return page.locator(".sentence", has=within).locator(".outcome")


SPREAD, PPI = "rules / luminance / least spread", "output / ppi"
FEW = "rules / resolution / severity / too-few-pixels"


def test_from_the_sheet_to_a_written_value_and_back_by_keys_alone(
    standing: tuple[Opened, Sheet, Path], registry: Registry
) -> None:
    _, sheet, houses = standing
    page, file = sheet.page, houses / f"{TITLE}.yaml"
    before = file.read_bytes()
    page.get_by_role("link", name="read the house standard").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name=TITLE).wait_for()
    field(page, PPI).focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("150 ppi")
    page.keyboard.press("Enter")
    told = beside(page, PPI)
    told.get_by_text("would no longer stop").wait_for()
    assert "1 picture of 1 would be judged otherwise" in told.inner_text()
    assert file.read_bytes() == before
    # let be by one key, and the value stands as it stood
    page.keyboard.press("Escape")
    told.locator(".if").wait_for(state="detached")
    assert field(page, PPI).input_value() == "300 ppi"
    # tried again, with a reason, and written
    page.keyboard.press("Control+A")
    page.keyboard.type("150 ppi")
    page.keyboard.press("Enter")
    told.locator("form.write").wait_for()
    for words in ("newsprint runs at half the ruling", "Ada Quillon"):
        page.keyboard.press("Tab")
        while page.evaluate("document.activeElement.localName") == "a":
            page.keyboard.press("Tab")
        page.keyboard.type(words)
    page.keyboard.press("Enter")
    made = page.locator(".decisions li:not(.back)", has_text="ppi is 150 ppi")
    made.wait_for()
    assert load_house(TITLE, registry, houses).output.ppi == 150
    own = page.locator(".sentence.own", has=field(page, PPI))
    own.get_by_text("newsprint runs at half the ruling").wait_for()
    assert "slack-tide.yaml, line" in own.inner_text()
    made.get_by_role("button").focus()
    page.keyboard.press("Enter")
    page.locator(".decisions li.back").wait_for()
    assert file.read_bytes() == before
    assert field(page, PPI).input_value() == "300 ppi"


def test_a_word_is_chosen_and_two_tabs_show_the_same(
    standing: tuple[Opened, Sheet, Path],
) -> None:
    _, sheet, houses = standing
    page = sheet.page
    other = sheet.context.new_page()
    other.goto(page.url)
    other.get_by_role("heading", name=TITLE).wait_for()
    field(other, SPREAD).fill("28 L*")
    assert field(page, FEW).evaluate("one => one.selectedOptions[0].text") == "stops it"
    field(page, FEW).select_option("query")
    told = beside(page, FEW)
    told.get_by_text("would be queried in pier.jpg (page 4) (now it stops it)").wait_for()
    told.get_by_label("why it differs").fill("the editor looks at each")
    told.get_by_label("who").fill("Ada Quillon")
    told.get_by_role("button", name="write it into slack-tide.yaml").click()
    page.locator(".decisions li:not(.back)", has_text="too-few-pixels").wait_for()
    other.locator(".decisions li:not(.back)", has_text="too-few-pixels").wait_for()
    assert field(other, FEW).input_value() == "query"
    # what is half written in the other tab stays there
    assert field(other, SPREAD).input_value() == "28 L*"
    other.close()
    page.locator(".decisions li:not(.back)").get_by_role("button").click()
    page.locator(".decisions li:not(.back)").wait_for(state="detached")
    assert (houses / f"{TITLE}.yaml").read_bytes() == (HOUSES / f"{TITLE}.yaml").read_bytes()


def test_mistakes_stand_beside_the_field_and_what_is_sealed_has_none(
    standing: tuple[Opened, Sheet, Path],
) -> None:
    _, sheet, _ = standing
    page = sheet.page
    field(page, SPREAD).fill("lots")
    field(page, SPREAD).press("Enter")
    beside(page, SPREAD).get_by_role("alert").wait_for()
    assert "write a number, a space and L*" in beside(page, SPREAD).inner_text()
    sealed = page.locator("#s-credit")
    assert sealed.locator("input, select").count() == 0
    assert "Sealed by house.yaml, line 9" in sealed.inner_text()


def test_the_printers_profile_is_dropped_on_the_page(
    standing: tuple[Opened, Sheet, Path],
) -> None:
    _, sheet, houses = standing
    page = sheet.page
    page.evaluate(
        """bytes => {
            const data = new DataTransfer();
            data.items.add(new File([new Uint8Array(bytes)], "press.icc"));
            const how = { dataTransfer: data, bubbles: true, cancelable: true };
            document.body.dispatchEvent(new DragEvent("dragover", how));
            document.body.dispatchEvent(new DragEvent("drop", how));
        }""",
        list(ICC.read_bytes()),
    )
    told = page.locator("#printer .outcome")
    told.get_by_role("row", name="bare paper").wait_for()
    assert not (houses / "press.icc").exists()
    axe_finds_nothing(sheet)
    told.get_by_label("why it differs").fill("the press sent it")
    told.get_by_label("who").fill("Ada Quillon")
    told.get_by_role("button", name="print by it: press.icc beside slack-tide.yaml").click()
    page.locator(".decisions li:not(.back)", has_text="condition is press.icc").wait_for()
    assert (houses / "press.icc").read_bytes() == ICC.read_bytes()
    assert field(page, "output / condition").input_value() == "press.icc"


def test_a_chart_is_laid_on_the_page_and_becomes_the_commands_condition(
    standing: tuple[Opened, Sheet, Path], hall_2: tuple[Path, list[str]]
) -> None:
    chart, (made, _) = need(TR002), hall_2
    _, sheet, houses = standing
    page = sheet.page
    page.set_input_files("#profile", chart)
    told = page.locator("#printer .outcome")
    told.get_by_text("TR002.ti3: 928 patches of").wait_for()
    axe_finds_nothing(sheet, "#printer")
    # by keys alone: name, ruling, limit, light, paper, draft
    told.get_by_label("call the condition").focus()
    for words in ("hall-2", "1000", "240 %"):
        page.keyboard.type(words)
        page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    told.get_by_text("10 to 200 lines/cm can be").wait_for()
    sheet.complaints[:] = [one for one in sheet.complaints if "400" not in one]
    told.get_by_label("ruling").fill("100lpi")
    told.get_by_label("ruling").press("Enter")
    told.get_by_text("hall-2 is being made").wait_for()
    # whoever comes meanwhile sees it too, and the page may be left
    page.reload()
    told.get_by_text("hall-2 is being made: the CMYK profile").wait_for()
    told.get_by_role("row", name="bare paper").wait_for(timeout=MADE_MS)
    assert not (houses / "hall-2").exists()
    fit = told.inner_text()
    assert "patches; the CMYK profile prints them to" in fit and "by this condition" in fit
    axe_finds_nothing(sheet, "#printer")
    told.get_by_label("why it differs").fill("measured in hall 2")
    told.get_by_label("who").fill("Ada Quillon")
    told.get_by_role("button", name="print by it: hall-2 beside slack-tide.yaml").click()
    page.locator(".decisions li:not(.back)", has_text="condition is hall-2").wait_for()
    assert field(page, "output / condition").input_value() == "hall-2"
    # what was agreed to is not asked again
    page.reload()
    field(page, "output / condition").wait_for()
    page.wait_for_timeout(500)
    assert told.inner_text() == ""
    here, there = (
        {file.name: file.read_bytes() for file in where.iterdir()}
        for where in (houses / "hall-2", made)
    )
    assert here == there and len(here) == 4


def test_a_title_is_started_and_its_page_opens(standing: tuple[Opened, Sheet, Path]) -> None:
    _, sheet, houses = standing
    page = sheet.page
    start = page.locator("form.start-one[data-kind=title]")
    for label, words in (
        ("name of the title", "slack-tide"),
        ("what it is, in one sentence", "A yearly of mud."),
        ("who starts it", "Ada Quillon"),
    ):
        start.get_by_label(label).fill(words)
    start.get_by_role("button", name="start it").click()
    start.get_by_text("slack-tide is taken").wait_for()
    # the browser itself notes that a request was refused
    sheet.complaints[:] = [one for one in sheet.complaints if "400" not in one]
    start.get_by_label("name of the title").fill("low-water")
    start.get_by_role("button", name="start it").click()
    page.get_by_role("heading", name="low-water").wait_for()
    assert (houses / "low-water.yaml").read_text("utf-8").startswith("house: low-water\n")
    page.get_by_role("link", name="Back to the sheet").click()
    page.locator("#title option[value=low-water]").wait_for(state="attached")


def axe_finds_nothing(sheet: Sheet, within: str = "html") -> None:
    """Look for what hinders anybody, narrow and wide, and for what runs out of the page."""
    page = sheet.page
    for width in (390, 1024, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if width == 1024:
            # laid out as the widest is
            continue
        assert sheet.found_by_axe(within, OF_WIDTH if width == 1440 else ()) == [], width
