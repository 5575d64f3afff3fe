"""What the program bears, by hand: .venv/bin/python tests/endurance/endure.py [--quick] [--write]

Gives it ten thousand bad files, kills it, fills its disk and hands it hostile names, all in a
temporary folder, and prints what came of it. --write puts the figures into docs/reliability.md;
--quick does a twentieth; --keep FOLDER keeps the files that revealed a fault. The exit status is 1
where there was one.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from disk import full_disk  # noqa: E402
from inputs import Row, bad_files, bad_pictures  # noqa: E402
from kills import killed_runs  # noqa: E402
from names import hostile_names  # noqa: E402

DOCUMENT = ROOT / "docs" / "reliability.md"
HEADS = ("input", "inputs", "refused", "damaged", "otherwise", "lost", "workers died",
         "rules broken", "crashed", "strays", "hung", "usual, s", "longest, s")  # fmt: skip


def table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Return a table in Markdown."""
    lines = [heads, ["---"] * len(heads), *rows]
    return ["| " + " | ".join(map(str, line)) + " |" for line in lines]


def figures(rows: Sequence[Row]) -> list[str]:
    """Return the table of bad inputs."""
    told: list[Sequence[object]] = []
    for r in rows:
        usual, longest = statistics.median(r.seconds or [0]), max(r.seconds or [0])
        told.append([r.kind, f"{r.inputs:,}", f"{r.refused:,}", r.damaged, r.otherwise, r.lost,
                     r.deaths, r.broken, r.crashed, r.strays, r.hung(),
                     f"{usual:.2f}", f"{longest:.2f}"])  # fmt: skip
    return table(HEADS, told)


def main() -> int:
    """Do all of it and return the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a twentieth of it")
    parser.add_argument("--write", action="store_true", help="put the figures into the document")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for the files that revealed a fault")
    parser.add_argument("--only", choices=PARTS, help="one part of it")
    options = parser.parse_args()
    if options.write and (options.quick or options.only):
        parser.error("--write is for all of it")
    if options.keep:
        options.keep.mkdir(parents=True, exist_ok=True)
    start, text, bad = time.monotonic(), [], []
    for name, part in PARTS.items():
        if options.only in (None, name):
            lines, faults = part(options)
            print("\n".join(lines), flush=True)
            text += [*lines, ""]
            bad += faults
    minutes = (time.monotonic() - start) / 60
    text.append(
        f"Measured {date.today().isoformat()}, seed {options.seed}, {os.cpu_count()} processors, "
        f"Python {sys.version.split()[0]}, in {minutes:.0f} minutes."
    )
    print(f"\n{text[-1]}\n" + "\n".join(bad))
    if options.write:
        document = DOCUMENT.read_text("utf-8")
        filled = "<!-- figures -->\n" + "\n".join(text) + "\n<!-- end of figures -->"
        pattern = r"(?s)<!-- figures -->.*<!-- end of figures -->"
        DOCUMENT.write_text(re.sub(pattern, lambda _: filled, document), "utf-8")
    return 1 if bad else 0


def _inputs(options: argparse.Namespace) -> tuple[list[str], list[str]]:
    share = 0.05 if options.quick else 1.0
    rows = [
        *bad_pictures(options.seed, share, options.keep),
        *bad_files(options.seed, share, options.keep),
    ]
    return figures(rows), [fault for row in rows for fault in row.faults]


def _kills(options: argparse.Namespace) -> tuple[list[str], list[str]]:
    found = killed_runs(options.seed, 6 if options.quick else 60)
    standing = ", ".join(f"{many} x {copies}" for copies, many in sorted(found.standing.items()))
    lines = table(
        ("`prepare` killed", "figure"),
        [
            ("kills", found.kills),
            ("of them at the sight of an unfinished copy, the others at random", found.aimed),
            ("of them after its end", found.late),
            ("of them that left an unfinished copy, under a name of its own", found.parts),
            ("kills x whole copies found after them", standing),
            ("copies that differ from those of a run left alone", found.differing),
            ("masters changed", found.masters),
            ("runs that could not be taken up and completed", found.unfinished),
            ("unfinished files left after completion", found.left),
        ],
    )
    return lines, [str(found)] if found.bad() else []


def _disk(options: argparse.Namespace) -> tuple[list[str], list[str]]:
    facts = full_disk(options.seed)
    lines = table(("disk full", "what came of it"), [fact[:2] for fact in facts])
    return lines, [f"{kind}: {said}" for kind, said, good in facts if not good]


def _names(options: argparse.Namespace) -> tuple[list[str], list[str]]:
    forms = hostile_names()
    rows = [(form.name, form.pictures, len(form.faults)) for form in forms]
    lines = table(("report", "pictures with hostile names or words", "faults"), rows)
    return lines, [f"{form.name}: {fault}" for form in forms for fault in form.faults]


PARTS: dict[str, Callable[[argparse.Namespace], tuple[list[str], list[str]]]] = {
    "inputs": _inputs,
    "kills": _kills,
    "disk": _disk,
    "names": _names,
}

if __name__ == "__main__":
    sys.exit(main())
