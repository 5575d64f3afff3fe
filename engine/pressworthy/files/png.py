"""What a PNG says of its colours beside an ICC profile (PNG, third edition, W3C 2025, 11.3.2)."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from pathlib import Path

from pressworthy.files.h273 import space_of

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_WANTED = (b"cICP", b"iCCP", b"sRGB", b"gAMA", b"cHRM")
MOST_BYTES = 1000
"""Of a chunk that is read; an ICC profile is longer, and is read elsewhere."""

_D65 = (0.3127, 0.329)
# x and y of white, red, green, blue, by the spaces' standards; gAMA is 1 over the exponent
_PRIMARIES = {
    "sRGB": ((*_D65, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06), 2.2),
    "opRGB": ((*_D65, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06), 563 / 256),
    "Display P3": ((*_D65, 0.68, 0.32, 0.265, 0.69, 0.15, 0.06), 2.2),
    "ROMM RGB": ((0.3457, 0.3585, 0.7347, 0.2653, 0.1596, 0.8404, 0.0366, 0.0001), 1.8),
}
_NEAR = 0.002


def stated_space(path: Path) -> str:
    """Return the RGB space that a PNG names: by cICP, which goes before its ICC profile, or, where
    it has no profile, by sRGB, or by gAMA and cHRM; "" where it names none. Raises OSError.

    A cICP of a space without a name here is told by its numbers.
    """
    chunks = _chunks(path)
    if len(code := chunks.get(b"cICP", b"")) == 4:
        primaries, transfer, matrix, full = code
        known = space_of(primaries, transfer) if (matrix, full) == (0, 1) else ""
        return known or f"cICP {primaries} {transfer} {matrix} {full}"
    if b"iCCP" in chunks:
        return ""
    if b"sRGB" in chunks:
        return "sRGB"
    gamma, points = chunks.get(b"gAMA", b""), chunks.get(b"cHRM", b"")
    if len(gamma) != 4 or len(points) != 32:
        return ""
    exponent = struct.unpack(">I", gamma)[0] / 100_000
    xy = [value / 100_000 for value in struct.unpack(">8I", points)]
    for name, (wanted, power) in _PRIMARIES.items():
        differences = [abs(a - b) for a, b in zip(xy, wanted, strict=True)]
        if max(differences) <= _NEAR and abs(exponent * power - 1) <= _NEAR * 5:
            return name
    return ""


def _chunks(path: Path) -> Mapping[bytes, bytes]:
    """Return type -> content of the chunks before the pixels that tell of colours."""
    found: dict[bytes, bytes] = {}
    with path.open("rb") as file:
        if file.read(8) != _SIGNATURE:
            return found
        while len(head := file.read(8)) == 8:
            length, kind = struct.unpack(">I4s", head)
            if kind in (b"IDAT", b"IEND"):
                break
            body = file.read(min(length, MOST_BYTES)) if kind in _WANTED else b""
            if kind in _WANTED:
                found.setdefault(kind, body)
            file.seek(length - len(body) + 4, 1)
    return found
