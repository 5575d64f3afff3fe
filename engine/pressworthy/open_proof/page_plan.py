"""The issue by its pages: which picture stands where, of its page PDFs and its list. A value.

A page of a PDF shows its pictures where the PDF has them; a page that only the list knows is a
plain sheet with a box a picture, in the list's order and at the list's sizes, and is no layout.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pressworthy.files.pages import PdfPage, Placed
from pressworthy.files.picture_list import Entry
from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.journal import Place
from pressworthy.values.finding import Verdict
from pressworthy.values.placement import Placement

A_SERIES = ((210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (594.0, 841.0), (841.0, 1189.0))
"""Sheets of paper in mm, ISO 216: A4 to A0."""

MARGIN_MM, GAP_MM = 12.0, 6.0
"""Around and between the boxes of a page that is no layout."""

UNSIZED_MM = (45.0, 33.0)
"""The box of a picture of which the list says no size."""

SAME_MM = 0.1
"""Sizes on a page and in the list that differ by no more are one: the list has hundredths."""


@dataclass(frozen=True)
class ReadPdf:
    """A page PDF as it was read.

    changed: when it was written, seconds; why: nothing of it can be drawn; lost: why its pictures
    were not found. placed: the pictures on its pages, None as long as they are not looked for.
    sources: (index, number) of a picture -> the master it came from, None as long as that is not
    looked for; judged: the same -> the verdict of the rules of pages, nothing accepted yet.
    """

    path: Path
    changed: float
    pages: tuple[PdfPage, ...] = ()
    placed: tuple[Placed, ...] | None = None
    sources: Mapping[tuple[int, int], Path] | None = None
    judged: Mapping[tuple[int, int], Verdict] = field(default_factory=dict)
    why: str = ""
    lost: str = ""


@dataclass(frozen=True)
class Box:
    """A picture on a page: left, top, width and height as fractions of the page.

    place: its line of the list, None where it has none; name: of its file, "" where none is known;
    sought: whether its file was looked for. on_page, listed: mm, None where unknown. verdict: of
    the rules of pages, nothing accepted yet; None before it, and on a page of no PDF.
    """

    left: float
    top: float
    width: float
    height: float
    place: Place | None = None
    name: str = ""
    sought: bool = True
    on_page: tuple[float, float] | None = None
    listed: tuple[float, float] | None = None
    verdict: Verdict | None = None

    @property
    def otherwise(self) -> bool:
        """Whether the page places it at another size than the list says."""
        if self.on_page is None or self.listed is None:
            return False
        pairs = zip(self.on_page, self.listed, strict=True)
        return any(abs(one - other) > SAME_MM for one, other in pairs)


@dataclass(frozen=True)
class Page:
    """A page of the issue.

    page: its label; pdf: where it is drawn from, None for a page that only the list knows; width,
    height: mm; scale: of the boxes, less than 1 where the list's sizes would find no room.
    missing: the list's pictures for this page that are not found on the PDF's page, or not yet,
    where they are not sought; beyond: why a picture on it cannot be measured, a line each.
    """

    page: str
    pdf: Path | None
    index: int
    width: float
    height: float
    boxes: tuple[Box, ...] = ()
    missing: tuple[Place, ...] = ()
    beyond: tuple[str, ...] = ()
    stated: bool = True
    sought: bool = True
    scale: float = 1.0


@dataclass(frozen=True)
class Plan:
    """The pages in their order, and what is to be told of them as a whole.

    shown: the PDFs that they are drawn from; told: what cannot be shown; pageless: pictures of the
    list that stand on no page.
    """

    pages: tuple[Page, ...] = ()
    shown: tuple[ReadPdf, ...] = ()
    told: tuple[str, ...] = ()
    pageless: int = 0


def page_plan(issue: Issue, read: Iterable[ReadPdf] = ()) -> Plan:
    """Return the issue by its pages; read: its page PDFs."""
    listed: dict[str, list[tuple[Place, Entry]]] = {}
    for place, entry in zip(issue.places(), issue.entries, strict=True):
        listed.setdefault(place.page, []).append((place, entry))
    pageless = len(listed.pop("", []))
    files, told = _standing(read)
    pages: list[Page] = []
    for pdf in files:
        finder = _Finder(pdf, listed)
        pages += [finder.page(one) for one in pdf.pages]
    paper = _usual(pages)
    for label in sorted(listed.keys() - {one.page for one in pages}, key=_reading):
        _put(pages, _of_list(label, listed[label], paper))
    return Plan(tuple(pages), tuple(files), tuple(told), pageless)


def spreads(pages: Sequence[Page]) -> list[tuple[Page | None, Page | None]]:
    """Return the pages as a reader opens them: even numbers left, odd ones right (left, right).

    Pages of unlike height, or whose labels are no numbers, stand alone, on the left.
    """
    found: list[tuple[Page | None, Page | None]] = []
    waiting: Page | None = None
    for page in pages:
        number = int(page.page) if page.page.isdecimal() else None
        if waiting:
            fits = number == int(waiting.page) + 1 and abs(page.height - waiting.height) < 1
            found.append((waiting, page if fits else None))
            waiting = None
            if fits:
                continue
        if number is None:
            found.append((page, None))
        elif number % 2:
            found.append((None, page))
        else:
            waiting = page
    return [*found, (waiting, None)] if waiting else found


def _standing(read: Iterable[ReadPdf]) -> tuple[list[ReadPdf], list[str]]:
    """Return the PDFs that show the issue's pages now, in reading order, and words on the others.

    Of two with a page of one label the one written last counts.
    """
    files: list[ReadPdf] = []
    told: list[str] = []
    of_page: dict[str, str] = {}
    for pdf in sorted(read, key=lambda one: (-one.changed, one.path.name)):
        if pdf.why:
            told.append(f"{pdf.path.name} cannot be drawn: {pdf.why}")
        newer = next((of_page[one.page] for one in pdf.pages if one.page in of_page), "")
        if newer:
            told.append(f"{pdf.path.name} is not shown: {newer} is newer and has these pages too")
        elif pdf.pages:
            files.append(pdf)
            of_page |= {one.page: pdf.path.name for one in pdf.pages}
            if pdf.lost:
                told.append(f"{pdf.path.name}: its pictures are not found: {pdf.lost}")
    return sorted(files, key=lambda one: _reading(one.pages[0].page)), told


class _Finder:
    """Finds the lines of the list behind the pictures on a PDF's pages."""

    def __init__(self, pdf: ReadPdf, listed: Mapping[str, list[tuple[Place, Entry]]]) -> None:
        self._pdf, self._listed = pdf, listed
        self._on_page: dict[int, list[Placed]] = {}
        for one in pdf.placed or ():
            self._on_page.setdefault(one.index, []).append(one)
        self._of_file: dict[str, list[tuple[Place, Entry]]] = {}
        for line in (line for lines in listed.values() for line in lines):
            self._of_file.setdefault(os.path.realpath(line[1].path), []).append(line)

    def page(self, page: PdfPage) -> Page:
        free = list(self._listed.get(page.page, []))
        boxes, beyond = [], []
        for one in self._on_page.get(page.index, []):
            if one.beyond:
                beyond.append(one.beyond)
            elif one.placement and "trim" in one.facts:
                boxes.append(self._box(one, one.placement, page, free))
        missing = tuple(place for place, _ in free)
        return Page(
            page.page, self._pdf.path, page.index, page.width, page.height, tuple(boxes), missing,
            tuple(beyond), page.stated, self._pdf.sources is not None,
        )  # fmt: skip

    def _box(
        self, placed: Placed, at: Placement, page: PdfPage, free: list[tuple[Place, Entry]]
    ) -> Box:
        on_page = at.width, at.height
        bare = replace(
            _within(placed.facts["trim"], page),
            on_page=on_page,
            verdict=self._pdf.judged.get((placed.index, placed.number)),
        )
        sources = self._pdf.sources
        if sources is None:
            alike = [line for line in free if _as_listed(line[1], on_page)]
            # of several it could be any, and the file tells which
            found = alike[0] if len(alike) == 1 else None
            if found is None:
                return replace(bare, sought=False)
        else:
            source = sources.get((placed.index, placed.number))
            if source is None:
                return bare
            mine = self._of_file.get(os.path.realpath(source), [])
            here = [line for line in mine if line in free]
            found = next(iter([*_sized_first(here, on_page), *mine]), None)
            if found is None:
                return replace(bare, name=source.name)
        if found in free:
            free.remove(found)
        place, entry = found
        listed = entry.request.size if place.page == page.page else None
        return replace(bare, place=place, name=entry.path.name, listed=listed)


