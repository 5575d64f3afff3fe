"""Enough pixels at the placed size, not far too many, and the shape of the box.

Fewer pixels than the output needs print soft or in steps; far more only weigh, and whoever reduces
them for the page decides how they look. A picture fills its box and is cropped to its shape, from
the middle unless a focal point is given: common practice, and told where much is lost. Only a page,
or a list that says so, pulls a picture to another shape; with the same ppi both ways nothing is
stretched.

Put it right: ask for the picture at its full size, place it smaller, or prepare a copy at exactly
this size.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.resolution import Fit, fit, two_resolutions
from pressworthy.measure.ticket import again
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "below": quantity("%", "how far under the output's ppi a picture may fall", least=0, most=90),
    "above": quantity("%", "how far over the output's ppi before it is reported", least=0),
    "distortion": quantity("%", "largest difference between the two axes", least=0),
    "most cropped": quantity("%", "largest share of a picture cropped unasked", least=0, most=100),
}
CODES = {
    "too-few-pixels": "fewer pixels than the output needs at this size",
    "too-many-pixels": "more pixels than the output can use at this size",
    "distorted": "stretched: width and height come to different ppi",
    "resolutions-disagree": "the file states two resolutions, and its size goes by one of them",
    "cropped": "much of it is cropped off to fill its box",
}

SIZE = "Write the size it is to have in the list's columns width and height (or --size)."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    placed, wanted, anew = fit(picture), picture.output.ppi, again(picture)
    toned = not picture.header.is_line_art  # of which the rule line-art judges the pixels
    if toned and placed.falls_short_of(wanted * (1 - options["below"] / 100)):
        remedy = f"Supply {'a master of ' if anew else ''}at least {placed.needed(wanted)}"
        if largest := placed.largest_box(wanted, most_stretch=options["distortion"]):
            remedy += f", or place it no larger than {largest[0]} x {largest[1]} mm"
        remedy += f"; then {anew}." if anew else "."
        limit = Bound.LEAST
        yield Finding("too-few-pixels", placed.ppi(), wanted, "ppi", remedy, bound=limit)
    most = wanted * (1 + options["above"] / 100)
    if toned and placed.exceeds(most):
        remedy = f"For this size {anew or 'prepare a copy'}: {placed.needed(wanted)}."
        yield Finding("too-many-pixels", placed.ppi(), most, "ppi", remedy, bound=Bound.MOST)
    yield from _shape(placed, options, anew)
    if told := two_resolutions(picture):
        yield Finding("resolutions-disagree", told, "one resolution", remedy=SIZE)


def _shape(placed: Fit, options: Options, anew: str) -> Iterator[Finding]:
    if (stretch := placed.stretch()) > (most := options["distortion"]):
        if placed.exact:
            remedy = f"{placed.both_ways()}: on the page, scale it alike both ways and crop it."
        else:
            remedy = "Write fill in the list's column fit, so that it is cropped to its box"
            remedy += f", and {anew}." if anew else "."
        yield Finding("distorted", stretch, most, "%", remedy, bound=Bound.MOST)
    if placed.lost * 100 > (most := options["most cropped"]):
        remedy = "Say what matters in it: "
        if placed.trimmed:
            remedy += f"write {placed.trimmed} in the list's column crop, or another crop of the "
            remedy += "box's shape."
        else:
            remedy += "write the point to crop around in the list's column focus (or --focus X,Y); "
            remedy += "0.5 0.5 is the middle."
        yield Finding("cropped", placed.lost * 100, most, "%", remedy, bound=Bound.MOST)


rule = Rule("resolution", check, OPTIONS, CODES, __doc__ or "", version="4",
            mended=("too-few-pixels", "too-many-pixels"))  # fmt: skip
