"""What the open sheet shows of the issue's pages: sheets of paper, and pencil where pictures stand.

A box on a page is a link to its picture's margin, and bears its worst mark; from the margin a link
leads back to the box.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from pressworthy.house import House
from pressworthy.open_proof import page_plan
from pressworthy.open_proof.desk import Line
from pressworthy.open_proof.journal import Place
from pressworthy.open_proof.laid_aside import address
from pressworthy.open_proof.page_desk import PageDesk, id_of
from pressworthy.open_proof.page_plan import Box, Page, Plan
from pressworthy.open_proof.sheet import fragment, marked_line
from pressworthy.report.marked_proof.pictures import Plate, plate_of
from pressworthy.report.marked_proof.remarks import WORDS, Marked
from pressworthy.report.marked_proof.sections import paper_of
from pressworthy.report.marked_proof.slip import STATES, VIEWS
from pressworthy.values.units import figure

SMALL, SMALLER = 12, 40
"""From so many pages on they are drawn smaller, and smaller again."""

EVERY_VIEW = " ".join(f"{view}-{state}" for view in VIEWS for state in STATES)
"""The positions of the switches, of an image that shows in each."""

STRANGER = "stranger"
"""The kind of a box whose picture came from no master here."""


@dataclass(frozen=True)
class ShownBox:
    """A picture's box on a page.

    number: of the picture on the sheet, 0 for one that is not on it; kind: of its weightiest mark,
    "" where it has none yet; style: its place, as CSS writes it; said: what it is, for who does not
    see it; words: its remarks, for the margin; small: address of the picture, drawn in a box of a
    page that only the list knows, "" elsewhere.
    """

    number: int
    kind: str
    style: str
    name: str
    said: str
    words: tuple[tuple[str, str], ...] = ()
    small: str = ""
    first: bool = False


@dataclass(frozen=True)
class ShownPage:
    """A page: side: ``left`` or ``right`` of its spread; kind: the weightiest mark on it.

    plate: what was drawn of it; why: nothing can be; missing: (number, name) of pictures that are
    listed for it and not found on it; notes: what else is to be told, a line each.
    """

    id: str
    page: str
    side: str
    ratio: str
    paper: str
    house_index: int
    kind: str
    is_layout: bool
    boxes: tuple[ShownBox, ...]
    missing: tuple[tuple[int, str], ...]
    sought: bool
    notes: tuple[str, ...]
    plate: Plate | None
    why: str

    @property
    def marked(self) -> list[ShownBox]:
        """Return the boxes with words for the margin, each picture's once."""
        of_number = {box.number or -n: box for n, box in reversed([*enumerate(self.boxes, 1)])}
        return [box for box in self.boxes if box.words and box in of_number.values()]


@dataclass(frozen=True)
class Spread:
    """Two pages that face each other, or one.

    pages: those there are, the left one first; opens_right: there is only the right one; wide: the
    only one is wider than high, such as two pages in one.
    """

    id: str
    pages: tuple[ShownPage, ...]
    opens_right: bool
    wide: bool

    @property
    def label(self) -> str:
        return " and ".join(page.page for page in self.pages)

    @property
    def words(self) -> bool:
        """Whether there is anything to be said in its margin."""
        return any(page.marked or page.missing or page.notes for page in self.pages)


def pages(desk: PageDesk) -> str:
    """Return the sheet's part on the pages; "" where no page is known."""
    plan = desk.plan()
    if not plan.pages and not plan.told:
        return ""
    shown = _Shown(desk, plan)
    spreads = tuple(shown.spreads())
    many = len(plan.pages)
    size = "smaller" if many > SMALLER else "small" if many > SMALL else ""
    kinds = [page.kind for spread in spreads for page in spread.pages]
    return fragment(
        "pages",
        spreads=spreads,
        every_view=EVERY_VIEW,
        many=many,
        marked=sum(kind in ("stop", "query", "unjudged", STRANGER) for kind in kinds),
        size=size,
        files=[f"{pdf.path.name}, exported {_at(pdf.changed)}" for pdf in plan.shown],
        told=plan.told,
        pageless=plan.pageless,
        otherwise=sum(box.otherwise for page in plan.pages for box in page.boxes),
    )


def leaf(desk: PageDesk, id: str) -> str | None:
    """Return one page of the sheet, None where there is none of that name."""
    shown = _Shown(desk, desk.plan())
    for spread in shown.spreads(only=id):
        for page in spread.pages:
            if page.id == id:
                return fragment("leaf", leaf=page, every_view=EVERY_VIEW)
    return None


