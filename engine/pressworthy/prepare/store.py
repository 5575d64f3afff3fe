"""Puts a copy's bytes in place, whole or not at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pressworthy.values.faults import SetupError

UNFINISHED = ".pressworthy-part"

try:
    import fcntl
except ImportError:  # not on Windows: two runs into one folder then rely on the user
    fcntl = None  # type: ignore[assignment]


def put(data: bytes, target: Path) -> None:
    """Write `data` to `target`: a hidden file beside it, flushed to the disk, then renamed.

    Killed at any moment this leaves the old file or the whole new one under the target's name.
    Raises OSError.
    """
    part = part_of(target)
    try:
        with part.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(target)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    _flush_folder(target.parent)


def part_of(target: Path) -> Path:
    """Return the path of the unfinished copy. One that a killed run left goes with the next run."""
    return target.with_name(f".{target.name}{UNFINISHED}")


@contextmanager
def folder_for_copies(folder: Path) -> Iterator[None]:
    """Make the folder, see that it can be written to, and keep other runs out of it meanwhile.

    Raises SetupError.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe{UNFINISHED}"
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise SetupError([f"{folder}: cannot be written to: {error.strerror}"]) from None
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise SetupError([f"{folder}: another run is making copies there"]) from None
        except OSError:
            # a file system without locks: as on Windows, and no unfinished copy is cleared away
            yield
            return
        for left in folder.glob(f".*{UNFINISHED}"):
            left.unlink()
        yield
    finally:
        os.close(handle)


def why(error: OSError) -> str:
    """Return in a few words why a copy could not be written."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full; nothing was left half written"
    return error.strerror or str(error)


def _flush_folder(folder: Path) -> None:
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
