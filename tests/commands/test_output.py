"""What commands write: the line that shows how far they have come."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pdf_writer import image, stream, write_pages

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.commands.output import progress
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Verdict


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_line_stands_before_anything_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)

    def done() -> Iterator[Verdict]:
        assert re.search(r"0/2 .*\? left", terminal.getvalue())
        yield Verdict("in/harbour.jpg", ())
        assert re.search(r"1/2 .*\d\d:\d\d left, harbour.jpg", terminal.getvalue())
        yield Verdict("in/odd\x1b[2J.jpg", ())

    assert len(list(progress(done(), 2))) == 2
    assert "2/2" in terminal.getvalue() and "\x1b[2J" not in terminal.getvalue()


def test_no_terminal_no_line() -> None:
    done = iter("abc")
    assert progress(done, 3) is done


def on_a_terminal(*call: object, columns: int = 100) -> tuple[str, str]:
    """Run a command whose standard error is a terminal, and return what it wrote there and out."""
    pty, termios = pytest.importorskip("pty"), pytest.importorskip("termios")
    leader, terminal = pty.openpty()
    termios.tcsetwinsize(terminal, (25, columns))
    words = [sys.executable, "-m", "pressworthy", *map(str, call)]
    done = subprocess.run(words, stdout=subprocess.PIPE, stderr=terminal, check=False)
    assert done.returncode < 2
    os.set_blocking(leader, False)
    shown = os.read(leader, 100_000).decode()
    os.close(terminal)
    os.close(leader)
    return shown, done.stdout.decode()


@pytest.mark.parametrize(
    ("command", "counts"),
    [
        (["check", "in"], [3]),
        (["check", "in/a.jpg"], [1]),
        (["prepare", "in/a.jpg", "--into", "copies"], [1]),
        (["prepare", "in", "--into", "copies", "--dry-run"], [3]),
        (["proof", "in/a.jpg", "--into", "proof"], [1]),
        # the PDF is read, the files are, and then two pictures are judged
        (["check", "--pages", "p.pdf", "in"], [1, 3, 2]),
    ],
)
def test_every_long_command_shows_it_from_its_start(
    command: list[str], counts: list[int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("in").mkdir()
    for name in "abc":
        write_picture(Path("in") / f"{name}.jpg", draw(), words=CREDITED)
    objects = {"P": stream("/N 3", rgb_profile("sRGB")), "A": image(draw(), "[/ICCBased 4 0 R]")}
    content = "q 99 0 0 99 60 60 cm /A Do Q q 99 0 0 99 200 60 cm /A Do Q"
    page = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680]"
    write_pages(Path("p.pdf"), content, objects, page=page)
    shown, _ = on_a_terminal(*command, "--house", "mono")
    starts = [shown.find(f"0/{count} ") for count in counts]
    ends = [shown.find(f"{count}/{count} ") for count in counts]
    # each from nothing to all, one after the other
    order = [place for pair in zip(starts, ends, strict=True) for place in pair]
    assert -1 not in order and order == sorted(order)


def test_a_terminal_that_does_not_know_its_width_is_told_too(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    shown, _ = on_a_terminal("check", tmp_path, "--house", "mono", columns=0)
    assert -1 < shown.find("0/1 ") < shown.find("1/1 ")


def test_it_is_told_before_the_libraries_are_loaded(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    shown, _ = on_a_terminal("check", tmp_path, "--house", "mono")
    assert shown.startswith("starting") and shown.find("0/1 ") > 0
    # nothing is left of it
    assert len("starting") < len(shown.partition("0/1 ")[2].partition("\r")[0])


def test_a_report_is_the_same_on_a_terminal_and_in_a_pipe(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    call = ["check", str(tmp_path), "--house", "mono"]
    words = [sys.executable, "-m", "pressworthy", *call]
    piped = subprocess.run(words, capture_output=True, text=True, check=False)
    assert piped.stderr == ""
    assert on_a_terminal(*call)[1] == piped.stdout
