"""Prepare: which copies are to be made, and each made and judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

from pressworthy import workers
from pressworthy.desk.running import Progress, of_house, report_on, run, set_up, worker
from pressworthy.desk.tasks import Task
from pressworthy.finding import Outcome, State, Unmeasured, Verdict
from pressworthy.house import House
from pressworthy.judge import judge, judge_set
from pressworthy.kept import Kept
from pressworthy.plugins import Registry, load
from pressworthy.prepare import Order, Refused, make, planned
from pressworthy.prepare.names import collisions, name_for
from pressworthy.prepare.store import folder_for_copies, why
from pressworthy.report import Report
from pressworthy.units import figure
from pressworthy.yamlfile import SetupError


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
            set_up(house, tuple(plugins))
            done = workers.watched(work, wanted[0])
            stream = iter([workers.settled(done, wanted[0], _lost_copy)])
        else:
            stream = run(
                work, wanted, _lost_copy, jobs=jobs, scheduler=scheduler, setup=set_up,
                setup_args=(house, tuple(plugins)),
            )  # fmt: skip
        verdicts = Kept(progress(of_house(stream, house), len(wanted)))
    return report_on("prepare", house, judge_set(verdicts, house, load(plugins).rules))


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
    if made.edited:
        told = "was edited by hand since it was prepared, and stays as it is; --force makes it anew"
    return _with_facts(verdict, order, made=told)


def _prepare_one(order: Order) -> Verdict:
    return prepare_copy(order, worker["house"], worker["registry"])


def _plan_one(order: Order) -> Verdict:
    try:
        _, plan = planned(order, worker["house"])
    except (Refused, Unmeasured) as reason:
        return _not_made(order, str(reason), State.UNMEASURED)
    across, down = plan.size()
    text = f"{across} x {down} px at {figure(plan.ppi, 'ppi')}"
    return _with_facts(Verdict(str(order.target), (), page=order.request.page), order, plan=text)


def _lost_copy(order: Order, reason: str) -> Verdict:
    return _not_made(order, reason, State.BROKEN)


def _not_made(order: Order, reason: str, state: State) -> Verdict:
    outcome = Outcome("prepare", state, reason=reason)
    return Verdict(str(order.master), (outcome,), page=order.request.page)


def _with_facts(verdict: Verdict, order: Order, **told: str) -> Verdict:
    return replace(verdict, facts={**verdict.facts, "master": str(order.master), **told})
