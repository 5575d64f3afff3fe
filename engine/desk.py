"""The jobs of the desk: take pictures in, judge them against a house, gather the report."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import astuple, dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

from pressworthy import workers
from pressworthy.cache import Cache, Seen, judged_by, see, unchanged
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.finding import Finding, Outcome, Severity, State, Unmeasured, Verdict
from pressworthy.house import House
from pressworthy.intake.files import take_in
from pressworthy.intake.matching import Known, Match, fingerprint, matches
from pressworthy.intake.opening import read_header
from pressworthy.intake.pages import (
    MOST_MEMORY,
    SECONDS,
    STENCIL,
    Placed,
    UnreadPages,
    extract,
    limit_process,
    survey,
)
from pressworthy.intake.picture_list import Entry, row_of, write_list
from pressworthy.judge import judge, judge_set, unread
from pressworthy.kept import Kept
from pressworthy.measure.pixels import pixels
from pressworthy.measure.ticket import read_ticket
from pressworthy.picture import Header, Picture
from pressworthy.placement import Placement, PlacementRequest, pixels_for
from pressworthy.plugins import Registry, load
from pressworthy.prepare import Order, Refused, make, planned
from pressworthy.prepare.names import SUFFIX, collisions, name_for
from pressworthy.prepare.store import folder_for_copies, why
from pressworthy.proof.pull import Pull, pull
from pressworthy.report import Report
from pressworthy.report.marked_proof import Sheet
from pressworthy.units import figure
from pressworthy.yamlfile import Fault, SetupError, is_there

PAGE = "page"
"""What stands in a rule's place where a page shows nothing that could be judged."""

LIST = "picture-list"
"""What stands in a rule's place where the picture list itself is at fault."""

Progress = Callable[[Iterable[Verdict], int], Iterable[Verdict]]
"""Wraps the stream of verdicts, told how many there will be, to show how far it has come."""


Proofed = tuple[Verdict, Pull]
Asked = TypeVar("Asked")
Done = TypeVar("Done")


@dataclass(frozen=True)
class Task:
    """One picture to judge, and what is known of its place.

    name: what a picture list calls it, "" where none lists it; assume: the RGB space the list
    vouches for, or ""; twin: the line that lists the same for the same place, or "".
    """

    path: Path
    request: PlacementRequest
    name: str = ""
    assume: str = ""
    twin: str = ""


def check(
    tasks: Sequence[Task],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    scheduler: str = "",
    cache: Cache | None = None,
    progress: Progress = lambda verdicts, total: verdicts,
) -> Report:
    """Judge every task's picture by the house and return the report.

    plugins: extra plug-ins the workers must load, as given to `plugins.load`.
    jobs: worker processes, 0 for one a processor; scheduler: of other machines' workers, see
    `cluster.run`; cache: verdicts of earlier runs, which then count where nothing has changed.
    """
    registry = load(plugins)
    judged = judged_by(house, registry.rules) if cache else ""

    def stream() -> Iterator[Verdict]:
        left = []
        for task in tasks:
            seen = cache.seen(task.path) if cache else None
            known = cache.recall(seen.content, _asked(task, judged)) if cache and seen else None
            if known:
                yield _of_list(replace(known, path=str(task.path)), task)
            else:
                left.append(task)
        checked = _run(
            _check_one,
            left,
            lambda task, why: Checked(task, unread(str(task.path), why, house, State.BROKEN)),
            jobs=jobs,
            scheduler=scheduler,
            setup=_set_up_check,
            setup_args=(house, tuple(plugins), judged, cache.path if cache else None),
        )
        for one in checked:
            if cache and one.seen and not one.recalled:
                cache.keep(one.seen, _asked(one.task, judged), one.verdict)
            elif cache and one.seen:
                cache.keep_seen(one.seen)
            yield _of_list(one.verdict, one.task)

    verdicts = Kept(progress(_named(stream(), house), len(tasks)))
    return _report("check", house, judge_set(verdicts, house, registry.rules))


