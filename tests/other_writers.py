"""Pictures in the formats that libvips does not write: HEIC, JPEG 2000, JPEG XL."""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.boxes import Box, boxes
from pressworthy.testing import CREDITED, xmp

P3 = rgb_profile("Display P3")
XMP_BOX = bytes.fromhex("be7acfcb97a942e89c71999491e3afac")


def exif(**tags: Any) -> bytes:
    block = Image.Exif()
    block[0x011A], block[0x011B], block[0x0128] = 240.0, 240.0, 2
    block.update({0x0112: tags.get("orientation", 1)})
    return block.tobytes()


def as_heic(
    path: Path, values: NDArray[Any], *, quality: int = 95, tiles: int = 0, **more: Any
) -> Path:
    """Write a HEIC of (height, width, 1, 3 or 4) uint8, or of uint16 kept in 10 bits.

    tiles: px of a side of each, as phones write them, 0 for none.
    """
    mode = {1: "L", 3: "RGB", 4: "RGBA"}[values.shape[2]] + (";16" if values.itemsize == 2 else "")
    size = values.shape[1], values.shape[0]
    more = {"icc_profile": P3, "exif": exif(), "xmp": xmp(CREDITED), **more}
    if tiles:
        # older ones write no tiles
        pillow_heif.options.GRID_TILE_SIZE = tiles
    try:
        pillow_heif.encode(
            mode, size, values.tobytes(), str(path), quality=quality, chroma=444, **more
        )
    finally:
        if tiles:
            pillow_heif.options.GRID_TILE_SIZE = 0
    return path


def as_jp2(path: Path, values: NDArray[Any], *, icc: bytes | None = P3) -> Path:
    """Write a JPEG 2000, lossless, with its ICC profile and XMP in boxes of their own."""
    held = io.BytesIO()
    Image.fromarray(values.squeeze()).save(held, "JPEG2000")
    data = held.getvalue()
    if icc:
        at = data.index(b"colr") - 4
        length = int.from_bytes(data[at : at + 4], "big")
        colours = struct.pack(">I4s3B", 11 + len(icc), b"colr", 2, 0, 0) + icc
        head = data.index(b"jp2h") - 4
        longer = int.from_bytes(data[head : head + 4], "big") + len(colours) - length
        data = data[:head] + struct.pack(">I", longer) + data[head + 4 : at] + colours + data[
            at + length :
        ]  # fmt: skip
    packet = XMP_BOX + xmp(CREDITED)
    codestream = data.index(b"jp2c") - 4
    box = struct.pack(">I4s", 8 + len(packet), b"uuid") + packet
    path.write_bytes(data[:codestream] + box + data[codestream:])
    return path


def as_jxl(path: Path, values: NDArray[Any]) -> Path:
    pytest.importorskip("pillow_jxl")
    picture = Image.fromarray(values.squeeze())
    picture.save(path, "JXL", lossless=True, exif=exif(), xmp=xmp(CREDITED), effort=3)
    return path


Part = tuple[bytes, bytes, list[bytes]]
"""An item of a file in boxes: its type, its data, its properties as boxes."""


def as_phones_write_it(path: Path, values: NDArray[Any], how: str) -> Path:
    """Write a HEIC of (height, width, 3) uint16 in 10 bits with lesser pictures beside it.

    how: ``auxiliary``, a gain map that an `auxl` reference ties to the picture, or ``derived``, one
    that a `tmap` item lays on it, which stands beside the picture as its other form (ISO 21496-1,
    in the boxes of ISO/IEC 23008-12). Both have a thumbnail and a map of depth besides.
    """
    small = np.ascontiguousarray(values[::4, ::4])
    other = np.ascontiguousarray(255 - (small[..., :1] >> 8).astype(np.uint8))
    pictures = [_coded(path, values), *(_coded(path, one) for one in (other, small, other))]
    for picture, kind in ((pictures[1], GAIN_MAP), (pictures[3], DEPTH_MAP)):
        picture[2].append(_box(b"auxC", bytes(4), kind + b"\0"))
    references = [(b"thmb", 3, [1]), (b"auxl", 4, [1])]
    groups = b""
    if how == "auxiliary":
        references.append((b"auxl", 2, [1]))
    else:
        # versions, one channel in the base's colours; headroom without and with the map; of its
        # gain the least, the most, gamma and two offsets
        fractions = *(0, 1), *(2, 1), *(0, 1), *(2, 1), *(1, 1), *(0, 1), *(0, 1)
        tone_map = bytes(5) + b"\x40" + struct.pack(">14I", *fractions)
        pictures[1][2].pop()
        pictures.append((b"tmap", tone_map, [one for one in pictures[0][2] if one[4:8] == b"ispe"]))
        references.append((b"dimg", 5, [1, 2]))
        groups = _box(b"grpl", _box(b"altr", bytes(4), struct.pack(">4I", 9, 2, 5, 1)))
    path.write_bytes(_assembled(pictures, references, groups, hidden={2}))
    return path


