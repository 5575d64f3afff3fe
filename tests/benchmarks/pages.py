"""What `check --pages` costs, by hand, on Linux.

    .venv/bin/python tests/benchmarks/pages.py [CHECKOUT]

Seven prepared copies on a page, sought among seven masters and their copies; and one picture
at a thousand places, all of one size and each of its own. Seconds of processor time (user and
system, of all processes and threads) and of the clock. CHECKOUT is a folder with another state of
the project, which is measured on the same files.
"""

from __future__ import annotations

import ctypes
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import pyvips

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.testing import CREDITED, draw, write_picture

HERE = Path(__file__).parents[2]
sys.path.insert(0, str(HERE / "tests"))
from pdf_writer import image, stream, write_pages  # noqa: E402 - beside the tests

HOUSE = ("--house", "coated-magazine")
SUBREAPER = 36  # PR_SET_CHILD_SUBREAPER of <sys/prctl.h>
COPIES, PLACES = 7, 1000
MM = 72 / 25.4
BOXES = "/MediaBox [0 0 600 800] /TrimBox [20 20 580 780] /BleedBox [11 11 589 789]"


def pages(root: Path, folder: Path, files: Sequence[object] = ()) -> tuple[float, float]:
    """Run the check of one checkout on a PDF, print and return seconds of processor and clock.

    folder: holds pages.pdf; files: among which its pictures are sought.
    """
    ctypes.CDLL(None).prctl(SUBREAPER, 1, 0, 0, 0)
    call = ["check", "--pages", folder / "pages.pdf", *files, *HOUSE, "--format", "json"]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    run(root, *call)
    wall = time.perf_counter() - start
    try:
        while True:
            # the process that starts workers outlives the command by a moment
            os.wait()
    except ChildProcessError:
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"{folder.name:<28} {root.name:<16} {cpu:6.2f} s of processor, {wall:6.2f} s of clock")
    return cpu, wall


def run(root: Path, *words: object) -> None:
    """Run the program of one checkout."""
    paths = os.pathsep.join(str(root / part) for part in ("engine", "rules", "profiles"))
    call = [sys.executable, "-m", "pressworthy", *map(str, words)]
    settings = {**os.environ, "PYTHONPATH": paths}
    done = subprocess.run(call, env=settings, stdout=subprocess.DEVNULL, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(call)} ended with {done.returncode}")


def an_issue(folder: Path) -> tuple[Path, Path]:
    """Write masters, their copies, and the copies on a page; return the folders of files.

    They lie on one page, over each other: what they cost is the same.
    """
    masters, copies = folder / "masters", folder / "copies"
    masters.mkdir(parents=True)
    for seed in range(COPIES):
        write_picture(masters / f"{seed}.jpg", draw(1772, 1240, seed=seed), words=CREDITED)
    run(HERE, "prepare", masters, *HOUSE, "--into", copies, "--size", "150x105mm")
    objects: dict[str, bytes] = {}
    contents = []
    for path in sorted(copies.glob("*.tif")):
        copy = pyvips.Image.new_from_file(str(path))
        number = 4 + len(objects)
        objects[f"P{number}"] = stream("/N 4", copy.get("icc-profile-data"))
        objects[f"A{number}"] = image(copy.numpy(), f"[/ICCBased {number} 0 R]")
        contents.append(f"q {150 * MM} 0 0 {105 * MM} 80 300 cm /A{number} Do Q")
    write_pages(folder / "pages.pdf", " ".join(contents), objects, page=BOXES)
    return masters, copies


def many_places(folder: Path, growing: float) -> None:
    """Write a page with one picture at many places, each larger than the one before."""
    folder.mkdir()
    objects = {
        "P": stream("/N 3", rgb_profile("sRGB")),
        "A": image(draw(472, 354), "[/ICCBased 4 0 R]"),
    }
    places = (
        f"q {100 + growing * i:.3f} 0 0 {75 + 0.75 * growing * i:.4f} "
        f"{30 + i % 37 * 5} {30 + i // 37 * 7} cm /A Do Q"
        for i in range(PLACES)
    )
    write_pages(folder / "pages.pdf", " ".join(places), objects, page=BOXES)


def main() -> None:
    """Print the figures of this state, and of another one in turn with it."""
    roots = [HERE, *(Path(name).resolve() for name in sys.argv[1:])]
    with tempfile.TemporaryDirectory() as made:
        os.environ["XDG_CACHE_HOME"] = f"{made}/cache"
        issue = Path(made) / f"{COPIES} copies"
        files = an_issue(issue)
        many_places(alike := Path(made) / f"{PLACES} places of one size", 0.0)
        many_places(growing := Path(made) / f"{PLACES} places, each its own", 0.05)
        for root in roots:
            pages(root, issue, files)
        for folder in (alike, growing):
            for root in roots:
                pages(root, folder)


if __name__ == "__main__":
    main()
