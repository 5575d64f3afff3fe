"""The machine's trouble, full disks and too little memory, told apart from the picture's."""

from __future__ import annotations

import errno
import os
import re

from pressworthy.values.finding import Unmeasured
from pressworthy.values.words import what_broke

MEMORY = (
    "too little memory: --jobs with a smaller number leaves more for each picture, and --memory "
    "says how much each may take"
)
DISK = "the disk is full, or closed: make room, or set TMPDIR to another folder for scratch files"
FILES = (
    "too few files may be open at once: ulimit -n 256 before it allows more, and --jobs with a "
    "smaller number takes fewer"
)
SYSTEM = "the system could not read or open it: run it again when this is put right"

_ERRORS = {
    MEMORY: ("ENOMEM",),
    DISK: ("ENOSPC", "EDQUOT", "EFBIG", "EROFS"),
    FILES: ("EMFILE", "ENFILE"),
    SYSTEM: ("EIO", "ESTALE", "ETIMEDOUT", "ENOTCONN"),
}
_NUMBERS = {
    getattr(errno, name): told
    for told, names in _ERRORS.items()
    for name in names
    if hasattr(errno, name)
}
_WORDS = {
    # libvips and libpng, libjpeg, libheif
    # libheif says the same of a file that is made to harm, and names its limit
    MEMORY: "out of memory|insufficient memory|memory allocation error(?!.*security limit)",
    # libvips says so of its temporary files only
    DISK: r"unable to (write to|make temporary file)|wbuffer_write",
}


class MachineTrouble(Exception):  # noqa: N818 - an outcome, not an error
    """The machine failed, not the picture; says what of it, and the mend."""


def machine_trouble(error: BaseException) -> str:
    """Return what of the machine failed and its mend, or "" where the fault is another's."""
    if isinstance(error, MachineTrouble):
        return str(error)
    # libvips tells the system's error in words only
    said = str(getattr(error, "detail", "") or error).strip()
    if isinstance(error, MemoryError):
        return f"{MEMORY} ({said})" if said else MEMORY
    number = getattr(error, "errno", None)
    for known, told in _NUMBERS.items():
        if number == known or (number is None and os.strerror(known).lower() in said.lower()):
            return f"{told} ({os.strerror(known)})"
    if not isinstance(error, OSError):
        for told, words in _WORDS.items():
            if re.search(words, said, re.I):
                return f"{told} ({' '.join(said.split())[:200]})"
    return ""


def unmeasured(error: BaseException, why: str) -> MachineTrouble | Unmeasured:
    """Return what is to be raised where pixels fail: the machine's trouble, or else `why`."""
    trouble = machine_trouble(error)
    return MachineTrouble(trouble) if trouble else Unmeasured(why)


def what_failed(error: BaseException) -> str:
    """Return what of the machine failed, or else the error that none foresaw and its line."""
    return machine_trouble(error) or what_broke(error)
