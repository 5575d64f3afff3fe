"""Spot inks in pictures on a page, and what overprints them or lets them show through.

A spot ink takes a plate of its own, which the printer was to be asked for; where none is mounted
the picture comes out without it or in other inks. Overprint mixes what lies over a picture with it,
transparency is worked out by whoever makes the plates: both look otherwise in many a viewer. Spot
inks are read from the picture's colour space; what lies over it from the page's content, by its
bounds, so that what is told may only be near (ISO 32000-2, 8.6.6, 8.6.7 and 11.3).

Put it right: place a copy in process inks; where overprint or transparency is meant, look at it on
the proof.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

OPTIONS = {
    "spot inks": {
        "oneOf": [{"const": "none"}, {"type": "array", "items": {"type": "string"}}],
        "description": "spot inks that pictures may be made of, by their names, or none",
    },
}
CODES = {
    "spot-ink": "made of a spot ink that the house does not print",
    "overprint": "it overprints, or something overprints it",
    "transparency": "something lies over it that lets it show through",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    there = picture.on_page
    assert there is not None
    listed = options["spot inks"]
    known = () if listed == "none" else tuple(listed)
    strange = [ink for ink in there.inks if ink not in known]
    if strange:
        remedy = "Place a copy in process inks, or list the ink under spot inks in the house "
        remedy += "profile once the printer has agreed to it."
        wanted = ", ".join(known) or "none"
        yield Finding("spot-ink", ", ".join(strange), wanted, remedy=remedy)
    if there.overprint:
        remedy = "Look at it on the proof; if it is not meant, export the page without overprint."
        yield Finding("overprint", there.overprint, "none", remedy=remedy)
    if there.transparency:
        remedy = "Look at it on the proof; if it is not meant, take what lies over it away."
        yield Finding("transparency", there.transparency, "none", remedy=remedy)


rule = Rule("page-inks", check, OPTIONS, CODES, __doc__ or "", version="2", pages_only=True)
