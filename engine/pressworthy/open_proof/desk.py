"""What lies on the desk: the issue as it is, what was judged and pulled, and the lanes at work.

Nothing here is state of its own: the issue is read from its folder, and verdicts and pulls follow
from it. What changes, by a decision on the sheet or by a hand in the folder, is told to whoever
listens; what that touched is judged again, and nothing else.
"""

from __future__ import annotations

import hashlib
import os
import threading
import time
from bisect import insort
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task, accepted, check, judged_here, let_stand, with_tones
from pressworthy.jobs.accepting import Accepting
from pressworthy.jobs.checking import verdicts_on
from pressworthy.jobs.gathering import of_house, report_on
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.preparing import Barred, barred, orders, prepare_copy, vouched
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.running.cache import Cache
from pressworthy.jobs.running.workers import cores
from pressworthy.open_proof import day_book, issue, looks
from pressworthy.open_proof.issue import COPIES, Issue
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.open_proof.laid_aside import LaidAside
from pressworthy.open_proof.lanes import Lane
from pressworthy.open_proof.recent import recents
from pressworthy.open_proof.standards import Draft
from pressworthy.plugins import Registry
from pressworthy.prepare import Order
from pressworthy.prepare.store import folder_for_copies
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Outcome, State, Verdict
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.report import Report, weight

Answer = TypeVar("Answer")
Tell = Callable[[str, Mapping[str, Any]], None]
"""Takes what happened, and its particulars."""

FEW = 8
"""So many pictures that a decision touched are judged at once, beside a delivery under way."""

_PULLS_AT_A_TIME = 2

CALM_SECONDS = 0.8
"""After a change nothing is pulled for so long: the next one may be about the same picture."""


@dataclass(frozen=True, eq=False)
class Line:
    """A picture on the sheet: one line of the list.

    id: its name towards the browser; number: on the sheet, by the list's order; judged_by: the
    house's fingerprint; state: of its file, as the folder tells it.
    """

    id: str
    number: int
    place: Place
    house: House
    task: Task
    judged_by: str
    state: str

    @property
    def key(self) -> tuple[Any, ...]:
        """All that its verdict and its pull follow from."""
        return self.task, self.house.name, self.judged_by, self.state


@dataclass(frozen=True)
class Progress:
    """How far judging has come; seconds: that are left, None where nothing tells yet."""

    done: int
    total: int
    seconds: float | None


@dataclass(frozen=True)
class CopyMade:
    """What became of preparing one; path: of the copy, "" where none was made."""

    path: str
    words: str


