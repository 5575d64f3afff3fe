"""Saving: the marked proof of the issue as one file, from the pulls that the sheet shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import COPIES, LIST, PROOF, WAIVERS
from pressworthy.open_proof.laid_aside import restored
from pressworthy.prepare.store import put
from pressworthy.report import marked_proof, pdf
from pressworthy.values.faults import SetupError

PAGE = "marked-proof.html"


@dataclass(frozen=True)
class Page:
    """A marked proof to write; the pulls of its sheets name their images, which lie in `aside`.

    for_paper: where the page to be printed goes, None for none.
    """

    sheets: Sequence[Sheet]
    preparing: tuple[str, ...]
    aside: Path
    target: Path
    for_paper: Path | None


def save(desk: Desk, *, printed: bool = False) -> str:
    """Write the marked proof, printed to a PDF too if asked, and return where it lies, in words.

    Raises SetupError.
    """
    browser = pdf.find_browser() if printed else ""
    desk.pull_all()
    target = desk.folder / PROOF / PAGE
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError([f"{target.parent}: {error.strerror}"]) from None
    sheets = desk.let_stand()
    for_paper = desk.laid_aside.folder / "for-paper.html" if printed else None
    page = Page(sheets, _preparing(desk), desk.laid_aside.folder, target, for_paper)
    # in a process of its own: its images are all in memory at once
    (why,) = desk.run.over(_written, [page], _lost)
    if why:
        raise SetupError([f"the marked proof could not be written: {why}"])
    if for_paper:
        pdf.print_page(browser, for_paper.read_text("utf-8"), target.with_suffix(".pdf"))
    beside = f", and as PDF beside it as {target.with_suffix('.pdf').name}" if printed else ""
    return f"the marked proof lies in {PROOF}/{PAGE}{beside}"


def _lost(page: Page, why: str, *_: object) -> str:
    return why


def _preparing(desk: Desk) -> tuple[str, ...]:
    """Return the words of the command that prepares the issue, in its folder."""
    words = ["pressworthy", "prepare", "--list", LIST, "--into", COPIES]
    if (desk.folder / WAIVERS).exists():
        words += ["--waivers", WAIVERS]
    if desk.house_folder:
        words += ["--house-folder", str(desk.house_folder)]
    return tuple(words)


def _written(page: Page) -> str:
    sheets = [
        replace(sheet, pulls=tuple(_whole(pull, page.aside) for pull in sheet.pulls))
        for sheet in page.sheets
    ]
    try:
        put(marked_proof.render(sheets, page.preparing).encode(), page.target)
        if page.for_paper:
            put(marked_proof.render_for_paper(sheets, page.preparing).encode(), page.for_paper)
    except OSError as error:
        return error.strerror or str(error)
    return ""


def _whole(pull: Pull, aside: Path) -> Pull:
    def read(images: Mapping[str, bytes]) -> dict[str, bytes]:
        return {view: restored(name, aside) for view, name in images.items()}

    return replace(
        pull,
        views=read(pull.views),
        overlays=read(pull.overlays),
        close=read(pull.close),
        small=restored(pull.small, aside) if pull.small else b"",
        paper=restored(pull.paper, aside) if pull.paper else b"",
    )
