"""How a job runs over many pictures, and the report it ends in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from pressworthy.house import House
from pressworthy.jobs import workers
from pressworthy.plugins import load
from pressworthy.values.finding import Verdict
from pressworthy.values.report import Report
from pressworthy.values.rule import Rule, notes_on
from pressworthy.values.units import figure

Progress = Callable[[Iterable[Verdict], int], Iterable[Verdict]]
"""Wraps the stream of verdicts, told how many there will be, to show how far it has come."""

Asked = TypeVar("Asked")
Done = TypeVar("Done")

worker: dict[str, Any] = {}
"""What a worker process keeps from one picture to the next; each job's set-up fills it."""


def run(
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
        from pressworthy.jobs import cluster

        return cluster.run(
            work, tasks, lost, scheduler=scheduler, setup=setup, setup_args=setup_args
        )
    return workers.run(
        work, tasks, lost, jobs=jobs or workers.cores(), setup=setup, setup_args=setup_args
    )


def set_up(house: House, plugins: tuple[str, ...]) -> None:
    worker["house"], worker["registry"] = house, load(plugins)


def of_house(verdicts: Iterable[Verdict], house: House) -> Iterator[Verdict]:
    for verdict in verdicts:
        yield replace(verdict, house=house.name)


def report_on(
    command: str, house: House, verdicts: Sequence[Verdict], rules: Mapping[str, Rule]
) -> Report:
    return Report(
        command=command,
        house=house.name,
        publisher=house.publisher,
        output=describe_output(house),
        chain=house.chain,
        off=house.off,
        verdicts=verdicts,
        rules=tuple(notes_on(rules[name]) for name in house.rules),
    )


def describe_output(house: House) -> str:
    """Return the output in one line for a reader."""
    output = house.output
    return (
        f"{output.medium} in {output.colour}, {figure(output.ppi, 'ppi')}, "
        f"condition {output.condition.name}"
    )
