"""Runs one function over many tasks on the workers of a dask scheduler, on one machine or many.

The engine is dask.distributed's: it hands out the tasks, and gives those of a worker that died to
another one. Workers run the same version of this program, best with one thread each (``dask worker
ADDRESS --nthreads 1``), and see the pictures under the same paths.
"""

from __future__ import annotations

import pickle
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from typing import Any, TypeVar
from uuid import uuid4

from pressworthy import __version__
from pressworthy.jobs.running.workers import Broke, settled, watched
from pressworthy.values.faults import SetupError

Task = TypeVar("Task")
Result = TypeVar("Result")
AHEAD = 1000
JOIN_SECONDS = 30
SILENT_SECONDS = 60.0


def run(
    work: Callable[..., Result],
    tasks: Iterable[Task],
    lost: Callable[[Task, str], Result],
    *,
    scheduler: str,
    given: tuple[Any, ...] = (),
) -> Iterator[Result]:
    """Yield work(task, *given) for every task, in the order they are done; see `workers.run`.

    scheduler: its address, such as ``tcp://desk:8786``. Raises SetupError where it does not answer,
    has no workers, or theirs is another version of this program.
    """
    client = _client(scheduler)
    packed = pickle.dumps(given)
    waiting = deque(tasks)
    under_way: dict[Future[Result | Broke], Task] = {}
    run_id = uuid4().hex
    with client, client.get_executor(pure=False) as pool:
        while waiting or under_way:
            while waiting and len(under_way) < AHEAD:
                task = waiting.popleft()
                future = pool.submit(_there, run_id, packed, work, task)
                under_way[future] = task
            done, _ = wait(under_way, timeout=SILENT_SECONDS, return_when=FIRST_COMPLETED)
            if not done and not client.scheduler_info()["workers"]:
                for future in under_way:
                    future.cancel()
                left = [*under_way.values(), *waiting]
                yield from (lost(task, "no worker is left on the scheduler") for task in left)
                return
            for future in done:
                yield _result(future, under_way.pop(future), lost)


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


def _result(
    future: Future[Result | Broke], task: Task, lost: Callable[[Task, str], Result]
) -> Result:
    from distributed import KilledWorker

    try:
        return settled(future.result(), task, lost)
    except KilledWorker:
        return lost(task, "every worker that took this picture died, or took too long")
    except CancelledError:
        return lost(task, "the scheduler went away")


_lock = threading.Lock()
_given: tuple[str, tuple[Any, ...]] = "", ()
"""What all tasks of a run have in common, and which run's it is."""


def _version() -> str:
    return __version__


def _there(run_id: str, packed: bytes, work: Callable[..., Result], task: Task) -> Result | Broke:
    """Do one task on a worker, which unpacks once a run; one at a time, whatever its threads."""
    global _given
    with _lock:
        if _given[0] != run_id:
            _given = run_id, pickle.loads(packed)
        return watched(work, task, _given[1])
