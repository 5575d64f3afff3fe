"""The numbers in a TIFF's directories (TIFF 6.0, section 2; BigTIFF by the same plan)."""

from __future__ import annotations

import os
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO, NamedTuple

MOST_NUMBERS = 1_000_000
"""Of one tag; more are not read."""
MOST_DIRECTORIES = 32
"""Of one file, those in parts among them; more are not read."""

_ORDERS = {b"II": "<", b"MM": ">"}
# BYTE, SHORT, LONG, IFD, LONG8, IFD8
_FORMS = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}
_PARTS = 0x014A
Numbers = Mapping[int, tuple[int, ...]]


class _Plan(NamedTuple):
    """order: of the bytes; place, many, entry: how a place, a number of entries, an entry are."""

    order: str
    place: str
    many: str
    entry: int


def directory(path: Path) -> Numbers:
    """Return tag -> whole numbers of the first directory.

    Nothing where the file is no TIFF, or its directory not whole. Raises OSError.
    """
    with path.open("rb") as file:
        try:
            plan, first = _start(file)
            return _numbers(file, plan, first)[0] if plan else {}
        except struct.error:
            return {}


def directories(path: Path) -> tuple[Numbers, ...]:
    """Return the numbers of each directory, the parts that one points at among them.

    Those that are not whole are left out. Raises OSError.
    """
    found: list[Numbers] = []
    with path.open("rb") as file:
        try:
            plan, first = _start(file)
        except struct.error:
            return ()
        waiting, seen = [first] if plan else [], set[int]()
        while plan and waiting and len(found) < MOST_DIRECTORIES:
            place = waiting.pop(0)
            if place in seen or not place:
                continue
            seen.add(place)
            try:
                tags, following = _numbers(file, plan, place)
            except struct.error:
                continue
            found.append(tags)
            waiting += [*tags.get(_PARTS, ())[:MOST_DIRECTORIES], following]
    return tuple(found)


def _start(file: BinaryIO) -> tuple[_Plan | None, int]:
    start = file.read(8)
    order = _ORDERS.get(start[:2], "")
    version = struct.unpack_from(f"{order}H", start, 2)[0] if order else 0
    if version not in (42, 43):
        return None, 0
    big = version == 43
    plan = _Plan(order, *(("Q", "Q", 20) if big else ("I", "H", 12)))
    if big:
        start = b"\0" * 4 + file.read(8)
    return plan, int(struct.unpack_from(f"{order}{plan.place}", start, 4)[0])


def _numbers(file: BinaryIO, plan: _Plan, at: int) -> tuple[Numbers, int]:
    """Return the numbers of the directory at a place, and the next one's place, 0 for none."""
    order, place, many, entry = plan
    _go_to(file, at)
    (count,) = struct.unpack(f"{order}{many}", file.read(struct.calcsize(many)))
    entries = file.read(entry * min(count, 65_536))
    following = file.read(struct.calcsize(place))
    whole = len(following) == struct.calcsize(place)
    after = int(struct.unpack(f"{order}{place}", following)[0]) if whole else 0
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
    return found, after


def _go_to(file: BinaryIO, place: int) -> None:
    # file systems refuse places far beyond the end
    file.seek(min(place, os.fstat(file.fileno()).st_size))
