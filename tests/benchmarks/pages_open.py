"""Speed of the open proof's pages, by hand:

    .venv/bin/python tests/benchmarks/pages_open.py [PAGES]

A page PDF of PAGES (100) magazine pages, each of words and two pictures of 1772 x 1240 px. Prints
the seconds of the clock from the sheet's opening, and from a new export, to the first page and to
all of them drawn, and until a page in view is there in print look; the seconds of processor time
that drawing one page takes, as it looks and as it prints, which other load does not change.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "open_proof"))
sys.path.insert(0, str(Path(__file__).parents[1]))

from paged import write_issue
from sheets import TITLE, opened

from pressworthy.house import load_house
from pressworthy.jobs.drawing import page_pull
from pressworthy.plugins import load
from pressworthy.report import pdf
from pressworthy.testing import CREDITED, draw, write_picture

FLAGS = ["--no-sandbox", "--no-first-run", "--disable-quic"]
FIRST = """old => [...document.querySelectorAll('.leaf > .plate > img.own')]
    .some(one => !old.includes(one.getAttribute('src')))"""
# far pages are bare; the server has what is drawn of them
PLATES = """async () => [...(await (await fetch("/pages")).text())
    .matchAll(/<img class="own" src="([^"]+)" alt="page/g)].map(([, source]) => source)"""
LOOK_S = 0.25


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with tempfile.TemporaryDirectory() as name:
        folder, kept = an_issue(Path(name) / "issue"), Path(name)
        pages = write(folder, count)
        told_alone(pages)
        with sync_playwright() as driver, opened(folder, kept / "cache") as server:
            browser = driver.chromium.launch(executable_path=pdf.find_browser(), args=FLAGS)
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            start = time.perf_counter()
            page.goto(server.address)
            print("opened, never seen before", told(page, start, count, []))
            start = time.perf_counter()
            page.locator(".leaf").nth(2).scroll_into_view_if_needed()
            page.wait_for_selector(".leaf img[data-s~=print-after].on-paper", state="attached")
            print(f"a page in view in print look {time.perf_counter() - start:.1f} s after")
            old = page.evaluate(PLATES)
            write(folder, count, shift=20)
            print("exported again", told(page, time.perf_counter(), count, old))
            browser.close()


def told_alone(pages: Path) -> None:
    """Print what drawing costs without a server."""
    output = load_house("coated-magazine", load()).output
    page_pull(pages, 0, output)
    for words, given in (("as it looks", None), ("as it prints", output)):
        start = time.process_time()
        for index in range(1, 6):
            page_pull(pages, index, given)
        print(f"a page {words} {(time.process_time() - start) / 5:.3f} s of processor time")


def told(page: Any, start: float, count: int, old: Sequence[str]) -> str:
    """Return when the first page and all of them were drawn, none of them one of the `old`."""
    page.wait_for_function(FIRST, arg=old, timeout=120_000, polling=20)
    first = time.perf_counter() - start
    while sum(source not in old for source in page.evaluate(PLATES)) < count:
        time.sleep(LOOK_S)
    return f"first page {first:.1f} s, all {count} {time.perf_counter() - start:.1f} s after"


def an_issue(folder: Path) -> Path:
    masters = folder / "masters"
    masters.mkdir(parents=True)
    rows = ["picture,page,house,width,height"]
    for seed in range(4):
        values = draw(1772, 1240, seed=seed)
        write_picture(masters / f"{seed}.jpg", values, words=CREDITED, ppi=300, Q=90)
        rows.append(f"masters/{seed}.jpg,{seed + 1},{TITLE},150,105")
    (folder / "issue.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return folder


def write(folder: Path, count: int, shift: float = 0.0) -> Path:
    masters = folder / "masters"
    spots = [
        [
            (masters / f"{n % 4}.jpg", 20 + shift, 20, 150, 105),
            (masters / f"{(n + 1) % 4}.jpg", 120, 200, 60, 42),
        ]
        for n in range(count)
    ]
    return write_issue(folder / "pages.pdf", spots)


if __name__ == "__main__":
    main()
