"""`prepare`, killed at any moment and taken up again."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from place import HOUSE, LARGE, hashes, place

from pressworthy.testing import CREDITED, draw, write_picture


@dataclass
class Killed:
    """What the kills left. Faults are `differing`, `masters`, `unfinished` and `left`.

    standing: how many kills found how many copies; parts: kills that left an unfinished one; late:
    after the end of the run; aimed: at the sight of an unfinished copy.
    """

    kills: int = 0
    standing: Counter[int] = field(default_factory=Counter)
    parts: int = 0
    late: int = 0
    aimed: int = 0
    differing: int = 0
    masters: int = 0
    unfinished: int = 0
    left: int = 0

    def bad(self) -> int:
        """Return how many faults there are."""
        return self.differing + self.masters + self.unfinished + self.left


def killed_runs(seed: int, kills: int) -> Killed:
    """Kill `prepare` at random moments, take it up again, and compare with a run left alone."""
    rng, found = random.Random(f"{seed} kill"), Killed()
    with place() as where:
        masters = where.folder / "in"
        for i in range(4):
            write_picture(masters / f"plate {i}.jpg", draw(1200, 900, seed=i), words=CREDITED)
        before, whole = hashes(masters), where.folder / "whole"
        command = ("prepare", masters, *HOUSE, *LARGE, "--jobs", "1")
        took = where.run(*command, "--into", whole).seconds
        wanted = hashes(whole)
        for round_ in range(-(-kills // 6)):
            into = where.folder / f"cut {round_}"
            for _ in range(min(6, kills - found.kills)):
                full = into.exists() and len(hashes(into)) == 4
                again = ("--force",) if full or rng.random() < 0.5 else ()
                process = where.start(*command, "--into", into, *again)
                # most of the time goes into measuring; a copy is on its way to the disk for moments
                if aimed := found.kills % 6 == 5:
                    await_unfinished(into, process)
                else:
                    time.sleep(rng.uniform(0, took))
                found.aimed += aimed
                if process.poll() is None:
                    os.killpg(process.pid, signal.SIGKILL)
                else:
                    found.late += 1
                process.communicate()
                found.kills += 1
                left = hashes(into) if into.exists() else {}
                found.standing[len(left)] += 1
                found.differing += len(left.items() - wanted.items())
                found.parts += any(into.glob(".*")) if into.exists() else 0
            done = where.run(*command, "--into", into)
            found.unfinished += done.status != 0 or hashes(into) != wanted
            found.left += sum(1 for _ in into.glob(".*"))
            found.masters += hashes(masters) != before
            print(f"  {found}", file=sys.stderr, flush=True)
    return found


def await_unfinished(into: Path, process: subprocess.Popen[bytes]) -> None:
    """Return as soon as a copy is being written, or the process has ended."""
    while process.poll() is None:
        try:
            if any(name.startswith(".plate") for name in os.listdir(into)):  # noqa: PTH208 - quick
                return
        except FileNotFoundError:
            time.sleep(0.01)