@dataclass(frozen=True)
class Checked:
    """A picture that was judged.

    seen: the file as it was then, None where the verdict may not be recalled for it.
    recalled: whether the verdict is one of an earlier run, on the same bytes elsewhere.
    """

    task: Task
    verdict: Verdict
    seen: Seen | None = None
    recalled: bool = False


def check_picture(task: Task, house: House, registry: Registry) -> Verdict:
    """Judge one picture here and now."""
    return _of_list(_judged(task, house, registry)[0], task)


def _judged(task: Task, house: House, registry: Registry) -> tuple[Verdict, bool]:
    """Return the verdict, and whether it rests on nothing but the file, house and placement."""
    try:
        picture = _taken_in(task, house)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house), True
    # a prepared copy is compared with its master, which may change without it
    alone = read_ticket(picture.header.xmp) is None
    return judge(picture, house, registry.rules), alone


def _asked(task: Task, judged: str) -> str:
    return repr((judged, task.path.name, task.request.size, task.request.bleed,
                 sorted(task.request.edges), task.request.crop, task.assume))  # fmt: skip


def _run(
    work: Callable[[Asked], Done],
    tasks: Iterable[Asked],
    lost: Callable[[Asked, str], Done],
    *,
    jobs: int,
    scheduler: str,
    setup: Callable[..., None],
    setup_args: tuple[Any, ...],
) -> Iterator[Done]:
    """Run the work in processes of this machine, or where the scheduler says."""
    if scheduler:
        from pressworthy import cluster

        return cluster.run(
            work, tasks, lost, scheduler=scheduler, setup=setup, setup_args=setup_args
        )
    return workers.run(
        work, tasks, lost, jobs=jobs or workers.cores(), setup=setup, setup_args=setup_args
    )


def check_pages(
    placed: Sequence[Placed],
    known: Sequence[Known],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    progress: Progress = lambda verdicts, total: verdicts,
) -> Report:
    """Judge pictures placed on the pages of a PDF and return the report.

    placed: see `placed_on`; known: masters and prepared copies among which each is found again.
    """
    stream = workers.run(
        _check_placed,
        placed,
        lambda one, reason: _of_page(unread(one.name(), reason, house, State.BROKEN), one),
        jobs=jobs or workers.cores(),
        setup=_set_up_pages,
        setup_args=(house, tuple(plugins), tuple(known)),
    )
    verdicts = Kept(progress(_named(stream, house), len(placed)))
    return _report("check", house, judge_set(verdicts, house, load(plugins).rules))


def placed_on(pdf: Path) -> tuple[Placed, ...]:
    """Return every picture on the pages, found in a process of its own with bounded means.

    Raises SetupError where the PDF cannot be read, or holds no picture.
    """
    lost = f"not read within {SECONDS} s and {MOST_MEMORY // 10**9} GB: damaged, or made to harm"
    (found,) = workers.run(
        _survey, [pdf], lambda _, __: lost, jobs=1, setup=limit_process, setup_args=()
    )
    if isinstance(found, str):
        raise SetupError([f"{pdf}: {found}"])
    if not found:
        raise SetupError([f"{pdf}: no picture is placed on its pages"])
    return found


def known_files(files: Sequence[Path], *, jobs: int = 0) -> tuple[Known, ...]:
    """Return the pictures among `files` by what they show; what is no picture is left out."""
    if not files:
        return ()
    found = workers.run(
        _known, files, lambda _, __: None, jobs=jobs or workers.cores(), setup=_nothing,
        setup_args=(),
    )  # fmt: skip
    return tuple(sorted((one for one in found if one), key=lambda one: one.path))


def listed_pages(pdf: Path, files: Sequence[Path], root: Path, *, jobs: int = 0) -> str:
    """Return a picture list, to lie in `root`, of what the pages of a PDF show.

    A picture that is found among `files` is listed by that file, any other by its place in the
    PDF, which a person replaces. Raises SetupError where the PDF cannot be read.
    """
    seen = [one for one in placed_on(pdf) if one.placement]
    found = workers.run(
        _row, seen, lambda one, _: (one, ""), jobs=jobs or workers.cores(),
        setup=_set_up_matching, setup_args=(known_files(files, jobs=jobs),),
    )  # fmt: skip
    rows = sorted(found, key=lambda row: (row[0].index, row[0].number))
    return write_list(row_of(one.placement, name or one.name(), root) for one, name in rows
                      if one.placement)  # fmt: skip


