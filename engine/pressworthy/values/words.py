"""Words from files and from errors, made fit to show."""

from __future__ import annotations

import traceback
from collections.abc import Iterable
from pathlib import Path, PureWindowsPath

MOST_FOLDERS = 6
"""Named one by one; more are counted."""

MOST_CHARACTERS = 2000
"""Of one sentence in a report; a plug-in may give any number."""


def readable(text: str) -> str:
    """Return text from a file made safe to show: no control, format or lone surrogate characters.

    They are written as escapes, so that a file name can neither move the cursor nor hide.
    """
    if text.isprintable():
        return text
    return "".join(
        c if c == " " or c.isprintable() else c.encode("unicode_escape").decode() for c in text
    )


def shortened(text: str) -> str:
    """Return a text as a report can bear it: what is too long is cut, and that is told."""
    if len(text) <= MOST_CHARACTERS:
        return text
    return f"{text[:MOST_CHARACTERS]} ... (cut: {len(text):,} characters)"


def what_broke(error: BaseException) -> str:
    """Return an error that none foresaw, with the file and line that raised it."""
    where = traceback.extract_tb(error.__traceback__)[-1]
    said = shortened(f"{type(error).__name__}: {error}")
    return f"{said} ({file_name(where.filename)}:{where.lineno})"


def folders_of(paths: Iterable[Path]) -> str:
    """Return the folders that files lie in, as a list in words."""
    folders = list(dict.fromkeys(str(path.parent) for path in paths))
    left = len(folders) - MOST_FOLDERS
    return ", ".join(folders[:MOST_FOLDERS]) + (f" and {left} more" if left > 0 else "")


def file_name(path: str) -> str:
    """Return the last part of a path as any system writes it: both slashes part folders."""
    return PureWindowsPath(path).name
