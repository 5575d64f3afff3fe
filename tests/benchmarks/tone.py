"""Prints the tables of docs/print-look.md on tone: what the curve does, and what the rules query.

    .venv/bin/python tests/benchmarks/tone.py FOLDER [--write]

FOLDER holds the photographs that tests/benchmarks/photographs.py fetched. The window of the rule
`luminance` was set on the sources `gcompris` and `portraits`; all others have not been seen by it.
Copies are counted by their curve, from the master's L*, not by preparing each.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from photographs import Photograph, coloured, values

from pressworthy.colour.lightness import printed
from pressworthy.colour.tone import Tones, curve, holds_both, house_curve, slope
from pressworthy.house import House, load_house
from pressworthy.measure.lightness import lightness
from pressworthy.measure.press import lightness_lost, sample_lab
from pressworthy.measure.tones import tones
from pressworthy.plugins import load
from pressworthy.testing import a_picture, write_picture

PAGE = Path(__file__).parents[2] / "docs" / "print-look.md"
SETS = {
    "gcompris, portraits": ("gcompris", "portraits"),
    "wallpapers, views, kit": ("wallpapers", "views", "kit"),
    "desks, stock, studio": ("desks", "stock", "studio"),
}
HOUSES = ("coated-magazine", "newsprint", "mono")
SHOWN = ("astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg", "china.jpg", "flower.jpg")
Measured = tuple[str, str, Tones, dict[str, tuple[float, float]]]


def houses() -> dict[str, House]:
    registry = load()
    return {name: load_house(name, registry) for name in HOUSES}


def measured(photo: Photograph) -> Measured:
    """Return source, name, tones and, by house, printed spread (L*) and share lost (0..1)."""
    pixels = values(photo)
    step = max(1, int((pixels.shape[0] * pixels.shape[1] / 60_000) ** 0.5))
    more = {}
    with tempfile.TemporaryDirectory() as folder:
        path = write_picture(Path(folder) / "p.tif", np.ascontiguousarray(pixels[::step, ::step]))
        for name, house in houses().items():
            picture = a_picture(path, output=house.output)
            seen, ends = lightness(picture), house.output.span
            limits = house.rules["tone-range"].options
            lost = lightness_lost(picture, limits["largest dot"]) > limits["visible"]
            lost &= sample_lab(picture)[..., 0] > limits["visible"]
            more[name] = printed(seen.p95, *ends) - printed(seen.p5, *ends), float(lost.mean())
            found = tones(picture)
    return photo.source, photo.path.name, found, more


def examples(done: Sequence[Measured]) -> str:
    """Return slope, and median printed L* before and after, of a few photographs."""
    lines = ["| photograph | median, L* | " + " | ".join(HOUSES) + " |", "|---" * 5 + "|"]
    for name in SHOWN:
        found = next(tones_ for _, called, tones_, _ in done if called == name)
        cells = []
        for house in houses().values():
            ends, steepest = house.output.span, house.output.steepest
            bent = house_curve(found, *ends, steepest)
            before, after = (printed(t, *ends) for t in (found.median, bent.moved(found.median)))
            at = slope(np.array([10.0, 90.0]), bent.bend)
            cells.append(f"{before:.1f} → {after:.1f}; {at[0]:.2f}, {at[1]:.2f}")
        lines.append(f"| {name} | {found.median:.1f} | {' | '.join(cells)} |")
    return "\n".join(lines)


def curves() -> str:
    """Return printed L* of a few tones of a picture of median 50, plain and through the curve."""
    tones_ = np.array([5.0, 10, 25, 50, 75, 90, 95])
    heads = " | ".join(f"{tone:g}" for tone in tones_)
    lines = [f"| L* as supplied | {heads} | steepest |", "|---" * (len(tones_) + 2) + "|"]
    for name, house in houses().items():
        ends, steepest = house.output.span, house.output.steepest
        bend = house_curve(Tones(5, 50, 95), *ends, steepest).bend
        for word, moved in (("plain", tones_), ("curve", curve(tones_, bend))):
            cells = " | ".join(f"{value:.1f}" for value in printed(moved, *ends))
            lines.append(f"| {name}, {word} | {cells} | {1 if word == 'plain' else 1 / bend:.2f} |")
    return "\n".join(lines)


def queried(done: Sequence[Measured]) -> str:
    """Return the share of masters and copies that the rules query, in %."""
    lines = [
        "| sources | pictures | house | masters: too dark, too light | copies: too dark, too light "
        "| notes on copies | dull | lost shadows |",
        "|---" * 8 + "|",
    ]
    for label, sources in SETS.items():
        mine = [one for one in done if one[0] in sources]
        for name, house in houses().items():
            low, high = house.output.median
            least = house.rules["luminance"].options["least spread"]
            ends, steepest = house.output.span, house.output.steepest
            counts = np.zeros(7)
            for _, _, found, more in mine:
                moved = house_curve(found, *ends, steepest).moved(found.median)
                # what its copy mends is a note on the master
                mended = low + 0.5 <= moved <= high - 0.5
                dark, light = found.median < low, found.median > high
                both = holds_both(found)
                counts[:2] += (dark and not mended, light and not mended and not both)
                counts[2:4] += (moved < low and not both, moved > high and not both)
                counts[4] += both and not low <= moved <= high
                counts[5] += more[name][0] < least
                counts[6] += more[name][1] * 100 > house.rules["tone-range"].options["area"]
            per = [f"{share:.1f}" for share in counts / len(mine) * 100]
            outside = sum(not low <= one[2].median <= high for one in mine) / len(mine) * 100
            told = f"{per[0]}, {per[1]} (outside: {outside:.1f})"
            cells = [label, str(len(mine)), name, told, f"{per[2]}, {per[3]}", *per[4:]]
            lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", action="store_true", help="put them into the page")
    options = parser.parse_args()
    wanted = [photo for photo in coloured(options.folder) if photo.source not in ("stamps", "shop")]
    with ProcessPoolExecutor() as pool:
        done = list(pool.map(measured, wanted, chunksize=8))
    page = PAGE.read_text("utf-8")
    tables = {"curves": curves(), "examples": examples(done), "queried": queried(done)}
    for name, table in tables.items():
        print(f"{table}\n")
        before, start, rest = page.partition(f"<!-- {name} -->\n")
        _, end, after = rest.partition(f"<!-- end of {name} -->")
        page = f"{before}{start}{table}\n{end}{after}" if end else page
    if options.write:
        PAGE.write_text(page, "utf-8")


if __name__ == "__main__":
    main()