def check_placed(
    placed: Placed, house: House, registry: Registry, known: Sequence[Known] = ()
) -> Verdict:
    """Judge one picture on a page here and now."""
    if placed.beyond:
        return _of_page(unread(placed.name(), placed.beyond, house), placed)
    if placed.placement is None:
        outcome = Outcome(PAGE, State.WAIVED, reason=placed.unseen)
        return _of_page(Verdict(placed.name(), (outcome,)), placed)
    with TemporaryDirectory() as folder:
        try:
            found = extract(placed, Path(folder))
        except (Unmeasured, UnreadPages) as reason:
            return _of_page(unread(placed.name(), str(reason), house), placed)
        if found.colours == STENCIL:
            outcome = Outcome(PAGE, State.WAIVED, reason=found.unread)
            return _of_page(Verdict(placed.name(), (outcome,)), placed)
        files = [] if found.unread else matches(fingerprint(found.path, found.header), known)
        header = found.header
        if files and files[0].known.header.xmp and read_ticket(files[0].known.header.xmp):
            # a page drops the ticket; the file it was made from still has it
            header = replace(header, xmp=files[0].known.header.xmp)
        picture = Picture(
            found.path, header, house.output, placed.placement, page_object=placed.name()
        )
        if found.unread:
            picture.memo[pixels] = None, Unmeasured(found.unread)
        verdict = judge(picture, house, registry.rules)
    facts = {**verdict.facts, "format": "PDF", "colour space": found.colours}
    return _of_page(_with_source(replace(verdict, facts=facts), placed, files, house), placed)


def placed_by_house(
    placed: Iterable[Placed], entries: Iterable[Entry], house: str = ""
) -> dict[str, list[Placed]]:
    """Return house -> pictures on the pages that a picture list gives to it.

    house: for pages of which the list says nothing. Raises SetupError where neither says one, or
    the list gives one page to two houses.
    """
    houses: dict[str, str] = {}
    faults: list[Fault | str] = []
    for entry in entries:
        page, told = entry.request.page, entry.house or house
        if page and told and houses.setdefault(page, told) != told:
            message = f"page {page} is listed for {houses[page]} above; a page has one output"
            faults.append(Fault(entry.origin, ("house",), message))
    by_house: dict[str, list[Placed]] = {}
    for one in placed:
        by_house.setdefault(houses.get(one.page, house), []).append(one)
    pages = dict.fromkeys(one.page for one in by_house.get("", []))
    faults += [f"page {page}: no house profile; list it, or give --house" for page in pages]
    if faults:
        raise SetupError(faults)
    return by_house


def listed(entries: Iterable[Entry], house: str = "") -> dict[str, list[Task]]:
    """Return house -> tasks of a picture list; `house` is for entries that name none.

    Raises SetupError where neither names one.
    """
    tasks: dict[str, list[Task]] = {}
    faults = []
    for entry in entries:
        if not (entry.house or house):
            faults.append(Fault(entry.origin, ("house",), "no house profile; give --house"))
        task = Task(entry.path, entry.request, entry.name, entry.assume, entry.twin)
        tasks.setdefault(entry.house or house, []).append(task)
    if faults:
        raise SetupError(faults)
    return tasks


