"""Pictures dropped on the sheet: copied into the masters whole or not at all, never over one.

What a browser calls a file is only ever a wish; `names.master_name` makes a name of it. A file
whose name is taken waits under a hidden name until a person says what is to become of it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import AsyncIterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from tempfile import mkstemp

from pressworthy.open_proof.issue import MASTERS
from pressworthy.open_proof.names import MasterName, master_name
from pressworthy.values.faults import SetupError

MOST_BYTES = 4_000_000_000
"""Of one file: the largest that a TIFF can be."""

MOST_FILES = 5_000
"""In one issue's masters: more is an archive."""

PART = ".pressworthy-dropped-"


class NameTaken(SetupError):  # noqa: N818 - an answer, not an error
    """Its name is taken; free: the one to offer."""

    def __init__(self, name: str, free: str) -> None:
        super().__init__([f"{name} is there already"])
        self.free = free


async def drop(
    folder: Path, given: str, size: int | None, chunks: AsyncIterator[bytes], *, beside: bool
) -> Path:
    """Copy what comes into the masters and return where it lies.

    given: what the browser calls it, a path of a dropped folder perhaps; size: bytes announced;
    beside: where its name is taken, take the free one. Raises SetupError in words for the person:
    also where it is larger than announced, or the disk is full. Raises NameTaken.
    """
    name = _of_pages(folder, given) if is_pages(given) else master_name(folder, given)
    if name.taken and not beside:
        raise NameTaken(name.path.name, name.free.name)
    if size is None or size > MOST_BYTES:
        raise SetupError([f"{name.path.name}: larger than {MOST_BYTES // 10**9} GB, or of no size"])
    masters = folder / MASTERS
    # pages are no master; they lie beside the list that their sizes go to
    place = name.path.parent if is_pages(given) else masters
    try:
        masters.mkdir(parents=True, exist_ok=True)
        if sum(len(files) for _, _, files in os.walk(masters)) >= MOST_FILES:
            raise SetupError(
                [f"{MASTERS} holds {MOST_FILES} files, which is no issue but an archive"]
            )
        handle, part = mkstemp(dir=place, prefix=PART)
        try:
            with os.fdopen(handle, "wb") as stream:
                left = size
                async for chunk in chunks:
                    left -= len(chunk)
                    if left < 0:
                        raise SetupError([f"{name.path.name}: longer than was announced"])
                    stream.write(chunk)
                if left:
                    raise SetupError([f"{name.path.name}: broken off; drop it again"])
                stream.flush()
                os.fsync(stream.fileno())
            return _put(Path(part), name.free if name.taken else name.path)
        finally:
            with suppress(OSError):
                Path(part).unlink()
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        why = "the disk is full; nothing was left half written" if full else error.strerror
        raise SetupError([f"{name.path.name}: {why}"]) from None


def is_pages(given: str) -> bool:
    """Tell whether what is dropped is a PDF of pages, by its name."""
    return given.lower().endswith(".pdf")


def _of_pages(folder: Path, given: str) -> MasterName:
    """Return the name of a PDF of pages in the issue's folder. Raises SetupError."""
    path = folder / master_name(folder, given).path.name
    if not path.exists():
        return MasterName(path, None, path)
    numbers = (path.with_stem(f"{path.stem} {number}") for number in count(2))
    return MasterName(path, path, next(one for one in numbers if not one.exists()))


def clear(folder: Path) -> None:
    """Delete what a killed server left half dropped."""
    for part in (*folder.glob(f"{PART}*"), *(folder / MASTERS).glob(f"{PART}*")):
        with suppress(OSError):
            part.unlink()


def _put(part: Path, target: Path) -> Path:
    """Give the whole file its name, which nobody else may have taken meanwhile."""
    target.parent.mkdir(parents=True, exist_ok=True)
    part.chmod(0o644)
    try:
        os.link(part, target)
    except FileExistsError:
        raise NameTaken(target.name, target.name) from None
    except OSError:
        # a file system without links: looked for, then renamed
        if target.exists():
            raise NameTaken(target.name, target.name) from None
        part.rename(target)
    return target
