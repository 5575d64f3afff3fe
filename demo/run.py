"""Draws the invented issue, checks and prepares every title, and makes the magazine's marked proof.

Compares with what was planted in the pictures: .venv/bin/python demo/run.py
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from issue import ISSUE, draw_issue

HERE = Path(__file__).parent
OUT = HERE / "out"
MENDED = {"foreign-condition/foreign-condition", "ink/too-much-ink"}
"""Faults that preparing puts right; the others are for people, and must still stand."""


def main() -> int:
    """Return 0 when each planted fault, and nothing else at severity stop, was found."""
    print(f"Drawing the issue into {OUT / 'masters'} ...", flush=True)
    draw_issue(OUT / "masters")
    wrong = 0
    for title, plates in ISSUE.items():
        print(f"\n===== {title} =====\n", flush=True)
        pressworthy("check", title)
        found = stops("check", title)
        planted = {(plate.name, fault) for plate in plates for fault in plate.fault.split()}
        for name, fault in sorted(planted ^ found):
            wrong += 1
            print(f"!! {name}: {fault} was {'not found' if (name, fault) in planted else 'found'}")
        print(f"{len(planted & found)} of {len(planted)} planted faults found in {title}\n")
        pressworthy("prepare", title)
        left = stops("prepare", title)
        should = {(name, fault) for name, fault in planted if fault not in MENDED}
        for name, fault in sorted(should ^ left):
            wrong += 1
            print(f"!! {name}: {fault} {'is gone' if (name, fault) in should else 'is left'}")
        print(f"{len(planted - left)} put right on copies, {len(left)} left for people in {title}")
    pressworthy("proof", "slack-tide")
    print(
        "\nEach planted fault, and nothing else at severity stop, was found, and put right or kept."
        if not wrong
        else f"\n{wrong} differences from what was planted."
    )
    open_issue()
    return int(wrong > 0)


def open_issue() -> None:
    """Lay the magazine's masters out as an issue to open, and tell how; what stands there stays."""
    masters = OUT / "issue" / "masters"
    masters.mkdir(parents=True, exist_ok=True)
    for master in sorted((OUT / "masters" / "slack-tide").iterdir()):
        if not (masters / master.name).exists():
            shutil.copy2(master, masters)
    command = Path(sys.executable).with_name("pressworthy")
    program, issue, houses = map(os.path.relpath, (command, masters.parent, HERE / "houses"))
    print("\nOpen the magazine's issue on a sheet in your browser:\n")
    print(f"    {program} open {issue} --house-folder {houses}")


def pressworthy(command: str, title: str, *options: str) -> str:
    """Run one command on a title's pictures and return what it printed, shown if no options."""
    folder, house = OUT / "masters" / title, HERE / "houses" / f"{title}.yaml"
    call = [sys.executable, "-m", "pressworthy", command, folder, "--house", house, *options]
    if command == "prepare":
        call += ["--into", OUT / "copies" / title]
    if command == "proof":
        call += ["--into", OUT / "proof" / title, "--replace"]
    done = subprocess.run(
        [str(part) for part in call], stdout=subprocess.PIPE if options else None, check=False
    )
    if done.returncode > 1:
        raise SystemExit(done.returncode)
    return done.stdout.decode() if options else ""


def stops(command: str, title: str) -> set[tuple[str, str]]:
    """Return the findings at severity stop as (master's file, rule/code).

    A master of which no copy is made keeps what was planted in it.
    """
    report = json.loads(pressworthy(command, title, "--format", "json"))
    found = set()
    for picture in report["pictures"]:
        name = Path(picture["facts"].get("master", picture["path"])).name
        for outcome in picture["outcomes"]:
            if outcome["rule"] == "prepare":
                mine = (plate.fault for plate in ISSUE[title] if plate.name == name)
                found |= {(name, fault) for faults in mine for fault in faults.split()}
            for finding in outcome["findings"]:
                if finding["severity"] == "stop":
                    found.add((name, f"{outcome['rule']}/{finding['code']}"))
    return found


if __name__ == "__main__":
    raise SystemExit(main())