def _sized_first(
    lines: list[tuple[Place, Entry]], size: tuple[float, float]
) -> list[tuple[Place, Entry]]:
    return sorted(lines, key=lambda line: not _as_listed(line[1], size))


def _as_listed(entry: Entry, size: tuple[float, float]) -> bool:
    listed = entry.request.size
    return listed is not None and all(
        abs(one - other) <= SAME_MM for one, other in zip(listed, size, strict=True)
    )


def _within(trim: Mapping[str, float], page: PdfPage) -> Box:
    """Return the part of a page that a picture takes; trim: mm that it lies inside each edge."""
    left, top = max(trim["left"], 0.0), max(trim["top"], 0.0)
    right, bottom = max(trim["right"], 0.0), max(trim["bottom"], 0.0)
    width, height = page.width - left - right, page.height - top - bottom
    return Box(left / page.width, top / page.height, width / page.width, height / page.height)


def _usual(pages: Iterable[Page]) -> tuple[float, float] | None:
    """Return the size that most pages have, None for none."""
    sizes = Counter((round(page.width, 1), round(page.height, 1)) for page in pages)
    return sizes.most_common(1)[0][0] if sizes else None


def _put(pages: list[Page], page: Page) -> None:
    """Put a page before the first that comes after it by its number."""
    number = _reading(page.page)
    at = next((n for n, one in enumerate(pages) if _reading(one.page) > number), len(pages))
    pages.insert(at, page)


