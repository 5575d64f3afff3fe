"""The pages on the desk: the issue's page PDFs as they are, what was drawn of them, and two lanes.

The PDFs at the top of the issue's folder are its pages; one that is exported again is read again.
One lane draws: pages in view first, then the others, then those in view as they print. The other
finds which pictures stand on them. What a stranger's PDF may do, it does in processes of their own.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from pressworthy.files.matching import Known
from pressworthy.files.pages import BY_DEFAULT, PdfPage, Placed, UnreadPages
from pressworthy.house import House
from pressworthy.jobs.accepting import Accepting
from pressworthy.jobs.drawing import Artist
from pressworthy.jobs.pages import (
    by_page_rules,
    known_files,
    of_pages,
    source_of,
    sources_of,
    surveyed,
)
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.pull.packed import packed, unpacked
from pressworthy.jobs.running.cache import (
    Cache,
    HashedFile,
    code_of,
    hashed,
    judged_by,
    output_as,
    unchanged,
)
from pressworthy.jobs.running.workers import cores
from pressworthy.open_proof.desk import Desk, Line
from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.lanes import Lane
from pressworthy.open_proof.page_plan import Page, Plan, ReadPdf, page_plan
from pressworthy.report.marked_proof.remarks import Remark, remarks
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Verdict

MOST_FIRST = 6
"""Pages in view, as many as fill a screen: drawn as they print before any that is out of view."""

State = tuple[int, int, int]
"""Size, time and inode of a file: what tells one state of it from another."""


@dataclass(frozen=True)
class Sought:
    """By what the pictures on pages were judged, and their files sought.

    masters: with what tells their states; rules: of each page's house, those of pages, with the
    output that they judge by; None where no house is known.
    """

    masters: Mapping[Path, State]
    rules: Mapping[str, Any]


@dataclass(frozen=True)
class Asked:
    """A remark on what a page says of its printing that a person is to answer."""

    page: Page
    remark: Remark


@dataclass(frozen=True)
class DrawnPage:
    """A page as drawn, its images laid aside; printed: as it prints, too.

    key: state of the PDF, the page, and by what it was drawn.
    """

    key: tuple[Any, ...]
    pull: Pull
    printed: bool


class PageDesk:
    """The pages of the issue on a desk. All methods may be called from any thread."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._at_once = desk.run.processes or cores()
        self._artist = Artist(at_once=self._at_once)
        self._read: dict[Path, ReadPdf] = {}
        self._states: dict[Path, State] = {}
        self._last_well: dict[Path, ReadPdf] = {}
        self._files: dict[Path, HashedFile | None] = {}
        self._drawn: dict[str, DrawnPage] = {}
        self._known: dict[Path, tuple[State, Known | None]] = {}
        self._sought: dict[Path, Sought | None] = {}
        self._in_view: tuple[str, ...] = ()
        self._planned: tuple[Issue, list[ReadPdf], Plan] | None = None
        self._asked: tuple[Plan, tuple[Asked, ...]] | None = None
        self._by: dict[str, tuple[House, str]] = {}
        self._page_rules: dict[str, tuple[House, Any]] = {}
        self._lock = threading.RLock()
        self._drawing = Lane("pages", self._draw, desk.trouble)
        self._finding = Lane("on pages", self._find, desk.trouble)
        self._stop: Callable[[], None] = lambda: None

    # ---- what is there -------------------------------------------------------------------------

    def plan(self) -> Plan:
        """Return the pages as they are now."""
        with self.desk.still():
            issue = self.desk.issue
        with self._lock:
            read, known = list(self._read.values()), self._planned
            # values do not change, so the same ones have the same plan
            if known and known[0] is issue and _same(known[1], read):
                return known[2]
            plan = page_plan(issue, read)
            self._planned = issue, read, plan
            return plan

    def asked(self) -> tuple[Asked, ...]:
        """Return the remarks on the pages' printing that nobody has accepted, but for notes."""
        plan = self.plan()
        with self._lock:
            known = self._asked
        # asked for often; the plan is another where a page or what was accepted is
        if known and known[0] is plan:
            return known[1]
        with self.desk.still():
            accepting = Accepting(self.desk.issue.waivers, self.desk.run.today)
        found = tuple(
            Asked(page, remark)
            for page in plan.pages
            for box in page.boxes
            if box.verdict and (box.verdict.findings() or box.verdict.unmeasured())
            for remark in remarks(accepting.waived(box.verdict), Pull())
            if remark.kind not in ("note", "waived")
        )
        with self._lock:
            self._asked = plan, found
        return found

    def drawn(self, page: Page) -> Pull | None:
        """Return what was drawn of a page, as it last was; None before it is."""
        known = self._drawn.get(id_of(page))
        return known.pull if known else None

    def house(self, page: str) -> House | None:
        """Return the house that a page is printed for: of its first picture, or of the issue."""
        lines = list(self.desk.lines.values())
        mine = (line for line in lines if line.place.page == page)
        first: Line | None = next(mine, lines[0] if lines else None)
        return first.house if first else None

    def page_of(self, id: str) -> Page | None:
        """Return the page of a name towards the browser, None where there is none."""
        return next((page for page in self.plan().pages if id_of(page) == id), None)

    def known(self) -> list[Known]:
        """Return the masters by what they show; those that are new are looked at."""
        masters = self._masters()
        with self._lock:
            fresh = {
                path: state
                for path, state in masters.items()
                if self._known.get(path, (None, None))[0] != state
            }
        if fresh:
            found = {one.path: one for one in known_files(list(fresh), processes=self._processes())}
            with self._lock:
                for path, state in fresh.items():
                    self._known[path] = state, found.get(path)
        with self._lock:
            return [one for path in masters if (one := self._known[path][1])]

    # ---- what is done --------------------------------------------------------------------------

    def start(self) -> None:
        self._stop = self.desk.listen(self._heard, is_sheet=False)
        for lane in (self._drawing, self._finding):
            lane.start()
            lane.wake()

    def end(self) -> None:
        self._stop()
        for lane in (self._drawing, self._finding):
            lane.end()
        self._artist.end()

    def show(self, ids: Sequence[str]) -> None:
        """Note which pages are in view: these are drawn first."""
        self._in_view = tuple(ids)
        self._drawing.wake()

    def _heard(self, what: str, _: Mapping[str, Any]) -> None:
        # the desk tells "foot" whenever it has taken in the folder, "glance" when it has judged
        if what in ("foot", "glance"):
            self._drawing.wake()
            self._finding.wake()

    # ---- reading and drawing -------------------------------------------------------------------

    def _draw(self) -> bool:
        """Do the next thing for the pages to be seen; tell whether there was one."""
        if self._read_anew():
            return True
        with self._lock:
            well = {path for path, read in self._read.items() if not read.why}
        drawable = {id_of(page): page for page in self.plan().pages if page.pdf in well}
        seen = [drawable[id] for id in self._in_view if id in drawable]
        if self._draw_some(seen, printed=False):
            return True
        if not self._is_calm():
            return False
        return (
            self._draw_some(seen[:MOST_FIRST], printed=True)
            or self._draw_some(drawable.values(), printed=False)
            or self._draw_some(seen, printed=True)
        )

    def _draw_some(self, pages: Iterable[Page], *, printed: bool) -> bool:
        """Draw the first of these pages that are due, as many as at once; as `_draw`."""
        due = (page for page in pages if self._is_due(page, printed=printed))
        batch = list(islice(due, self._at_once))
        with ThreadPoolExecutor(self._at_once) as pool:
            list(pool.map(lambda page: self._draw_page(page, printed=printed), batch))
        return bool(batch)

    def _is_calm(self) -> bool:
        """Tell whether nothing is being judged: pictures go first."""
        done = self.desk.progress()
        return not self.desk.stopped and done.done == done.total

    def _read_anew(self) -> bool:
        """Read one PDF that has changed, or forget one that is gone; tell whether there was one."""
        states = {path: _state(path) for path in _pdfs(self.desk.folder)}
        with self._lock:
            gone = self._states.keys() - states.keys()
            for path in gone:
                for kept in (self._states, self._read, self._last_well, self._files, self._sought):
                    kept.pop(path, None)
            changed = [path for path in states if states[path] != self._states.get(path)]
        if not changed:
            if gone:
                self._tell()
            return bool(gone)
        path = changed[0]
        read = self._sized(path, states[path])
        with self._lock:
            if read.why and (before := self._last_well.get(path)):
                # half exported perhaps: the pages stay as they were
                read = replace(before, why=f"{read.why}; below it is as it last was")
            self._read[path] = read
            self._states[path] = states[path]
            self._sought.pop(path, None)
        self._tell()
        self._finding.wake()
        return True

    def _tell(self) -> None:
        self.desk.tell("pages")
        # it tells what is to be answered on pages, too
        self.desk.tell("top")

    def _sized(self, path: Path, state: State) -> ReadPdf:
        file = self._hashed(path)
        try:
            pages: tuple[PdfPage, ...] = self._artist.pages(path)
        except UnreadPages as reason:
            return ReadPdf(path, state[1] / 1e9, why=str(reason))
        with self._lock:
            self._files[path] = file
            before = self._last_well.get(path)
            read = ReadPdf(path, state[1] / 1e9, pages)
            if before and before.pages == pages:
                # until they are found anew its pictures stand where they stood
                read = replace(
                    read, placed=before.placed, sources=before.sources, judged=before.judged
                )
            self._last_well[path] = read
            return read

    def _hashed(self, path: Path) -> HashedFile | None:
        with self.desk.remembering() as run:
            return (run.cache.hashed(path) if run.cache else None) or hashed(path)

    def _is_due(self, page: Page, *, printed: bool) -> bool:
        known = self._drawn.get(id_of(page))
        if known is None or known.key[0] != self._states.get(page.pdf or Path()):
            return not printed or known is not None
        if not printed or known.pull.why:
            return False
        house = self.house(page.page)
        return house is not None and known.key != self._key(page, house)

    def _key(self, page: Page, house: House | None) -> tuple[Any, ...]:
        by = self._drawn_by(house) if house else code_of({})
        return self._states.get(page.pdf or Path()), page.index, by

    def _drawn_by(self, house: House) -> str:
        """Return the hash of all that decides how a page prints, but the page."""
        known = self._by.get(house.name)
        if known is None or known[0] is not house:
            known = house, judged_by(house, self.desk.registry.rules)
            self._by[house.name] = known
        return known[1]

    def _draw_page(self, page: Page, *, printed: bool) -> None:
        assert page.pdf is not None
        house = self.house(page.page) if printed else None
        key = self._key(page, house)
        asked = f"page {page.index} of a PDF, drawn by {key[2]}"
        file = self._files.get(page.pdf)
        with self.desk.remembering() as run:
            pull = _recalled(run.cache, file, asked)
            if pull is None:
                pull = self._artist.draw(page.pdf, page.index, house.output if house else None)
                if run.cache and file and not pull.why and unchanged(file):
                    run.cache.keep_pull(file, asked, packed(Verdict("", ()), pull))
        if _state(page.pdf) != key[0]:
            # it changed meanwhile, and is read again first
            return
        aside = self.desk.laid_aside.pull(pull)
        with self._lock:
            self._drawn[id_of(page)] = DrawnPage(key, aside, printed)
        self.desk.tell("leaf", id=id_of(page))

    # ---- finding the pictures ------------------------------------------------------------------

    def _find(self) -> bool:
        """Find the pictures on one PDF's pages, then the files they came from; as `_draw`."""
        with self._lock:
            read = list(self._read.values())
        for pdf in read:
            if pdf.pages and pdf.path not in self._sought:
                return self._survey(pdf)
        if not self._is_calm():
            return False
        masters = self._masters()
        for pdf in read:
            if pdf.placed is not None and not pdf.lost:
                houses = {page: self.house(page) for page in {one.page for one in pdf.placed}}
                wanted = Sought(masters, {page: self._rules(one) for page, one in houses.items()})
                if self._sought.get(pdf.path) != wanted:
                    return self._seek(pdf, houses, wanted)
        return False

    def _survey(self, pdf: ReadPdf) -> bool:
        try:
            found = replace(pdf, placed=surveyed(pdf.path, BY_DEFAULT))
        except SetupError as error:
            lost = str(error).removeprefix(f"{pdf.path}: ")
            found = replace(pdf, placed=(), sources={}, judged={}, lost=lost)
        if pdf.placed != found.placed and not found.lost:
            found = replace(found, sources=None, judged={})
        return self._found(pdf, found, None)

    def _seek(self, pdf: ReadPdf, houses: Mapping[str, House | None], wanted: Sought) -> bool:
        """Judge the pictures on a PDF's pages by what is said there, and find their files."""
        known, run = self.known(), replace(self.desk.run, processes=self._processes())
        by_house: dict[str, list[Placed]] = {}
        for one in pdf.placed or ():
            house = houses[one.page]
            if one.placement:
                by_house.setdefault(house.name if house else "", []).append(one)
        sources: dict[tuple[int, int], Path] = {}
        judged: dict[tuple[int, int], Verdict] = {}
        of_name = {house.name: house for house in houses.values() if house}
        for name, placed in by_house.items():
            if name not in of_name:
                sources |= sources_of(placed, known, processes=run.processes)
                continue
            for there in by_page_rules(placed, known, of_name[name], run):
                at = there.placed.index, there.placed.number
                judged[at] = there.verdict
                if source := source_of(there.verdict):
                    sources[at] = source
        return self._found(pdf, replace(pdf, sources=sources, judged=judged), wanted)

    def _rules(self, house: House | None) -> Any:
        """Return what a page is judged by: rules of pages with the output, as values."""
        if house is None:
            return None
        known = self._page_rules.get(house.name)
        if known is None or known[0] is not house:
            rules = of_pages(house, self.desk.run).rules
            known = house, (house.name, rules, output_as(house.output))
            self._page_rules[house.name] = known
        return known[1]

    def _found(self, before: ReadPdf, found: ReadPdf, sought: Sought | None) -> bool:
        with self._lock:
            if self._read.get(before.path) is not before:
                return True
            self._read[before.path] = found
            self._sought[before.path] = sought
            if not found.why:
                self._last_well[before.path] = found
        self._tell()
        return True

    def _masters(self) -> dict[Path, State]:
        """Return the masters with what tells their states."""
        with self.desk.still():
            issue = self.desk.issue
        paths = dict.fromkeys([*(entry.path for entry in issue.entries), *issue.unlisted])
        return {path: _state(path) for path in paths}

    def _processes(self) -> int:
        return max(1, (self.desk.run.processes or cores()) - 1)


