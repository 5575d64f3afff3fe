"""Prepare: which copies are to be made, and each made and judged."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.cache import (
    Cache,
    HashedFile,
    hashed,
    judged_by,
    ordered,
    unchanged,
)
from pressworthy.jobs.tasks import Task
from pressworthy.judge import judge
from pressworthy.prepare import Made, Order, Refused, make, planned, tried
from pressworthy.prepare.amount import with_amount
from pressworthy.prepare.names import Named, collisions, file_key, name_for
from pressworthy.prepare.store import folder_for_copies, why
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Outcome, Severity, State, Unmeasured, Verdict
from pressworthy.values.machine import MachineTrouble
from pressworthy.values.report import Report
from pressworthy.values.rule import Rule
from pressworthy.values.units import figure


def vouched(tasks: Sequence[Task], said: Sequence[tuple[str, str]]) -> dict[Path, str]:
    """Return resolved path -> the RGB space a person vouches for, by `said` and the picture list.

    said: a picture, by name or path or as the list calls it, and a space. Raises SetupError where
    that fits no picture or several, or where two spaces are named for one.
    """
    files = {task.path.resolve(): task.path for task in tasks}
    spaces: dict[Path, set[str]] = {}
    for task in tasks:
        if task.assume:
            spaces.setdefault(task.path.resolve(), set()).add(task.assume)
    faults = []
    for name, space in said:
        fits = {t.path.resolve() for t in tasks if name in (t.path.name, t.name)}
        if Path(name).name != name:
            fits |= {Path(name).resolve()} & files.keys()
        if not fits:
            faults.append(f"--assume: no picture is called {name!r}")
        elif len(fits) > 1:
            choice = ", ".join(sorted(str(_with_folder(files[known])) for known in fits))
            faults.append(
                f"--assume: {len(fits)} pictures are called {name!r}; say which: {choice}"
            )
        else:
            spaces.setdefault(fits.pop(), set()).add(space)
    faults += [
        f"{files[known]}: {' and '.join(sorted(named))} are both vouched for; name one"
        for known, named in spaces.items()
        if len(named) > 1
    ]
    if faults:
        raise SetupError(sorted(set(faults)))
    return {known: space for known, (space,) in spaces.items()}


def orders(
    tasks: Sequence[Task],
    house: House,
    into: Path,
    *,
    assume: Mapping[Path, str] | None = None,
    force: bool = False,
) -> list[Order]:
    """Return the copies to make in the folder `into`: one a picture and, on screens, a scale.

    What is asked for twice, or for two pages that its name does not tell apart, is made once; one
    that can have no name is told with the others. assume: see `vouched`. Raises SetupError where
    the house does not say how copies are made, two copies would share a name, or masters lie in
    `into`.
    """
    section = house.prepare
    if section is None:
        raise SetupError([f"{house.name}: the house profile has no section 'prepare'"])
    scales = section.get("scales", [1]) if house.output.medium == "screen" else [0]
    place = into.resolve()
    made: dict[Any, tuple[Order, Named]] = {}
    faults = []
    for task in tasks:
        master = task.path.resolve()
        if master.parent == place:
            faults.append(f"{task.path}: copies would lie among masters; choose another --into")
        for scale in scales:
            fields = {
                "stem": task.path.stem,
                "folder": master.parent.name,
                "house": house.name,
                "page": task.request.page,
                "size": _size(task),
                "scale": f"{scale:g}",
            }
            unnamed = ""
            try:
                target = into / name_for(section["name"], section["format"], fields)
            except ValueError as error:
                target, unnamed = into / task.path.name, str(error)
            vouched_for = (assume or {}).get(master, "")
            order = Order(task.path, target, task.request, scale, vouched_for, force, unnamed)
            same = master, replace(task.request, page=""), scale, file_key(target)
            made.setdefault(same, (order, Named(task.path, target, fields)))
    called = (named for order, named in made.values() if not order.unnamed)
    faults += collisions(called, section["name"])
    if faults:
        raise SetupError(sorted(set(faults)))
    return [order for order, _ in made.values()]


def _with_folder(path: Path) -> str:
    return f"./{path}" if path.name == str(path) else str(path)


def _size(task: Task) -> str:
    """Return the size as part of a name, or "" where the file states it."""
    size = task.request.size
    return f"{size[0]:g}x{size[1]:g}mm" if size else ""


Barred = Mapping[tuple[str, str], tuple[Outcome, ...]]
"""Path and page of a master that is left for a person -> what stops it."""

NOTHING: Barred = {}


def barred(masters: Iterable[Verdict], rules: Mapping[str, Rule]) -> Barred:
    """Return the masters with a stop that preparing does not put right, see `Rule.mended`.

    masters: their verdicts, with what persons accepted waived.
    """
    stopped: dict[tuple[str, str], tuple[Outcome, ...]] = {}
    for verdict in masters:
        outcomes = [_stops(one, rules[one.rule]) for one in verdict.outcomes if one.rule in rules]
        if stops := tuple(outcome for outcome in outcomes if outcome.findings):
            key = verdict.path, verdict.page
            stopped[key] = stopped.get(key, ()) + stops
    return stopped


def _stops(outcome: Outcome, rule: Rule) -> Outcome:
    stops = (
        finding
        for finding in outcome.findings
        if outcome.state is State.FOUND
        and finding.severity is Severity.STOP
        and finding.code not in rule.mended
    )
    return replace(outcome, findings=tuple(stops))


UP_TO_DATE = "was up to date"
LEFT = (
    "left for a person: preparing does not put it right; mend it, or accept it in the list's "
    "column waive or with --waivers"
)


def prepare(
    wanted: Sequence[Order],
    house: House,
    run: Run,
    *,
    left: Barred = NOTHING,
    dry_run: bool = False,
) -> Report:
    """Make every copy that is not there yet, judge each by the house, and return the report.

    left: masters of which none is made, see `barred`. dry_run: say what would be made, of masters
    whose pixels can be read, and touch nothing.
    """
    cache = None if dry_run else run.cache
    judged = judged_by(house, run.registry.rules) if cache else ""

    def stream() -> Iterator[Verdict]:
        anew = []
        for order in wanted:
            master = cache.hashed(order.master) if cache else None
            known = _recalled(order, master, cache, left, judged) if cache and master else None
            if known:
                yield known
            else:
                anew.append(order)
        makes = not dry_run and any(not _stops_of(order, left) for order in anew)
        by = with_amount(house) if makes else house
        work = _planned if dry_run else _prepared
        for one in run.over(work, anew, _lost_copy, by, replace(run, cache=cache), left, judged):
            if cache and one.trouble:
                cache.trouble = one.trouble
            if cache and one.master:
                cache.keep(one.master, one.asked, one.verdict)
            yield one.verdict

    folders = {order.target.parent for order in wanted}
    guard = nullcontext() if dry_run or not folders else folder_for_copies(folders.pop())
    with guard:
        return gathered("prepare", stream(), len(wanted), house, run)


@dataclass(frozen=True)
class Prepared:
    """What became of an order.

    master: as it was then, None where the verdict may not be recalled for it; asked: see `ordered`.
    trouble: see `Cache`.
    """

    verdict: Verdict
    master: HashedFile | None = None
    asked: str = ""
    trouble: str = ""


def prepare_copy(order: Order, house: House, run: Run, left: Barred = NOTHING) -> Verdict:
    """Make one copy here and now, unless its master is left for a person, and judge it."""
    return _prepared(order, house, replace(run, cache=None), left, "").verdict


def _prepared(order: Order, house: House, run: Run, left: Barred, judged: str) -> Prepared:
    cache = run.cache
    # of one that changed though it looks as it did no copy is made: it is hashed again afterwards
    master = (cache.hashed(order.master) or hashed(order.master)) if cache else None
    if cache and master and (known := _recalled(order, master, cache, left, judged)):
        return Prepared(known, trouble=cache.trouble)
    stood = hashed(order.target) if master and not order.force else None
    if stops := _stops_of(order, left):
        verdict, became = _left(order, stops, house), _told(stops)
    else:
        verdict, made = _made(order, house, run, master.content.hex() if master else "")
        became = _became(made, stood)
    # not where the master changed meanwhile
    if not (master and became and unchanged(master)):
        return Prepared(verdict)
    return Prepared(verdict, master, ordered(order, became, judged), cache.trouble if cache else "")


def _recalled(
    order: Order, master: HashedFile, cache: Cache, left: Barred, judged: str
) -> Verdict | None:
    """Return the verdict of an earlier run, where nothing has changed since, the copy neither."""
    if stops := _stops_of(order, left):
        known = cache.recall(master.content, ordered(order, _told(stops), judged))
        return known and _named(replace(known, path=str(order.master)), order)
    copy = None if order.force else cache.hashed(order.target) or hashed(order.target)
    if copy is None:
        return None
    known = cache.recall(master.content, ordered(order, copy.content.hex(), judged))
    if known is None:
        return None
    cache.keep_hashed(copy)
    return _named(replace(known, path=str(order.target)), order, made=UP_TO_DATE)


def _became(made: Made | None, stood: HashedFile | None) -> str:
    """Return the hash of the copy that stands there now, "" where that is not sure, or edited."""
    if made is None or made.edited:
        return ""
    if made.fresh:
        return made.written.hex()
    return stood.content.hex() if stood and unchanged(stood) else ""


def _told(stops: Sequence[Outcome]) -> str:
    return json.dumps([asdict(outcome) for outcome in stops], sort_keys=True)


def _made(order: Order, house: House, run: Run, master_sha256: str) -> tuple[Verdict, Made | None]:
    try:
        made = make(order, house, master_sha256)
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED), None
    except MachineTrouble as trouble:
        return _not_made(order, str(trouble), State.BROKEN), None
    except OSError as error:
        return _not_made(order, f"{order.target}: {why(error)}", State.BROKEN), None
    verdict = judge(made.copy, house, run.registry.rules)
    told = "; ".join(made.steps) if made.fresh else UP_TO_DATE
    if made.edited:
        told = "was edited by hand since it was prepared, and stays as it is; --force makes it anew"
    return _named(verdict, order, made=told), made


def _planned(order: Order, house: House, run: Run, left: Barred, _: str) -> Prepared:
    return Prepared(_foretold(order, house, left))


def _foretold(order: Order, house: House, left: Barred) -> Verdict:
    if stops := _stops_of(order, left):
        return _left(order, stops, house)
    try:
        plan, standing = tried(order, house)
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED)
    except MachineTrouble as trouble:
        return _not_made(order, str(trouble), State.BROKEN)
    except OSError as error:
        return _not_made(order, f"{order.target}: {why(error)}", State.BROKEN)
    across, down = plan.size()
    text = f"{across} x {down} px at {figure(plan.ppi, 'ppi')}"
    told = {"plan": text}
    if standing.copy is not None:
        told["there"] = "edited by hand, and stays" if standing.edited else "up to date"
    return _named(Verdict(str(order.target), (), page=order.request.page), order, **told)


def _lost_copy(order: Order, reason: str, _: Sequence[Any]) -> Prepared:
    return Prepared(_not_made(order, reason, State.BROKEN))


def _stops_of(order: Order, left: Barred) -> tuple[Outcome, ...]:
    return left.get((str(order.master), order.request.page), ())


def _left(order: Order, stops: tuple[Outcome, ...], house: House) -> Verdict:
    reason = LEFT
    try:
        planned(order, house)
    except (Refused, Unmeasured) as refusal:
        # it names the mend
        reason = str(refusal)
    verdict = _not_made(order, reason, State.UNMEASURED)
    return _named(replace(verdict, outcomes=(*verdict.outcomes, *stops)), order)


def _not_made(order: Order, reason: str, state: State) -> Verdict:
    outcome = Outcome("prepare", state, reason=reason)
    return Verdict(str(order.master), (outcome,), page=order.request.page)


def _named(verdict: Verdict, order: Order, **told: str) -> Verdict:
    """Return the verdict with its master, and what is to be told of the copy."""
    return replace(verdict, facts={**verdict.facts, "master": str(order.master), **told})