def _reading(label: str) -> tuple[int, Any]:
    """Return the sorting key of pages: those without a number, as covers, come first."""
    return (1, int(label)) if label.isdecimal() else (0, label)


def _of_list(
    label: str, lines: Sequence[tuple[Place, Entry]], paper: tuple[float, float] | None
) -> Page:
    """Return a plain sheet with a box for each of a page's pictures."""
    sizes = [entry.request.size or UNSIZED_MM for _, entry in lines]
    widest, highest = (max(side) for side in zip(*sizes, strict=True))
    fitting = (one for one in A_SERIES if widest <= one[0] and highest <= one[1])
    width, height = paper or next(fitting, A_SERIES[-1])
    scale, spots = _packed(sizes, (width, height))
    boxes = []
    for (left, top), size, (place, entry) in zip(spots, sizes, lines, strict=True):
        across, down = size[0] * scale / width, size[1] * scale / height
        at = left / width, top / height, across, down
        boxes.append(Box(*at, place, entry.path.name, listed=entry.request.size))
    return Page(label, None, 0, width, height, tuple(boxes), scale=scale)


def _packed(
    sizes: Sequence[tuple[float, float]], paper: tuple[float, float]
) -> tuple[float, list[tuple[float, float]]]:
    """Return the largest scale, 1 or less, at which boxes find room in rows, and where each is."""
    # a picture as large as its page fills it
    alone = len(sizes) == 1 and any(
        size > side - 2 * MARGIN_MM for size, side in zip(sizes[0], paper, strict=True)
    )
    scale = 1.0
    while True:
        spots = list(_rows(sizes, paper[0], scale, 0.0 if alone else MARGIN_MM))
        ends = [top + size[1] * scale for (_, top), size in zip(spots, sizes, strict=True)]
        right = [left + size[0] * scale for (left, _), size in zip(spots, sizes, strict=True)]
        room = 0.0 if alone else MARGIN_MM
        if (max(ends) <= paper[1] - room and max(right) <= paper[0] - room) or scale < 0.02:
            return scale, spots
        scale *= 0.94


def _rows(
    sizes: Sequence[tuple[float, float]], across: float, scale: float, margin: float
) -> Iterator[tuple[float, float]]:
    left = top = margin
    row = 0.0
    for width, height in sizes:
        if left > margin and left + width * scale > across - margin:
            left, top, row = margin, top + row + GAP_MM * min(1.0, 2 * scale), 0.0
        yield left, top
        left += width * scale + GAP_MM * min(1.0, 2 * scale)
        row = max(row, height * scale)


__all__ = ["Box", "Page", "Plan", "ReadPdf", "page_plan", "spreads"]