def orders(
    tasks: Sequence[Task],
    house: House,
    into: Path,
    *,
    assume: Mapping[str, str] | None = None,
    force: bool = False,
) -> list[Order]:
    """Return the copies to make in the folder `into`: one a picture and, on screens, a scale.

    assume: file name -> RGB space a person vouches for. Raises SetupError where the house does not
    say how copies are made, two copies would share a name, or masters lie in `into`.
    """
    section = house.prepare
    if section is None:
        raise SetupError([f"{house.name}: the house profile has no section 'prepare'"])
    scales = section.get("scales", [1]) if house.output.medium == "screen" else [0]
    place = into.resolve()
    made = []
    strangers = (assume or {}).keys() - {task.path.name for task in tasks}
    faults = [f"--assume: no picture is called {name!r}" for name in strangers]
    for task in tasks:
        if task.path.resolve().parent == place:
            faults.append(f"{task.path}: copies would lie among masters; choose another --into")
        for scale in scales:
            fields = {
                "stem": task.path.stem,
                "folder": task.path.resolve().parent.name,
                "house": house.name,
                "page": task.request.page,
                "scale": f"{scale:g}",
            }
            try:
                target = into / name_for(section["name"], section["format"], fields)
            except ValueError as error:
                faults.append(f"{task.path}: {error}")
                continue
            space = task.assume or (assume or {}).get(task.path.name, "")
            made.append(Order(task.path, target, task.request, scale, space, force))
    faults += collisions((order.master, order.target) for order in made)
    if faults:
        raise SetupError(sorted(set(faults)))
    return made


def prepare(
    wanted: Sequence[Order],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    scheduler: str = "",
    dry_run: bool = False,
    progress: Progress = lambda verdicts, total: verdicts,
) -> Report:
    """Make every copy that is not there yet, judge each by the house, and return the report.

    dry_run: say what would be made and touch nothing.
    """
    folders = {order.target.parent for order in wanted}
    guard = nullcontext() if dry_run or not folders else folder_for_copies(folders.pop())
    with guard:
        work = _plan_one if dry_run else _prepare_one
        if len(wanted) == 1 and not scheduler:
            # a worker process would take a third of the time and has no other copy to protect
            _set_up(house, tuple(plugins))
            done = workers.watched(work, wanted[0])
            stream = iter([workers.settled(done, wanted[0], _lost_copy)])
        else:
            stream = _run(
                work, wanted, _lost_copy, jobs=jobs, scheduler=scheduler, setup=_set_up,
                setup_args=(house, tuple(plugins)),
            )  # fmt: skip
        verdicts = Kept(progress(_named(stream, house), len(wanted)))
    return _report("prepare", house, judge_set(verdicts, house, load(plugins).rules))


def prepare_copy(order: Order, house: House, registry: Registry) -> Verdict:
    """Make one copy here and now, and judge it."""
    try:
        made = make(order, house)
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED)
    except OSError as error:
        return _not_made(order, f"{order.target}: {why(error)}", State.BROKEN)
    verdict = judge(made.copy, house, registry.rules)
    told = "; ".join(made.steps) if made.fresh else "was up to date"
    return _with_facts(verdict, order, told)


def proof(
    tasks: Sequence[Task],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    scheduler: str = "",
    progress: Callable[[Iterable[Proofed], int], Iterable[Proofed]] = lambda done, total: done,
) -> Sheet:
    """Judge every picture, prepare a copy in a folder that goes again, and return what is shown."""
    stream = _run(
        _proof_one,
        tasks,
        lambda task, reason: (
            _of_list(unread(str(task.path), reason, house, State.BROKEN), task),
            Pull(why=reason),
        ),
        jobs=jobs,
        scheduler=scheduler,
        setup=_set_up,
        setup_args=(house, tuple(plugins)),
    )
    done = list(progress(stream, len(tasks)))
    named = list(_named((verdict for verdict, _ in done), house))
    verdicts = judge_set(named, house, load(plugins).rules)
    report = _report("proof", house, verdicts)
    return Sheet(report, house, tuple(pull for _, pull in done))


def proof_picture(task: Task, house: House, registry: Registry) -> Proofed:
    """Judge one picture and pull its proof, here and now."""
    try:
        picture = _taken_in(task, house)
    except Unmeasured as reason:
        return _of_list(unread(str(task.path), str(reason), house), task), Pull(why=str(reason))
    verdict = _of_list(judge(picture, house, registry.rules), task)
    section = house.prepare or {}
    scale = max(section.get("scales", [1])) if house.output.medium == "screen" else 0
    with TemporaryDirectory(prefix="pressworthy-") as folder:
        target = Path(folder) / f"copy{SUFFIX[section.get('format', 'TIFF')]}"
        order = Order(task.path, target, task.request, scale, task.assume)
        try:
            return verdict, pull(picture, order, house, registry.rules)
        except (Unmeasured, OSError) as reason:
            return verdict, Pull(why=str(reason))


