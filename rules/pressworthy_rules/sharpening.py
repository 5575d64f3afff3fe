"""Sharpening: halos that are too high, there too early, or missing.

Sharpening is the last step and belongs to one output: a master that already carries its halos gets
a second set with the next copy, a picture that has none prints soft. Measured is the height of the
halo beside the steepest clean edges at full resolution, in per cent of the edge's own step, on both
sides of it. Sharpening in the camera cannot be told from sharpening for print, and foliage, fog and
out-of-focus pictures cannot be measured: they are unmeasured, not unsharpened. Prepared copies are
judged by acutance instead, which knows from their ticket how they were sharpened.

Put it right: ask for the file before it was sharpened, or write no in the list's column sharpen;
prepare sharpens every other copy for its output.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.halo import Halo, halo
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
    "not-sharpened": "finished for its output, yet not sharpened for it",
    "over-sharpened": "halos higher than the house lets pass",
}
SOFTEN = "Ask for the file before it was sharpened; no softening takes the halos back."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.is_line_art:
        return  # its edges are as steep as edges can be
    seen = halo(picture)
    height = seen.height * 100
    if height > options["most halo"]:
        yield _finding("over-sharpened", seen, options["most halo"], SOFTEN)
    elif options["supplied"] == "master" and height > options["master halo"] and picture.sharpen:
        remedy = f"{SOFTEN} If it came so from the camera, write no in the list's column sharpen."
        yield _finding("already-sharpened", seen, options["master halo"], remedy)
    elif options["supplied"] == "finished" and height < options["least halo"]:
        remedy = "Prepare a copy: it is sharpened at its final size, as the last step."
        yield _finding("not-sharpened", seen, options["least halo"], remedy, Bound.LEAST)


def _finding(
    code: str, seen: Halo, limit: float, remedy: str, bound: Bound = Bound.MOST
) -> Finding:
    where = f"Measured on {seen.edges} edges"
    if seen.tells_radius():
        where += f", radius {seen.radius_class()}"
    return Finding(code, seen.height * 100, limit, "%", f"{where}. {remedy}", bound=bound)


rule = Rule("sharpening", check, OPTIONS, CODES, __doc__ or "", version="3",
            masters_only=True, mended=("not-sharpened",))  # fmt: skip
