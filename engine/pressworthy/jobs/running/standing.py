"""A worker process that stays: it is asked one thing after the other, and renewed when it dies.

For what is asked often and in no order known beforehand, where a crew for each would cost more than
the work itself.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from multiprocessing.connection import wait
from typing import Any

from pressworthy.jobs.running.worker import Broke, Gone, Worker, packed
from pressworthy.jobs.running.workers import Limits

Watch = Callable[[Sequence[Any]], str]
"""Is given what was told of a task so far, now and then; returns why to stop it, "" to go on."""

TICK_SECONDS = 0.25


class Lost(Exception):  # noqa: N818 - what became of it
    """What was asked was not done, with the reason."""


class Standing:
    """Does work(task) in one process, a task at a time, each within the limits.

    It starts with the first task. After `MOST_TASKS` it is renewed, so that what libraries keep
    does not grow for ever.
    """

    MOST_TASKS = 500

    def __init__(self, work: Callable[[Any], Any], limits: Limits) -> None:
        self._started_with = packed(work, (), limits.memory)
        self._seconds = limits.seconds
        self._worker: Worker | None = None
        self._asked = 0
        self._lock = threading.Lock()

    def do(self, task: Any, watch: Watch | None = None) -> Any:
        """Return work(task). Raises Lost: it took too long, its process died, or it broke.

        watch: may stop it; then the process clears away first.
        """
        with self._lock:
            worker = self._ready()
            self._asked += 1
            worker.take(task, task, self._seconds)
            done = self._heard(worker, watch)
        if isinstance(done, Broke):
            raise Lost(done.why)
        return done

    def end(self) -> None:
        """Let the process end; another task would start one anew."""
        with self._lock:
            self._end()

    def _ready(self) -> Worker:
        if self._asked >= self.MOST_TASKS:
            self._end()
        if self._worker is None:
            try:
                self._worker = Worker(self._started_with)
            except Gone as gone:
                raise Lost(f"no worker process can start: {gone.why}") from None
            self._heard(self._worker)
            self._asked = 0
        return self._worker

    def _heard(self, worker: Worker, watch: Watch | None = None) -> Any:
        """Return what it did, None where it has only become ready."""
        while True:
            left = None if worker.due is None else max(worker.due - time.monotonic(), 0)
            news = wait([worker.pipe], min(left, TICK_SECONDS) if watch and left else left)
            if watch and (why := watch(worker.told)):
                self._end()
                raise Lost(why)
            if not news and watch and left:
                continue
            if not news:
                worker.end(at_once=True)
                self._worker = None
                raise Lost(f"it took longer than {self._seconds:g} s")
            try:
                done = worker.listen()
            except Gone as gone:
                self._worker = None
                raise Lost(gone.why) from None
            if worker.job is None:
                return done[0] if done else None

    def _end(self) -> None:
        if self._worker:
            self._worker.let_go()
            self._worker.end()
        self._worker = None
