"""Speed and weight of the open proof, by hand:

    .venv/bin/python tests/benchmarks/open.py [PICTURES [MANY]]

Prints seconds from opening to the first verdict, and from a decision on a picture of 24 megapixels
to its new verdict on the sheet; frames a second while PICTURES (300) scroll by, and how much of the
processor's time the page's own thread takes for one, which other load does not change; what browser
and server hold, in MB, with MANY (1000) pictures open: their private memory and, of what they
share, each its part (PSS).
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import psutil
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "open_proof"))
sys.path.insert(0, str(Path(__file__).parents[1]))

from sheets import TITLE, Opened, opened

from pressworthy.prepare.charts import dead_leaves
from pressworthy.report import pdf
from pressworthy.testing import CREDITED, write_picture

FLAGS = ["--no-sandbox", "--no-first-run", "--disable-quic"]
SCROLL = """async () => {
    const frame = () => new Promise(requestAnimationFrame);
    const end = () => document.documentElement.scrollHeight - innerHeight - 10;
    const start = performance.now();
    const late = [];
    let frames = 0, last = start;
    while (scrollY < end() && performance.now() - start < 20000) {
        scrollBy({ top: 60, behavior: "instant" });
        await frame();
        const now = performance.now();
        late.push(now - last);
        last = now;
        frames += 1;
    }
    late.sort((a, b) => a - b);
    return [frames / (last - start) * 1000, late[Math.floor(late.length * 0.95)], frames];
}"""


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    many = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        place = Path(name)
        browser = driver.chromium.launch(executable_path=pdf.find_browser(), args=FLAGS)
        with shown(browser, one_large(place / "large"), place / "cache") as (page, _, seconds):
            print(f"first verdict {seconds:.1f} s after opening, of 24 megapixels")
            print(f"decision to new verdict {decision(page):.1f} s, of 24 megapixels")
        with shown(browser, issue(place / "some", count), place / "cache") as (page, _, seconds):
            print(f"{count} pictures: first verdict {seconds:.1f} s after opening")
            judged(page, count)
            metrics = page.context.new_cdp_session(page)
            metrics.send("Performance.enable", {"timeDomain": "threadTicks"})
            before = busy(metrics)
            rate, late, frames = page.evaluate(SCROLL)
            own = (busy(metrics) - before) / frames * 1000
            print(
                f"{count} pictures scroll at {rate:.0f} frames a second, 95 % within {late:.0f} ms"
            )
            print(f"a frame takes {own:.1f} ms of the page's own thread")
        browser.close()
        browser = driver.chromium.launch(executable_path=pdf.find_browser(), args=FLAGS)
        with shown(browser, issue(place / "many", many), place / "cache") as (page, server, _):
            judged(page, many)
            page.wait_for_timeout(3000)
            print(f"{many} pictures: browser {held(browser_processes()):.0f} MB", end=", ")
            print(f"server {held([psutil.Process(server.process.pid)]):.0f} MB")
        browser.close()


def issue(folder: Path, count: int) -> Path:
    """Draw an issue of so many small pictures, each of its own."""
    (folder / "masters").mkdir(parents=True)
    scene = np.clip(dead_leaves(360, 270, seed=1), 0, 255).astype(np.uint8)
    lines = ["picture,page,house,width,height"]
    for number in range(count):
        name = f"{number:04}.jpg"
        turned = np.roll(scene, 7 * number, axis=1)
        write_picture(folder / "masters" / name, turned, words=CREDITED, Q=90)
        lines.append(f"masters/{name},{number + 1},{TITLE},30,22.5")
    (folder / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return folder


def one_large(folder: Path) -> Path:
    """Draw an issue of one picture of 6000 x 4000 px."""
    (folder / "masters").mkdir(parents=True)
    scene = np.clip(dead_leaves(1500, 1000, seed=1), 0, 255).astype(np.uint8)
    values = scene.repeat(4, axis=0).repeat(4, axis=1)
    write_picture(folder / "masters" / "large.jpg", values, words=CREDITED, Q=92)
    rows = f"picture,page,house,width,height\nmasters/large.jpg,1,{TITLE},300,200\n"
    (folder / "issue.csv").write_text(rows, "utf-8")
    return folder


@contextmanager
def shown(browser: Any, folder: Path, cache: Path) -> Iterator[tuple[Any, Opened, float]]:
    """Open an issue, and give page, server, and seconds to the first verdict."""
    start = time.perf_counter()
    with opened(folder, cache) as server:
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(server.address)
        page.wait_for_selector("article.picture", timeout=120_000)
        yield page, server, time.perf_counter() - start
        page.close()


def decision(page: Any) -> float:
    """Place the picture at another size, and return seconds until its verdict is there."""
    picture = page.locator("article.picture").first
    picture.locator("[id^=place-] > summary").click()
    picture.get_by_label("width").fill("700")
    picture.get_by_label("height").fill("466")
    start = time.perf_counter()
    picture.get_by_role("button", name="place it so").click()
    picture.get_by_text("too few pixels").wait_for(timeout=120_000)
    return time.perf_counter() - start


def judged(page: Any, count: int) -> None:
    # the line alone is asked: a search through all words would fill the heap that is weighed
    line = page.locator("#judged", has_text=f"All {count} pictures judged")
    line.wait_for(timeout=3_600_000)
    page.wait_for_timeout(1500)


def busy(metrics: Any) -> float:
    """Return the seconds of processor time that the page's own thread has taken."""
    told = {one["name"]: one["value"] for one in metrics.send("Performance.getMetrics")["metrics"]}
    return float(told["TaskDuration"])


def browser_processes() -> list[psutil.Process]:
    mine = psutil.Process(os.getpid()).children(recursive=True)
    return [
        one for one in mine if "chrom" in one.name().lower() or "headless" in one.name().lower()
    ]


def held(processes: list[psutil.Process]) -> float:
    return float(sum(one.memory_full_info().pss for one in processes)) / 1e6


if __name__ == "__main__":
    main()
