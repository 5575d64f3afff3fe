"""Prepare: which copies are to be made, and each made and judged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.run import Run
from pressworthy.jobs.tasks import Task
from pressworthy.judge import judge
from pressworthy.prepare import Order, Refused, make, planned, tried
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
    if not dry_run:
        house = with_amount(house)
    folders = {order.target.parent for order in wanted}
    guard = nullcontext() if dry_run or not folders else folder_for_copies(folders.pop())
    with guard:
        work = _planned if dry_run else prepare_copy
        stream = run.over(work, wanted, _lost_copy, house, run, left)
        return gathered("prepare", stream, len(wanted), house, run)


def prepare_copy(order: Order, house: House, run: Run, left: Barred = NOTHING) -> Verdict:
    """Make one copy here and now, unless its master is left for a person, and judge it."""
    if stops := _stops_of(order, left):
        return _left(order, stops, house)
    try:
        made = make(order, house)
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED)
    except MachineTrouble as trouble:
        return _not_made(order, str(trouble), State.BROKEN)
    except OSError as error:
        return _not_made(order, f"{order.target}: {why(error)}", State.BROKEN)
    verdict = judge(made.copy, house, run.registry.rules)
    told = "; ".join(made.steps) if made.fresh else "was up to date"
    if made.edited:
        told = "was edited by hand since it was prepared, and stays as it is; --force makes it anew"
    return _with_facts(verdict, order, made=told)


def _planned(order: Order, house: House, run: Run, left: Barred) -> Verdict:
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
    return _with_facts(Verdict(str(order.target), (), page=order.request.page), order, **told)


def _lost_copy(order: Order, reason: str, _: Sequence[Any]) -> Verdict:
    return _not_made(order, reason, State.BROKEN)


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
    facts = {"master": str(order.master)}
    return replace(verdict, outcomes=(*verdict.outcomes, *stops), facts=facts)


def _not_made(order: Order, reason: str, state: State) -> Verdict:
    outcome = Outcome("prepare", state, reason=reason)
    return Verdict(str(order.master), (outcome,), page=order.request.page)


def _with_facts(verdict: Verdict, order: Order, **told: str) -> Verdict:
    return replace(verdict, facts={**verdict.facts, "master": str(order.master), **told})
