"""tests/endurance/fuzz.py tells the ends of its cases apart, and makes the same input again."""

from __future__ import annotations

import os
import random
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import pytest

fuzz: Any = pytest.importorskip("fuzz") if sys.platform == "linux" else None
pytestmark = pytest.mark.skipif(fuzz is None, reason="cases are forked, with limits of Linux")


def raises(*_: object) -> NoReturn:
    raise ValueError("no\nsuch thing")


def dies(*_: object) -> str:
    os.kill(os.getpid(), signal.SIGUSR1)  # of those that end a process, one pytest lets pass
    return "read"


def hangs(*_: object) -> NoReturn:
    while True:
        pass


def errs(*_: object) -> NoReturn:
    raise fuzz.SilentlyWrong("two entries of three lines")


def takes_all(*_: object) -> str:
    return str(len(bytearray(2 * fuzz.MEMORY_BYTES)))


@pytest.mark.parametrize(
    ("case", "end", "said"),
    [
        (lambda *_: "read", "read", ""),
        (lambda *_: "refused", "refused", ""),
        (raises, "traceback", "ValueError: no\nsuch thing"),
        (dies, "signal", "signal 10"),
        (hangs, "overrun", "more than 0.3 s"),
        (takes_all, "traceback", "MemoryError"),
        (errs, "silent wrong", "two entries of three lines"),
    ],
)
def test_every_end(
    case: Callable[..., str], end: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(fuzz.KINDS, "planted", case)
    if end == "overrun":
        monkeypatch.setattr(fuzz, "WALL_SECONDS", 0.3)
    told = fuzz.run("planted", 0, 1, tmp_path)
    assert told[0] == end and said in told[1]


def test_pixels_that_another_reader_contradicts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = fuzz.write_picture(tmp_path / "a.png", fuzz.draw(64, 48))
    fuzz.compare(path)
    whole = fuzz.decode(path)
    for wrong in (whole.invert(), whole.rot90()):
        monkeypatch.setattr(fuzz, "decode", lambda _, image=wrong: image)
        with pytest.raises(fuzz.SilentlyWrong):
            fuzz.compare(path)


@pytest.mark.parametrize("kind", ["icc", "xmp", "iim", "lists", "yaml"])
def test_a_number_makes_the_same_input_again(kind: str, tmp_path: Path) -> None:
    made = []
    for name in "ab":
        folder = tmp_path / name
        folder.mkdir()
        fuzz.KINDS[kind](folder, random.Random(f"1 {kind} 3"))
        made.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert made[0] == made[1] != {}
