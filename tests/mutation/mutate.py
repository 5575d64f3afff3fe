"""How many small alterations of the code the tests notice, by hand, in half an hour or more:

    .venv/bin/python tests/mutation/mutate.py rules
    .venv/bin/python tests/mutation/mutate.py prepare --sample 60

mutmut alters one operator, number, name or argument of a function at a time and runs the tests
that reach that function until one fails. Printed are the alterations that none noticed, and the
share that was. --sample takes so many at random, by --seed, and tells how far the share may be off;
--only takes those of some modules; --tests runs fewer tests, which is quicker and misses more. Not
altered are sentences, type annotations, docstrings, values of modules (OPTIONS, CODES, constants)
and decorated functions.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCES = ("engine/pressworthy", "rules/pressworthy_rules", "profiles/pressworthy_profiles")
KILLED, UNREACHED = {1, 3}, 33
"""mutmut's exit codes: a test failed, or could not even run; no test reaches the function."""


@dataclass(frozen=True)
class Folder:
    """What is altered, which tests should notice, and an alteration that must be noticed.

    proof: one that few tests reach, as all of these are first run on the code unaltered.
    """

    altered: str
    tests: tuple[str, ...]
    proof: str


FOLDERS = {
    "rules": Folder(
        "src/pressworthy_rules/*.py",
        (
            "tests/rules",
            # these judge what is measured, not the rule
            "--ignore=tests/rules/test_sharpening.py",
            "--ignore=tests/rules/test_true_resolution.py",
            "--ignore=tests/rules/test_tiles.py",
            # altered modules are long: every alteration stands in them
            "--deselect=tests/rules/test_rules.py::test_a_rule_is_read_at_one_sitting",
        ),
        "pressworthy_rules.ink.x_check__mutmut_1",
    ),
    "prepare": Folder(
        "src/pressworthy/prepare/*.py",
        (
            "tests/prepare",
            # these take long: they wait for commands, and derive all amounts
            "--ignore=tests/prepare/test_nothing_lost.py",
            "--deselect=tests/prepare/test_store.py::TestTheLockFile::test_keeps_the_command_out",
            "--deselect=tests/prepare/test_ticket.py::test_check_takes_copies_as_they_are",
            "--deselect=tests/prepare/test_amount.py::test_shipped_amounts_are_derived",
            "--deselect=tests/prepare/test_amount.py::test_the_command_prints_what_made_it",
        ),
        "pressworthy.prepare.names.x_file_key__mutmut_1",
    ),
}  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("folder", choices=FOLDERS)
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=[""])
    parser.add_argument("--tests", nargs="+")
    asked = parser.parse_args()
    folder = FOLDERS[asked.folder]
    place = lay_out(asked.folder, folder.altered, asked.tests or folder.tests)
    alter(place, [folder.proof])
    if results(place)[folder.proof] not in KILLED:
        print(f"{folder.proof} must be noticed and was not: the altered code is not what was run")
        return 1
    names = [
        name for name in sorted(results(place)) if any(f".{part}" in name for part in asked.only)
    ]
    if 0 < asked.sample < len(names):
        names = random.Random(asked.seed).sample(names, asked.sample)
    alter(place, names)
    seen = {name: code for name, code in results(place).items() if name in set(names)}
    unnoticed = [name for name, code in seen.items() if code in (0, UNREACHED)]
    for name in unnoticed:
        subprocess.run([mutmut(), "show", name], cwd=place, check=True)
    share = 1 - len(unnoticed) / len(seen)
    print(f"{len(seen) - len(unnoticed)} of {len(seen)} alterations noticed, {share:.1%}", end="")
    if asked.sample:
        print(f", give or take {1.96 * (share * (1 - share) / len(seen)) ** 0.5:.1%}", end="")
    late = sum(code not in (0, UNREACHED, *KILLED) for code in seen.values())
    print(f"; {late} of them because the tests did not end" if late else "")
    return 0


def lay_out(name: str, altered: str, tests: Sequence[str]) -> Path:
    """Return a place with the packages side by side, where mutmut expects them, and the tests."""
    place = ROOT / "build" / "mutation" / name
    # there before Python starts, which remembers what on its path is missing
    for part in ("src", "mutants/src"):
        (place / part).mkdir(parents=True, exist_ok=True)
    links = {f"src/{Path(source).name}": source for source in SOURCES}
    for link, target in {**links, "tests": "tests", "docs": "docs", "demo": "demo"}.items():
        (place / link).unlink(missing_ok=True)
        (place / link).symlink_to(ROOT / target)
    settings = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    settings += f"only_mutate = {json.dumps([altered])}\n"
    settings += f"pytest_add_cli_args_test_selection = {json.dumps(tests)}\n"
    (place / "pyproject.toml").write_text(settings, encoding="utf-8")
    return place


def alter(place: Path, names: list[str]) -> None:
    # commands that the tests start should run the altered code too
    env = {**os.environ, "PYTHONPATH": str(place / "mutants" / "src"), "VIPS_CONCURRENCY": "1"}
    call = [mutmut(), "run", "--max-children", "1", *names]
    subprocess.run(call, cwd=place, env=env, check=True)


def mutmut() -> str:
    return str(Path(sys.executable).with_name("mutmut"))


def results(place: Path) -> dict[str, int | None]:
    """Return mutmut's exit code of every alteration there is, None where it was not run."""
    files = (place / "mutants" / "src").rglob("*.meta")
    parts = [json.loads(file.read_text(encoding="utf-8")) for file in files]
    return {name: code for part in parts for name, code in part["exit_code_by_key"].items()}


if __name__ == "__main__":
    raise SystemExit(main())
