"""Picture beyond the trim, on every edge where it runs off the page.

Paper moves in the guillotine; without picture beyond the trim a white sliver shows at the edge.
Counted are the pixels the picture has beyond its box at the output's ppi, shared between the
edges that bleed.

Put it right: supply a picture with room around it, or place it so that it covers the bleed too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from pressworthy.measure.ticket import again
from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.placement import pixels_for
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import MM_PER_INCH, figure, quantity

OPTIONS = {
    "least": quantity("mm", "bleed on every edge that bleeds", least=0, most=50),
}
ROUNDED_MM = 0.05
"""A page's coordinates are rounded; no cutter is as exact (common practice, no source)."""

CODES = {
    "short-bleed": "too few pixels to cover the bleed at the output's ppi",
    "thin-bleed": "the page asks for less bleed than the house does",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    place = picture.placement
    if place is None:
        raise Unmeasured("no placed size is known, so nothing tells whether it bleeds")
    if not place.edges:
        return
    ppi, anew = picture.output.ppi, again(picture)
    part = place.part(*picture.header.upright())
    if place.bleed < (least := options["least"]) - ROUNDED_MM:
        where = "on the page" if place.exact else "by the list's column bleed (or --bleed)"
        remedy = f"Extend the picture {figure(least, 'mm')} beyond the trim {where}"
        wanted = replace(place, bleed=least).covered()
        enough = all(round(p) >= pixels_for(mm, ppi) for p, mm in zip(part, wanted, strict=True))
        if anew or not enough:
            remedy += f"; it takes {'a master of ' if anew else ''}{_px(wanted, ppi)}"
        remedy += f"; then {anew}." if anew else "."
        yield Finding("thin-bleed", place.bleed, least, "mm", remedy, bound=Bound.LEAST)
    if place.exact:
        return
    spare = []
    for px, box, sides in zip(
        part,
        (place.width, place.height),
        (place.edges & {"left", "right"}, place.edges & {"top", "bottom"}),
        strict=True,
    ):
        # exact pixel counts first: a rounding of half a pixel is no missing bleed
        if sides and round(px) < pixels_for(box + place.bleed * len(sides), ppi):
            spare.append((px * MM_PER_INCH / ppi - box) / len(sides))
    if spare:
        remedy = (
            f"Supply {'a master of ' if anew else ''}at least {_px(place.covered(), ppi)} for box "
            f"and bleed at {figure(ppi)} ppi, or make the picture not bleed"
        )
        remedy += f"; then {anew}." if anew else "."
        there = max(0.0, min(spare))
        yield Finding("short-bleed", there, place.bleed, "mm", remedy, bound=Bound.LEAST)


def _px(size: tuple[float, float], ppi: float) -> str:
    return " x ".join(str(pixels_for(mm, ppi)) for mm in size) + " px"


rule = Rule("bleed", check, OPTIONS, CODES, __doc__ or "", version="2",
            mended=("short-bleed",))  # fmt: skip
