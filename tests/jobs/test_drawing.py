"""Pages drawn by a worker that stays: as they look and print, and what a hostile PDF may do."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from pdf_writer import write_pages
from PIL import Image

from pressworthy.files.pages import UnreadPages, pages_in
from pressworthy.house import House
from pressworthy.jobs.drawing import Artist, page_pull
from pressworthy.jobs.running.standing import Lost, Standing
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.running.workers import Limits

PATCHES = "1 0 0 rg 0 0 100 200 re f 0 g 100 0 50 200 re f"
"""A third of the page red, a sixth black, the rest bare."""
PAGE = "/MediaBox [0 0 300 200] /TrimBox [0 0 300 200]"


@pytest.fixture(scope="module")
def artist() -> Iterator[Artist]:
    one = Artist()
    yield one
    one.end()


def write(folder: Path, content: str = PATCHES, **more: object) -> Path:
    return write_pages(folder / "p.pdf", content, {}, **{"page": PAGE, **more})  # type: ignore[arg-type]


def shades(data: bytes) -> list[list[int]]:
    """Return the colours in the middle of red, black and bare paper."""
    values = np.asarray(Image.open(BytesIO(data)).convert("RGB"))
    height, width = values.shape[:2]
    return [values[height // 2, round(width * at)].tolist() for at in (1 / 6, 5 / 12, 3 / 4)]


def test_a_page_looks_as_it_is_and_prints_as_ink_on_this_paper(
    tmp_path: Path, houses: dict[str, House]
) -> None:
    pdf = write(tmp_path)
    plain = page_pull(pdf, 0)
    assert set(plain.views) == {"supplied"} and plain.mm == pytest.approx((105.8, 70.6), abs=0.2)
    red, black, paper = shades(plain.views["supplied"])
    assert np.abs(np.array([red, black, paper]) - [[255, 0, 0], [0, 0, 0], [255] * 3]).max() < 12
    for name in ("coated-magazine", "newsprint"):
        output = houses[name].output
        pull = page_pull(pdf, 0, output)
        assert set(pull.views) == {"supplied", "soft", "print", "mono"}
        assert pull.paper_view == "print" and pull.paper == pull.views["print"]
        red, black, paper = shades(pull.views["print"])
        # newsprint is darker than coated paper, its black lighter, its red weaker
        assert 12 < max(black) < min(paper) and red[0] < 250
        if name == "coated-magazine":
            coated = red, black, paper
    assert sum(paper) < sum(coated[2]) and sum(black) > sum(coated[1])
    assert red[0] - red[2] < coated[0][0] - coated[0][2]


def test_a_worker_draws_what_is_drawn_here(artist: Artist, tmp_path: Path) -> None:
    pdf = write(tmp_path, pages=3)
    assert artist.pages(pdf) == pages_in(pdf)
    assert [page.page for page in artist.pages(pdf)] == ["1", "2", "3"]
    assert artist.draw(pdf, 2) == page_pull(pdf, 2)


def damaged(change: Callable[[bytes], bytes]) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        pdf = write(folder, pages=3)
        pdf.write_bytes(change(pdf.read_bytes()))
        return pdf

    return make


def locked(folder: Path) -> Path:
    with pikepdf.open(write(folder)) as pdf:
        pdf.save(folder / "locked.pdf", encryption=pikepdf.Encryption(user="a", owner="b"))
    return folder / "locked.pdf"


HOSTILE = {
    "cut off": (damaged(lambda raw: raw[: len(raw) // 2]), "damaged"),
    "another file": (damaged(lambda raw: b"MZ" + raw[9:]), "not a PDF"),
    "locked": (locked, "password"),
    "of units": (lambda folder: write(folder, page=f"{PAGE} /UserUnit 9"), "UserUnit"),
    "gone": (lambda folder: folder / "none.pdf", "cannot be read"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_a_pdf_that_cannot_be_drawn_is_told_in_words(
    case: str, artist: Artist, tmp_path: Path
) -> None:
    make, words = HOSTILE[case]
    pdf = make(tmp_path)
    with pytest.raises(UnreadPages, match=words):
        artist.pages(pdf)
    # a page of units can be drawn, were it known how large
    assert artist.draw(pdf, 0).why or case == "of units"


def test_a_broken_page_leaves_the_others(artist: Artist, tmp_path: Path) -> None:
    pdf = damaged(lambda raw: raw.replace(b"[4 0 R 5 0 R 6 0 R]", b"[4 0 R 9 0 R 6 0 R]"))(tmp_path)
    assert len(artist.pages(pdf)) == 3
    told = [artist.draw(pdf, index).why for index in range(3)]
    assert told[0] == "" and "page 2 is damaged" in told[1] and not artist.draw(pdf, 0).why


@pytest.mark.parametrize(
    "box",
    ["[0 0 0 0]", "[0 0 1e9 1e9]", "[0 0 14400 1]", "[5 5 -5 -5]", "[0 0 nan 9]", "[0 0 9]"],
)
def test_a_page_of_any_size_is_drawn_small(box: str, artist: Artist, tmp_path: Path) -> None:
    pdf = write(tmp_path, page=f"/MediaBox {box}")
    (page,) = artist.pages(pdf)
    assert 0 < page.width < 4e5 and 0 < page.height < 4e5
    pull = artist.draw(pdf, 0)
    assert pull.why == "" and 0 < max(pull.size) <= 1200 and min(pull.size) > 0


def test_a_page_that_takes_too_long_is_given_up_and_the_next_is_drawn(tmp_path: Path) -> None:
    lines = (f"{n % 300} 0 m {n * 7 % 300} 200 l {n * 3 % 300} 90 l B*" for n in range(20_000))
    blend = "/ExtGState << /G << /ca .5 /CA .5 /BM /Luminosity >> >>"
    slow = write(tmp_path, "/G gs " + "\n".join(lines), resources=blend)
    quick = write_pages(tmp_path / "quick.pdf", PATCHES, {}, page=PAGE)
    hasty = Artist(Limits(0.7, 1_000_000_000))
    try:
        while hasty.draw(quick, 0).why:
            pass  # until it has loaded what it draws with
        start = time.monotonic()
        assert "longer than 0.7 s" in hasty.draw(slow, 0).why
        assert time.monotonic() - start < 20
        while hasty.draw(quick, 0).why:
            pass
    finally:
        hasty.end()


def _act(task: str) -> str:
    if task == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if task == "break":
        raise ValueError("no such thing")
    if task.startswith("wait"):
        tell("waiting")
        try:
            subprocess.run([sys.executable, "-c", "import time; time.sleep(600)"], check=False)
        finally:
            Path(task.removeprefix("wait ")).write_text("cleared away")
    return f"{task} {os.getpid()}"


def test_a_worker_that_stays_is_renewed_when_it_dies() -> None:
    standing = Standing(_act, Limits(20, 1_000_000_000))
    try:
        first = standing.do("a")
        assert standing.do("a") == first
        with pytest.raises(Lost, match="no such thing"):
            standing.do("break")
        assert standing.do("a") == first
        with pytest.raises(Lost, match="SIGKILL"):
            standing.do("die")
        assert standing.do("a") != first
    finally:
        standing.end()


def test_a_worker_is_watched_and_stopped_when_it_has_cleared_away(tmp_path: Path) -> None:
    standing = Standing(_act, Limits(60, 1_000_000_000))
    seen: list[tuple[str, ...]] = []

    def watch(told: Sequence[Any]) -> str:
        seen.append(tuple(told))
        return "it was stopped" if told else ""

    try:
        assert standing.do("a", watch).startswith("a ")
        with pytest.raises(Lost, match="it was stopped"):
            standing.do(f"wait {tmp_path / 'left'}", watch)
        assert seen[-1] == ("waiting",)
        assert (tmp_path / "left").read_text() == "cleared away"
        # another starts anew
        assert standing.do("b").startswith("b ")
    finally:
        standing.end()
