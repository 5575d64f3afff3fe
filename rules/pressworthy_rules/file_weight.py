"""Weight of a picture for the web: bytes and pixel dimensions.

A reader on a phone pays for every byte and waits for it; more pixels than a screen shows are
weight without effect, fewer look soft on a dense screen.

Put it right: prepare a copy for the screen; it is made to the house's byte budget.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import figure, quantity

OPTIONS = {
    "heaviest": quantity("kB", "largest file size", least=1),
    "longest edge": quantity("px", "most pixels on the longer edge", least=1),
    "shortest long edge": quantity("px", "fewest pixels on the longer edge", least=1),
}
CODES = {
    "too-heavy": "more bytes than a page can afford",
    "too-wide": "more pixels than a screen shows",
    "too-small": "too few pixels for a dense screen",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    header = picture.header
    edge, weight = max(header.width, header.height), header.file_bytes / 1000
    heaviest, longest = options["heaviest"], options["longest edge"]
    if weight > heaviest:
        remedy = f"Prepare a screen copy of at most {figure(heaviest, 'kB')}."
        yield Finding("too-heavy", weight, heaviest, "kB", remedy, bound=Bound.MOST)
    if edge > longest:
        remedy = f"Prepare a copy of at most {figure(longest, 'px')} on its long edge."
        yield Finding("too-wide", edge, longest, "px", remedy, bound=Bound.MOST)
    if edge < (shortest := options["shortest long edge"]):
        remedy = "Ask for the original; enlarging this one would only blur it."
        yield Finding("too-small", edge, shortest, "px", remedy, bound=Bound.LEAST)


rule = Rule("file-weight", check, OPTIONS, CODES, __doc__ or "", files_only=True)
