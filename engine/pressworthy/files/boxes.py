"""Files in boxes (ISO/IEC 14496-12): HEIC and AVIF, JPEG 2000 and JPEG XL."""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

XMP = b"application/rdf+xml"
"""What a HEIC or AVIF calls it (23008-12, annex A)."""

MOST_BOXES, MOST_BYTES = 10_000, 64_000_000
"""Of a file that are looked at, and of a box that are read."""


@dataclass(frozen=True)
class Box:
    """kind: its four letters; start, end: of its content in the file; size: of the file.

    An end beyond that stands as it is written.
    """

    kind: bytes
    start: int
    end: int
    size: int

    def content(self, file: BinaryIO) -> bytes:
        """Return what it holds, as far as it is there."""
        file.seek(min(self.start, self.size))
        return file.read(max(0, min(self.end - self.start, MOST_BYTES)))


def boxes(file: BinaryIO, start: int = 0, end: int | None = None) -> Iterator[Box]:
    """Yield the boxes from start to end, of the file where none is given."""
    size = os.fstat(file.fileno()).st_size
    end = size if end is None else min(end, size)
    for _ in range(MOST_BOXES):
        if start + 8 > end:
            return
        file.seek(start)
        head = file.read(16)
        long, kind = struct.unpack_from(">I4s", head)
        inside = start + 8
        if long == 1 and len(head) == 16:
            (long,) = struct.unpack_from(">Q", head, 8)
            inside = start + 16
        last = end if long == 0 else start + long
        if last < inside:
            return
        yield Box(kind, inside, last, size)
        start = last


def beyond_the_end(path: Path) -> str:
    """Return in words what parts of a HEIC or AVIF lie beyond its end, or "". Raises OSError.

    Its decoder fills in what is missing of a picture in tiles, as phones write it.
    """
    with path.open("rb") as file:
        for box in boxes(file):
            if box.end > box.size:
                return f"its last part ends {box.end - box.size} bytes beyond the file"
            if box.kind == b"meta":
                for inner in boxes(file, box.start + 4, box.end):
                    if inner.kind == b"iloc":
                        try:
                            lost, parts = _lost(inner.content(file), box.size)
                        except struct.error:
                            return "the list of its parts is not whole"
                        if lost:
                            return f"{lost} of its {parts} parts are missing"
    return ""


def has_packed_words(path: Path) -> bool:
    """Tell whether a HEIC or AVIF holds XMP that is compressed (8.11.6). Raises OSError."""
    with path.open("rb") as file:
        for box in boxes(file):
            for inner in boxes(file, box.start + 4, box.end) if box.kind == b"meta" else ():
                if inner.kind != b"iinf":
                    continue
                count = 2 if inner.content(file)[:1] == b"\0" else 4
                for entry in boxes(file, inner.start + 4 + count, inner.end):
                    content = entry.content(file)
                    at = 10 if content[:1] == b"\3" else 8
                    # of a mime item its name, type and encoding, each ended by a zero
                    kind, words = content[at : at + 4], content[at + 4 :].split(b"\0")
                    if kind == b"mime" and words[1:2] == [XMP] and any(words[2:3]):
                        return True
    return False


def _lost(iloc: bytes, size: int) -> tuple[int, int]:
    """Return how many parts lie beyond the file's end, and how many there are (8.11.3)."""
    version, widths = iloc[0] if iloc else 0, struct.unpack_from(">H", iloc, 4)[0]
    offset, length, base, index = (widths >> shift & 15 for shift in (12, 8, 4, 0))
    wide = version == 2
    at = 6

    def number(width: int) -> int:
        nonlocal at
        at += width
        if at > len(iloc):
            raise struct.error
        return int.from_bytes(iloc[at - width : at], "big")

    lost = parts = 0
    for _ in range(number(4 if wide else 2)):
        number(4 if wide else 2)
        # 0: places in the file, and not in another part
        in_file = not version or not number(2) & 15
        number(2)
        start = number(base)
        for _ in range(number(2)):
            if version:
                number(index)
            first = start + number(offset)
            parts += 1
            lost += in_file and first + number(length) > size
            if not in_file:
                number(length)
    return lost, parts
