"""What kind of file it is: colour mode, bit depth, transparency, turned by a flag, several pages.

A page program or a press may silently do the wrong thing with each: flatten transparency on
black, ignore the flag that turns a picture upright, print the wrong page of a file.

Put it right: a prepared copy is plain: one picture, upright, opaque, in the mode of its output.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.file_name import promised_formats, suffix_of
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule, some_of

OPTIONS = {
    "modes": some_of(
        ("RGB", "CMYK", "gray", "Lab"), "the colour modes that pictures may be delivered in"
    ),
    "depths": some_of((1, 8, 10, 12, 16, 32), "bits a channel that pictures may have"),
}
CODES = {
    "wrong-mode": "a colour mode the house does not take",
    "wrong-depth": "a bit depth the house does not take",
    "transparent": "it has an alpha channel",
    "extra-channels": "a TIFF's channels beyond colours and alpha, such as selections or spot inks",
    "turned-by-flag": "it is turned upright only by its orientation flag",
    "several-pages": "the file holds more than one picture",
    "misnamed": "the file name promises another format",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    header, own = picture.header, ticket(picture) is not None
    if header.mode not in options["modes"]:
        remedy = (
            f"Let the house take {header.mode}: its copies have it."
            if own
            else "Ask for the picture in one of these modes, with its ICC profile."
        )
        yield Finding("wrong-mode", header.mode, ", ".join(options["modes"]), remedy=remedy)
    if header.depth not in options["depths"]:
        depths = ", ".join(map(str, options["depths"]))
        remedy = (
            f"Let the house take {header.depth} bits: its copies have them."
            if own
            else "Ask for the original at a depth the house takes; a deeper copy adds nothing."
        )
        yield Finding("wrong-depth", header.depth, depths, "bits", remedy)
    if header.alpha:
        remedy = "Prepare a copy, which lays it on white, and look at its edges."
        if picture.page_object:
            remedy = "Place a prepared copy, opaque and without a mask, and look at its edges."
        yield Finding("transparent", "alpha channel", "opaque", remedy=remedy)
    if extra := header.extra_channels:
        remedy = "Prepare a copy, which leaves them out; ask first whether one is a spot ink."
        yield Finding("extra-channels", extra, 0, "channels", remedy, bound=Bound.MOST)
    if header.orientation != 1:
        remedy = "Prepare a copy, whose pixels stand upright; some programs ignore the flag."
        turned = f"orientation {header.orientation}"
        yield Finding("turned-by-flag", turned, "orientation 1", remedy=remedy)
    if header.pages > 1:
        remedy = "Save the picture that is meant as a file of its own; only the first was checked."
        yield Finding("several-pages", header.pages, 1, "pictures", remedy, bound=Bound.MOST)
    promised = promised_formats(picture.path)
    if promised and header.format not in promised:
        remedy = f"Give the file the suffix of what it is: {suffix_of(header.format)}."
        yield Finding("misnamed", header.format, " or ".join(sorted(promised)), remedy=remedy)


rule = Rule("colour-mode", check, OPTIONS, CODES, __doc__ or "", version="3",
            mended=tuple(code for code in CODES if code != "several-pages"))  # fmt: skip
