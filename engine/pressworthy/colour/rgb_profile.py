"""Writes the ICC profile of a standard RGB space (ICC.1:2010, version 2 matrix and tone curve)."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from functools import cache

import numpy as np

from pressworthy.colour.lab import D50
from pressworthy.colour.spaces import SPACES

_DATE = (2025, 1, 1, 0, 0, 0)  # fixed, so that the same space always gives the same bytes
_CURVE_POINTS = 1024


@cache
def rgb_profile(name: str) -> bytes:
    """Return the ICC profile of the space called `name`, one of `spaces.SPACES`."""
    space = SPACES[name]
    curve = np.round(np.clip(space.decode(np.linspace(0, 1, _CURVE_POINTS)), 0, 1) * 65535)
    trc = b"curv\0\0\0\0" + struct.pack(">I", _CURVE_POINTS) + curve.astype(">u2").tobytes()
    text = name.encode("ascii") + b"\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"cprt": b"text\0\0\0\0no copyright\0",
        b"wtpt": _xyz(D50),
        **{
            key: _xyz(row)
            for key, row in zip((b"rXYZ", b"gXYZ", b"bXYZ"), space.colorants, strict=True)
        },
        b"rTRC": trc,
    }
    body, table = b"", []
    start = 132 + 12 * (len(tags) + 2)
    for key, data in tags.items():
        table.append((key, start + len(body), len(data)))
        body += data + bytes(-len(data) % 4)
    # one curve serves all three channels
    table += [(key, *table[-1][1:]) for key in (b"gTRC", b"bTRC")]
    size = start + len(body)
    header = struct.pack(
        ">I4sI4s4s4s6H4s24xI12s",
        size,
        bytes(4),
        0x02400000,
        b"mntr",
        b"RGB ",
        b"XYZ ",
        *_DATE,
        b"acsp",
        1,
        _fixed(D50),
    )
    entries = b"".join(struct.pack(">4sII", *entry) for entry in table)
    return header.ljust(128, b"\0") + struct.pack(">I", len(table)) + entries + body


def _fixed(values: Iterable[float]) -> bytes:
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def _xyz(values: Iterable[float]) -> bytes:
    return b"XYZ \0\0\0\0" + _fixed(values)
