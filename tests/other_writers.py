"""Pictures in the formats that libvips does not write: HEIC, JPEG 2000, JPEG XL."""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import Any

import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
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
