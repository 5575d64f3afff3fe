"""Runs one function over many tasks in worker processes; a worker that dies loses one task only."""

from __future__ import annotations

import faulthandler
import multiprocessing
import os
import pickle
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any, TypeVar

from pressworthy.values.words import what_broke

Task = TypeVar("Task")
Result = TypeVar("Result")
PRELOAD = ["pressworthy.jobs"]
TASK_SECONDS = 900.0
MOST_ON_WINDOWS = 61
"""Windows waits for no more processes at once than this (concurrent.futures)."""


def run(
    work: Callable[..., Result],
    tasks: Iterable[Task],
    lost: Callable[[Task, str], Result],
    *,
    processes: int = 0,
    given: tuple[Any, ...] = (),
    seconds: float = TASK_SECONDS,
) -> Iterator[Result]:
    """Yield work(task, *given) for every task, in the order they are done.

    processes: 0 for one a processor; given: goes to each worker once, pickled; seconds: the most
    for one task. When a worker dies, the tasks then under way are tried again one by one, each in a
    worker of its own; the one that kills its worker again gets lost(task, reason) for a result, as
    does one whose work raises an error.
    """
    processes = processes or cores()
    packed = pickle.dumps(given)
    waiting = deque(tasks)
    while waiting:
        under_way: dict[Future[Result | Broke], Task] = {}
        with _pool(min(processes, len(waiting)), packed) as pool:
            try:
                while waiting or under_way:
                    while waiting and len(under_way) < 2 * processes:
                        task = waiting.popleft()
                        try:
                            under_way[pool.submit(_here, work, task, seconds)] = task
                        except BrokenProcessPool:
                            waiting.appendleft(task)
                            raise
                    done, _ = wait(under_way, return_when=FIRST_COMPLETED)
                    for future in done:
                        result = future.result()
                        yield settled(result, under_way.pop(future), lost)
            except BrokenProcessPool:
                pass
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
        for future, task in under_way.items():
            if future.done() and not future.cancelled() and future.exception() is None:
                yield settled(future.result(), task, lost)
            else:
                yield _alone(work, task, lost, packed, seconds)


@dataclass(frozen=True)
class Broke:
    """What stands in a result's place where the work raised an error that none foresaw."""

    why: str


def settled(result: Result | Broke, task: Task, lost: Callable[[Task, str], Result]) -> Result:
    """Return the result, or lost(task, reason) where there is none."""
    return lost(task, result.why) if isinstance(result, Broke) else result


def watched(
    work: Callable[..., Result], task: Task, given: tuple[Any, ...], seconds: float = TASK_SECONDS
) -> Result | Broke:
    """Return work(task, *given); a watchdog ends a process that hangs, even outside Python."""
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123
        faulthandler.dump_traceback_later(seconds, exit=True, file=nowhere)
        try:
            return work(task, *given)
        except (Exception, SystemExit) as error:
            return Broke(what_broke(error))
        finally:
            faulthandler.cancel_dump_traceback_later()


def cores() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _alone(
    work: Callable[..., Result],
    task: Task,
    lost: Callable[[Task, str], Result],
    packed: bytes,
    seconds: float,
) -> Result:
    with _pool(1, packed) as pool:
        try:
            return settled(pool.submit(_here, work, task, seconds).result(), task, lost)
        except BrokenProcessPool:
            return lost(task, "the worker process died, or took too long, on this picture, twice")


def _pool(processes: int, packed: bytes) -> ProcessPoolExecutor:
    # not plain fork: libvips and the pool itself run threads, and a fork of those may hang
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")
    if "forkserver" in methods:
        context.set_forkserver_preload(PRELOAD)
    if sys.platform == "win32":
        processes = min(processes, MOST_ON_WINDOWS)
    return ProcessPoolExecutor(
        processes, mp_context=context, initializer=_unpack, initargs=(packed,)
    )


_given: tuple[Any, ...] = ()
"""What all tasks of this worker process have in common."""


def _unpack(packed: bytes) -> None:
    global _given
    _given = pickle.loads(packed)


def _here(work: Callable[..., Result], task: Task, seconds: float) -> Result | Broke:
    return watched(work, task, _given, seconds)
