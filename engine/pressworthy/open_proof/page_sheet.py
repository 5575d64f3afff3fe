"""What the open sheet shows of the issue's pages: sheets of paper, and pencil where pictures stand.

A box on a page is a link to its picture's margin, and bears its worst mark; from the margin a link
leads back to the box. What a page says of its own printing is remarked at the page, in the words of
the command that checks pages.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from pressworthy.house import House
from pressworthy.jobs.accepting import Accepting
from pressworthy.jobs.pull import Pull
from pressworthy.open_proof import day_book, guidance, page_plan
from pressworthy.open_proof.answers import Answer, answers_to
from pressworthy.open_proof.desk import Line
from pressworthy.open_proof.journal import Place
from pressworthy.open_proof.laid_aside import address
from pressworthy.open_proof.page_desk import PageDesk, id_of
from pressworthy.open_proof.page_plan import Box, Page, Plan
from pressworthy.open_proof.sheet import fragment, marked_line
from pressworthy.report.marked_proof.pictures import Plate, plate_of
from pressworthy.report.marked_proof.remarks import WORDS, Marked, Remark, remarks
from pressworthy.report.marked_proof.sections import paper_of
from pressworthy.report.marked_proof.slip import STATES, VIEWS
from pressworthy.values.units import figure

SMALL, SMALLER = 12, 40
"""From so many pages on they are drawn smaller, and smaller again."""

EVERY_VIEW = " ".join(f"{view}-{state}" for view in VIEWS for state in STATES)
"""The positions of the switches, of an image that shows in each."""

LINE_ENDS = re.compile(r">\n\s*<")
"""Between two tags: each would be a node of its own in the browser, and nothing is seen of it."""

STRANGER = "stranger"
"""The kind of a box whose picture came from no master here."""


@dataclass(frozen=True)
class PageHand:
    """What a person can do about a remark on a page. id: of the picture, or of the page."""

    id: str
    by: str
    alike: Mapping[str, int] = field(default_factory=Counter)

    def answers(self, remark: Remark) -> Answer:
        return answers_to(remark)

    def caution(self, finding: str) -> str:
        return guidance.caution(finding)


@dataclass(frozen=True)
class OnPage:
    """A remark on what a page says of its printing. hand: None where it stands beside another."""

    remark: Remark
    hand: PageHand | None


@dataclass(frozen=True)
class ShownBox:
    """A picture's box on a page.

    number: of the picture on the sheet, 0 for one that is not on it; kind: of its weightiest mark,
    "" where it has none yet; style: its place, as CSS writes it; said: what it is, for who does not
    see it; words: its remarks, for the margin; small: address of the picture, drawn in a box of a
    page that only the list knows, "" elsewhere; on_page: what the page says of its inks.
    """

    number: int
    kind: str
    style: str
    name: str
    said: str
    words: tuple[tuple[str, str], ...] = ()
    small: str = ""
    first: bool = False
    on_page: tuple[OnPage, ...] = ()


@dataclass(frozen=True)
class ShownPage:
    """A page: side: ``left`` or ``right`` of its spread; kind: the weightiest mark on it.

    plate: what was drawn of it; why: nothing can be; missing: (number, name) of pictures that are
    listed for it and not found on it; notes: what else is to be told, a line each. on_page: what it
    says of its printing that is told of whole pages, with the first that says so.
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
    on_page: tuple[OnPage, ...]
    plate: Plate | None
    why: str

    @property
    def marked(self) -> list[ShownBox]:
        """Return the boxes with words for the margin, each picture's once."""
        of_number = {box.number or -n: box for n, box in reversed([*enumerate(self.boxes, 1)])}
        return [
            box for box in self.boxes if box.on_page or (box.words and box in of_number.values())
        ]

    @property
    def open(self) -> list[OnPage]:
        """Return the remarks on the page itself that nobody has accepted."""
        return [one for one in self.on_page if one.remark.kind != "waived"]


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
        return any(page.marked or page.missing or page.notes or page.on_page for page in self.pages)

    @property
    def stamp(self) -> str:
        """Return a name of all that it shows: another where anything has changed."""
        shown = repr(self).encode("utf-8", "surrogateescape")
        return hashlib.sha256(shown).hexdigest()[:12]


def pages(desk: PageDesk) -> str:
    """Return the sheet's part on the pages, all of it; "" where no page is known."""
    return _pages(desk, bare=False)


def changed(desk: PageDesk, stamps: Mapping[str, str]) -> str:
    """Return the same with its spreads bare, and those that have not changed as places alone.

    stamps: of the spreads that a browser has, by id. A spread is filled when it comes near.
    """
    return LINE_ENDS.sub("><", _pages(desk, bare=True, stamps=stamps))


def _pages(desk: PageDesk, *, bare: bool, stamps: Mapping[str, str] | None = None) -> str:
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
        bare=bare,
        stamps=stamps or {},
        every_view=EVERY_VIEW,
        many=many,
        marked=sum(kind in ("stop", "query", "unjudged", STRANGER) for kind in kinds),
        size=size,
        files=[f"{pdf.path.name}, exported {_at(pdf.changed)}" for pdf in plan.shown],
        told=plan.told,
        pageless=plan.pageless,
        otherwise=sum(box.otherwise for page in plan.pages for box in page.boxes),
    )


