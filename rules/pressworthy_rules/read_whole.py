"""The whole picture: were all its pixels read, or has the reader filled in what it could not?

A file cut short or changed on its way often opens all the same: what is lost becomes a grey field,
a shifted band, lines of noise, or black. Judged is what the reader of the format told, whether a
TIFF's strips and tiles all lie in the file, and whether a JPEG's data end where its picture ends.
What cannot be read at all counts as unmeasured: a cut TIFF, a compression not read here.
Of HEIC, JPEG 2000 and WebP is told what is missing; bytes that were changed inside their coded data
are not, for their readers go on with them and tell nothing (docs/reliability.md).

Put it right: have the file sent again, best packed, so that what arrives is what was sent.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.pixels import lost_pixels
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

CODES = {"damaged": "pixels are lost, and the reader filled in what it could not read"}
AGAIN = "Ask for the file again: this one was damaged on its way, or where it lay."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if lost := lost_pixels(picture):
        yield Finding("damaged", lost, "all pixels read", remedy=AGAIN)


rule = Rule("read-whole", check, {}, CODES, __doc__ or "")
