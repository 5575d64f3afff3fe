"""Runs one function over many tasks on the workers of a dask scheduler, on one machine or many.

The engine is dask.distributed's: it hands out the tasks, and gives those of a worker that died to
another one. Workers run the same code, of this program, its libraries and its plug-ins, best with
one thread each (``dask worker ADDRESS --nthreads 1``), and see the pictures under the same paths.
Each result says by which code it was made: one by other code is refused, its task given elsewhere.
"""

from __future__ import annotations

import faulthandler
import os
import pickle
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from dataclasses import dataclass
from typing import Any, Generic, TypeVar
from uuid import uuid4

from pressworthy import __version__
from pressworthy.files.memory import allow
from pressworthy.jobs.running.worker import attempted
from pressworthy.jobs.running.workers import USUAL, Limits, Lost, settled
from pressworthy.values.faults import SetupError
from pressworthy.values.words import readable, what_broke

Task = TypeVar("Task")
Result = TypeVar("Result")
AHEAD = 1000
JOIN_SECONDS = 30
SILENT_SECONDS = 60.0


@dataclass(frozen=True)
class _Asked(Generic[Task]):
    """A task, and whether a worker failed to take it in before."""

    task: Task
    again: bool = False


@dataclass(frozen=True)
class _Answer:
    """What a worker made of a task, and by which code; `why` tells why it could make nothing."""

    worker: str
    code: str
    result: Any = None
    why: str = ""


def run(
    work: Callable[..., Result],
    tasks: Iterable[Task],
    lost: Lost[Task, Result],
    *,
    scheduler: str,
    code: Callable[..., str],
    given: tuple[Any, ...] = (),
    limits: Limits = USUAL,
) -> Iterator[Result]:
    """Yield work(task, *given) for every task, in the order they are done; see `workers.run`.

    scheduler: its address, such as ``tcp://desk:8786``; code: returns, of what is given, the hash
    of the code that works. Raises SetupError where the scheduler does not answer, has no workers,
    or theirs is another version of this program.
    """
    client = _client(scheduler)
    ours, shared = code(*given), (uuid4().hex, pickle.dumps((work, code, given, limits)))
    waiting = deque(_Asked(task) for task in tasks)
    under_way: dict[Future[_Answer], _Asked[Task]] = {}
    known: set[str] = set()
    foreign: set[str] = set()
    with client:
        while waiting or under_way:
            among = _fit(client, foreign)
            if foreign and not among:
                left = [*under_way.values(), *waiting]
                why = "no worker with this program's code is left on the scheduler"
                yield from (lost(asked.task, why, ()) for asked in left)
                return
            pool = client.get_executor(pure=False, workers=among)
            while waiting and len(under_way) < AHEAD:
                asked = waiting.popleft()
                under_way[pool.submit(_there, *shared, pickle.dumps(asked.task))] = asked
            done, _ = wait(under_way, timeout=SILENT_SECONDS, return_when=FIRST_COMPLETED)
            if not done and foreign:
                # they may wait for a worker that is gone
                waiting.extend(_taken_back(under_way))
            elif not done and not client.nthreads():
                left = [*_taken_back(under_way), *waiting]
                why = "no worker is left on the scheduler"
                yield from (lost(asked.task, why, ()) for asked in left)
                return
            for future in done:
                asked = under_way.pop(future)
                try:
                    answer = future.result()
                except Exception as error:
                    # a worker of another version may not even know how it is asked
                    _refuse(foreign, _strangers(client, known))
                    if foreign and not asked.again:
                        waiting.append(_Asked(asked.task, again=True))
                    else:
                        yield lost(asked.task, _in_words(error), ())
                    continue
                if answer.code == ours:
                    known.add(answer.worker)
                    yield settled(answer.result, asked.task, lost)
                else:
                    _refuse(foreign, {answer.worker: answer.why or "its code is another"})
                    waiting.append(asked)


def _fit(client: Any, foreign: set[str]) -> list[str] | None:
    """Return the workers that may work, None where all may; it waits a while for one to join."""
    if not foreign:
        return None
    end = time.monotonic() + SILENT_SECONDS
    while not (fit := sorted(client.nthreads().keys() - foreign)) and time.monotonic() < end:
        time.sleep(0.2)
    return fit