class Desk:
    """One issue, open. All methods may be called from any thread.

    order: ids of the pictures that are judged, those worst off when they came first. turn: how
    much was told so far, so that whoever missed something knows.
    """

    def __init__(
        self,
        folder: Path,
        run: Run,
        scratch: Path,
        house_folder: Path | None = None,
        cache: Path | None = None,
    ) -> None:
        self.folder = folder
        self.house_folder = house_folder
        self.laid_aside = LaidAside(scratch)
        self.issue: Issue = day_book.opened(folder, run.registry, house_folder)
        self.lines: dict[str, Line] = {}
        self.order: list[str] = []
        self.faults: tuple[str, ...] = ()
        self.stopped = False
        self.busy = ""
        self._run, self._cache = run, cache
        self._alone: dict[str, tuple[Any, Verdict]] = {}
        self._verdicts: dict[str, Verdict] = {}
        self._reports: dict[str, Report] = {}
        self._pulls: dict[str, tuple[Any, Pull]] = {}
        self._looks: dict[str, tuple[Any, looks.Look, str]] = {}
        self._copies: dict[str, CopyMade] = {}
        self._known_orders: dict[str, tuple[Any, dict[str, Order]]] = {}
        self._in_view: tuple[str, ...] = ()
        self._urgent: set[str] = set()
        self._under_way: set[str] = set()
        self._houses: dict[str, tuple[Any, House, str]] = {}
        self._begun, self._done = 0.0, 0
        self._lock = threading.RLock()
        self._in_turn = threading.Lock()
        self._asking = threading.Semaphore(2)
        self.turn = 0
        self._sheets: list[Tell] = []
        self._beside: list[Tell] = []
        self._lanes = {
            "urgent": Lane("urgent", lambda: self._judge(urgent=True), self.trouble),
            "verdicts": Lane("verdicts", lambda: self._judge(urgent=False), self.trouble),
            "looks": Lane("looks", self._look, self.trouble),
            "pulls": Lane("pulls", self._pull, self.trouble),
        }
        self._take(self.issue)

    # ---- what is there -------------------------------------------------------------------------

    @property
    def registry(self) -> Registry:
        return self._run.registry

    @property
    def run(self) -> Run:
        return self._run

    def listen(self, tell: Tell, *, is_sheet: bool = True) -> Callable[[], None]:
        """Let `tell` be called with all that happens, until what is returned is called.

        is_sheet: before a person's eyes, so that there is somebody to go on for.
        """
        listeners = self._sheets if is_sheet else self._beside
        listeners.append(tell)
        return lambda: listeners.remove(tell)

    def tell(self, what: str, **particulars: Any) -> None:
        """Let whoever listens know of something that was found out beside the desk."""
        self._tell(what, **particulars)

    def is_watched(self) -> bool:
        """Tell whether some sheet listens, or something long is still being done."""
        return bool(self._sheets or self.busy)

    @contextmanager
    def still(self) -> Iterator[None]:
        """Hold everything still while it is looked at."""
        with self._lock:
            yield

    def verdict(self, line: Line) -> Verdict | None:
        """Return the verdict on a picture, one that is being renewed too; None before the first."""
        return self._verdicts.get(line.id)

    def alone(self, line: Line) -> Verdict | None:
        """Return the verdict on a picture alone, no waiver laid over it; None where it is stale."""
        known = self._alone.get(line.id)
        return known[1] if known and known[0] == line.key else None

    def others(self) -> list[Path]:
        """Return the folders of other issues opened lately."""
        mine = self.folder.resolve()
        return [one.folder for one in recents() if one.folder != mine]

    def decide_on_house(self, decision: Decision, draft: Callable[[], Draft]) -> None:
        """Make a decision on a house profile, see `day_book.decide_on_house`."""
        with self._in_turn:
            self._take(
                day_book.decide_on_house(
                    self.folder, decision, draft, self.registry, self.house_folder
                )
            )

    def is_stale(self, line: Line) -> bool:
        """Tell whether it is yet to be judged as it is now."""
        known = self._alone.get(line.id)
        return known is None or known[0] != line.key

    def pull(self, line: Line) -> Pull:
        """Return the pull of a picture, or what can be seen of it before there is one.

        What was accepted of the picture is let stand on its copy too.
        """
        pull, verdict = self._pull_of(line), self._verdicts.get(line.id)
        if pull.copy is None or verdict is None:
            return pull
        named = replace(pull.copy, path=verdict.path, name=verdict.name, page=verdict.page)
        accepting = Accepting(self.issue.waivers, self._run.today)
        return replace(pull, copy=accepting.waived(named))

    def pulls(self, house: House) -> Iterator[Pull]:
        """Yield the pulls of a house's pictures as they were made."""
        return (self._pull_of(ln) for ln in self.lines.values() if ln.house.name == house.name)

    def _pull_of(self, line: Line) -> Pull:
        known = self._pulls.get(line.id)
        if known and known[0] == line.key:
            return known[1]
        looked = self._looks.get(line.id)
        if looked and looked[0] == line.key:
            return looked[1].pull
        return known[1] if known else looked[1].pull if looked else Pull(why="")

    def is_pulled(self, line: Line) -> bool:
        known = self._pulls.get(line.id)
        return known is not None and known[0] == line.key

    def whole(self, line: Line) -> tuple[str, tuple[float, float, float, float]] | None:
        """Return the name of the image of all of a picture, and the part that shows of it."""
        looked = self._looks.get(line.id)
        return (looked[2], looked[1].shown) if looked and looked[2] else None

    def copy(self, line: Line) -> CopyMade | None:
        """Return what became of preparing a picture, None where no copy of it stands."""
        made = self._copies.get(line.id)
        looked = self._looks.get(line.id)
        if made or looked is None or looked[0] != line.key or not looked[1].stands:
            return made
        return CopyMade(looked[1].stands, "a copy of it stands, and is up to date")

    def report(self, house: House) -> Report:
        """Return the report on what is judged for a house, as far as that is."""
        with self._lock:
            known = self._reports.get(house.name)
            if known is None:
                verdicts = [
                    self._verdicts[line.id]
                    for line in self.lines.values()
                    if line.house.name == house.name and line.id in self._verdicts
                ]
                known = report_on("proof", house, verdicts, self._run)
                self._reports[house.name] = known
            return known

    def houses(self) -> list[House]:
        """Return the houses of the issue, in the order of their first lines."""
        return list({line.house.name: line.house for line in self.lines.values()}.values())

    def progress(self) -> Progress:
        with self._lock:
            left = sum(self.is_stale(line) for line in self.lines.values())
            total = len(self.lines)
            spent = time.monotonic() - self._begun
            seconds = left * spent / self._done if self._done and spent > 0.5 else None
            return Progress(total - left, total, seconds if left else None)

    # ---- what is done --------------------------------------------------------------------------

    def start(self) -> None:
        for lane in self._lanes.values():
            lane.start()
            lane.wake()

    def close_sheets(self) -> None:
        """Let whoever listens go, so that nobody is cut off in the middle of a word."""
        self._tell("closing")

    def end(self) -> None:
        for lane in self._lanes.values():
            lane.end()

    def stop(self) -> None:
        """Judge and pull nothing more for now; what is under way is let go."""
        self.stopped = True
        self._tell("top")

    def go_on(self) -> None:
        self.stopped = False
        self._wake()
        self._tell("top")

    def show(self, ids: Sequence[str]) -> None:
        """Note which pictures are in view: these are looked at and pulled first."""
        self._in_view = tuple(id for id in ids if id in self.lines)
        self._wake("looks", "pulls")

    def follow(self) -> None:
        """Take in what has changed in the folder, whoever changed it."""
        with self._in_turn:
            self._take(issue.read_issue(self.folder, self.registry, self.house_folder))

    def trouble(self, why: str) -> None:
        """Tell the person what went wrong beside what they asked."""
        self.faults = (why,)
        self._tell("top")

    def decide(self, decision: Decision, seen: str) -> None:
        """Make a decision; when this returns it is on the disk. Raises SetupError, Overtaken."""
        with self._in_turn:
            self._take(
                day_book.decide(self.folder, decision, self.registry, seen, self.house_folder)
            )

    def take_back(self, identity: str, by: str) -> None:
        """Take a decision back. Raises SetupError, Overtaken."""
        with self._in_turn:
            self._take(
                day_book.take_back(self.folder, identity, by, self.registry, self.house_folder)
            )

    def ask(self, work: Callable[..., Answer], line: Line) -> Answer:
        """Return work(task, house, run) of a picture, done by a worker process.

        Raises SetupError where it could not be done.
        """
        given = line.house, self._run
        with self._asking:
            stream = self._run.over(_with_task, [(line.task, work)], _lost, *given)
            ((_, answer, why),) = stream
        if answer is None:
            raise SetupError([why])
        done: Answer = answer
        return done

    def pull_all(self) -> None:
        """Pull every picture that is not yet. Raises SetupError where some are yet to be judged."""
        with self.busy_with("pictures are being pulled"):
            while True:
                with self._lock:
                    lines = list(self.lines.values())
                    if not lines or any(self.is_stale(line) for line in lines):
                        raise SetupError(["not all pictures are judged yet; wait a moment"])
                    left = [line for line in lines if not self.is_pulled(line)]
                if not left:
                    return
                self.busy = f"{len(left)} pictures are being pulled"
                self._tell("top")
                first = [line for line in left if line.house.name == left[0].house.name]
                self._over(lambda _: looks.pulled, first[:FEW], self._pulled)

    def sheets(self) -> list[Sheet]:
        """Return the sheets of a marked proof, nothing accepted yet, their images laid aside."""
        with self._lock:
            sheets = []
            for house in self.houses():
                lines = [ln for ln in self.lines.values() if ln.house.name == house.name]
                alone = [self._alone[line.id][1] for line in lines]
                judged = list(judge_set(alone, house, self.registry.rules))
                report = report_on("proof", house, judged, self._run)
                sheets.append(Sheet(report, house, tuple(map(self._pull_of, lines))))
            return sheets

    def left_over(self) -> list[str]:
        """Return a sentence on each waiver that accepted nothing, once all is judged."""
        with self._lock:
            if not self.lines or any(self.is_stale(line) for line in self.lines.values()):
                return []
            return self.let_stand()[0].report.left_over()

    def let_stand(self) -> list[Sheet]:
        """Return the sheets of a marked proof with what was accepted let stand."""
        waivers = judged_here(self.issue.waivers, self.registry.rules)
        return let_stand(self.sheets(), waivers, self._run.today)

    @contextmanager
    def busy_with(self, words: str) -> Iterator[None]:
        """Do one long thing at a time. Raises SetupError where another is under way."""
        with self._lock:
            if self.busy:
                raise SetupError([f"{self.busy}; try again when that is done"])
            self.busy = words
        self._tell("top")
        try:
            yield
        finally:
            self.busy = ""
            self._tell("top")

    def prepare(self, ids: Iterable[str] | None = None) -> tuple[int, int]:
        """Make the copies of these pictures, or of all, where the commands would make them.

        Returns how many have one now, and how many are left for a person. Raises SetupError.
        """
        with self.busy_with("copies are being made"):
            with self._lock:
                lines, houses = list(self.lines.values()), self.houses()
            wanted = set(ids) if ids is not None else {line.id for line in lines}
            for house in houses:
                mine = [line for line in lines if line.house.name == house.name]
                self._prepare(mine, wanted, self._into(house))
            became = [made for id in wanted if (made := self._copies.get(id))]
        self._tell("glance")
        left = sum(not made.path for made in became)
        return len(became) - left, left

    def _prepare(self, lines: Sequence[Line], wanted: set[str], into: Path) -> None:
        house = lines[0].house
        chosen = [line for line in lines if line.id in wanted and not line.task.twin]
        if not chosen:
            return
        plans = self._orders(lines, into)
        todo = [order for order in plans if _lines_of(order, chosen)]
        left = self._left_for_a_person([line.task for line in lines], house)
        with folder_for_copies(into):
            stream = self._run.over(_made, todo, _not_made, house, self._run, left)
            for number, (order, verdict) in enumerate(stream, 1):
                self.busy = f"{number} of {len(todo)} copies are made"
                made = verdict.facts.get("made")
                words = made or "; ".join(o.reason for o in verdict.outcomes if o.reason)
                for line in _lines_of(order, chosen):
                    self._copies[line.id] = CopyMade(str(order.target) if made else "", words)
                    self._tell_picture(line.id)
                self._tell("top")

    @contextmanager
    def remembering(self) -> Iterator[Run]:
        """Give the run with verdicts and measurements of earlier ones, where they are kept."""
        if self._cache is None:
            yield self._run
            return
        with closing(Cache(self._cache)) as cache:
            yield replace(self._run, cache=cache, measuring=True)

    def _left_for_a_person(self, tasks: Sequence[Task], house: House) -> Barred:
        """Return the masters with a stop that preparing does not put right, as the command does."""
        with self.remembering() as run:
            checked = check(tasks, house, run)
        waived = accepted(checked, self.issue.waivers, self._run.today)
        return barred(waived.verdicts, self.registry.rules)

    # ---- following the folder ------------------------------------------------------------------

    def _take(self, new: Issue) -> None:
        """Take the issue as it now is, and find out what that touches."""
        with self._lock:
            before, old = self.lines, self.issue
            self.issue = new
            self.faults = tuple(map(str, new.faults))
            if new.faults and not new.entries and before:
                # what cannot be read now was well a moment ago: the sheet stays as it was
                self._tell("top")
                return
            self.lines = {line.id: line for line in self._lines(new)}
            gone = before.keys() - self.lines.keys()
            for id in gone:
                for kept in (self._alone, self._verdicts, self._pulls, self._looks, self._copies):
                    kept.pop(id, None)
            self.order = [id for id in self.order if id in self.lines]
            self._reports.clear()
            touched = [
                line.id
                for line in self.lines.values()
                if line.id in before and before[line.id].key != line.key
            ]
            for id in touched:
                self._copies.pop(id, None)
            fresh = [id for id in self.lines if id not in before]
            if len(touched) <= FEW:
                self._urgent |= set(touched)
            if before and len(fresh) <= FEW:
                self._urgent |= set(fresh)
            self._begun, self._done = time.monotonic(), 0
            changed = self._settle()
            renumbered = any(
                before[id].number != line.number for id, line in self.lines.items() if id in before
            )
            anew = gone or renumbered or old.title != new.title or old.unlisted != new.unlisted
        self._wake()
        if anew:
            self._tell("sheet")
        for id in dict.fromkeys([*touched, *changed]):
            self._tell_picture(id)
        self._tell("foot")
        self._tell("top")

    def _lines(self, new: Issue) -> Iterator[Line]:
        nth: Counter[str] = Counter()
        faults = list(self.faults)
        for number, (entry, place) in enumerate(zip(new.entries, new.places(), strict=True), 1):
            nth[place.picture] += 1
            if not entry.house:
                continue
            try:
                house, judged_by = self._house(entry.house)
            except SetupError as error:
                faults += [str(fault) for fault in error.faults]
                if entry.house not in self._houses:
                    continue
                # as it last was, until it is mended
                _, house, judged_by = self._houses[entry.house]
            task = Task(entry.path, entry.request, entry.name, entry.assume, entry.twin)
            (task,) = with_tones([task], new.waivers, self._run.today)
            named = f"{place.picture}\0{nth[place.picture]}"
            id = hashlib.sha256(named.encode("utf-8", "surrogateescape")).hexdigest()[:12]
            yield Line(id, number, place, house, task, judged_by, _state(entry.path))
        self.faults = tuple(dict.fromkeys(faults))

    def _house(self, name: str) -> tuple[House, str]:
        """Return a house profile, read anew where its files have changed, and its fingerprint."""
        known = self._houses.get(name)
        if known and known[0] == [_state(Path(file)) for file in known[1].chain]:
            return known[1:]
        house = load_house(name, self.registry, self.house_folder)
        fingerprint = house.fingerprint()
        self._houses[name] = [_state(Path(file)) for file in house.chain], house, fingerprint
        return house, fingerprint

    # ---- judging -------------------------------------------------------------------------------

    def _judge(self, *, urgent: bool) -> bool:
        """Judge what waits, of what a decision touched or else; tell whether there was any."""
        with self._lock:
            if self.stopped:
                return False
            waiting = [
                line
                for line in self.lines.values()
                if self.is_stale(line)
                and line.id not in self._under_way
                and (line.id in self._urgent) is urgent
            ]
            if not waiting:
                return False
            house = waiting[0].house
            batch = [line for line in waiting if line.house.name == house.name]
            self._under_way |= {line.id for line in batch}
        lane = self._lanes["urgent" if urgent else "verdicts"]
        by_task: dict[Task, list[Line]] = {}
        for line in batch:
            by_task.setdefault(line.task, []).append(line)
        try:
            with self.remembering() as run:
                stream = verdicts_on(list(by_task), house, run)
                for task, verdict in stream:
                    for line in by_task[task]:
                        self._arrived(line, of_house(verdict, house))
                    if self.stopped or lane.ended:
                        stream.close()  # type: ignore[attr-defined]
                        break
        finally:
            with self._lock:
                self._under_way -= {line.id for line in batch}
                self._urgent -= {line.id for line in batch if not self.is_stale(line)}
                idle = not any(self.is_stale(line) for line in self.lines.values())
                changed = self._settle() if idle or urgent else []
        for id in changed:
            self._tell_picture(id)
        self._tell("top")
        self._tell("glance")
        self._wake("looks", "pulls")
        return not self.stopped

    def _arrived(self, line: Line, verdict: Verdict) -> None:
        with self._lock:
            now = self.lines.get(line.id)
            if now is None or now.key != line.key:
                return
            self._under_way.discard(line.id)
            self._alone[line.id] = line.key, verdict
            self._verdicts[line.id] = Accepting(self.issue.waivers, self._run.today).waived(verdict)
            self._reports.pop(line.house.name, None)
            self._done += 1
            if line.id not in self.order:
                # once placed it stays, so that nothing jumps under a person's hand
                insort(self.order, line.id, key=lambda id: weight(self._verdicts[id]))
        self._tell_picture(line.id)
        self._tell("top")

    def _settle(self) -> list[str]:
        """Judge the pictures as a set and lay over them what was accepted; return what changed."""
        changed = []
        accepting = Accepting(self.issue.waivers, self._run.today)
        for house in self.houses():
            lines = [
                ln
                for ln in self.lines.values()
                if ln.house.name == house.name and ln.id in self._alone
            ]
            alone = [self._alone[line.id][1] for line in lines]
            judged = judge_set(alone, house, self.registry.rules)
            for line, verdict in zip(lines, judged, strict=True):
                waived = accepting.waived(verdict)
                if self._verdicts.get(line.id) != waived:
                    self._verdicts[line.id] = waived
                    changed.append(line.id)
            if changed:
                self._reports.pop(house.name, None)
        return changed

    # ---- looking and pulling -------------------------------------------------------------------

    def _look(self) -> bool:
        """Take a first look at some pictures, those in view first; tell whether there were any."""
        with self._lock:
            if self.stopped:
                return False
            first = [self.lines[id] for id in self._in_view if id in self.lines]
            rest = self.lines.values() if self.progress().done == len(self.lines) else ()
            wanted = [ln for ln in dict.fromkeys([*first, *rest]) if not self._is_looked(ln)]
            batch = [ln for ln in wanted if ln.house.name == wanted[0].house.name][:FEW]
        if not batch:
            return False
        ordered = self.ordered(batch[0].house)
        self._over(
            lambda line: partial(looks.look, order=ordered.get(line.id)), batch, self._looked
        )
        return True

    def ordered(self, house: House) -> dict[str, Order]:
        """Return which copy would be made of each picture of a house; of several the first."""
        with self._lock:
            lines = [line for line in self.lines.values() if line.house.name == house.name]
            into = self._into(house)
            asked = [(line.id, line.task) for line in lines], into
        if self._known_orders.get(house.name, (None, {}))[0] != asked:
            try:
                wanted = self._orders(lines, into)
            except SetupError:
                wanted = []
            of_task: dict[Any, Order] = {}
            for order in wanted:
                of_task.setdefault(_wanted(order.master, order.request), order)
            of_line = {line.id: _wanted(line.task.path, line.task.request) for line in lines}
            orders_of = {id: of_task[one] for id, one in of_line.items() if one in of_task}
            self._known_orders[house.name] = asked, orders_of
        return self._known_orders[house.name][1]

    def _into(self, house: House) -> Path:
        """Return the folder for a house's copies, as the command `prepare` has it."""
        into = self.folder / COPIES
        return into / house.name if len(self.houses()) > 1 else into

    @staticmethod
    def _orders(lines: Sequence[Line], into: Path) -> list[Order]:
        tasks = [line.task for line in lines if not line.task.twin]
        assume = vouched([line.task for line in lines], ())
        return orders(tasks, lines[0].house, into, assume=assume) if tasks else []

    def _is_looked(self, line: Line) -> bool:
        known = self._looks.get(line.id)
        return known is not None and known[0] == line.key

    def _looked(self, line: Line, look: looks.Look | None, why: str) -> None:
        look = look or looks.Look(Pull(why=why))
        aside = replace(look, pull=self.laid_aside.pull(look.pull), whole=b"")
        name = self.laid_aside.put(look.whole) if look.whole else ""
        with self._lock:
            self._looks[line.id] = line.key, aside, name
        if line.id in self._verdicts:
            self._tell_picture(line.id)
            self._tell("glance")

    def _pull(self) -> bool:
        """Pull pictures in view, once all are judged; tell whether there were any."""
        with self._lock:
            if self.stopped or self._under_way or self._urgent:
                return False
            calm = self._begun + CALM_SECONDS - time.monotonic()
            seen = [self.lines[id] for id in self._in_view if id in self.lines]
            wanted = [ln for ln in seen if not self.is_pulled(ln) and not self.is_stale(ln)]
            batch = [ln for ln in wanted if ln.house.name == wanted[0].house.name]
            batch = batch[:_PULLS_AT_A_TIME]
        if not batch:
            return False
        if calm > 0:
            time.sleep(calm)
            return True
        self._over(lambda _: looks.pulled, batch, self._pulled)
        return True

    def _pulled(self, line: Line, pull: Pull | None, why: str) -> None:
        aside = self.laid_aside.pull(pull or Pull(why=why))
        with self._lock:
            self._pulls[line.id] = line.key, aside
        self._tell_picture(line.id)
        self._tell("glance")

    def _over(
        self,
        work: Callable[[Line], Callable[..., Any]],
        batch: Sequence[Line],
        done: Callable[[Line, Any, str], None],
    ) -> None:
        """Hand a batch of one house to the workers, all but one of the processors' number."""
        run = replace(self._run, processes=max(1, (self._run.processes or cores()) - 1))
        lines = {line.task: line for line in batch}
        stream = run.over(
            _with_task,
            [(task, work(line)) for task, line in lines.items()],
            _lost,
            batch[0].house,
            run,
        )
        for task, answer, why in stream:
            for line in batch:
                if line.task == task:
                    done(line, answer, why)

    # ---- telling -------------------------------------------------------------------------------

    def _wake(self, *names: str) -> None:
        for name in names or self._lanes:
            self._lanes[name].wake()

    def _tell(self, what: str, **particulars: Any) -> None:
        with self._lock:
            self.turn += 1
        for tell in (*self._sheets, *self._beside):
            tell(what, particulars)

    def _tell_picture(self, id: str) -> None:
        self._tell("picture", id=id)


