"""Draws the invented issue, checks every title by its house, and compares with what was planted.

.venv/bin/python demo/run.py
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from issue import ISSUE, draw_issue

HERE = Path(__file__).parent
OUT = HERE / "out"


def main() -> int:
    """Return 0 when each planted fault, and nothing else at severity stop, was found."""
    print(f"Drawing the issue into {OUT / 'masters'} ...", flush=True)
    draw_issue(OUT / "masters")
    wrong = 0
    for title, plates in ISSUE.items():
        print(f"\n===== {title} =====\n", flush=True)
        pressworthy("check", title)
        found = stops(title)
        planted = {(plate.name, plate.fault) for plate in plates if plate.fault}
        for name, fault in sorted(planted ^ found):
            wrong += 1
            print(f"!! {name}: {fault} was {'not found' if (name, fault) in planted else 'found'}")
        print(f"{len(planted & found)} of {len(planted)} planted faults found in {title}")
    print(
        "\nEach planted fault, and nothing else at severity stop, was found."
        if not wrong
        else f"\n{wrong} differences from what was planted."
    )
    return int(wrong > 0)


def pressworthy(command: str, title: str, *options: str) -> str:
    """Run one command on a title's pictures and return what it printed, shown if no options."""
    folder, house = OUT / "masters" / title, HERE / "houses" / f"{title}.yaml"
    call = [sys.executable, "-m", "pressworthy", command, folder, "--house", house, *options]
    done = subprocess.run(
        [str(part) for part in call], stdout=subprocess.PIPE if options else None, check=False
    )
    if done.returncode > 1:
        raise SystemExit(done.returncode)
    return done.stdout.decode() if options else ""


def stops(title: str) -> set[tuple[str, str]]:
    """Return the findings at severity stop as (file, rule/code)."""
    report = json.loads(pressworthy("check", title, "--format", "json"))
    return {
        (Path(picture["path"]).name, f"{outcome['rule']}/{finding['code']}")
        for picture in report["pictures"]
        for outcome in picture["outcomes"]
        for finding in outcome["findings"]
        if finding["severity"] == "stop"
    }


if __name__ == "__main__":
    raise SystemExit(main())
