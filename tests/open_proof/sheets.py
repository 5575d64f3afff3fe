"""An issue to open, its masters drawn small, and the server as a person starts it."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from landscapes import R03

from pressworthy.testing import CREDITED, draw, write_picture

HOUSES = Path(__file__).parents[2] / "demo" / "houses"
TITLE = "slack-tide"
NAMES = (
    "harbour.jpg", "marsh.jpg", "fog.jpg", "chapel.jpg", "cloth.jpg", "oranges.jpg", "crew.tif",
)  # fmt: skip
SIZE = (36.0, 27.0)
"""mm, at which the masters are placed: 425 x 319 px at 300 ppi."""


def draw_masters(folder: Path) -> dict[str, Path]:
    """Draw seven masters, four of them at fault, as in the tutorial; return name -> file."""
    folder.mkdir(parents=True, exist_ok=True)
    whole = draw(432, 324)
    dark = (draw(432, 324, seed=3) * 0.3).astype(np.uint8)
    blown = draw(432, 324, seed=4)
    blown[:108] = 255
    drawn: dict[str, tuple[Any, dict[str, Any]]] = {
        "harbour.jpg": (draw(475, 360, seed=2), {}),
        "marsh.jpg": (blown, {}),
        "fog.jpg": (whole, {}),
        "chapel.jpg": (dark, {}),
        "cloth.jpg": (draw(360, 270, seed=5), {}),
        "oranges.jpg": (draw(432, 324, seed=6), {"fields": R03}),
        "crew.tif": (draw(432, 324, seed=7), {}),
    }
    written = {}
    for name, (values, more) in drawn.items():
        quality: dict[str, Any] = {"Q": 95} if name.endswith("jpg") else {}
        words = {**CREDITED, "caption": f"The picture called {name}."}
        ppi = None if "fields" in more else 300
        written[name] = write_picture(
            folder / name, values, words=words, ppi=ppi, **quality, **more
        )
    return written


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "pressworthy", *map(str, words)]


class Opened:
    """A server that runs, as the command starts it."""

    def __init__(
        self, folder: Path | None, environment: Mapping[str, str], *more: str | Path
    ) -> None:
        given = ("--house-folder", HOUSES, "--no-browser", *more)
        self.process = subprocess.Popen(
            command("open", *([folder] if folder else []), *given),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, **environment},
        )
        assert self.process.stdout is not None
        told = ""
        while not (found := re.search(r"http://\S+", told)):
            line = self.process.stdout.readline()
            assert line, f"the server ended: {told}"
            told += line
        self.address = found[0]
        self.port = int(found[0].split(":")[2].split("/")[0])

    def kill(self) -> None:
        """End it as a power cut would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)

    def close(self) -> int:
        """End it as a person does."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        return self.process.wait(15)


@contextmanager
def opened(folder: Path | None, cache: Path, *more: str | Path) -> Iterator[Opened]:
    """Serve a folder until the block ends."""
    environment = {"XDG_CACHE_HOME": str(cache), "XDG_DATA_HOME": str(cache / "data")}
    server = Opened(folder, environment, *more)
    try:
        yield server
    finally:
        if server.process.poll() is None:
            server.process.kill()
            server.process.wait(10)


def an_issue(folder: Path, names: Sequence[str] = NAMES) -> Path:
    """Make an issue of the seven masters or some, listed and placed; return its folder."""
    for name, path in draw_masters(folder / "masters").items():
        if name not in names:
            path.unlink()
    lines = ["picture,page,house,width,height"]
    for page, name in enumerate(names, 1):
        lines.append(f"masters/{name},{page},{TITLE},{SIZE[0]:g},{SIZE[1]:g}")
    (folder / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return folder


def copied(folder: Path, to: Path) -> Path:
    """Copy what a person made of an issue, without what was made from it."""
    shutil.copytree(folder, to, ignore=shutil.ignore_patterns("copies", "proof"))
    return to


def until(seconds: float = 20.0) -> Iterator[None]:
    """Yield again and again until the time is over, with a breath between."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        yield
        time.sleep(0.05)