def describe_output(house: House) -> str:
    """Return the output in one line for a reader."""
    output = house.output
    return (
        f"{output.medium} in {output.colour}, {figure(output.ppi, 'ppi')}, "
        f"condition {output.condition.name}"
    )


_worker: dict[str, Any] = {}


def _set_up(house: House, plugins: tuple[str, ...]) -> None:
    _worker["house"], _worker["registry"] = house, load(plugins)


def _set_up_check(house: House, plugins: tuple[str, ...], judged: str, cache: Path | None) -> None:
    _set_up(house, plugins)
    _worker["judged"], _worker["cache"] = judged, Cache(cache) if cache else None


def _check_one(task: Task) -> Checked:
    cache: Cache | None = _worker["cache"]
    if cache is None:
        return Checked(task, _judged(task, _worker["house"], _worker["registry"])[0])
    seen = see(task.path)
    known = cache.recall(seen.content, _asked(task, _worker["judged"])) if seen else None
    if known:
        return Checked(task, replace(known, path=str(task.path)), seen, recalled=True)
    verdict, alone = _judged(task, _worker["house"], _worker["registry"])
    # not where the file changed while it was judged
    return Checked(task, verdict, seen if seen and alone and unchanged(seen) else None)


def _proof_one(task: Task) -> Proofed:
    return proof_picture(task, _worker["house"], _worker["registry"])


def _prepare_one(order: Order) -> Verdict:
    return prepare_copy(order, _worker["house"], _worker["registry"])


def _plan_one(order: Order) -> Verdict:
    try:
        _, plan = planned(order, _worker["house"])
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED)
    across, down = plan.size()
    text = f"would be made: {across} x {down} px at {figure(plan.ppi, 'ppi')}"
    return _with_facts(Verdict(str(order.target), (), page=order.request.page), order, text)


def _taken_in(task: Task, house: House) -> Picture:
    picture = take_in(task.path, house.output, task.request)
    return replace(picture, assumed=rgb_profile(task.assume)) if task.assume else picture


def _lost_copy(order: Order, reason: str) -> Verdict:
    return _not_made(order, reason, State.BROKEN)


def _not_made(order: Order, reason: str, state: State) -> Verdict:
    outcome = Outcome("prepare", state, reason=reason)
    return Verdict(str(order.master), (outcome,), page=order.request.page)


def _with_facts(verdict: Verdict, order: Order, made: str) -> Verdict:
    return replace(verdict, facts={**verdict.facts, "master": str(order.master), "made": made})


def _set_up_pages(house: House, plugins: tuple[str, ...], known: tuple[Known, ...]) -> None:
    _set_up(house, plugins)
    _set_up_matching(known)


def _set_up_matching(known: tuple[Known, ...]) -> None:
    _worker["known"] = known


def _nothing() -> None:
    pass


def _survey(pdf: Path) -> tuple[Placed, ...] | str:
    try:
        return survey(pdf)
    except UnreadPages as reason:
        return str(reason)


def _known(path: Path) -> Known | None:
    try:
        header = read_header(path)
        return Known(path, replace(header, icc=None, exif=None), fingerprint(path, header))
    except Unmeasured:
        return None


def _check_placed(placed: Placed) -> Verdict:
    return check_placed(placed, _worker["house"], _worker["registry"], _worker["known"])


def _row(placed: Placed) -> tuple[Placed, str]:
    """Return the picture with the file it came from, its master rather than a copy, or ""."""
    with TemporaryDirectory() as folder:
        try:
            found = extract(placed, Path(folder))
            if found.unread:
                return placed, ""
            files = matches(fingerprint(found.path, found.header), _worker["known"])
        except (Unmeasured, UnreadPages):
            return placed, ""
    source = _master(files)
    return placed, str(source.path.resolve()) if source else ""


