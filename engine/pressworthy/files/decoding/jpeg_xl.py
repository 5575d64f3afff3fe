"""JPEG XL (ISO/IEC 18181), by libjxl where the extra `formats` is installed.

Its binding gives colours in 8 bits; of deeper ones bits would be lost unseen, so they are not read.
libjxl turns the picture upright, after which EXIF's orientation counts no more.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import pyvips

from pressworthy.files.boxes import boxes
from pressworthy.files.decoding.image import EXIF, ICC, XMP, Facts, Undecoded
from pressworthy.files.memory import refuse_beyond, to_decode
from pressworthy.files.metadata.exif import resolution
from pressworthy.values.finding import Unmeasured

NAME = "JPEG XL"
MISSING = (
    f"{NAME}, which is read once pip install 'pressworthy[formats]' has been run; "
    "or export a TIFF or JPEG"
)
MOST_BYTES = 500_000_000
MOST_WORDS_BYTES, _PART_BYTES = 64_000_000, 1_000_000
"""Of metadata that are compressed in the file: a bomb is not unpacked."""
_WORDS = (b"Exif", b"xml ")
_CODESTREAM = b"\xff\x0a"
_TIFF = (b"II*\0", b"MM\0*")
_HEAD_BYTES = 64
_BANDS = {"L": 1, "LA": 2, "RGB": 3, "RGBA": 4}
# height is to width as these, 18181-1, D.2
_RATIOS = {1: (1, 1), 2: (12, 10), 3: (4, 3), 4: (3, 2), 5: (16, 9), 6: (5, 4), 7: (2, 1)}


class _Head(NamedTuple):
    """width, height: px as coded; bits: of a channel, 0 for floating values; frames: a film."""

    width: int
    height: int
    bits: int
    frames: bool


def read(path: Path, *, pixels: bool) -> Any:
    """Return the picture as a libvips image, whether `pixels` are asked for or not.

    Only what is decoded has its ICC profile. Raises Unmeasured for what is not read, Undecoded,
    OSError, MachineTrouble where memory does not hold it.
    """
    with path.open("rb") as file:
        blocks, start = _parts(file)
        head = _head(start)
        if head.frames:
            raise Unmeasured(f"{NAME} of several pictures; export the one that is meant as a TIFF")
        if head.bits not in range(1, 9):
            told = f"{head.bits} bits" if head.bits else "floating values"
            raise Unmeasured(f"{NAME} of {told} a channel, which is not read here; export a TIFF")
        rough = Facts("jxl", head.width, head.height, 4, 8).blank()
        refuse_beyond(to_decode(rough, 1))
        file.seek(0)
        data = file.read(MOST_BYTES)
    jpeg, info, values, icc = _decoded(data)
    if jpeg:
        return _of_jpeg(values)
    if icc[16:20] == b"CMYK":
        raise Unmeasured(f"{NAME} of inks, which is not read here; export a TIFF")
    if info.mode not in _BANDS:
        raise Unmeasured(f"{NAME} in colours that are not read here; export a TIFF")
    facts = Facts(
        loader="jxl",
        width=info.width,
        height=info.height,
        bands=_BANDS[info.mode],
        depth=8,
        ppi=resolution(blocks.get(EXIF)),
        blocks={**blocks, ICC: icc},
    )
    return facts.image(values)


def _decoded(data: bytes) -> tuple[bool, Any, bytes, bytes]:
    try:
        from pillow_jxl import Decoder
    except ImportError:
        raise Unmeasured(MISSING) from None
    try:
        jpeg, info, values, icc, _ = Decoder(num_threads=1)(data)
    except (RuntimeError, ValueError):
        # its binding only says that it failed
        raise Undecoded("libjxl cannot decode it") from None
    return bool(jpeg), info, bytes(values), bytes(icc or b"")


def _of_jpeg(values: bytes) -> Any:
    """Return the JPEG that it was made of, which comes back to the byte."""
    image = pyvips.Image.jpegload_buffer(values, fail_on="truncated").copy_memory()
    image.set_type(pyvips.GValue.gstr_type, "vips-loader", "jxl")
    return image


def _parts(file: BinaryIO) -> tuple[Mapping[str, bytes], bytes]:
    """Return the metadata and the first bytes of the codestream."""
    blocks: dict[str, bytes] = {}
    start = file.read(_HEAD_BYTES)
    if start.startswith(_CODESTREAM):
        return blocks, start
    start = b""
    for box in boxes(file):
        kind, content = box.kind, b""
        if kind in _WORDS:
            content = box.content(file)
        elif kind == b"brob":
            file.seek(box.start)
            if (kind := file.read(4)) in _WORDS:
                content = _unpacked(box.content(file)[4:])
        if kind == b"Exif":
            # some writers leave out how far on it begins (18181-2, 9.4)
            before = 0 if content[:4] in _TIFF else 4 + int.from_bytes(content[:4], "big")
            blocks[EXIF] = content[before:]
        elif kind == b"xml ":
            blocks[XMP] = content
        elif box.kind in (b"jxlc", b"jxlp") and not start:
            file.seek(box.start + (4 if box.kind == b"jxlp" else 0))
            start = file.read(_HEAD_BYTES)
    return blocks, start


def _unpacked(content: bytes) -> bytes:
    """Return what a box holds that is compressed (18181-2, 9.3; RFC 7932)."""
    try:
        import brotli
    except ImportError:
        # read without them, its maker's name would seem to be missing
        raise Unmeasured(MISSING) from None
    reader, parts, length = brotli.Decompressor(), [], 0
    try:
        while not reader.is_finished():
            part = reader.process(content, output_buffer_limit=_PART_BYTES)
            length += len(part)
            if not part or length > MOST_WORDS_BYTES:
                raise Undecoded("its compressed metadata are cut short, or far too long")
            parts.append(part)
            content = b""
    except brotli.error:
        raise Undecoded("its compressed metadata are damaged") from None
    return b"".join(parts)


class _Bits:
    """Bits of a codestream, the lowest of each byte first."""

    def __init__(self, data: bytes) -> None:
        self._value = int.from_bytes(data, "little")
        self._left = len(data) * 8

    def take(self, count: int) -> int:
        self._left -= count
        if self._left < 0:
            raise Undecoded("its head is cut short")
        value = self._value & ((1 << count) - 1)
        self._value >>= count
        return value

    def one_of(self, *kinds: tuple[int, int]) -> int:
        """Return a number plus what as many bits as its kind has add to it."""
        least, count = kinds[self.take(2)]
        return least + self.take(count)


def _head(start: bytes) -> _Head:
    """Return what the head of a codestream says (18181-1, annex D)."""
    if not start.startswith(_CODESTREAM):
        raise Undecoded("it holds no picture")
    bits = _Bits(start[2:])
    width, height = _size(bits)
    if bits.take(1):
        return _Head(width, height, 8, frames=False)
    if bits.take(1):
        bits.take(3)
        if bits.take(1):
            _size(bits)
        # a preview or a film
        if bits.take(1) or bits.take(1):
            return _Head(width, height, 8, frames=True)
    if bits.take(1):
        return _Head(width, height, 0, frames=False)
    return _Head(width, height, bits.one_of((8, 0), (10, 0), (12, 0), (1, 6)), frames=False)


def _size(bits: _Bits) -> tuple[int, int]:
    eighths = bits.take(1)

    def side() -> int:
        if eighths:
            return 8 * (1 + bits.take(5))
        return bits.one_of((1, 9), (1, 13), (1, 18), (1, 30))

    height = side()
    ratio = bits.take(3)
    if not ratio:
        return side(), height
    across, down = _RATIOS[ratio]
    return height * across // down, height
