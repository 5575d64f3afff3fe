"""What --help says: every command explains itself, and its examples parse."""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
from collections.abc import Iterator

import pytest

from pressworthy.commands.main import parser
from pressworthy.values import cautions

HEAVY = {
    "numpy", "pyvips", "PIL", "yaml", "jsonschema", "pluggy", "tqdm", "shtab", "sqlite3",
    "starlette", "uvicorn", "watchfiles", "asyncio",
}  # fmt: skip
"""What help has no use for; each takes longer to load than help takes."""


def pages() -> Iterator[tuple[str, str]]:
    """Yield each command, "" for the whole, and its help's page."""
    whole = parser()
    commands = next(a for a in whole._actions if isinstance(a, argparse._SubParsersAction))
    for name, one in {"": whole, **commands.choices}.items():
        yield name, one.epilog or ""


def examples() -> list[str]:
    text = "\n".join(page for _, page in pages()).replace("\\\n", " ")
    return [line.strip() for line in text.splitlines() if line.startswith("  pressworthy ")]


@pytest.mark.parametrize("line", examples())
def test_every_example_parses(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    _, *words = shlex.split(line.partition(">")[0], comments=True)
    monkeypatch.setattr("os.path.isdir", lambda path: True)
    assert callable(parser().parse_args(words).run)


def test_every_command_has_a_page_that_ends_in_the_caution() -> None:
    assert all(page.endswith(cautions.PROGRAM) for _, page in pages())
    without = [name for name, page in pages() if page == cautions.PROGRAM]
    assert without == ["report-schema"]


def test_help_loads_nothing_heavy() -> None:
    told = "import sys; from pressworthy.commands.main import parser; parser().format_help(); "
    call = [sys.executable, "-c", f"{told}print(*{{name.split('.')[0] for name in sys.modules}})"]
    loaded = set(subprocess.run(call, capture_output=True, text=True, check=True).stdout.split())
    assert "argparse" in loaded
    assert loaded & HEAVY == set()