def _master(files: Sequence[Match]) -> Known | None:
    """Return the likest of the files that is no prepared copy, or else the likest."""
    masters = [match for match in files if not read_ticket(match.known.header.xmp)]
    return next((match.known for match in [*masters, *files]), None)


def _with_source(verdict: Verdict, placed: Placed, files: Sequence[Match], house: House) -> Verdict:
    """Return the verdict with the file it came from, and in each remedy what to prepare."""
    source = _master(files)
    if source is None or placed.placement is None:
        return verdict
    place = placed.placement
    size = f"{figure(place.width)} x {figure(place.height, 'mm')}"
    bleed = f" with {figure(house.output.bleed, 'mm')} bleed" if place.edges else ""
    told = f"On the page is {files[0].known.path}"
    if source is not files[0].known:
        told += f", made from {source.path}"
    if files[0].part:
        told += ", cut out"
    if files[0].part is None and min(_spare(source.header, place, house.output.ppi)) < 0:
        told += f". It has too few pixels for {size}{bleed}: place it smaller, or supply more."
    else:
        told += f"; prepare {source.path.name} for {size}{bleed} and place that."
    # said once, with what weighs most
    worst = [finding for _, finding in verdict.findings()][:1]

    def advised(finding: Finding) -> Finding:
        return replace(finding, remedy=f"{finding.remedy} {told}") if finding in worst else finding

    outcomes = tuple(
        replace(outcome, findings=tuple(advised(finding) for finding in outcome.findings))
        for outcome in verdict.outcomes
    )
    known: dict[str, Any] = {
        "file": str(files[0].known.path),
        "master": str(source.path),
        "same": files[0].same,
    }
    if files[0].part:
        known["part"] = [round(share, 3) for share in astuple(files[0].part)]
    return replace(verdict, outcomes=outcomes, facts={**verdict.facts, "found": known})


def _spare(header: Header, place: Placement, ppi: float) -> tuple[int, int]:
    """Return how many px a file has across and down beyond what its place takes."""
    wanted = (pixels_for(mm, ppi) for mm in place.covered())
    across, down = (have - want for have, want in zip(header.upright(), wanted, strict=True))
    return across, down


def _of_page(verdict: Verdict, placed: Placed) -> Verdict:
    """Return the verdict under the page's name for the picture, with the figures of its place."""
    name = placed.name()
    facts = {**verdict.facts, "pdf": str(placed.pdf), "on page": placed.facts}
    return replace(verdict, path=name, name=name, page=placed.page, facts=facts)


def _of_list(verdict: Verdict, task: Task) -> Verdict:
    """Return the verdict under the list's name, with what is to be said of the list itself.

    No house weighs these: what is not there cannot go to press, and a person must know which of
    two equal lines was meant.
    """
    outcomes = verdict.outcomes
    if task.name and not is_there(task.path):
        remedy = "Supply the file, or take its line out of the list."
        missing = Finding("missing-file", "missing", "there", "", remedy, Severity.STOP)
        outcomes = (Outcome(LIST, State.FOUND, (missing,)),)
    if task.twin:
        remedy = "Take one of the two lines out, or give it its own page."
        twice = Finding("listed-twice", f"also {task.twin}", "once", "", remedy, Severity.QUERY)
        outcomes = (*outcomes, Outcome(LIST, State.FOUND, (twice,)))
    page = verdict.page or task.request.page
    return replace(verdict, outcomes=outcomes, page=page, name=task.name)


def _named(verdicts: Iterable[Verdict], house: House) -> Iterator[Verdict]:
    for verdict in verdicts:
        yield replace(verdict, house=house.name)


def _report(command: str, house: House, verdicts: Sequence[Verdict]) -> Report:
    return Report(
        command=command,
        house=house.name,
        publisher=house.publisher,
        output=describe_output(house),
        chain=house.chain,
        off=house.off,
        verdicts=verdicts,
    )
