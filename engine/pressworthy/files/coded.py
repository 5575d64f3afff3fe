"""Whether a file's coded pixels are whole, where no reader tells: JPEG scans, TIFF strips.

A JPEG of one scan holds no sum and no length. Once bits are lost, a decoder reads on out of step,
and data are left over or run out at the picture's end. So its frame is written a row of blocks
higher than it is: where the data are whole, they end at the picture's own last row, and the decoder
fills the row below with nothing (ITU-T T.81, annexes B, F and G).
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from pressworthy.files.tiff import directory

MOST_JPEG_BYTES, LEAST_WIDE = 500_000_000, 64
"""A larger JPEG is not held in memory; of one of fewer px across the end shows too little."""

_HEADINGS = re.compile("Invalid SOS parameters|Unknown Adobe|JFIF revision")
_BETWEEN, _MOST_BETWEEN = re.compile(r"(\d+) extraneous bytes"), 99
_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, *range(0xC5, 0xC8), *range(0xC9, 0xCC), *range(0xCD, 0xD0)}
_PLAIN_FRAMES = (0xC0, 0xC1)
_PROGRESSIVE = 0xC2
_BARE = {0x01, *range(0xD0, 0xD9)}
_NEXT = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
"""The marker that ends a scan's data: none of a stuffed byte, a restart or filling."""
_PADDING = re.compile(rb"(\x00{3,}|\xff{3,})\Z")
_COMPRESSION, _OLD_JPEG = 259, (6,)
_STRIPS, _TILES = (273, 279), (324, 325)


