"""Follows a page for readers: writes its files, runs its commands, compares what it quotes.

A block after `<!-- file: NAME -->` is a file; a block of kind `console` holds commands, each after
`$ `, and what they print. A quoted line of three dots stands for any number of printed ones.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

MORE = "…"


def follow(page: Path, work: Path, run: Callable[[str], str]) -> Iterator[str]:
    """Do what a page says, in the folder `work`, and yield what it quotes wrongly.

    run: runs a command there and returns what it printed.
    """
    text = page.read_text("utf-8")
    for match in re.finditer(r"(?:<!-- file: (.+?) -->\n)?```(\w*)\n(.*?)^```$", text, re.M | re.S):
        name, kind, body = match.groups()
        line = text[: match.start(3)].count("\n") + 1
        if name:
            (work / name).parent.mkdir(parents=True, exist_ok=True)
            (work / name).write_text(body, "utf-8")
        elif kind == "console":
            for call in re.split(r"^\$ ", body, flags=re.M)[1:]:
                command, _, quoted = call.partition("\n")
                printed = run(command)
                for missing in lacking(quoted.splitlines(), printed.splitlines()):
                    yield f"{page.name}:{line}: {command}: not printed: {missing!r}"


def lacking(quoted: Sequence[str], printed: Sequence[str]) -> Iterator[str]:
    """Yield the quoted lines that were not printed, or not there.

    Lines follow each other as printed, but where a line of three dots stands for others.
    """
    at, free = 0, False
    for line in quoted:
        if line.strip() == MORE:
            free = True
            continue
        places = range(at, len(printed)) if free else range(at, min(at + 1, len(printed)))
        found = next((i for i in places if printed[i].rstrip() == line.rstrip()), None)
        if found is None:
            yield line
            continue
        at, free = found + 1, False
    if not free and any(line.strip() for line in printed[at:]):
        yield f"(ends before {printed[at]!r})"
