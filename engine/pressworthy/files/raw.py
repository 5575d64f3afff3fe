"""Camera raw: what a sensor saw, known by content, and the size of the preview beside it."""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator, Mapping
from pathlib import Path

from pressworthy.files.tiff import directories

DEVELOP = "camera raw; it has to be developed first, and exported as a TIFF"
_SUBFILE, _WIDTH, _HEIGHT, _COMPRESSION, _COLOURS = 0x00FE, 0x0100, 0x0101, 0x0103, 0x0106
_PARTS, _FILTER, _OPEN_RAW = 0x014A, (0x828D, 0x828E), 0xC612
_MOSAIC = (32803, 34892)
"""Values of a sensor, by filter or linear (TIFF/EP, ISO 12234-2, and its open successor)."""

_JPEG = b"\xff\xd8\xff"
_LOSSLESS, _FRAMES = 0xC3, (0xC0, 0xC1, 0xC2)
MOST_JPEGS, MOST_SEARCHED = 200, 300_000_000


def is_raw(path: Path) -> bool:
    """Tell whether a TIFF holds what a sensor saw. Raises OSError."""
    found = directories(path)
    if any(_of_a_sensor(tags) for tags in found):
        return True
    # a developed picture may come first, reduced, with the sensor's values in a part of its own
    return bool(found and found[0].get(_SUBFILE, (0,))[0] & 1 and _PARTS in found[0])


def told(path: Path) -> str:
    """Return what a camera raw needs, with the size of its largest preview."""
    try:
        largest = max(_previews(path), key=lambda size: size[0] * size[1], default=None)
    except OSError:
        return DEVELOP
    if largest is None:
        return DEVELOP
    return f"{DEVELOP}; the preview in it has {largest[0]} x {largest[1]} px, and is not judged"


def _of_a_sensor(tags: Mapping[int, tuple[int, ...]]) -> bool:
    colours = tags.get(_COLOURS, (0,))[:1]
    return _OPEN_RAW in tags or any(tag in tags for tag in _FILTER) or colours[0] in _MOSAIC


def _previews(path: Path) -> Iterator[tuple[int, int]]:
    """Yield width and height of pictures beside the sensor's values."""
    for tags in directories(path):
        # an old JPEG's directory has its size in the JPEG
        if tags.get(_COLOURS, (0,))[0] in (2, 6) and tags.get(_COMPRESSION) != (7,):
            across, down = tags.get(_WIDTH, (0,))[0], tags.get(_HEIGHT, (0,))[0]
            if across and down and not _of_a_sensor({_COLOURS: tags[_COLOURS]}):
                yield across, down
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        at = -1
        for _ in range(MOST_JPEGS):
            at = data.find(_JPEG, at + 1, MOST_SEARCHED)
            if at < 0:
                return
            if size := _frame(data, at + 2):
                yield size


def _frame(data: mmap.mmap, at: int) -> tuple[int, int] | None:
    """Return the size of a JPEG whose segments begin at `at`; None of a sensor's, or of none."""
    while at + 9 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker in _FRAMES:
            down, across, channels = struct.unpack_from(">HHB", data, at + 5)
            return (across, down) if across and down and channels in (1, 3) else None
        if marker == _LOSSLESS or marker < 0xC0 or marker == 0xDA:
            return None
        at += 2 + int(struct.unpack_from(">H", data, at + 2)[0])
    return None
