"""Weight of a picture for the web: bytes and pixel dimensions.

A reader on a phone pays for every byte and waits for it; more pixels than a screen shows are
weight without effect, fewer look soft on a dense screen.

Put it right: prepare a copy for the screen; it is made to the house's byte budget.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.values.finding import Finding
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
    edge = max(header.width, header.height)
    weight = header.file_bytes / 1000
    if weight > options["heaviest"]:
        yield Finding(
            "too-heavy",
            weight,
            options["heaviest"],
            "kB",
            f"Prepare a screen copy of at most {figure(options['heaviest'], 'kB')}.",
        )
    if edge > options["longest edge"]:
        yield Finding(
            "too-wide",
            edge,
            options["longest edge"],
            "px",
            f"Prepare a copy of at most {figure(options['longest edge'], 'px')} on its long edge.",
        )
    if edge < options["shortest long edge"]:
        yield Finding(
            "too-small",
            edge,
            options["shortest long edge"],
            "px",
            "Ask for the original; enlarging this one would only blur it.",
        )


rule = Rule("file-weight", check, OPTIONS, CODES, __doc__ or "", files_only=True)
