"""Weight of a picture for the web: bytes and pixel dimensions.

A reader on a phone pays for every byte and waits for it; more pixels than a screen shows are
weight without effect, fewer look soft on a dense screen. Where its place is known, it needs no more
than the output's ppi asks for there, and no fewer than one to a CSS pixel.

Put it right: prepare a copy for the screen; it is made to the house's byte budget.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import floor

from pressworthy.measure.resolution import edge_for
from pressworthy.measure.ticket import again, ticket
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import figure, quantity

OPTIONS = {
    "heaviest": quantity("kB", "largest file size", least=1),
    "longest edge": quantity("px", "most pixels on the longer edge", least=1),
    "shortest long edge": quantity("px", "fewest pixels on it where no place is known", least=1),
}
CODES = {
    "too-heavy": "more bytes than a page can afford",
    "too-wide": "more pixels than a screen shows",
    "too-small": "too few pixels for a dense screen",
}

PLAIN_PPI = 96
"""Of a copy with one pixel to a CSS pixel, which is 1/96 in (W3C)."""


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    header = picture.header
    edge, weight = max(header.width, header.height), header.file_bytes / 1000
    heaviest, longest = options["heaviest"], options["longest edge"]
    made, anew = ticket(picture), again(picture)
    if weight > heaviest:
        remedy = (
            f"Give copies a byte budget of {figure(heaviest, 'kB')} and a lower least quality in "
            f"the house profile, and {anew}."
            if anew
            else f"Prepare a screen copy of at most {figure(heaviest, 'kB')}."
        )
        yield Finding("too-heavy", weight, heaviest, "kB", remedy, bound=Bound.MOST)
    if edge > longest:
        remedy = f"With {_size(picture, longest)} in the list's columns width and height (or --size"
        remedy += f"), {anew or 'prepare a copy'}: it then has at most {figure(longest, 'px')}."
        yield Finding("too-wide", edge, longest, "px", remedy, bound=Bound.MOST)
    # beside a copy for plain screens stands one for dense ones, which is judged
    plain = made and round(float(made.ppi)) == PLAIN_PPI
    if edge < (fewest := _fewest(picture, options["shortest long edge"])) and not plain:
        remedy = "Ask for the original; enlarging this one would only blur it."
        if anew:
            remedy = f"Supply a master of at least {figure(fewest, 'px')} on its long edge"
            remedy += f"{'' if picture.placement else ', place it as large'}, and {anew}."
        yield Finding("too-small", edge, fewest, "px", remedy, bound=Bound.LEAST)


def _fewest(picture: Picture, shortest: float) -> float:
    if picture.placement is None:
        return shortest
    return min(max(shortest, edge_for(picture, PLAIN_PPI)), edge_for(picture, picture.output.ppi))


def _size(picture: Picture, longest: float) -> str:
    """Return the size in CSS pixels at which a copy's longer edge has `longest` px."""
    scale = picture.output.ppi / PLAIN_PPI
    width, height = picture.header.upright()
    parts = (side * longest / max(width, height) / scale for side in (width, height))
    return " x ".join(f"{max(1, floor(part))} px" for part in parts)


rule = Rule("file-weight", check, OPTIONS, CODES, __doc__ or "", version="3", files_only=True,
            mended=("too-heavy", "too-wide"))  # fmt: skip
