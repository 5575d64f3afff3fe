"""JPEG compression: the quality the file was saved at, and the blocks that show.

Sharpening for print raises every block edge with the detail. The quality is read from the
quantisation tables (ITU-T T.81 annex K scaling); blocks are measured in the pixels as the step on
8-px borders over the step between, so that a bad JPEG saved anew as TIFF is found too. Blocks so
small at the placed size that the reader's eye (Mannos and Sakrison 1974) gets little of them count
for as much less.

Put it right: ask for the original before it was compressed; saving again at a higher quality
brings nothing back.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.jpeg import blockiness, jpeg_quality, visible_step
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

OPTIONS = {
    "least quality": {
        "type": "integer", "minimum": 1, "maximum": 100,
        "description": "lowest JPEG quality, 1 to 100, on the scale of annex K's tables",
    },
    "blocks": {
        "type": "number", "minimum": 1,
        "description": "largest step on 8-px borders, relative to the steps between",
    },
    "visible step": {
        "type": "number", "minimum": 0,
        "description": "blocks fainter to the reader than this many levels of 255 are let pass",
    },
}  # fmt: skip
CODES = {
    "low-quality": "saved at a low JPEG quality",
    "blocks": "JPEG blocks stand out in the pixels",
}
REMEDY = "Ask for the original before compression; saving it again at a higher quality is no help."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    quality = jpeg_quality(picture)
    if quality is not None and quality < options["least quality"]:
        least = options["least quality"]
        yield Finding("low-quality", quality, least, "of 100", REMEDY, bound=Bound.LEAST)
    blocks = blockiness(picture)
    if blocks.ratio > options["blocks"] and visible_step(picture) > options["visible step"]:
        yield Finding("blocks", blocks.ratio, options["blocks"], "x", REMEDY, bound=Bound.MOST)


rule = Rule("compression", check, OPTIONS, CODES, __doc__ or "", version="2", masters_only=True)
