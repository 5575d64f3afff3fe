"""A kill at any moment loses no decision that was shown as made, and leaves no half of one."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from pressworthy.open_proof import day_book, journal
from pressworthy.open_proof.day_book import Overtaken, decide, opened, take_back
from pressworthy.open_proof.decisions import Decision, Place
from pressworthy.open_proof.issue import Issue, read_issue
from pressworthy.plugins import Registry
from pressworthy.prepare.store import UNFINISHED, part_of
from pressworthy.values.faults import SetupError

LIST = "picture,page,house,waive,reason,by,until\na.jpg,1,,ink/x-y,so,Ines,2031-01-01\n"
WAIVERS = "waivers:\n- {finding: ink/x-y, picture: a.jpg, reason: r, by: b, until: 2031-01-01}\n"
A = Place("a.jpg", "1")
FIRST = Decision("tone", (A,), {"tone": "+3"}, "Ines")
BOTH = Decision("no longer accept", (A,), {"finding": "ink/x-y"}, "Tobe")
"""It is written in two files."""
FILES = ("issue.csv", "waivers.yaml")
Write = Callable[[Path, Registry], Issue]


class Killed(BaseException):
    """Nobody catches it, as nobody catches a kill."""


def begun(folder: Path, registry: Registry) -> Issue:
    folder.mkdir()
    (folder / "a.jpg").write_bytes(b"\xff\xd8")
    (folder / "issue.csv").write_text(LIST)
    (folder / "waivers.yaml").write_text(WAIVERS)
    return decide(folder, FIRST, registry, read_issue(folder, registry).stamp)


def bytes_of(folder: Path) -> list[bytes | None]:
    return [(folder / name).read_bytes() if (folder / name).exists() else None for name in FILES]


@contextmanager
def broken_at(number: int, error: BaseException, patch: Any) -> Iterator[list[str]]:
    """Raise the error in place of the write of that number; yields what was written before."""
    calls: list[str] = []
    with patch.context() as inside:

        def counted(real: Callable[..., Any]) -> Callable[..., Any]:
            def call(*args: Any, **more: Any) -> Any:
                calls.append(real.__name__)
                if len(calls) == number:
                    raise error
                return real(*args, **more)

            return call

        for name in ("fsync", "replace", "unlink"):
            inside.setattr(os, name, counted(getattr(os, name)))
        yield calls


def both(folder: Path, registry: Registry) -> Issue:
    return decide(folder, BOTH, registry, read_issue(folder, registry).stamp)


def back(folder: Path, registry: Registry) -> Issue:
    first = read_issue(folder, registry).decisions[0]
    return take_back(folder, first.identity, "Tobe", registry)


def listed_anew(folder: Path, registry: Registry) -> Issue:
    (folder / "issue.csv").unlink(missing_ok=True)
    title = Decision("title", (), {"house": "mono"}, "Ines")
    return decide(folder, title, registry, read_issue(folder, registry).stamp)


@pytest.mark.parametrize("write", [both, back, listed_anew])
def test_killed_at_every_write(
    tmp_path: Path, registry: Registry, monkeypatch: Any, write: Write
) -> None:
    begun(tmp_path / "whole", registry)
    with broken_at(0, Killed(), monkeypatch) as calls:
        done = write(tmp_path / "whole", registry)
    after, points = bytes_of(tmp_path / "whole"), len(calls)
    assert points >= 5
    made_or_not = set()
    for number in range(1, points + 1):
        folder = tmp_path / str(number)
        begun(folder, registry)
        if write is listed_anew:
            (folder / "issue.csv").unlink()
        before = bytes_of(folder)
        with pytest.raises(Killed), broken_at(number, Killed(), monkeypatch):
            write(folder, registry)
        # whoever puts it right may be killed too
        for again in range(1, 5):
            with suppress(Killed), broken_at(again, Killed(), monkeypatch):
                opened(folder, registry)
        issue = opened(folder, registry)
        stands = [(one.kind, one.taken_back is None) for one in issue.decisions]
        is_made = stands == [(one.kind, one.taken_back is None) for one in done.decisions]
        assert bytes_of(folder) == (after if is_made else before), number
        assert is_made or stands == [("tone", True)]
        assert not issue.faults and not list(folder.glob(f".*{UNFINISHED}"))
        made_or_not.add(is_made)
        # and what follows is made as ever
        if not is_made:
            write(folder, registry)
            assert bytes_of(folder) == after
    assert True in made_or_not


def test_a_write_that_fails_is_told_and_nothing_is_decided(
    tmp_path: Path, registry: Registry, monkeypatch: Any
) -> None:
    begun(tmp_path / "whole", registry)
    with broken_at(0, OSError(), monkeypatch) as calls:
        both(tmp_path / "whole", registry)
    after = bytes_of(tmp_path / "whole")
    for number in range(1, len(calls) + 1):
        folder = tmp_path / str(number)
        begun(folder, registry)
        before = bytes_of(folder)
        error = PermissionError(13, "Permission denied", "issue.csv")
        with broken_at(number, error, monkeypatch), pytest.raises(SetupError, match="nothing was"):
            both(folder, registry)
        assert bytes_of(folder) == before, number
        assert [one.kind for one in opened(folder, registry).decisions] == ["tone"]
        both(folder, registry)
        assert bytes_of(folder) == after


def test_a_day_book_cut_anywhere_in_its_last_line(tmp_path: Path, registry: Registry) -> None:
    folder = tmp_path / "issue"
    begun(folder, registry)
    book, before = (folder / "decisions.jsonl").read_bytes(), bytes_of(folder)
    both(folder, registry)
    whole, after = (folder / "decisions.jsonl").read_bytes(), bytes_of(folder)
    decided = len(whole[len(book) :].split(b"\n")[0])
    for cut in [*range(0, decided, 97), decided - 1, decided, decided + 1]:
        (folder / "decisions.jsonl").write_bytes(whole[: len(book) + cut])
        for name, raw in zip(FILES, before, strict=True):
            (folder / name).write_bytes(raw or b"")
        kinds = [one.kind for one in opened(folder, registry).decisions]
        # the line is whole: it is finished; else nobody was told of it
        assert (kinds, bytes_of(folder)) == (
            (["tone", "no longer accept"], after) if cut >= decided else (["tone"], before)
        )


def test_a_hand_between_the_kill_and_the_next_opening(
    tmp_path: Path, registry: Registry, monkeypatch: Any
) -> None:
    begun(tmp_path / "issue", registry)
    folder = tmp_path / "issue"
    with pytest.raises(Killed), broken_at(3, Killed(), monkeypatch):
        # the day-book has it, the first file not yet
        both(folder, registry)
    hand = (folder / "issue.csv").read_bytes().replace(b"so,Ines", b"so,Ines F.")
    (folder / "issue.csv").write_bytes(hand)
    issue = opened(folder, registry)
    assert bytes_of(folder) == [hand, WAIVERS.encode()]
    assert [one.kind for one in issue.decisions] == ["tone"]
    # what stood already when a hand came to another cell is made
    folder = tmp_path / "other"
    begun(folder, registry)
    both(folder, registry)
    book = folder / "decisions.jsonl"
    *lines, made = book.read_bytes().splitlines(keepends=True)
    assert b"made" in made
    book.write_bytes(b"".join(lines))
    hand = (folder / "issue.csv").read_bytes().replace(b"a.jpg,1,,", b"a.jpg,1,mono,")
    (folder / "issue.csv").write_bytes(hand)
    issue = opened(folder, registry)
    assert bytes_of(folder) == [hand, b"waivers: []\n"]
    assert [one.kind for one in issue.decisions] == ["tone", "no longer accept"]


def test_a_hand_at_the_very_moment_wins(
    tmp_path: Path, registry: Registry, monkeypatch: Any
) -> None:
    folder = tmp_path / "issue"
    issue = begun(folder, registry)
    hand = b"waivers: []\n"

    def append(path: Path, line: str) -> None:
        if '"decides"' in line:
            (folder / "waivers.yaml").write_bytes(hand)
        journal.append(path, line)

    before = bytes_of(folder)
    monkeypatch.setattr(day_book, "append", append)
    with pytest.raises(Overtaken, match="waivers.yaml: changed by hand at this moment"):
        decide(folder, BOTH, registry, issue.stamp)
    assert bytes_of(folder) == [before[0], hand]
    assert [one.kind for one in opened(folder, registry).decisions] == ["tone"]


def test_a_run_that_is_killed_in_earnest(tmp_path: Path, registry: Registry) -> None:
    folder = tmp_path / "issue"
    begun(folder, registry)
    script = f"""
