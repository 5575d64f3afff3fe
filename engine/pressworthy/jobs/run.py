"""What the jobs of one command are handed: made once, and handed down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, TypeVar

from pressworthy.jobs.running import cluster, workers
from pressworthy.jobs.running.cache import Cache, code_of
from pressworthy.jobs.running.workers import USUAL, Limits, Lost
from pressworthy.plugins import Registry

Asked = TypeVar("Asked")
Done = TypeVar("Done")
Progress = Callable[[Iterable[Any], int], Iterable[Any]]
"""Wraps the stream of what is done, told how much there will be, to show how far it has come."""


def as_they_come(done: Iterable[Any], total: int) -> Iterable[Any]:
    """Return what is done as it is."""
    return done


@dataclass(frozen=True)
class Run:
    """One command's run; the house profile stands beside it, as one run may judge by several.

    registry: what the plug-ins gave; a worker loads them again, once. today: on which waivers have
    to be valid. processes: of this machine, 0 for one a processor; scheduler: its address, where
    the workers are a scheduler's, see `cluster.run`. limits: of each picture. cache: verdicts of
    earlier runs, which then count where nothing has changed. measuring: keep in it what was
    measured too, so that a changed limit needs no pixels; some 100 kB a picture.
    """

    registry: Registry
    today: date = field(default_factory=date.today)
    processes: int = 0
    scheduler: str = ""
    limits: Limits = USUAL
    cache: Cache | None = None
    measuring: bool = False
    progress: Progress = as_they_come

    def over(
        self,
        work: Callable[..., Done],
        tasks: Iterable[Asked],
        lost: Lost[Asked, Done],
        *given: Any,
    ) -> Iterator[Done]:
        """Yield work(task, *given) for every task, in the order they are done; see `workers.run`.

        given: what all tasks have in common, the run itself perhaps; it goes to each worker once.
        """
        # a progress bar stays where the person is
        there = replace(self, progress=as_they_come)
        given = tuple(there if part is self else part for part in given)
        if self.scheduler:
            return cluster.run(
                work,
                tasks,
                lost,
                scheduler=self.scheduler,
                code=_code,
                given=given,
                limits=self.limits,
            )
        return workers.run(
            work, tasks, lost, processes=self.processes, given=given, limits=self.limits
        )


def _code(*given: Any) -> str:
    """Return the hash of the code that works on what is given, a run among it."""
    return "".join(code_of(part.registry.rules) for part in given if isinstance(part, Run))