GAIN_MAP = b"urn:iso:std:iso:ts:21496:-1"
DEPTH_MAP = b"urn:mpeg:hevc:2015:auxid:2"


def _box(kind: bytes, *parts: bytes) -> bytes:
    content = b"".join(parts)
    return struct.pack(">I4s", 8 + len(content), kind) + content


def _coded(path: Path, values: NDArray[Any]) -> Part:
    """Return a picture as an item, as libheif codes it. path: overwritten."""
    data = as_heic(path, values, exif=None, xmp=None).read_bytes()
    with path.open("rb") as file:
        (meta,) = (one for one in boxes(file) if one.kind == b"meta")
        inner = {one.kind: one for one in boxes(file, meta.start + 4, meta.end)}
        (held,) = (one for one in boxes(file, *_span(inner[b"iprp"])) if one.kind == b"ipco")
        found = {one.kind: (one.start - 8, one.end) for one in boxes(file, *_span(held))}
        (content,) = (one for one in boxes(file) if one.kind == b"mdat")
        coded = data[content.start : content.end]
    return b"hvc1", coded, [data[start:end] for start, end in found.values()]


def _span(box: Box) -> tuple[int, int]:
    return box.start, box.end


def _assembled(
    items: list[Part],
    references: list[tuple[bytes, int, list[int]]],
    groups: bytes,
    hidden: set[int],
) -> bytes:
    """Return a HEIC of items numbered from 1, of which the first is the picture."""
    entries, owned = b"", b""
    properties: list[bytes] = []
    for number, (kind, _, own) in enumerate(items, 1):
        head = struct.pack(">IHH4s", 2 << 24 | (number in hidden), number, 0, kind)
        entries += _box(b"infe", head + b"\0")
        places = [len(properties) + i for i in range(1, len(own) + 1)]
        properties += own
        owned += struct.pack(">HB", number, len(own))
        # a decoder must know its settings
        owned += bytes(
            place | 0x80 * (one[4:8] == b"hvcC") for place, one in zip(places, own, strict=True)
        )
    refer = b"".join(
        _box(kind, struct.pack(f">{2 + len(to)}H", one, len(to), *to))
        for kind, one, to in references
    )

    def meta(start: int) -> bytes:
        at, where = start, b""
        for number, (_, data, _) in enumerate(items, 1):
            where += struct.pack(">HHHII", number, 0, 1, at, len(data))
            at += len(data)
        return _box(
            b"meta",
            bytes(4),
            _box(b"hdlr", bytes(8), b"pict", bytes(13)),
            _box(b"pitm", bytes(4), struct.pack(">H", 1)),
            _box(b"iloc", bytes(4), b"\x44\0", struct.pack(">H", len(items)), where),
            _box(b"iinf", bytes(4), struct.pack(">H", len(items)), entries),
            _box(b"iref", bytes(4), refer),
            _box(b"iprp", _box(b"ipco", *properties),
                 _box(b"ipma", bytes(4), struct.pack(">I", len(items)), owned)),
            groups,
        )  # fmt: skip

    start = _box(b"ftyp", b"heix", bytes(4), b"mif1heicheixtmap")
    data_at = len(start) + len(meta(0)) + 8
    return start + meta(data_at) + _box(b"mdat", *(data for _, data, _ in items))