import sys
from pathlib import Path
from pressworthy.open_proof.day_book import decide, opened
from pressworthy.open_proof.decisions import Decision, Place
from pressworthy.open_proof.issue import as_it_stands
from pressworthy.plugins import load
folder, registry = Path({str(folder)!r}), load()
issue = opened(folder, registry)
count = len(issue.decisions)
while True:
    fields = {{"width": f"{{50 + count / 100:.2f}}", "height": "40"}}
    place = issue.places()[0]
    issue = decide(folder, Decision("place", (place,), fields, "Ines"), registry, issue.stamp)
    count += 1
    print(issue.decisions[-1].identity, issue.entries[0].request.size[0], flush=True)
"""
    chance = random.Random(5)
    for _ in range(3):
        run = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
        assert run.stdout is not None
        first = run.stdout.readline()
        time.sleep(chance.uniform(0, 0.3))
        run.kill()
        shown = [line.split() for line in (first + run.stdout.read()).splitlines()]
        run.wait()
        run.stdout.close()
        shown = [line for line in shown if len(line) == 2]
        assert shown
        issue = opened(folder, registry)
        assert not issue.faults and not part_of(folder / "issue.csv").exists()
        made = [one.identity for one in issue.decisions]
        assert {identity for identity, _ in shown} <= set(made)
        # at most the one that was being made came after the last that was shown
        assert made.index(shown[-1][0]) >= len(made) - 2
        size = issue.entries[0].request.size
        assert size is not None and size[0] == float(issue.decisions[-1].fields["width"])
        lines = (folder / "decisions.jsonl").read_text("ascii").splitlines()
        assert all(isinstance(json.loads(line), dict) for line in lines)


def test_two_at_once_wait_for_each_other(tmp_path: Path, registry: Registry) -> None:
    from concurrent.futures import ThreadPoolExecutor

    folder = tmp_path / "issue"
    begun(folder, registry)
    fields: list[dict[str, str]] = [
        {"crop": "0 0 1 0.5"},
        {"sharpen": "no"},
        {"gray mix": "picture"},
    ]
    seen = read_issue(folder, registry).stamp

    def one(said: dict[str, str]) -> Issue:
        (kind,) = said
        return decide(folder, Decision(kind, (A,), said), registry, seen)

    with ThreadPoolExecutor(3) as pool:
        list(pool.map(one, fields))
    issue = read_issue(folder, registry)
    assert {one.kind for one in issue.decisions} == {"tone", "crop", "sharpen", "gray mix"}
    request = issue.entries[0].request
    assert (request.tone, request.sharpen, request.gray_mix) == ("+3 L*", False, "picture")
    assert journal.decisions(issue.day_book) == issue.decisions
