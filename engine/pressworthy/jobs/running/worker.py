"""One worker process, as its parent sees it and as it runs: a pipe each, one task at a time.

So a parent knows whose fault a death is, can end a worker that overruns, and no lock is shared that
a dead worker might hold.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any

from pressworthy.files.memory import allow, bound, keep_freed
from pressworthy.jobs.running import birth
from pressworthy.values.faults import Stopped
from pressworthy.values.machine import what_failed

START_SECONDS = 60.0
GRACE_SECONDS = 3.0
"""What a worker has to clear away what it was writing."""

_READY, _UNFIT, _TOLD, _DONE = range(4)


class Gone(Exception):  # noqa: N818 - what became of it
    """A worker has ended, or was ended. by_chance: the same task may do better with another."""

    def __init__(self, why: str, *, by_chance: bool = False) -> None:
        self.why = why
        self.by_chance = by_chance


class Worker:
    """A worker process; `job` is what it works on, `told` what was told of it so far.

    due: when it must be ready, or done; None where nothing is waited for.
    """

    def __init__(self, work: bytes, module: str = "") -> None:
        """Start it. work: see `packed`; module: that of its function, loaded once for all workers.

        Raises Gone where the system refuses.
        """
        self.job: Any = None
        self.told: list[Any] = []
        self.ready = False
        self.due: float | None = time.monotonic() + START_SECONDS
        self._allowed = START_SECONDS
        context = birth.context(module)
        self.pipe, theirs = context.Pipe()
        held, self._life = context.Pipe(duplex=False)
        try:
            given, kept = (theirs, held, work), (self.pipe, self._life)
            self._process = birth.begin(context, _serve, given, kept)
        except (OSError, EOFError) as error:
            raise Gone(what_failed(error)) from None
        finally:
            theirs.close()
            held.close()

    def take(self, job: Any, task: Any, seconds: float) -> None:
        self.job, self.told = job, []
        self.due, self._allowed = time.monotonic() + seconds, seconds
        with suppress(OSError):  # one that has died is heard of by its pipe's end
            self.pipe.send(task)

    def listen(self) -> tuple[Any] | None:
        """Return (result,) when its job is done, None before. Raises Gone."""
        if not self.pipe.poll():
            self.end(at_once=True)
            if not self.ready:
                raise Gone(f"it was not ready within {self._allowed:g} s")
            raise Gone(f"it took longer than {self._allowed:g} s; --time gives each picture more")
        try:
            news, value = self.pipe.recv()
        except (EOFError, OSError):
            self.end()
            raise Gone(f"its process ended ({self._how()})", by_chance=True) from None
        except Exception as error:  # a plug-in's object that is not there to unpack
            self.end(at_once=True)
            raise Gone(what_failed(error)) from None
        if news == _UNFIT:
            self.end()
            raise Gone(value)
        if news == _TOLD:
            self.told.append(value)
            return None
        self.ready, self.job, self.due = True, None, None
        return (value,) if news == _DONE else None

    def let_go(self) -> None:
        """Ask it to end: at once where it is idle, or else when it has cleared away."""
        if self.job is not None or not self.ready:
            self._process.terminate()
        self.pipe.close()

    def end(self, *, at_once: bool = False, seconds: float = GRACE_SECONDS) -> None:
        """See that it has ended, in `seconds` or by force."""
        if at_once:
            self._process.kill()
        self._process.join(max(seconds, 0.0))
        if self._process.exitcode is None:
            self._process.kill()
            self._process.join(GRACE_SECONDS)
        self.pipe.close()
        self._life.close()

    def _how(self) -> str:
        code = self._process.exitcode
        if code is None or code >= 0:
            return f"exit status {code}"
        with suppress(ValueError):
            return signal.Signals(-code).name
        return f"signal {-code}"


def packed(work: Callable[..., Any], given: tuple[Any, ...], memory: int) -> bytes:
    """Return what a worker is started with; memory: bytes that it may take to decode a picture."""
    return pickle.dumps((work, given, memory))


def attempted(work: Callable[..., Any], task: Any, given: tuple[Any, ...]) -> Any:
    """Return work(task, *given), or Broke where it raises an error that none foresaw."""
    try:
        return work(task, *given)
    except (Exception, SystemExit, KeyboardInterrupt) as error:
        return Broke(what_failed(error))


class Broke:
    """What stands in a result's place where the work raised an error that none foresaw."""

    def __init__(self, why: str) -> None:
        self.why = why


_parent: Connection[Any, Any] | None = None
"""The pipe of this process, where it is a worker."""


def tell(value: Any) -> None:
    """Let the parent know this much of the task under way, in case that it never ends."""
    if _parent is not None:
        _parent.send((_TOLD, value))


def _serve(pipe: Connection[Any, Any], life: Connection[Any, Any], started_with: bytes) -> None:
    """Work as a worker process, until the parent closes the pipe or ends."""
    global _parent
    # of an interruption the parent decides
    birth.as_new({signal.SIGINT: signal.SIG_IGN, signal.SIGTERM: _stop})
    _end_with_parent(life)
    status = 1
    try:
        try:
            work, given, memory = pickle.loads(started_with)
            allow(memory)
            bound(memory)
            keep_freed()
        except (Exception, SystemExit, KeyboardInterrupt) as error:
            pipe.send((_UNFIT, what_failed(error)))
            return
        pipe.send((_READY, None))
        _parent = pipe
        while True:
            task = pipe.recv()
            done = attempted(work, task, given)
            try:
                pipe.send((_DONE, done))
            except OSError:
                raise
            except Exception as error:  # it cannot be pickled
                pipe.send((_DONE, Broke(what_failed(error))))
    except (EOFError, OSError):  # the parent wants no more
        status = 0
    finally:
        # whatever threads a plug-in has started
        with suppress(Exception):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)


def _stop(number: int, _: Any) -> None:
    # inside a library's callback the error ends in words on standard error that help nobody
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    raise Stopped(number)


def _end_with_parent(life: Connection[Any, Any]) -> None:
    """End this process when the parent does, however that ends and whatever is done here."""

    def watch() -> None:
        with suppress(EOFError, OSError):
            life.recv()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    if hasattr(os, "O_ASYNC"):
        import fcntl

        # no thread runs while a library keeps Python's lock; the system ends even that
        with suppress(OSError):
            fcntl.fcntl(life.fileno(), fcntl.F_SETOWN, os.getpid())
            flags = fcntl.fcntl(life.fileno(), fcntl.F_GETFL)
            fcntl.fcntl(life.fileno(), fcntl.F_SETFL, flags | os.O_ASYNC)
