"""Runs one function over many tasks in worker processes; a worker that dies loses one task only."""

from __future__ import annotations

import os
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any, Generic, TypeVar

from pressworthy.files.memory import BUDGET
from pressworthy.jobs.running.worker import GRACE_SECONDS, Broke, Gone, Worker, packed
from pressworthy.values.faults import SetupError

Task = TypeVar("Task")
Result = TypeVar("Result")
Lost = Callable[[Task, str, Sequence[Any]], Result]
"""Makes what stands in a result's place, of the task, the reason, and what was told of it."""

TRIES = 2
"""A worker may die by chance, or because the others left it too little memory."""

_TWICE = ", twice: a fault in a library that reads it, or too little memory"

_FILES, _FILES_A_WORKER = 9, 4
"""What multiprocessing's server of forks takes, and each worker (measured)."""

MOST_ON_WINDOWS = 61
"""Windows waits for no more pipes at once than about this (multiprocessing.connection)."""


@dataclass(frozen=True)
class Limits:
    """What one picture may cost: seconds in all, and bytes of memory to decode it."""

    seconds: float = 60.0
    memory: int = BUDGET


USUAL = Limits()


@dataclass
class _Job(Generic[Task]):
    task: Task
    tries: int = 0


def run(
    work: Callable[..., Result],
    tasks: Iterable[Task],
    lost: Lost[Task, Result],
    *,
    processes: int = 0,
    given: tuple[Any, ...] = (),
    limits: Limits = USUAL,
) -> Iterator[Result]:
    """Yield work(task, *given) for every task, in the order they are done.

    processes: 0 for one a processor; given: goes to each worker once, pickled. A task that takes
    too long, whose worker dies twice or whose work raises an error gets lost(task, reason, told);
    told: what it had told by `worker.tell`. Raises SetupError where no worker can start.
    """
    waiting = deque(_Job(task) for task in tasks)
    start = packed(work, given, limits.memory)
    most = processes or cores()
    if sys.platform == "win32":
        most = min(most, MOST_ON_WINDOWS)
    most = min(most, max(1, _room()))
    crew: list[Worker] = []
    begun, unfit = False, ""
    try:
        while waiting or any(worker.job for worker in crew):
            while len(crew) < min(most, len(waiting) + sum(bool(one.job) for one in crew)):
                try:
                    crew.append(Worker(start, getattr(work, "__module__", "")))
                except Gone as gone:
                    most, unfit = len(crew), gone.why
            for worker in crew:
                if worker.ready and waiting and not worker.job:
                    job = waiting.popleft()
                    job.tries += 1
                    worker.take(job, job.task, limits.seconds)
            for worker in _with_news(crew):
                job = worker.job
                try:
                    done = worker.listen()
                    begun = True
                except Gone as gone:
                    crew.remove(worker)
                    if not worker.ready:
                        # go on with those that there are
                        most, unfit = len(crew), gone.why
                    elif job and gone.by_chance and job.tries < TRIES:
                        waiting.append(job)
                    elif job:
                        why = f"{gone.why}{_TWICE}" if gone.by_chance else gone.why
                        yield lost(job.task, why, worker.told)
                else:
                    if job and done:
                        yield settled(done[0], job.task, lost, worker.told)
            if not most and not begun:
                raise SetupError([f"no worker process can start: {unfit}"])
            while waiting and not most:
                why = f"no worker process can start any more: {unfit}"
                yield lost(waiting.popleft().task, why, ())
    finally:
        _end(crew)


def settled(
    result: Result | Broke, task: Task, lost: Lost[Task, Result], told: Sequence[Any] = ()
) -> Result:
    """Return the result, or lost(task, reason, told) where there is none."""
    return lost(task, result.why, told) if isinstance(result, Broke) else result


def cores() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _room() -> int:
    """Return how many workers there may be by the files that this process may have open.

    One more than that ends the server that forks them, with a traceback of its own.
    """
    try:
        import resource
    except ImportError:  # not on Windows
        return MOST_ON_WINDOWS
    most, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    if most == resource.RLIM_INFINITY:
        return sys.maxsize
    try:
        free = os.dup(0)  # the lowest number
    except OSError:
        return 0
    os.close(free)
    return (most - free - _FILES) // _FILES_A_WORKER


def _with_news(crew: Sequence[Worker]) -> list[Worker]:
    """Wait until a worker has news or is overdue, and return those that do or are."""
    if not crew:
        return []
    due = min((one.due for one in crew if one.due is not None), default=None)
    left = None if due is None else max(due - time.monotonic(), 0)
    heard = wait([one.pipe for one in crew], left)
    now = time.monotonic()
    return [w for w in crew if w.pipe in heard or (w.due is not None and w.due <= now)]


def _end(crew: Sequence[Worker]) -> None:
    end = time.monotonic() + GRACE_SECONDS
    for worker in crew:
        worker.let_go()
    for worker in crew:
        worker.end(seconds=end - time.monotonic())
