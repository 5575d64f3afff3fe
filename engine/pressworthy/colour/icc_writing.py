"""Writing ICC profiles of tone curves and colorants (ICC.1, version 2)."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lab import D50

DATE = (2025, 1, 1, 0, 0, 0)
"""In every ICC header, not the day of building: the same data give the same bytes."""

MATTE = 2
"""ICC.1, device attributes in the header: bit 1."""

VERSION = 0x02200000


def xyz_tag(values: Iterable[float]) -> bytes:
    """Return an XYZType."""
    return b"XYZ \0\0\0\0" + fixed(values)


def fixed(values: Iterable[float]) -> bytes:
    """Return s15Fixed16Numbers."""
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def curve_tag(values: NDArray[np.float64]) -> bytes:
    """Return a curveType: values 0 to 1, evenly spaced."""
    steps = np.round(np.clip(values, 0, 1) * 65535).astype(">u2").tobytes()
    return b"curv\0\0\0\0" + struct.pack(">I", len(values)) + steps


def lut_tag(nodes: NDArray[np.uint16]) -> bytes:
    """Return a lut16Type from three channels to three, with nodes (n, n, n, 3) and no curves."""
    count = len(nodes)
    head = b"mft2\0\0\0\0" + bytes((3, 3, count, 0)) + fixed(np.eye(3).ravel())
    straight = np.tile(np.array([0, 65535], ">u2"), 3).tobytes()
    return head + struct.pack(">2H", 2, 2) + straight + nodes.astype(">u2").tobytes() + straight


def text_tag(text: str) -> bytes:
    """Return a textType, ASCII only."""
    return b"text\0\0\0\0" + ascii_of(text) + b"\0"


def description_tag(text: str) -> bytes:
    """Return a textDescriptionType, ASCII only."""
    data = ascii_of(text) + b"\0"
    head = b"desc\0\0\0\0" + struct.pack(">I", len(data)) + data
    return head + bytes(4 + 4 + 2 + 1 + 67)


def named(text: str) -> dict[str, bytes]:
    """Return the tags of a profile that is made here: its name, no copyright, and white."""
    return {
        "desc": description_tag(text),
        "cprt": text_tag("no copyright"),
        "wtpt": xyz_tag(D50),
    }


def ascii_of(text: str) -> bytes:
    """Return a text in ASCII, a question mark for what that does not have."""
    return text.encode("ascii", "replace")


def icc_profile(
    kind: str,
    space: str,
    tags: Mapping[str, bytes],
    attributes: int = 0,
    version: int = VERSION,
    pcs: str = "XYZ ",
) -> bytes:
    """Return an ICC profile with the connection space `pcs`; equal tags are stored once."""
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
        version,
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


def black_ink_profile(
    curve: NDArray[np.float64],
    paper: Iterable[float],
    description: str,
    copyright_: str,
    *,
    matte: bool,
) -> bytes:
    """Return a monochrome output profile of a black ink, 0 full ink to 1 paper.

    curve: light, paper 1, at even steps of gray; paper: its XYZ, white 1.
    """
    tags = {
        "desc": description_tag(description),
        "cprt": text_tag(copyright_),
        "wtpt": xyz_tag(paper),
        "kTRC": curve_tag(curve),
    }
    return icc_profile("prtr", "GRAY", tags, MATTE if matte else 0)