@dataclass(frozen=True)
class Lengthened:
    """A JPEG whose frame is written higher, so that it has rows below its own.

    data: of the file; width, height: px of the picture; block: px of one unit of its scan (across,
    down); start: of the scan's data in the file.
    """

    data: bytearray
    width: int
    height: int
    block: tuple[int, int]
    start: int

    def end(self) -> int:
        """Return in which row, in px, the picture's own blocks end."""
        down = self.block[1]
        return -(-self.height // down) * down

    def has_left_over(self, below: NDArray[Any]) -> bool:
        """Tell whether picture data are decoded below the picture's own last row.

        below: the rows of blocks there, a px for each of 8 x 8, (rows, columns, channels).
        """
        # the last bits' filling makes a first block
        rows = below[:, self.block[0] // 8 :]
        return bool((rows != below[-1, -1]).any()) and not self._is_padded()

    def may_run_out(self, last: NDArray[Any], below: NDArray[Any]) -> bool:
        """Tell whether the picture's last row of blocks may end in what the decoder has filled in.

        last: that row, as `below`.
        """
        return bool((last[-1, -1] == below[-1, -1]).all())

    def is_exact(self) -> bool:
        """Tell whether the picture's own rows are those of the file as it is, to the last.

        Colours that are coarser downwards are smoothed with those of the row below.
        """
        return self.block[1] == 8

    def told_at(self) -> int:
        """Return how many rows libvips reads, 8 at a time, until all the picture's data are decoded
        and none of what follows.

        Where colours are coarser downwards, the decoder is a row of blocks ahead at the last 8.
        """
        return self.end() - (0 if self.block[1] == 8 else 8)

    def _is_padded(self) -> bool:
        # cameras write a few bytes of filling after the scan
        end = _NEXT.search(self.data, self.start)
        return bool(_PADDING.search(self.data[self.start : end.start() if end else None]))


def lengthened(path: Path) -> Lengthened | None:
    """Return a JPEG of one scan, without restarts, with its frame written higher; None of others.

    Restarts, and the scans of others, are kept count of by the decoder. Raises OSError.
    """
    if path.stat().st_size > MOST_JPEG_BYTES:
        return None
    data = bytearray(path.stat().st_size)
    with path.open("rb") as file:
        file.readinto(data)
    try:
        return _lengthened(data)
    except (IndexError, struct.error):
        # a segment that ends too soon; the decoder has its own say on it
        return None


def _lengthened(data: bytearray) -> Lengthened | None:
    place = height = width = counts = start = 0
    blocks = 0, 0
    for marker, at, end in _segments(data):
        if marker == 0xDD and any(data[at : at + 2]):
            return None
        if marker in _FRAMES:
            if marker not in _PLAIN_FRAMES or data[at] != 8:
                return None
            height, width, counts = struct.unpack_from(">HHB", data, at + 1)
            factors = [data[at + 7 + 3 * i] for i in range(counts)] or [0]
            most = max(f >> 4 for f in factors), max(f & 15 for f in factors)
            # one component alone is coded block by block, whatever its factors
            blocks = (8, 8) if counts == 1 else (8 * most[0], 8 * most[1])
            place = at + 1
        if marker == 0xDA:
            # what is not coded in one scan is kept count of
            start = end if data[at] == counts else 0
            break
    if not start or not height or width < LEAST_WIDE or not {*blocks} <= {8, 16}:
        return None
    tall = (-(-height // blocks[1]) + 1) * blocks[1]
    if tall > 65_500:
        return None
    struct.pack_into(">H", data, place, tall)
    return Lengthened(data, width, height, blocks, start)


def is_of_no_weight(warning: str) -> bool:
    """Tell whether a JPEG reader's warning is of what honest cameras and programs write.

    That is an odd heading, or a few bytes between segments.
    """
    between = _BETWEEN.search(warning)
    return bool(_HEADINGS.search(warning) or (between and int(between[1]) <= _MOST_BETWEEN))


def segments_of(path: Path, wanted: int) -> list[bytes]:
    """Return the contents of a JPEG's segments of one marker, before its first scan.

    Raises OSError.
    """
    data = path.read_bytes()
    found = []
    for marker, at, end in _segments(data):
        if marker == 0xDA:
            break
        if marker == wanted:
            found.append(data[at:end])
    return found


def lost_scans(path: Path) -> str:
    """Return which scans of a progressive JPEG are not there, in words, or "". Raises OSError.

    Each component's coefficients must have come down to their last bit (T.81, G.1.1.1).
    """
    try:
        return _lost_scans(path.read_bytes())
    except (IndexError, ValueError):
        # as above
        return ""


def _lost_scans(data: bytes) -> str:
    known: dict[int, set[int]] = {}
    for marker, at, _ in _segments(data):
        if marker in _FRAMES:
            if marker != _PROGRESSIVE:
                return ""
            known = {data[at + 6 + 3 * i]: set() for i in range(data[at + 5])}
        if marker == 0xDA:
            count = data[at]
            first, last, bits = data[at + 1 + 2 * count : at + 4 + 2 * count]
            if not bits & 15:
                for i in range(count):
                    known.get(data[at + 1 + 2 * i], set()).update(range(first, last + 1))
    whole = all(len(coefficients) == 64 for coefficients in known.values())
    return "" if whole else "its last scans are missing"


def lost_strips(path: Path) -> str:
    """Return which strips or tiles of a TIFF are not there, in words, or "". Raises OSError."""
    size, tags = path.stat().st_size, directory(path)
    name, kept = ("tiles", _TILES) if _TILES[0] in tags else ("strips", _STRIPS)
    at, long = (tags.get(tag, ()) for tag in kept)
    if tags.get(_COMPRESSION) == _OLD_JPEG or len(at) != len(long) or len(at) < 2:
        # one strip's length may be left open, and is then reckoned by the reader
        return ""
    lost = sum(
        not (start >= 8 and 0 < count <= size - start)
        for start, count in zip(at, long, strict=True)
    )
    return f"{lost} of its {len(at)} {name} are missing" if lost else ""


def _segments(data: bytes | bytearray) -> Iterator[tuple[int, int, int]]:
    """Yield marker, start and end of each segment's content up to the picture's end."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF or marker in _BARE:
            at += 1 if marker == 0xFF else 2
            continue
        if marker == 0xD9:
            return
        end = at + 2 + struct.unpack_from(">H", data, at + 2)[0]
        if end > len(data):
            return
        yield marker, at + 4, end
        at = end
        if marker == 0xDA:
            found = _NEXT.search(data, at)
            if not found:
                return
            at = found.end() - 2