class _Shown:
    """Makes what is shown of pages, from what is known of their pictures."""

    def __init__(self, desk: PageDesk, plan: Plan) -> None:
        self._desk, self._plan = desk, plan
        with desk.desk.still():
            self._lines: dict[Place, Line] = {line.place: line for line in desk.desk.lines.values()}
            self._houses = [house.name for house in desk.desk.houses()]
        self._seen: set[int] = set()
        self._papers: dict[str, str] = {}

    def spreads(self, only: str = "") -> Iterator[Spread]:
        """Yield the spreads; only: of the page of this id alone."""
        for left, right in page_plan.spreads(self._plan.pages):
            pair = [page for page in (left, right) if page]
            if only and only not in map(id_of, pair):
                continue
            shown = tuple(self._page(page, "right" if page is right else "left") for page in pair)
            wide = len(pair) == 1 and pair[0].width > pair[0].height
            yield Spread(shown[0].id, shown, left is None, wide)

    def _page(self, page: Page, side: str) -> ShownPage:
        boxes = tuple(self._box(box, page) for box in page.boxes)
        pull = self._desk.drawn(page)
        house = self._desk.house(page)
        paper = self._paper(house) if house else "255,255,255"
        return ShownPage(
            id=id_of(page),
            page=page.page,
            side=side,
            ratio=f"{page.width:.2f}/{page.height:.2f}",
            paper=paper,
            house_index=self._houses.index(house.name) if house else -1,
            kind=_weightiest(box.kind for box in boxes),
            is_layout=page.pdf is not None,
            boxes=boxes,
            missing=tuple(self._missing(page)),
            sought=page.sought,
            notes=tuple(_notes(page)),
            plate=plate_of(pull, 0.0, address) if pull and pull.paper else None,
            why=pull.why if pull else "",
        )

    def _paper(self, house: House) -> str:
        if house.name not in self._papers:
            self._papers[house.name] = ",".join(map(str, paper_of(house.output.condition)))
        return self._papers[house.name]

    def _missing(self, page: Page) -> Iterator[tuple[int, str]]:
        for place in page.missing:
            line = self._lines.get(place)
            if line:
                yield line.number, line.task.path.name

    def _box(self, box: Box, page: Page) -> ShownBox:
        style = ";".join(
            f"{name}:{share * 100:.3f}%"
            for name, share in (
                ("left", box.left), ("top", box.top), ("width", box.width), ("height", box.height),
            )
        )  # fmt: skip
        line = self._lines.get(box.place) if box.place else None
        if line is None:
            return _without_line(box, style)
        with self._desk.desk.still():
            marked = marked_line(self._desk.desk, line)
        words = list(_words(marked)) if marked else []
        if box.otherwise and box.on_page and box.listed:
            words.append(("query", f"{_mm(box.on_page)} on the page, {_mm(box.listed)} listed"))
        if line.place.page != page.page:
            where = f"page {line.place.page}" if line.place.page else "no page"
            listed = f"listed for {where}"
            words.append(("query", f"it stands here, and is {listed}"))
        kind = _weightiest([marked.kind if marked else "", *(kind for kind, _ in words)])
        name = line.task.path.name
        told = f"{WORDS[kind]}. " if kind else "not judged yet"
        said = f"{line.number}, {name}: {told}" + "; ".join(text for _, text in words)
        first = line.number not in self._seen and line.place.page == page.page
        if first:
            self._seen.add(line.number)
        small = marked.pull.small if marked and not page.pdf else b""
        return ShownBox(
            line.number, kind, style, name, said, tuple(words), address(small) if small else "",
            first,
        )  # fmt: skip


def _without_line(box: Box, style: str) -> ShownBox:
    if not box.sought:
        return ShownBox(0, "", style, "", "a picture; its file is being looked for")
    size = f", {_mm(box.on_page)}" if box.on_page else ""
    if box.name:
        text = f"{box.name}{size}: a master that stands in no title yet"
    else:
        text = f"a picture{size} that came from no master here; put its file in"
    return ShownBox(0, STRANGER, style, box.name, text, ((STRANGER, text),))


def _words(marked: Marked) -> Iterator[tuple[str, str]]:
    """Yield (kind, words) of what weighs most; the picture's own margin says it all."""
    weighty = ("note",) if marked.kind == "note" else ("stop", "unjudged", "query")
    for remark in marked.remarks:
        if remark.kind in weighty:
            fate = f" {remark.fate}" if remark.mended else ""
            yield remark.kind, f"{remark.what}, {remark.measured}.{fate}"


def _notes(page: Page) -> Iterator[str]:
    if page.pdf is None:
        sizes = "at the list’s sizes" if page.scale == 1 else f"at {page.scale:.2f} of their sizes"
        yield f"Not a layout: the list’s pictures for this page in their order, {sizes}."
    elif not page.stated:
        yield "The PDF does not say where this page is trimmed: all of it is drawn."
    yield from (f"{text[:1].upper()}{text[1:]}." for text in page.beyond)


def _weightiest(kinds: Iterator[str] | list[str]) -> str:
    there = set(kinds)
    order = ["stop", "unjudged", STRANGER, "query", "note", "waived", "passed"]
    return next((kind for kind in order if kind in there), "")


def _at(seconds: float) -> str:
    return datetime.fromtimestamp(seconds).strftime("%Y-%m-%d %H:%M")


def _mm(size: tuple[float, float]) -> str:
    return f"{figure(size[0])} × {figure(size[1], 'mm')}"


__all__ = ["leaf", "pages"]
