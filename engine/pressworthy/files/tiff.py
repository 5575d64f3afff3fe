"""The numbers in a TIFF's first directory (TIFF 6.0, section 2; BigTIFF by the same plan)."""

from __future__ import annotations

import os
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO

MOST_NUMBERS = 1_000_000
"""Of one tag; more are not read."""

_ORDERS = {b"II": "<", b"MM": ">"}
# BYTE, SHORT, LONG, IFD, LONG8, IFD8
_FORMS = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}


def directory(path: Path) -> Mapping[int, tuple[int, ...]]:
    """Return tag -> whole numbers; nothing where the file is no TIFF, or its directory not whole.

    Raises OSError.
    """
    with path.open("rb") as file:
        try:
            return _numbers(file)
        except struct.error:
            return {}


def _numbers(file: BinaryIO) -> Mapping[int, tuple[int, ...]]:
    start = file.read(8)
    order = _ORDERS.get(start[:2], "")
    version = struct.unpack_from(f"{order}H", start, 2)[0] if order else 0
    if version not in (42, 43):
        return {}
    big = version == 43
    # how a place, a number of entries and an entry are written
    place, many, entry = ("Q", "Q", 20) if big else ("I", "H", 12)
    if big:
        start = b"\0" * 4 + file.read(8)
    (at,) = struct.unpack_from(f"{order}{place}", start, 4)
    _go_to(file, at)
    (count,) = struct.unpack(f"{order}{many}", file.read(struct.calcsize(many)))
    entries = file.read(entry * min(count, 65_536))
    found = {}
    for first in range(0, len(entries) - entry + 1, entry):
        tag, kind, length = struct.unpack_from(f"{order}HH{place}", entries, first)
        form = f"{order}{length}{_FORMS.get(kind, '')}"
        if kind not in _FORMS or length > MOST_NUMBERS:
            continue
        inside = entries[first + entry - struct.calcsize(place) : first + entry]
        size = struct.calcsize(form)
        if size > len(inside):
            _go_to(file, struct.unpack(f"{order}{place}", inside)[0])
            inside = file.read(size)
        if len(inside) >= size:
            found[tag] = struct.unpack_from(form, inside)
    return found


def _go_to(file: BinaryIO, place: int) -> None:
    # file systems refuse places far beyond the end
    file.seek(min(place, os.fstat(file.fileno()).st_size))
