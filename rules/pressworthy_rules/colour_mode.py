"""What kind of file it is: colour mode, bit depth, transparency, turned by a flag, several pages.

A page program or a press may silently do the wrong thing with each: flatten transparency on
black, ignore the flag that turns a picture upright, print the wrong page of a file.

Put it right: save a plain copy: one picture, upright, opaque, in a mode the house takes.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

OPTIONS = {
    "modes": {
        "type": "array",
        "items": {"enum": ["RGB", "CMYK", "gray", "Lab"]},
        "minItems": 1,
        "description": "the colour modes that pictures may be delivered in",
    },
    "depths": {
        "type": "array",
        "items": {"enum": [1, 8, 16, 32]},
        "minItems": 1,
        "description": "bits a channel that pictures may have",
    },
}
CODES = {
    "wrong-mode": "a colour mode the house does not take",
    "wrong-depth": "a bit depth the house does not take",
    "transparent": "it has an alpha channel",
    "turned-by-flag": "it is turned upright only by its orientation flag",
    "several-pages": "the file holds more than one picture",
    "misnamed": "the file name promises another format",
}
SUFFIXES = {
    ".jpg": {"JPEG"}, ".jpeg": {"JPEG"}, ".jpe": {"JPEG"}, ".jfif": {"JPEG"},
    ".tif": {"TIFF"}, ".tiff": {"TIFF"}, ".png": {"PNG"}, ".webp": {"WebP"},
    ".heic": {"HEIC"}, ".heif": {"HEIC", "AVIF"}, ".avif": {"AVIF"},
}  # fmt: skip


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    header = picture.header
    if header.mode not in options["modes"]:
        yield Finding(
            "wrong-mode",
            header.mode,
            ", ".join(options["modes"]),
            remedy="Ask for the picture in one of these modes, with its ICC profile.",
        )
    if header.depth not in options["depths"]:
        yield Finding(
            "wrong-depth",
            header.depth,
            ", ".join(map(str, options["depths"])),
            "bits",
            "Ask for the original at a depth the house takes; a deeper copy of it adds nothing.",
        )
    if header.alpha:
        yield Finding(
            "transparent",
            "alpha channel",
            "opaque",
            remedy="Flatten a copy on the page's own background and look at its edges.",
        )
    if header.orientation != 1:
        yield Finding(
            "turned-by-flag",
            f"orientation {header.orientation}",
            "orientation 1",
            remedy="Turn the pixels of a copy upright; some programs ignore the flag.",
        )
    if header.pages > 1:
        yield Finding(
            "several-pages",
            header.pages,
            1,
            "pictures",
            "Save the picture that is meant as a file of its own; only the first was checked.",
        )
    promised = SUFFIXES.get(Path(picture.path).suffix.lower())
    if promised and header.format not in promised:
        yield Finding(
            "misnamed",
            header.format,
            " or ".join(sorted(promised)),
            remedy="Give the file the suffix of what it is.",
        )


rule = Rule("colour-mode", check, OPTIONS, CODES, __doc__ or "")
