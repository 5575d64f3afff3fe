"""JPEG 2000 (ISO/IEC 15444-1), by the decoder that comes with Pillow.

That gives colours in 8 bits and gray in 16; of deeper colours bits would be lost unseen, so they
are not read.
"""

from __future__ import annotations

import struct
import warnings
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np
from PIL import Image, UnidentifiedImageError

from pressworthy.files.boxes import Box, boxes
from pressworthy.files.decoding.image import EXIF, ICC, XMP, Facts, Undecoded
from pressworthy.files.memory import refuse_beyond, to_decode
from pressworthy.values.finding import Unmeasured

NAME = "JPEG 2000"
_BANDS = {"L": 1, "LA": 2, "I;16": 1, "RGB": 3, "RGBA": 4}
_SRGB, _GRAY, _SYCC = 16, 17, 18
_STATED = {_SRGB: "sRGB", _SYCC: "sRGB"}
_CODESTREAM = b"\xff\x4f\xff\x51"
_XMP = bytes.fromhex("be7acfcb97a942e89c71999491e3afac")
_EXIF = b"JpgTiffExif->JP2"


class _Head(NamedTuple):
    """size: px; bits: of each channel; colours: EnumCS, 0 where a profile tells, None for none."""

    size: tuple[int, int]
    bits: tuple[int, ...]
    colours: int | None
    blocks: dict[str, bytes]


def read(path: Path, *, pixels: bool) -> Any:
    """Return the picture as a libvips image, black where `pixels` are not asked for.

    Raises Unmeasured for what is not read, Undecoded, OSError, MachineTrouble.
    """
    head = _head(path)
    depth = max(head.bits)
    if head.colours not in (None, 0, _SRGB, _GRAY, _SYCC):
        raise Unmeasured(f"{NAME} in colours that are not read here; export a TIFF")
    if depth > (8 if len(head.bits) > 1 else 16):
        raise Unmeasured(f"{NAME} of {depth} bits a channel, which is not read here; export a TIFF")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(path, formats=["JPEG2000"]) as image:
                return _read(image, head, depth, pixels=pixels)
        except (UnidentifiedImageError, Image.DecompressionBombError) as error:
            raise Undecoded(str(error)) from None
        except (ValueError, SyntaxError, EOFError, struct.error) as error:
            raise Undecoded(str(error)) from None
        except OSError as error:
            if error.errno:
                raise
            raise Undecoded(str(error)) from None


def _read(image: Image.Image, head: _Head, depth: int, *, pixels: bool) -> Any:
    if image.mode not in _BANDS or image.size != head.size:
        raise Unmeasured(f"{NAME} in colours that are not read here; export a TIFF")
    across, down = (float(one) for one in image.info.get("dpi", (0, 0)))
    stated = 1 < across < 1e5 and 1 < down < 1e5
    facts = Facts(
        loader="jp2",
        width=image.width,
        height=image.height,
        bands=_BANDS[image.mode],
        depth=depth,
        ppi=(across, down) if stated else None,
        space=_STATED.get(head.colours or 0, ""),
        blocks=head.blocks,
    )
    blank = facts.blank()
    if not pixels:
        return blank
    refuse_beyond(to_decode(blank, 1 if depth <= 8 else 2))
    values = np.asarray(image)
    # Pillow moves few bits up to the top
    unused = values.dtype.itemsize * 8 - depth
    return facts.image(np.ascontiguousarray(values >> unused))


def _head(path: Path) -> _Head:
    colours: int | None = None
    blocks: dict[str, bytes] = {}
    with path.open("rb") as file:
        if file.read(4) == _CODESTREAM:
            return _Head(*_components(file, 0), None, blocks)
        for box in boxes(file):
            if box.kind == b"jp2h":
                colours = _colours(file, box, blocks)
            elif box.kind == b"uuid":
                content = box.content(file)
                name = {_XMP: XMP, _EXIF: EXIF}.get(content[:16])
                if name:
                    blocks[name] = content[16:]
            elif box.kind == b"jp2c":
                return _Head(*_components(file, box.start), colours, blocks)
    raise Undecoded("it holds no picture")


def _colours(file: BinaryIO, header: Box, blocks: dict[str, bytes]) -> int | None:
    """Return the first colr box's EnumCS (annex I.5.3.3), 0 where it is an ICC profile."""
    for box in boxes(file, header.start, header.end):
        content = box.content(file) if box.kind == b"colr" else b""
        if content[:1] == b"\1" and len(content) >= 7:
            return int(struct.unpack_from(">I", content, 3)[0])
        if content[:1] in (b"\2", b"\3"):
            blocks[ICC] = content[3:]
            return 0
    return None


def _components(file: BinaryIO, start: int) -> tuple[tuple[int, int], tuple[int, ...]]:
    """Return size and bits a channel of a codestream (annex A.5.1)."""
    file.seek(start)
    size = file.read(42)
    try:
        across, down, left, top = struct.unpack_from(">4I", size, 8)
        count = struct.unpack_from(">H", size, 40)[0]
    except struct.error:
        raise Undecoded("its head is cut short") from None
    if not size.startswith(_CODESTREAM) or not 0 < count <= 5:
        raise Undecoded("its head is damaged")
    parts = file.read(3 * count)
    if len(parts) < 3 * count:
        raise Undecoded("its head is cut short")
    return (across - left, down - top), tuple((bits & 0x7F) + 1 for bits in parts[::3])
