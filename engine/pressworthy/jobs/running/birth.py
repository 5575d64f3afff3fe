"""How a worker process begins: forked from this one where it runs a single thread.

So it has all that is loaded here. A fork of several threads may hang, in a lock that another held;
libvips runs such once it has moved pixels, and so does a served sheet. Then, and on macOS, whose
libraries bear no fork, workers are forked from a server of multiprocessing's, which loads the same
once more. On Windows each starts anew.
"""

from __future__ import annotations

import importlib
import multiprocessing
import signal
import sys
from collections.abc import Callable, Iterable, Mapping
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from weakref import WeakSet

PRELOAD = "pressworthy.jobs"
"""What the server of forks loads where the work is none of this program's own."""
_OTHERS = ("numpy.fft", "PIL.JpegImagePlugin", "PIL.TiffImagePlugin")
"""What libraries load with a picture only."""
_PACKS = "pressworthy_"
"""So begin the names of this program's other packages, whose rules each worker asks again."""
_THREADS = Path("/proc/self/task")
"""Linux lists all threads of this process here, those of libraries among them."""

_kept: WeakSet[Connection[Any, Any]] = WeakSet()
"""The parent's ends of the pipes of all workers."""
_mask: Iterable[int] | None = None
"""The signals that the parent held back before it forked; None in a process that is no fork."""


def context(module: str) -> Any:
    """Return what makes a process that can work; module: that of its function."""
    methods = multiprocessing.get_all_start_methods()
    if "fork" in methods and _is_alone():
        for name in _OTHERS:
            importlib.import_module(name)
        return multiprocessing.get_context("fork")
    if "forkserver" not in methods:
        return multiprocessing.get_context("spawn")
    served = multiprocessing.get_context("forkserver")
    # by the first worker: the server loads no more once it runs
    work = module if module.startswith(f"{PRELOAD}.") else PRELOAD
    packs = [name for name in sys.modules if name.startswith(_PACKS)]
    served.set_forkserver_preload([work, *_OTHERS, *packs])
    return served


def begin(
    context: Any,
    work: Callable[..., None],
    given: tuple[Any, ...],
    kept: Iterable[Connection[Any, Any]],
) -> Any:
    """Return a process of the context that has begun work(*given).

    kept: ends of its pipes that stay here; held by another fork too, they would never seem closed.
    """
    global _mask
    _kept.update(kept)
    process = context.Process(target=work, args=given, daemon=True)
    if context.get_start_method() != "fork":
        process.start()
        return process
    # what a fork hears before `as_new` it would answer as its parent does
    _mask = signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())
    try:
        process.start()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, _mask)
    return process


def as_new(handlers: Mapping[int, Any]) -> None:
    """Let a process that has just begun be as one that was not forked.

    It lets go of its parent's pipes and output, and hears signals: those by `handlers`, all others
    as the system has it.
    """
    for end in list(_kept):
        end.close()
    sys.stdout, sys.stderr = sys.__stdout__, sys.__stderr__
    for one in signal.valid_signals():
        if callable(signal.getsignal(one)):
            signal.signal(one, signal.SIG_DFL)
    for number, handler in handlers.items():
        signal.signal(number, handler)
    if _mask is not None:
        signal.pthread_sigmask(signal.SIG_SETMASK, _mask)


def _is_alone() -> bool:
    """Tell whether this process runs one thread for certain."""
    try:
        return sum(1 for _ in _THREADS.iterdir()) == 1
    except OSError:  # other systems do not tell
        return False
