"""Sharpening: halos that are too high, there too early, or missing.

Sharpening is the last step and belongs to one output: a master that already carries its halos gets
a second set with the next copy, a picture that has none prints soft. Measured is the height of the
halo beside the steepest clean edges at full resolution, in per cent of the edge's own step, on both
sides of it. Strong sharpening shows in more than its highest halo; all of it together gives a
chance, which is suspicion: look at the picture at full size. Sharpening in the camera cannot be
told from light sharpening for print, and foliage, fog and out-of-focus pictures cannot be measured:
they are unmeasured, not unsharpened. Prepared copies are judged by acutance instead, which knows
from their ticket how they were sharpened.

Put it right: ask for the file before it was sharpened, or write no in the list's column sharpen;
prepare sharpens every other copy for its output.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.halo import FEWEST_EDGES, Halo, halo, likely_from
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "supplied": {
        "enum": ["master", "finished"],
        "description": "what a picture without a ticket is: a master, or finished for its output",
    },
    "master halo": quantity("%", "highest halo of a master, of the edge's step", least=0, most=100),
    "least halo": quantity("%", "lowest halo of a finished picture", least=0, most=100),
    "most halo": quantity("%", "highest halo of a finished picture", least=0, most=200),
}
CODES = {
    "already-sharpened": "a master that carries halos as if sharpened for an output",
    "probably-sharpened": "a master that looks strongly sharpened, whatever its halos' height",
    "not-sharpened": "finished for its output, yet not sharpened for it",
    "over-sharpened": "halos higher than the house lets pass",
}
SOFTEN = "Ask for the file before it was sharpened; no softening takes the halos back."
CAMERA = "If it came so from the camera, write no in the list's column sharpen."
BOTH_CLIPPED = 0.1  # of the edges, which says over-sharpened; our choice, see docs/detection.md


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.is_line_art:
        return  # its edges are as steep as edges can be
    seen = halo(picture)
    # of few edges the halo is not told, only what all numbers together say
    height = seen.height * 100 if seen.edges >= FEWEST_EDGES else 0.0
    master = options["supplied"] == "master" and picture.sharpen
    finished = options["supplied"] == "finished"
    if height > options["most halo"]:
        yield _halo("over-sharpened", seen, options["most halo"], SOFTEN)
    elif master and height > options["master halo"]:
        yield _halo("already-sharpened", seen, options["master halo"], f"{SOFTEN} {CAMERA}")
    elif master and seen.is_likely():
        remedy = f"{_where(seen)}. {SOFTEN} {CAMERA}"
        chance, limit = seen.chance * 100, likely_from() * 100
        yield Finding("probably-sharpened", chance, limit, "%", remedy, bound=Bound.MOST)
    elif finished and height < options["least halo"] and not seen.is_likely():
        remedy = "Prepare a copy: it is sharpened at its final size, as the last step."
        yield _halo("not-sharpened", seen, options["least halo"], remedy, Bound.LEAST)


def _halo(code: str, seen: Halo, limit: float, remedy: str, bound: Bound = Bound.MOST) -> Finding:
    return Finding(code, seen.height * 100, limit, "%", f"{_where(seen)}. {remedy}", bound=bound)


def _where(seen: Halo) -> str:
    where = f"Measured on {seen.edges} edges"
    if seen.clipped > BOTH_CLIPPED:
        where += f", {seen.clipped:.0%} of them clipped on both sides: probably over-sharpened"
    return where


rule = Rule("sharpening", check, OPTIONS, CODES, __doc__ or "", version="3",
            masters_only=True, mended=("not-sharpened",))  # fmt: skip
