"""Lines of a text that is edited in place, whatever ends them."""

from __future__ import annotations

import re


def behind_line(text: str, at: int) -> int:
    """Return where the next line begins."""
    match = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)?").match(text, at)
    assert match is not None
    return match.end()


def line_end(text: str) -> str:
    """Return what ends the text's lines; a newline where it has one line."""
    match = re.search(r"\r\n|\r|\n", text)
    return match[0] if match else "\n"
