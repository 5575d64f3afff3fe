"""Line art: pixels enough that its edges show no steps.

Drawings and lettering in 1 bit are ink or paper, with no shades to smooth an edge, and no screen of
the press softens it: what is fine for a photograph prints in steps here. It is judged at its placed
size by a resolution of its own; other pictures are judged by the rule resolution.

Pixels finer than the plate's own only take time. A prepared copy has the master's pixels, in 1 bit
and not resampled.

Put it right: have it scanned or drawn with more pixels, or place it smaller. More pixels made of
these make the same steps.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.resolution import fit
from pressworthy.measure.ticket import again
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "least": quantity("ppi", "lowest resolution of line art as placed", least=0),
    "most": quantity("ppi", "highest resolution of line art as placed", least=0),
}
CODES = {
    "too-few-pixels": "line art whose edges will print in steps at this size",
    "too-many-pixels": "line art finer than a plate is exposed",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if not picture.header.is_line_art:
        return
    placed, least, most, anew = fit(picture), options["least"], options["most"], again(picture)
    if placed.falls_short_of(least):
        remedy = f"Supply {'a master of ' if anew else ''}at least {placed.needed(least)}"
        if largest := placed.largest_box(least):
            remedy += f", or place it no larger than {largest[0]} x {largest[1]} mm"
        remedy += f"; then {anew}." if anew else "."
        yield Finding("too-few-pixels", placed.ppi(), least, "ppi", remedy, bound=Bound.LEAST)
    elif placed.exceeds(most):
        remedy = f"Supply {'a master of ' if anew else ''}at most {placed.needed(most)}"
        remedy += f"; then {anew}." if anew else "."
        yield Finding("too-many-pixels", placed.ppi(), most, "ppi", remedy, bound=Bound.MOST)


rule = Rule("line-art", check, OPTIONS, CODES, __doc__ or "", version="2")
