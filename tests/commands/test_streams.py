"""Streams that are closed and files that may not be opened: words and an exit status, no less."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from pressworthy.testing import CREDITED, draw, write_picture

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a POSIX shell closes them")

CHECK = "check a.jpg --house mono --jobs 1 --no-cache"


def in_shell(command: str, folder: Path, before: str = "") -> tuple[int, str, str]:
    """Run the program by a line of the shell; return exit status, standard output and error."""
    line = f"{before} exec {shlex.quote(sys.executable)} -m pressworthy {command}"
    done = subprocess.run(
        ["sh", "-c", line], cwd=folder, capture_output=True, text=True, check=False, timeout=100
    )
    assert "Traceback" not in done.stderr and "Error:" not in done.stderr
    return done.returncode, done.stdout, done.stderr


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("streams")
    write_picture(folder / "a.jpg", draw(), words=CREDITED)
    return folder


@pytest.mark.parametrize(
    ("command", "status", "told"),
    [
        (f"{CHECK} >&-", 2, "standard output is closed and takes no word: send it to a file, or"),
        ("rules list >&-", 2, "standard output is closed and takes no word: send it to a file\n"),
        (f"{CHECK} --output closed.txt >&-", 0, ""),
        (f"{CHECK} >&- 2>&-", 2, ""),
        ("check a.jpg --house nobodys 2>&-", 2, ""),
        ("house list 1</dev/null", 2, "cannot go on: Bad file descriptor"),
    ],
)
def test_a_closed_stream(command: str, status: int, told: str, folder: Path) -> None:
    ended, out, err = in_shell(command, folder)
    assert (ended, out) == (status, "")
    assert told in err and bool(told) == bool(err)


def test_a_report_goes_whole_to_where_it_is_sent(folder: Path) -> None:
    assert in_shell(f"{CHECK} --output closed.json --format json --replace >&-", folder)[0] == 0
    # what is meant for standard error is no part of it
    _, out, _ = in_shell(f"{CHECK} --format json <&- 2>&-", folder)
    written = json.loads((folder / "closed.json").read_text("utf-8"))
    assert written["pictures"] == json.loads(out)["pictures"] != []


@pytest.mark.parametrize("most", [7, 9, 12])
def test_too_few_open_files(most: int, folder: Path) -> None:
    for command in (CHECK, "prepare a.jpg --house mono --into out"):
        ended, out, err = in_shell(command, folder, f"ulimit -n {most};")
        assert (ended, out) == (2, "")
        assert "too few files may be open at once: ulimit -n 256" in err


def test_no_more_workers_than_open_files_allow(folder: Path) -> None:
    for more in ("b.jpg", "c.jpg"):
        (folder / more).write_bytes((folder / "a.jpg").read_bytes())
    check = CHECK.replace("a.jpg", "a.jpg b.jpg c.jpg").replace("--jobs 1", "--jobs 3")
    for number in (18, 22):
        ended, _, err = in_shell(check, folder, f"ulimit -n {number};")
        assert (ended in (0, 1), err) == (True, "")
    # as the sentence advises
    assert in_shell(CHECK, folder, "ulimit -n 256;")[0] == 0