def _lines_of(order: Order, lines: Iterable[Line]) -> list[Line]:
    """Return the lines that a copy is for."""
    wanted = _wanted(order.master, order.request)
    return [line for line in lines if _wanted(line.task.path, line.task.request) == wanted]


def _wanted(path: Path, request: PlacementRequest) -> tuple[Path, PlacementRequest]:
    """Return what one copy is made of: of what differs in nothing but the page one is made."""
    return path, replace(request, page="")


def _state(path: Path) -> str:
    """Return what tells one state of a file from another, "" where it is not there."""
    try:
        facts = os.stat(path)  # noqa: PTH116 - Path.stat() follows the same, slower
    except (OSError, ValueError):
        return ""
    return f"{facts.st_size} {facts.st_mtime_ns} {facts.st_ino}"


def _with_task(asked: tuple[Task, Callable[..., Any]], house: House, run: Run) -> Any:
    task, work = asked
    return task, work(task, house, run), ""


def _lost(asked: tuple[Task, Callable[..., Any]], why: str, *_: Any) -> Any:
    return asked[0], None, why


def _made(order: Order, house: House, run: Run, left: Barred) -> tuple[Order, Verdict]:
    return order, prepare_copy(order, house, run, left)


def _not_made(order: Order, why: str, *_: Any) -> tuple[Order, Verdict]:
    return order, Verdict(str(order.master), (Outcome("prepare", State.BROKEN, reason=why),))
