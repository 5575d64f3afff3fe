"""Makes the pictures of docs/open-proof.md again, from the sheet in Chromium:

    .venv/bin/python docs/make_open_pictures.py

Opens the invented magazine's issue in a folder of its own, decides as the page tells, and draws
each screen on the way. About two minutes.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyvips
from playwright.sync_api import sync_playwright

from pressworthy.report import pdf

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "open_proof"))

from paged import write_issue

DOCS = Path(__file__).parent
PICTURES = DOCS / "pictures"
HOUSES = DOCS.parent / "demo" / "houses"
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
MS = 90_000
MOST_BYTES = 120_000
SIZES = (
    ("harbour at low water.jpg", 183, 129), ("marsh at noon.jpg", 150, 105),
    ("fog over the flats.jpg", 100, 105), ("chapel of the drowned.jpg", 150, 105),
    ("dyed cloth.jpg", 150, 105), ("oranges.jpg", 150, 105), ("three of the crew.tif", 150, 105),
)  # fmt: skip
"""The issue's page plan: mm."""


def main() -> None:
    """Draw every picture."""
    sys.path.insert(0, str(DOCS.parent / "demo"))
    from issue import draw_issue

    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        work = Path(name)
        draw_issue(work / "drawn")
        browser = driver.chromium.launch(executable_path=pdf.find_browser(), args=FLAGS)
        page = browser.new_page(viewport={"width": 1180, "height": 760})
        page.set_default_timeout(MS)
        begun(page, work)
        winter = work / "winter"
        (work / "drawn" / "slack-tide").rename(winter / "masters")
        lines = ["picture,page,house,width,height"]
        lines += [
            f"masters/{picture},{number},slack-tide,{width},{height}"
            for number, (picture, width, height) in enumerate(SIZES, 1)
        ]
        (winter / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
        with served(work, "winter") as address:
            page.goto(address)
            page.get_by_text("All 7 pictures judged").wait_for()
            page.wait_for_function("() => document.querySelectorAll('#glances img').length >= 7")
            shot(page, "open-sheet")
            decided(page)
            paged(page, winter)
            told(page)
        browser.close()


def begun(page: Any, work: Path) -> None:
    """Draw the start without a folder, and the sheet of an issue without a picture."""
    (work / "winter").mkdir()
    with served(work, "winter") as address:
        page.goto(address)
        page.get_by_text("Drop the issue").wait_for()
        page.locator("#way summary").click()
        shot(page, "open-empty")
    with served(work) as address:
        page.goto(address)
        shot(page, "open-start", height=430)


def decided(page: Any) -> None:
    """Decide as docs/open-proof.md tells, and draw what is seen on the way."""
    oranges = picture(page, "oranges.jpg")
    oranges.get_by_text("see it read as each space").first.click()
    oranges.locator(".ways img").first.wait_for()
    shot(page, "open-spaces", oranges)
    oranges.get_by_role("button", name="vouch for opRGB").first.click()
    oranges.get_by_text("vouched for").first.wait_for()

    fog = picture(page, "fog over the flats.jpg")
    fog.get_by_text("crop it", exact=True).first.click()
    fog.locator(".live-ppi", has_text="ppi").wait_for()
    shot(page, "open-crop", fog)
    fog.get_by_text("crop it", exact=True).first.click()

    marsh = picture(page, "marsh at noon.jpg")
    marsh.locator("[id^=a-luminance-blown] summary").click()
    shot(page, "open-accept", marsh)
    marsh.get_by_label("why").fill("the only frame of the heron")
    marsh.get_by_label("who").fill("Ada Quillon")
    marsh.get_by_label("until").fill("2099-06-30")
    marsh.get_by_role("button", name="let it stand").click()
    marsh.get_by_text("accepted by Ada Quillon").wait_for()

    crew = picture(page, "three of the crew.tif")
    crew.get_by_text("before and after").click()
    crew.locator(".stage img").first.wait_for()
    crew.get_by_label("three times").check()
    shot(page, "open-compare", crew)

    page.get_by_role("button", name="prepare all copies").click()
    page.locator("#said", has_text="copies are made").wait_for()
    letters = page.locator(".letters")
    letters.locator("summary").first.click()
    shot(page, "open-record", letters)


def paged(page: Any, winter: Path) -> None:
    """Draw the issue by its pages: each picture on a page of an invented PDF, as listed."""
    spots = [
        [(winter / "masters" / name, 13.5, 20.0, float(width), float(height))]
        for name, width, height in SIZES
    ]
    write_issue(winter / "pages.pdf", spots)
    # what is not in view is not drawn
    page.locator(".leaf").first.wait_for()
    page.locator(".leaf").first.scroll_into_view_if_needed()
    for number in range(2):
        page.locator(".leaf").nth(number).locator("img.on-paper").first.wait_for(state="attached")
    # and what the pages say of their printing is told when their pictures are found
    page.locator(".leaf [data-look]").first.wait_for(state="attached")
    shot(page, "open-pages", page.locator("#pages"), hidden=".slip")


def told(page: Any) -> None:
    """Draw a value of the house standard tried, as the house standard's page tells it."""
    page.get_by_role("link", name="read the house standard").click()
    field = page.locator('form.try[data-path="output / ppi"] input')
    field.fill("400 ppi")
    field.press("Enter")
    page.locator("#s-output .if").first.wait_for()
    shot(page, "open-house", page.locator("#s-output"))


def picture(page: Any, name: str) -> Any:
    """Return a picture of the sheet, come into view."""
    article = page.locator("article.picture", has=page.get_by_text(name, exact=True))
    article.wait_for()
    article.evaluate("at => at.scrollIntoView({ behavior: 'instant' })")
    article.locator(".plate img:visible").first.wait_for()
    return article


def shot(page: Any, name: str, at: Any = None, height: int = 760, hidden: str = "") -> None:
    """Draw what the window shows, from an element on, without what `hidden` names."""
    if hidden:
        page.locator(hidden).evaluate("at => at.style.visibility = 'hidden'")
    page.wait_for_timeout(800)
    if at:
        at.evaluate("at => at.scrollIntoView({ behavior: 'instant' })")
        page.wait_for_timeout(500)
    drawn = pyvips.Image.new_from_buffer(page.screenshot(), "")
    drawn = drawn.crop(0, 0, drawn.width, min(height, drawn.height)).extract_band(0, n=3)
    for quality in (80, 70, 60, 50, 40):
        data = drawn.write_to_buffer(".webp", Q=quality, effort=6, strip=True)
        if len(data) <= MOST_BYTES:
            break
    (PICTURES / f"{name}.webp").write_bytes(data)
    print(f"{name}: {len(data)} bytes", flush=True)


@contextmanager
def served(work: Path, *folder: str) -> Iterator[str]:
    """Open the issue, or none, and give the address until the block ends."""
    settings = {
        **os.environ,
        "HOME": "/home/ada",
        "XDG_CACHE_HOME": str(work / "cache"),
        "XDG_DATA_HOME": str(work / "data"),
    }
    words = [sys.executable, "-m", "pressworthy", "open", *folder, "--no-browser"]
    words += ["--house-folder", str(HOUSES)]
    with subprocess.Popen(words, cwd=work, env=settings, stdout=subprocess.PIPE, text=True) as one:
        assert one.stdout is not None
        told = ""
        while not (found := re.search(r"http://\S+", told)):
            told += one.stdout.readline()
        try:
            yield found[0]
        finally:
            one.terminate()


if __name__ == "__main__":
    main()
