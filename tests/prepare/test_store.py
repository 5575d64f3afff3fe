"""One run at a time in a folder, and nothing unfinished left there, with the system's locks or not.

Where a system lacks `fcntl` a file is the lock; here that module is hidden.
"""

from __future__ import annotations

import errno
import os
import platform
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pressworthy.prepare import store
from pressworthy.values.faults import SetupError

HIDDEN = "from pressworthy.prepare import store\nstore.fcntl = None\n"
COMMAND = "from pressworthy.commands.main import main\nsys.exit(main())"
HOLD = """
from pathlib import Path
from pressworthy.prepare.store import folder_for_copies, part_of
with folder_for_copies(Path(sys.argv[1])):
    part_of(Path(sys.argv[1]) / "pier.tif").write_bytes(b"half")
    print("held", flush=True)
    sys.stdin.read()
"""
Claim = Callable[[], None]


@pytest.fixture
def into(tmp_path: Path) -> Path:
    return tmp_path / "out"


@pytest.fixture
def claim(into: Path) -> Claim:
    """Return what takes the folder and gives it back, or raises SetupError."""

    def take() -> None:
        with store.folder_for_copies(into):
            assert not list(into.glob(f"*{store.UNFINISHED}"))

    return take


@pytest.fixture
def no_fcntl(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "fcntl", None)


def python(code: str, *arguments: str | Path) -> list[str]:
    return [sys.executable, "-c", "import sys\n" + code, *map(str, arguments)]


def dead() -> int:
    """Return the number of a process that ran and is no more."""
    with subprocess.Popen(python("")) as process:
        pass
    return process.pid


@pytest.mark.parametrize("hidden", [False, True], ids=["fcntl", "no fcntl"])
def test_a_killed_run_gives_the_folder_back(
    hidden: bool, into: Path, claim: Claim, monkeypatch: pytest.MonkeyPatch
) -> None:
    if hidden:
        monkeypatch.setattr(store, "fcntl", None)
    else:
        pytest.importorskip("fcntl")
    part, pipe = store.part_of(into / "pier.tif"), subprocess.PIPE
    hold = python((HIDDEN if hidden else "") + HOLD, into)
    with subprocess.Popen(hold, stdin=pipe, stdout=pipe, text=True) as run:
        assert run.stdout and run.stdout.readline() == "held\n"
        with pytest.raises(SetupError, match="another run"):
            claim()
        assert part.exists(), "what a living run has not finished was cleared away"
        run.kill()
    assert part.exists()
    claim()
    assert list(into.iterdir()) == []


@pytest.mark.usefixtures("no_fcntl")
class TestTheLockFile:
    def test_keeps_the_command_out(self, master: Callable[..., Path], into: Path) -> None:
        sizes = ("--house", "mono", "--size", "40x30mm", "--into", into)
        prepare = python(HIDDEN + COMMAND, "prepare", master(), *sizes)
        with store.folder_for_copies(into):
            done = subprocess.run(prepare, capture_output=True, text=True, check=False)
            assert done.returncode == 2 and "another run" in done.stderr
            assert [path.name for path in into.iterdir()] == [store.LOCK]
        done = subprocess.run(prepare, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert [path.name for path in into.iterdir()] == ["pier-mono.tif"]

    def test_goes_when_the_run_fails(self, into: Path, claim: Claim) -> None:
        with pytest.raises(OSError, match="in the run"), store.folder_for_copies(into):
            raise OSError("in the run")
        claim()

    @pytest.mark.parametrize("owner", ["{pid} elsewhere", "", "?", "{pid}", "9{pid}999999 {node}"])
    def test_of_an_owner_nobody_knows_goes_by_hand(
        self, owner: str, into: Path, claim: Claim
    ) -> None:
        into.mkdir()
        lock = into / store.LOCK
        lock.write_text(owner.format(pid=dead(), node=platform.node()))
        with pytest.raises(SetupError) as told:
            claim()
        assert f"delete {lock}" in str(told.value)
        lock.unlink()
        claim()

    def test_of_two_runs_that_clear_it_one_gets_the_folder(
        self, into: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        into.mkdir()
        lock, theirs = into / store.LOCK, f"{os.getppid()} {platform.node()}"
        lock.write_text(f"{dead()} {platform.node()}")

        def meanwhile(owner: str) -> bool:
            lock.write_text(theirs)
            return False

        monkeypatch.setattr(store, "_may_run", meanwhile)
        with pytest.raises(SetupError, match="another run"), store.folder_for_copies(into):
            pass
        assert [path.read_text() for path in into.iterdir()] == [theirs]

    def test_where_open_files_cannot_be_taken_away(
        self, into: Path, claim: Claim, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Simulates Windows, where no process may be asked after, and none need be."""

        def asked(*_: Any) -> None:
            raise AssertionError("os.kill ends the process on Windows")

        def held(*_: Any) -> None:
            raise PermissionError(errno.EACCES, "used by another process")

        monkeypatch.setattr(store, "_HELD_WHILE_OPEN", True)
        monkeypatch.setattr(os, "kill", asked)
        into.mkdir()
        (into / store.LOCK).write_text(f"{os.getppid()} {platform.node()}")
        with monkeypatch.context() as patch:
            patch.setattr(Path, "rename", held)
            with pytest.raises(SetupError, match="another run"):
                claim()
        claim()
        assert list(into.iterdir()) == []
