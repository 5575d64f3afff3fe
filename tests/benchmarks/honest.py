"""Prints how often honest photographs are flagged, by house, by source and by rule.

    .venv/bin/python tests/benchmarks/honest.py FOLDER [--each 12] [--write]

FOLDER holds the photographs that tests/benchmarks/photographs.py fetched. Each is sent as a good
supplier would: halved by box where its shorter side has 1000 px, JPEG at quality 90 with chroma
4:2:0, tagged sRGB, credited and captioned, and placed at exactly the output's resolution without
bleed. What is counted are pictures with a stop or a query; nothing is left out of the count, and
`credit` has nothing to say as every picture has one. `--each` takes so many of every source, evenly
spaced through its list (0: all).
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import numpy as np
from photographs import Photograph, coloured, values

from pressworthy.house import load_house
from pressworthy.plugins import load
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.units import MM_PER_INCH

PAGE = Path(__file__).parents[2] / "docs" / "detection.md"
HOUSES = ("coated-magazine", "newsprint", "mono", "screen")
CUT_OUT = "stamps"
LARGE = 1000
"""px of the shorter side from which a photograph is halved: what its coding did is averaged out."""


def chosen(folder: Path, each: int) -> list[Photograph]:
    """Return so many photographs of every source, evenly spaced; cut-out objects are none."""
    by_source: dict[str, list[Photograph]] = defaultdict(list)
    for photo in coloured(folder):
        if photo.source != CUT_OUT:
            by_source[photo.source].append(photo)
    return [
        photo
        for them in by_source.values()
        for photo in (them[:: max(1, len(them) // each)][:each] if each else them)
    ]


def sent(photo: Photograph, to: Path) -> tuple[int, int]:
    """Write the photograph as it is sent; return its width and height, px."""
    pixels = values(photo)
    height, width = pixels.shape[:2]
    if min(height, width) >= LARGE:
        even = pixels[: height // 2 * 2, : width // 2 * 2].astype(np.uint16)
        mean = (even[::2, ::2] + even[1::2, ::2] + even[::2, 1::2] + even[1::2, 1::2] + 2) // 4
        pixels = mean.astype(np.uint8)
    write_picture(to, pixels, words=CREDITED, Q=90, subsample_mode="on")
    return pixels.shape[1], pixels.shape[0]


def flagged(house: str, pictures: dict[Path, tuple[int, int]]) -> dict[Path, set[str]]:
    """Return the findings that stop or query, rule/code, of each picture."""
    ppi = load_house(house, load()).output.ppi
    folder = next(iter(pictures)).parent
    rows = ["picture,width,height"]
    for path, size in pictures.items():
        rows.append(",".join([path.name, *(f"{px / ppi * MM_PER_INCH:.4f}" for px in size)]))
    listed = folder / f"{house}.csv"
    listed.write_text("\n".join(rows) + "\n", "utf-8")
    call = [sys.executable, "-m", "pressworthy", "check", "--list", str(listed), "--house", house]
    done = subprocess.run([*call, "--format", "json", "--no-cache"], capture_output=True, text=True)
    if not done.stdout:
        raise SystemExit(done.stderr)
    found: dict[Path, set[str]] = {}
    for picture in json.loads(done.stdout)["pictures"]:
        found[Path(picture["path"])] = {
            f"{outcome['rule']}/{finding['code']}"
            for outcome in picture["outcomes"]
            for finding in outcome["findings"]
            if finding["severity"] in ("stop", "query")
        }
    return found


def table(head: list[str], rows: list[list[Any]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def tables(photos: list[Photograph], show: bool) -> str:
    with tempfile.TemporaryDirectory() as name:
        source: dict[Path, str] = {}
        pictures: dict[Path, tuple[int, int]] = {}
        for number, photo in enumerate(photos):
            path = Path(name).resolve() / f"{number:04}.jpg"
            pictures[path] = sent(photo, path)
            source[path] = photo.source
        found = {house: flagged(house, pictures) for house in HOUSES}
        if show:
            for number, photo in enumerate(photos):
                path = Path(name).resolve() / f"{number:04}.jpg"
                print(photo.name, {house: sorted(found[house][path]) for house in HOUSES})

    def share(house: str, which: set[Path]) -> str:
        return f"{np.mean([bool(found[house][path]) for path in which]):.0%}"

    sources = sorted(set(source.values()))
    by_source = [
        [one, len(which), *(share(house, which) for house in HOUSES)]
        for one in sources
        if (which := {path for path, its in source.items() if its == one})
    ]
    by_source.append(["all", len(pictures), *(share(house, set(pictures)) for house in HOUSES)])
    told: Counter[tuple[str, str]] = Counter(
        (code, house) for house in HOUSES for codes in found[house].values() for code in codes
    )
    most = sorted(
        {code for code, _ in told}, key=lambda c: -max(told[c, house] for house in HOUSES)
    )
    by_code = [
        [f"`{code}`", *(f"{told[code, house] / len(pictures):.1%}" for house in HOUSES)]
        for code in most
    ]
    return (
        table(["source", "photographs", *HOUSES], by_source)
        + "\n\n"
        + table(["stop or query", *HOUSES], by_code)
    )


def main() -> None:
    """Print the tables, or write them into the page."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--each", type=int, default=12)
    asked.add_argument("--show", action="store_true", help="name what each picture is told")
    asked.add_argument("--write", action="store_true", help="into docs/detection.md")
    options = asked.parse_args()
    text = tables(chosen(options.folder, options.each), options.show)
    if options.write:
        begin, end = "<!-- honest -->\n", "\n<!-- end of honest -->"
        before, _, rest = PAGE.read_text("utf-8").partition(begin)
        PAGE.write_text(before + begin + text + end + rest.partition(end)[2], "utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
