"""HEIC, as phones write it (ISO/IEC 23008-12), by libheif.

The picture that stands first is read, and neither its small ones nor its gain map or depth. libheif
turns and crops as the file says, after which EXIF's orientation counts no more (6.5.10, 6.5.12).
Bytes that were changed inside its coded data stay unseen: of 120 such files libheif 1.23 told of
one, and only where it was asked to decode strictly, which its binding does not do.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from pressworthy.files.boxes import beyond_the_end
from pressworthy.files.decoding.image import EXIF, ICC, XMP, Facts, Undecoded
from pressworthy.files.h273 import UNSPECIFIED, space_of
from pressworthy.files.memory import refuse_beyond, to_decode
from pressworthy.files.metadata.exif import resolution

_BANDS = {"L": 1, "LA": 2, "La": 2, "I": 1, "RGB": 3, "RGBA": 4, "RGBa": 4}
_FAILURES = (ValueError, RuntimeError, EOFError, SyntaxError, IndexError, TypeError)


def read(path: Path, *, pixels: bool) -> Any:
    """Return the picture as a libvips image, black where `pixels` are not asked for.

    Raises Undecoded, OSError, MachineTrouble where memory does not hold it.
    """
    if lost := beyond_the_end(path):
        raise Undecoded(lost)
    try:
        with path.open("rb") as file:
            # whole values: a shift to 16 bits would leave white short of them
            holder = _library().HeifFile(file, convert_hdr_to_8bit=False, hdr_to_16bit=False)
        picture = holder[holder.primary_index]
        facts, premultiplied = _facts(picture, len(holder))
        blank = facts.blank()
        if not pixels:
            return blank
        refuse_beyond(to_decode(blank, 1 if facts.depth <= 8 else 2))
        return facts.image(picture.data, premultiplied=premultiplied)
    except _FAILURES as error:
        raise Undecoded(str(error)) from None


@cache
def _library() -> Any:
    # half as long to import as all that `check` needs
    import pillow_heif

    # one picture a process is read at a time, and there is a process a core
    pillow_heif.options.DECODE_THREADS = 1
    pillow_heif.options.THUMBNAILS = pillow_heif.options.DEPTH_IMAGES = False
    pillow_heif.options.AUX_IMAGES = False
    return pillow_heif


def _facts(picture: Any, pages: int) -> tuple[Facts, bool]:
    mode, info = picture.mode.split(";")[0], picture.info
    exif = info.get("exif")
    facts = Facts(
        loader="heic",
        width=picture.size[0],
        height=picture.size[1],
        bands=_BANDS[mode],
        depth=int(info["bit_depth"]),
        pages=pages,
        ppi=resolution(exif),
        space=_stated(info.get("nclx_profile")),
        blocks={ICC: info.get("icc_profile"), EXIF: exif, XMP: info.get("xmp")},
    )
    return facts, mode.endswith("a")


def _stated(nclx: Any) -> str:
    """Return the RGB space that a file without ICC profile names, or its numbers."""
    if not nclx:
        return ""
    coded = int(nclx["color_primaries"]), int(nclx["transfer_characteristics"])
    if UNSPECIFIED in coded:
        return ""
    return space_of(*coded) or "nclx {} {}".format(*coded)