def id_of(page: Page) -> str:
    """Return a page's name towards the browser."""
    name = f"{page.pdf.name}\0{page.index}" if page.pdf else f"\0{page.page}"
    return hashlib.sha256(name.encode("utf-8", "surrogateescape")).hexdigest()[:12]


def _same(ones: Sequence[ReadPdf], others: Sequence[ReadPdf]) -> bool:
    return len(ones) == len(others) and all(a is b for a, b in zip(ones, others, strict=True))


def _pdfs(folder: Path) -> list[Path]:
    """Return the page PDFs of an issue's folder: those at its top."""
    try:
        files = sorted(folder.iterdir())
    except OSError:
        return []
    return [
        path
        for path in files
        if path.suffix.lower() == ".pdf" and not path.name.startswith(".") and path.is_file()
    ]


def _state(path: Path) -> State:
    try:
        facts = path.stat()
    except (OSError, ValueError):
        return 0, 0, 0
    return facts.st_size, facts.st_mtime_ns, facts.st_ino


def _recalled(cache: Cache | None, file: HashedFile | None, asked: str) -> Pull | None:
    """Return a page as an earlier run drew it, None where none did."""
    kept = cache.recall_pull(file.content, asked) if cache and file else None
    return unpacked(kept)[1] if kept else None


__all__ = ["Asked", "PageDesk", "id_of"]
