"""docs/rule-packs.md as a stranger follows it: each file written, each command run, in order."""

import os
import re
import shlex
import subprocess
from pathlib import Path

import pytest

from following import follow
from pressworthy.colour.condition import SCHEMA

GUIDE = Path(__file__).parents[1] / "docs" / "rule-packs.md"
APART = ("--no-deps", "--no-build-isolation")
"""What pip needs is here already, so it fetches nothing."""


@pytest.fixture
def stranger(tmp_path: Path, another_python: Path) -> "Stranger":
    work = tmp_path / "work"
    work.mkdir()
    return Stranger(another_python, work)


class Stranger:
    """Runs commands in a folder and keeps them, with what they printed."""

    def __init__(self, python: Path, work: Path) -> None:
        self.python, self.work = python, work
        self.did: dict[str, str] = {}

    def run(self, command: str) -> str:
        """Return what a command printed, both streams; only a check may find something."""
        program, *words = shlex.split(command)
        start = {"python": [], "pressworthy": ["-m", "pressworthy"]}[program]
        if words[:2] == ["-m", "pip"]:
            words += APART
        done = subprocess.run(
            [self.python, *start, *words], cwd=self.work, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False,
        )  # fmt: skip
        well = (0, 1) if program == "pressworthy" and words[0] == "check" else (0,)
        assert done.returncode in well, f"{command}: {done.returncode}\n{done.stdout}"
        self.did[command] = done.stdout.replace(os.sep, "/")
        return self.did[command]


def test_the_guide_as_it_stands(stranger: Stranger) -> None:
    assert list(follow(GUIDE, stranger.work, stranger.run)) == []
    packed = stranger.did[
        "python -m zipfile --list dist/pressworthy_almanack-1.0.0-py3-none-any.whl"
    ]
    board = "almanack/conditions/cartridge"
    for name in (f"{board}/condition.yaml", f"{board}/gray.icc", "almanack/houses/almanack.yaml"):
        assert name in packed


def test_every_field_of_a_condition_is_explained() -> None:
    rows = [line for line in GUIDE.read_text("utf-8").splitlines() if line.startswith("| `")]
    told = {name for row in rows for name in re.findall(r"`([^`]+)`", row.split("|")[1])}
    assert set(SCHEMA["properties"]) <= told
