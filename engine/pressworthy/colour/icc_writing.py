"""ICC profiles written (ICC.1:2001-04, version 2.2), from tags that are written here too."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lab import D50

DATE = (2025, 1, 1, 0, 0, 0)
"""In every ICC header, not the day of building: the same data give the same bytes."""


def xyz_tag(values: Iterable[float]) -> bytes:
    """Return an XYZType."""
    return b"XYZ \0\0\0\0" + fixed(values)


def fixed(values: Iterable[float]) -> bytes:
    """Return s15Fixed16Numbers."""
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def curve_tag(values: NDArray[np.floating]) -> bytes:
    """Return a curveType: values 0 to 1, evenly spaced."""
    steps: bytes = np.round(np.clip(values, 0, 1) * 65535).astype(">u2").tobytes()
    return b"curv\0\0\0\0" + struct.pack(">I", len(values)) + steps


def lut_tag(nodes: NDArray[np.uint16]) -> bytes:
    """Return a lut16Type from three channels to three, with nodes (n, n, n, 3) and no curves."""
    count = len(nodes)
    head = b"mft2\0\0\0\0" + bytes((3, 3, count, 0)) + fixed(np.eye(3).ravel())
    straight = np.tile(np.array([0, 65535], ">u2"), 3).tobytes()
    return head + struct.pack(">2H", 2, 2) + straight + nodes.astype(">u2").tobytes() + straight


def text_tag(text: str) -> bytes:
    """Return a textType, ASCII only."""
    return b"text\0\0\0\0" + ascii_text(text) + b"\0"


def description_tag(text: str) -> bytes:
    """Return a textDescriptionType, ASCII only."""
    data = ascii_text(text) + b"\0"
    head = b"desc\0\0\0\0" + struct.pack(">I", len(data)) + data
    return head + bytes(4 + 4 + 2 + 1 + 67)


def ascii_text(text: str) -> bytes:
    """Return text as ICC.1 version 2 holds it; what it does not know is a question mark."""
    return text.encode("ascii", "replace")


def icc_profile(
    kind: str, space: str, tags: Mapping[str, bytes], attributes: int = 0, pcs: str = "XYZ "
) -> bytes:
    """Return an ICC version 2.2 profile with the connection space `pcs`; equal tags once."""
    start = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    places: dict[bytes, int] = {}
    for name, data in tags.items():
        if data not in places:
            places[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
        table += struct.pack(">4sII", name.encode(), places[data], len(data))
    header = struct.pack(
        ">I4xI4s4s4s6H4s16xQI12s",
        start + len(body),
        0x02200000,
        kind.encode(),
        space.encode(),
        pcs.encode(),
        *DATE,
        b"acsp",
        attributes,
        1,  # media-relative colorimetric
        fixed(D50),
    )
    return header.ljust(128, b"\0") + table + body
