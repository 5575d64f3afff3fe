"""Exit status 3: the program's own failure, or a report format's, is never taken for a finding."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest

from pressworthy.commands.main import main
from pressworthy.testing import CREDITED, draw, write_picture

FORMATS = """
import sys
from pressworthy.hookspecs import hookimpl

def at_once(report):
    raise ValueError("no\\nsuch thing")

def midway(report):
    yield "half"
    raise OSError(28, "No space left on device")

def leaving(report):
    sys.exit(1)

def numbers(report):
    return [1, 2]

@hookimpl
def pressworthy_report_formats():
    return {f.__name__: f for f in (at_once, midway, leaving, numbers)}
"""


@pytest.fixture
def call(tmp_path: Path) -> list[str]:
    """A check of one good picture, with formats that fail."""
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    plugin = tmp_path / "plug.py"
    plugin.write_text(FORMATS)
    return ["check", str(picture), "--house", "mono", "--plugin", str(plugin)]


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("at_once", r"ValueError: no\nsuch thing (plug.py:6)"),
        ("midway", "OSError: [Errno 28] No space left on device (plug.py:10)"),
        ("leaving", "SystemExit: 1 (plug.py:13)"),
        ("numbers", "TypeError: 1 is no text"),
    ],
)
def test_a_report_format_that_fails_is_named(
    name: str, why: str, call: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "report"
    assert main([*call, "--format", name, "--output", str(target)]) == 3
    told = capsys.readouterr().err
    assert told.startswith(f"the report format '{name}' failed, and its report is not whole: {why}")
    assert told.count("\n") == 1
    assert [path.name for path in tmp_path.glob("report*")] == []


def test_the_shell_sees_it_too(call: list[str]) -> None:
    run = [sys.executable, "-m", "pressworthy", *call, "--format", "at_once"]
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (3, "", 1)


def failing(error: Exception) -> Any:
    def fail(*given: Any, **named: Any) -> NoReturn:
        raise error

    return fail


def test_a_path_on_another_drive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As on Windows, where two drives have no path between them."""
    (tmp_path / "in").mkdir()
    write_picture(tmp_path / "in" / "p.jpg", draw())
    error = ValueError("path is on mount 'D:', start on mount 'C:'")
    monkeypatch.setattr("os.path.relpath", failing(error))
    assert main(["list", "new", str(tmp_path / "in")]) == 3
    told = capsys.readouterr().err
    assert told.startswith("pressworthy itself failed, which says nothing of the pictures: ")
    assert "path is on mount 'D:'" in told and told.count("\n") == 1
    assert not (tmp_path / "in.csv").exists()


def test_what_none_foresaw_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("pressworthy.house.list_houses", failing(KeyError("a\nb")))
    assert main(["house", "list"]) == 3
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and "KeyError" in told and "(test_main.py:" in told


def test_what_goes_wrong_while_the_command_line_is_read_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("os.path.isdir", failing(RuntimeError("no answer")))
    assert main(["list", "new", "somewhere"]) == 3
    assert capsys.readouterr().err.count("\n") == 1