def spread(desk: PageDesk, id: str) -> str | None:
    """Return the spread on which a page is, filled; None where there is no page of that name."""
    for one in _Shown(desk, desk.plan()).spreads(only=id):
        return fragment("spread", spread=one, bare=False, every_view=EVERY_VIEW)
    return None


class _Shown:
    """Makes what is shown of pages, from what is known of their pictures."""

    def __init__(self, desk: PageDesk, plan: Plan) -> None:
        self._desk, self._plan = desk, plan
        self._rules = desk.desk.registry.rules
        with desk.desk.still():
            issue = desk.desk.issue
            self._accepting = Accepting(issue.waivers, desk.desk.run.today)
            self._by = day_book.name_of(issue)
            self._lines: dict[Place, Line] = {line.place: line for line in desk.desk.lines.values()}
            self._houses = [house.name for house in desk.desk.houses()]
        self._seen: set[int] = set()
        self._answered: set[tuple[str, tuple[str, ...]]] = set()
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
        said = [self._said(box, page) for box in page.boxes]
        boxes = tuple(
            self._box(box, page, own) for box, (_, own) in zip(page.boxes, said, strict=True)
        )
        of_page = tuple(one for whole, _ in said for one in whole)
        pull = self._desk.drawn(page)
        house = self._desk.house(page.page)
        paper = self._paper(house) if house else "255,255,255"
        return ShownPage(
            id=id_of(page),
            page=page.page,
            side=side,
            ratio=f"{page.width:.2f}/{page.height:.2f}",
            paper=paper,
            house_index=self._houses.index(house.name) if house else -1,
            kind=_weightiest([*(box.kind for box in boxes), *(one.remark.kind for one in of_page)]),
            is_layout=page.pdf is not None,
            boxes=boxes,
            missing=tuple(self._missing(page)),
            sought=page.sought,
            notes=tuple(_notes(page)),
            on_page=of_page,
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

    def _said(self, box: Box, page: Page) -> tuple[tuple[OnPage, ...], tuple[OnPage, ...]]:
        """Return the remarks on the printing of a page that a box bears: on the page, on the box.

        What a rule finds in pages as a set is the page's.
        """
        if box.verdict is None:
            return (), ()
        line = self._lines.get(box.place) if box.place else None
        mine = line.id if line and line.place.page == page.page else id_of(page)
        whole: list[OnPage] = []
        own: list[OnPage] = []
        for remark in remarks(self._accepting.waived(box.verdict), Pull()):
            rules = [self._rules[one.partition("/")[0]] for one in remark.findings]
            is_whole = all(rule.check_set for rule in rules)
            id = id_of(page) if is_whole else mine
            # one answer for the same thing: a picture may stand twice on a page
            first = (id, remark.findings) not in self._answered
            self._answered.add((id, remark.findings))
            hand = PageHand(id, self._by) if first else None
            (whole if is_whole else own).append(OnPage(remark, hand))
        return tuple(whole), tuple(own)

    def _box(self, box: Box, page: Page, said: tuple[OnPage, ...]) -> ShownBox:
        style = ";".join(
            f"{name}:{share * 100:.3f}%"
            for name, share in (
                ("left", box.left), ("top", box.top), ("width", box.width), ("height", box.height),
            )
        )  # fmt: skip
        line = self._lines.get(box.place) if box.place else None
        if line is None:
            return _without_line(box, style, said)
        with self._desk.desk.still():
            marked = marked_line(self._desk.desk, line)
        words = list(_words(marked)) if marked else []
        if box.otherwise and box.on_page and box.listed:
            words.append(("query", f"{_mm(box.on_page)} on the page, {_mm(box.listed)} listed"))
        if line.place.page != page.page:
            where = f"page {line.place.page}" if line.place.page else "no page"
            listed = f"listed for {where}"
            words.append(("query", f"it stands here, and is {listed}"))
        kinds = [*(kind for kind, _ in words), *(one.remark.kind for one in said)]
        kind = _weightiest([marked.kind if marked else "", *kinds])
        name = line.task.path.name
        told = f"{WORDS[kind]}. " if kind else "not judged yet"
        told += "; ".join([*(text for _, text in words), *map(_in_short, said)])
        first = line.number not in self._seen and line.place.page == page.page
        if first:
            self._seen.add(line.number)
        small = marked.pull.small if marked and not page.pdf else b""
        return ShownBox(
            line.number, kind, style, name, f"{line.number}, {name}: {told}", tuple(words),
            address(small) if small else "", first, said,
        )  # fmt: skip


def _in_short(one: OnPage) -> str:
    return f"{one.remark.what}, {one.remark.measured}"


def _without_line(box: Box, style: str, said: tuple[OnPage, ...]) -> ShownBox:
    if not box.sought:
        return ShownBox(0, "", style, "", "a picture; its file is being looked for")
    size = f", {_mm(box.on_page)}" if box.on_page else ""
    if box.name:
        text = f"{box.name}{size}: a master that stands in no title yet"
    else:
        text = f"a picture{size} that came from no master here; put its file in"
    told = "; ".join([text, *map(_in_short, said)])
    kind = _weightiest([STRANGER, *(one.remark.kind for one in said)])
    return ShownBox(0, kind, style, box.name, told, ((STRANGER, text),), on_page=said)


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


__all__ = ["changed", "pages", "spread"]
