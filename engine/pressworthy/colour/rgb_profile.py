"""Writes the ICC profile of a standard RGB space (ICC.1:2010, version 2 matrix and tone curve)."""

from __future__ import annotations

import struct
from functools import cache

import numpy as np

from pressworthy.colour.icc_writing import DATE, fixed, xyz_tag
from pressworthy.colour.lab import D50
from pressworthy.colour.spaces import SPACES

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
        b"wtpt": xyz_tag(D50),
        **{
            key: xyz_tag(row)
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
        *DATE,
        b"acsp",
        1,
        fixed(D50),
    )
    entries = b"".join(struct.pack(">4sII", *entry) for entry in table)
    return header.ljust(128, b"\0") + struct.pack(">I", len(table)) + entries + body
