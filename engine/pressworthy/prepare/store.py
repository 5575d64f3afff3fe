"""Puts a copy's bytes in place, whole or not at all, and keeps a folder to one run at a time."""

from __future__ import annotations

import errno
import hashlib
import os
import platform
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pressworthy.values.faults import SetupError

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]

UNFINISHED = ".pressworthy-part"
LOCK = ".pressworthy-lock"

_MOST_PART_BYTES = 120
"""Of a copy's name in that of the unfinished one, which must not be the longer one refused."""

_HELD_WHILE_OPEN = os.name == "nt"
"""Whether the system lets nobody rename or delete a file that some process has open."""


def put(data: bytes, target: Path, *, flushed: bool = True) -> None:
    """Write `data` to `target`: a hidden file beside it, flushed to the disk, then renamed.

    Killed at any moment this leaves the old file or the whole new one under the target's name; who
    may read and write it stays as it was. flushed: not where the file goes again at once, which
    then need not wait for the disk. Raises OSError.
    """
    part = part_of(target)
    try:
        part.unlink(missing_ok=True)
        with part.open("xb") as stream:  # through no link that somebody laid there
            if target.exists():
                shutil.copymode(target, part)
            stream.write(data)
            if flushed:
                stream.flush()
                os.fsync(stream.fileno())
        part.replace(target)
    except BaseException:  # a person may stop the run here
        part.unlink(missing_ok=True)
        raise
    if flushed:
        flush_folder(target.parent)


def part_of(target: Path) -> Path:
    """Return the path of the unfinished copy. One that a killed run left goes with the next run."""
    name = os.fsencode(target.name)
    short = target.name if len(name) <= _MOST_PART_BYTES else hashlib.sha256(name).hexdigest()
    return target.with_name(f".{short}{UNFINISHED}")


@contextmanager
def folder_for_copies(folder: Path) -> Iterator[None]:
    """Make the folder, see that it can be written to, and keep other runs out of it meanwhile.

    What a killed run left unfinished there is cleared away. Raises SetupError.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe{UNFINISHED}"
        probe.unlink(missing_ok=True)
        probe.open("xb").close()
        probe.unlink()
    except OSError as error:
        raise SetupError([f"{folder}: cannot be written to: {error.strerror}"]) from None
    with alone_in(folder, "another run is making copies there"):
        clear_unfinished(folder)
        yield


def clear_unfinished(folder: Path) -> None:
    """Delete what a killed run was writing in the folder."""
    for part in folder.glob(f".*{UNFINISHED}"):
        part.unlink(missing_ok=True)


@contextmanager
def alone_in(folder: Path, busy: str) -> Iterator[None]:
    """Keep others out of the folder meanwhile. Raises SetupError saying `busy` where one is in."""
    handle = _system_lock(folder, busy)
    if handle is None:
        with _lock_file(folder, busy):
            yield
        return
    try:
        yield
    finally:
        os.close(handle)


def _system_lock(folder: Path, busy: str) -> int | None:
    """Return a handle that holds the folder until it is closed; None where there are no locks.

    The system closes it for a run that is killed.
    """
    if fcntl is None:
        return None
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise SetupError([f"{folder}: {busy}"]) from None
    except OSError:
        # a file system without locks, such as one across a network
        os.close(handle)
        return None
    return handle


@contextmanager
def _lock_file(folder: Path, busy: str) -> Iterator[None]:
    """Hold the folder by a file that tells which process holds it."""
    lock = folder / LOCK
    _clear_abandoned(lock)
    try:
        stream = lock.open("x", encoding="utf-8")
    except FileExistsError:
        raise SetupError([f"{folder}: {busy}; if none is, delete {lock}"]) from None
    except OSError as error:
        raise SetupError([f"{lock}: cannot be written: {error.strerror}"]) from None
    try:
        with stream:
            stream.write(_this_process())
            stream.flush()
            yield
    finally:
        # one that cannot be deleted is abandoned, and goes with the next run
        with suppress(OSError):
            lock.unlink()


def _clear_abandoned(lock: Path) -> None:
    """Delete the lock of a run that was killed."""
    aside = lock.with_name(f"{LOCK}-{os.getpid()}{UNFINISHED}")
    with suppress(OSError):
        owner = lock.read_text("utf-8", "replace")
        if not _HELD_WHILE_OPEN and _may_run(owner):
            return
        # deleted at once, it might by now be that of another run, which cleared it a moment ago
        lock.rename(aside)
        if aside.read_text("utf-8", "replace") == owner:
            aside.unlink()
        else:
            aside.rename(lock)


def _this_process() -> str:
    return f"{os.getpid()} {platform.node()}"


def _may_run(owner: str) -> bool:
    """Tell whether the process that wrote a lock may still run; nobody knows of other machines."""
    number, _, node = owner.partition(" ")
    if node != platform.node() or not number.isdecimal():
        return True
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def why(error: OSError) -> str:
    """Return in a few words why a copy could not be written."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full; nothing was left half written"
    if error.errno == errno.ENAMETOOLONG:
        return f"{error.strerror} there; rename the master, or change the house's naming pattern"
    return error.strerror or str(error)


def flush_folder(folder: Path) -> None:
    """See to the disk what files the folder holds."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
