"""The jobs of the desk: take pictures in, judge them against a house, gather the report."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressworthy import workers
from pressworthy.finding import State, Unmeasured, Verdict
from pressworthy.house import House
from pressworthy.intake.files import take_in
from pressworthy.judge import judge, unread
from pressworthy.placement import PlacementRequest
from pressworthy.plugins import Registry, load
from pressworthy.report import Report
from pressworthy.units import figure

Progress = Callable[[Iterable[Verdict], int], Iterable[Verdict]]
"""Wraps the stream of verdicts, told how many there will be, to show how far it has come."""


@dataclass(frozen=True)
class Task:
    """One picture to judge, and what is known of its place."""

    path: Path
    request: PlacementRequest


def check(
    tasks: Sequence[Task],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    progress: Progress = lambda verdicts, total: verdicts,
) -> Report:
    """Judge every task's picture by the house and return the report.

    plugins: extra plug-ins the workers must load, as given to `plugins.load`.
    jobs: worker processes, 0 for one a processor.
    """
    stream = workers.run(
        _check_one,
        tasks,
        lambda task, reason: unread(str(task.path), reason, house, State.BROKEN),
        jobs=jobs or workers.cores(),
        setup=_set_up,
        setup_args=(house, tuple(plugins)),
    )
    return Report(
        command="check",
        house=house.name,
        publisher=house.publisher,
        output=describe_output(house),
        chain=house.chain,
        off=house.off,
        verdicts=tuple(progress(stream, len(tasks))),
    )


def check_picture(task: Task, house: House, registry: Registry) -> Verdict:
    """Judge one picture here and now."""
    try:
        picture = take_in(task.path, house.output, task.request)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house)
    return judge(picture, house, registry.rules)


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


def _check_one(task: Task) -> Verdict:
    return check_picture(task, _worker["house"], _worker["registry"])
