"""Words from files and from errors, made fit to show."""

from __future__ import annotations

import traceback
from pathlib import PureWindowsPath


def readable(text: str) -> str:
    """Return text from a file made safe to show: no control, format or lone surrogate characters.

    They are written as escapes, so that a file name can neither move the cursor nor hide.
    """
    return "".join(
        c if c == " " or c.isprintable() else c.encode("unicode_escape").decode() for c in text
    )


def what_broke(error: BaseException) -> str:
    """Return an error that none foresaw, with the file and line that raised it."""
    where = traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__}: {error} ({file_name(where.filename)}:{where.lineno})"


def file_name(path: str) -> str:
    """Return the last part of a path as any system writes it: both slashes part folders."""
    return PureWindowsPath(path).name
