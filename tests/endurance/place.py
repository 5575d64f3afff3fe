"""A place of its own for a process that is watched: its folders, its limits, what it leaves."""

from __future__ import annotations

import hashlib
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

MEMORY = 6_000_000_000
CPU_SECONDS = 600
WALL_SECONDS = 400
"""A process that takes longer is ended; a hundred pictures take about 10 s."""

PROGRAM = ("-m", "pressworthy")
HOUSE = ("--house", "coated-magazine")
SMALL = ("--size", "10x7.5mm")
LARGE = ("--size", "80x60mm")


@dataclass(frozen=True)
class Ran:
    """A process that has ended: exit status (negative for a signal), what it wrote, how long."""

    status: int
    out: str
    err: str
    seconds: float
    ended: bool = False

    def crashed(self) -> bool:
        """Tell whether it ended in another way than a command ends."""
        return self.status not in (0, 1, 2) or "Traceback" in self.err


class Place:
    """A temporary folder that is all a process is given: home, cache, scratch and inputs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("in", "home", "cache", "tmp"):
            (folder / name).mkdir()

    def run(self, *arguments: str | Path, program: Sequence[str] = PROGRAM) -> Ran:
        """Run a command with bounded means until it ends."""
        start = time.monotonic()
        process = self.start(*arguments, program=program)
        ended = False
        try:
            out, err = process.communicate(timeout=WALL_SECONDS)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            out, err = process.communicate()
            ended = True
        took = time.monotonic() - start
        told, warned = (text.decode("utf-8", "replace") for text in (out, err))
        return Ran(process.returncode, told, warned, took, ended)

    def start(
        self, *arguments: str | Path, program: Sequence[str] = PROGRAM
    ) -> subprocess.Popen[bytes]:
        """Start a command in a process group of its own."""
        folders = {"HOME": "home", "XDG_CACHE_HOME": "cache", "TMPDIR": "tmp"}
        own = {name: str(self.folder / folder) for name, folder in folders.items()}
        return subprocess.Popen(
            [sys.executable, *program, *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=self.folder / "home",
            env={**os.environ, **own},
            start_new_session=True,
            preexec_fn=_limited,
        )

    def tree(self) -> dict[str, str]:
        """Return the hash of every file but the cache's and the programs' output, by its path."""
        return {
            name: file_hash(path) if path.is_file() else "folder"
            for path in sorted(self.folder.rglob("*"))
            if not (name := str(path.relative_to(self.folder))).startswith(("cache", "out"))
        }


def _limited() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def file_hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@contextmanager
def place() -> Iterator[Place]:
    """Give a fresh place to work in, which goes again."""
    with tempfile.TemporaryDirectory(prefix="pw-") as name:
        yield Place(Path(name))


def hashes(folder: Path) -> dict[str, str]:
    """Return the hash of every file under its own name; unfinished copies are hidden files."""
    files = (path for path in sorted(folder.iterdir()) if not path.name.startswith("."))
    return {path.name: file_hash(path) for path in files}
