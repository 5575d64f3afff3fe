"""What another value of a house profile costs to try: .venv/bin/python tests/benchmarks/what_if.py

Prints, for so many pictures (100), the seconds until what would change is known: where only a
severity changes, a limit, the ppi, a limit of colours, and the ink limit, for which the printing
condition's table of inks is made anew once.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from pressworthy.jobs import Run
from pressworthy.open_proof import book
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.standards import drafted
from pressworthy.open_proof.what_if import what_if
from pressworthy.plugins import load
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import KeyPath

HOUSE = "coated-magazine"
TRIED: tuple[tuple[KeyPath, str], ...] = (
    (("rules", "resolution", "severity", "cropped"), "stop"),
    (("rules", "luminance", "least spread"), "60 L*"),
    (("rules", "compression", "least quality"), "95"),
    (("output", "ppi"), "400 ppi"),
    (("rules", "gamut", "area"), "1 %"),
    (("rules", "tone-range", "area"), "1 %"),
    (("rules", "ink", "limit"), "260 %"),
)


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with tempfile.TemporaryDirectory() as aside, tempfile.TemporaryDirectory() as at:
        folder = Path(at) / "issue"
        (folder / "masters").mkdir(parents=True)
        lines = ["picture,page,house,width,height"]
        for number in range(count):
            name = f"masters/{number}.jpg"
            values = draw(1600, 1200, seed=number)
            write_picture(folder / name, values, words=CREDITED, ppi=300, Q=92)
            lines.append(f"{name},{number + 1},{HOUSE},100,75")
        (folder / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
        registry = load()
        desk = Desk(folder, Run(registry), Path(aside), cache=Path(at) / "verdicts.sqlite")
        begun = time.perf_counter()
        desk._judge(urgent=False)
        print(f"{count} pictures judged: {time.perf_counter() - begun:.1f} s")
        profile = next(one for one in book.profiles(desk).values() if one.name == HOUSE)
        for path, value in TRIED:
            begun = time.perf_counter()
            draft = drafted(profile.file, path, value, "", registry, profile.file.parent)
            (told,) = what_if(desk, draft)
            seconds = time.perf_counter() - begun
            words = f"{' / '.join(map(str, path))}: {value}"
            print(f"{words:<55} {seconds:5.2f} s, {told.changed} of {told.judged} change")


if __name__ == "__main__":
    main()