def _taken_back(under_way: dict[Future[_Answer], _Asked[Task]]) -> list[_Asked[Task]]:
    for future in under_way:
        future.cancel()
    back = list(under_way.values())
    under_way.clear()
    return back


def _strangers(client: Any, known: set[str]) -> dict[str, str]:
    """Return worker -> why it cannot work here, of those of another version or without it.

    known: those that can, and are not disturbed.
    """
    asked = sorted(client.nthreads().keys() - known)
    said = client.run(_version, workers=asked, on_error="return") if asked else {}
    return {
        worker: f"it has {version}" if isinstance(version, str) else what_broke(version)
        for worker, version in said.items()
        if version != __version__
    }


def _refuse(foreign: set[str], more: dict[str, str]) -> None:
    """Add to the workers whose results are refused, each told once."""
    for worker in sorted(more.keys() - foreign):
        told = f"the worker {worker} is refused, its tasks go elsewhere: {more[worker]}"
        print(readable(f"--scheduler: {told}"), file=sys.stderr)
    foreign.update(more)


def _client(scheduler: str) -> Any:
    try:
        from distributed import Client
        from distributed.comm.addressing import parse_address, parse_host_port
    except ImportError:
        message = "--scheduler needs dask.distributed: pip install 'pressworthy[cluster]'"
        raise SetupError([message]) from None
    try:
        # a client that cannot make sense of its address hangs when it is let go
        parse_host_port(parse_address(scheduler)[1])
    except ValueError as error:
        message = f"--scheduler {scheduler}: not an address such as tcp://desk:8786: {error}"
        raise SetupError([message]) from None
    try:
        client = Client(scheduler, timeout=JOIN_SECONDS, set_as_default=False)
    except OSError as error:
        raise SetupError([f"--scheduler {scheduler}: it does not answer: {error}"]) from None
    try:
        client.wait_for_workers(1, timeout=JOIN_SECONDS)
        by_worker: dict[str, str] = client.run(_version)
        versions = set(by_worker.values())
    except TimeoutError:
        client.close()
        message = f"--scheduler {scheduler}: no worker has joined it within {JOIN_SECONDS} s"
        raise SetupError([message]) from None
    except Exception as error:
        client.close()
        message = f"--scheduler {scheduler}: its workers cannot run this program: {error}"
        raise SetupError([message]) from None
    if versions != {__version__}:
        client.close()
        others = ", ".join(sorted(versions - {__version__}))
        message = f"--scheduler {scheduler}: its workers have version {others}; {__version__} asks"
        raise SetupError([message])
    return client


def _in_words(error: Exception) -> str:
    from distributed import KilledWorker

    if isinstance(error, KilledWorker):
        return "every worker that took this picture died, or took too long"
    return "the scheduler went away" if isinstance(error, CancelledError) else what_broke(error)


_lock = threading.Lock()
_run: tuple[str, str, tuple[Any, ...]] = "", "", ()
"""Which run's tasks are done here, the hash of the code for it, and what they have in common."""


def _version() -> str:
    return __version__


def _there(run_id: str, packed: bytes, task: bytes) -> _Answer:
    """Do one task on a worker, which unpacks once a run; one at a time, whatever its threads."""
    global _run
    from distributed import get_worker

    worker = str(get_worker().address)
    with _lock:
        try:
            if _run[0] != run_id:
                work, code, given, limits = pickle.loads(packed)
                _run = run_id, code(*given), (work, given, limits)
            work, given, limits = _run[2]
            asked = pickle.loads(task)
        except Exception as error:  # its plug-ins or its program are others
            return _Answer(worker, "", why=what_broke(error))
        allow(limits.memory)
        # a process that hangs is ended, even outside Python, and its nanny starts another
        with open(os.devnull, "w") as nowhere:  # noqa: PTH123
            faulthandler.dump_traceback_later(limits.seconds, exit=True, file=nowhere)
            try:
                return _Answer(worker, _run[1], attempted(work, asked, given))
            finally:
                faulthandler.cancel_dump_traceback_later()
