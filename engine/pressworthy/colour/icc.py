"""Reading an ICC profile's structure (ICC.1:2022 clause 7), without trusting a byte of it."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

MOST_PROFILE_BYTES = 16_000_000
CLASSES = {
    "scnr": "input",
    "mntr": "display",
    "prtr": "output",
    "spac": "colour space",
    "link": "device link",
    "abst": "abstract",
    "nmcl": "named colour",
}
SPACES = {"RGB ": "RGB", "CMYK": "CMYK", "GRAY": "gray", "Lab ": "Lab", "XYZ ": "XYZ"}
Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


class DamagedProfile(Exception):  # noqa: N818 - names the finding
    """The bytes are no usable ICC profile; the message tells what is wrong."""


@dataclass(frozen=True)
class IccProfile:
    """An ICC profile's header and tag table.

    kind: its class; space: colour space of its device side; pcs: XYZ or Lab; version: e.g. 4.3.
    """

    data: bytes = field(repr=False)
    kind: str
    space: str
    pcs: str
    version: str
    tags: dict[str, tuple[int, int]] = field(repr=False)

    def tag(self, name: str) -> bytes:
        """Return a tag's bytes, or nothing where the profile has no such tag."""
        offset, size = self.tags.get(name, (0, 0))
        return self.data[offset : offset + size]

    def description(self) -> str:
        """Return the profile's own description text, control characters left out."""
        raw = self.tag("desc")
        text = ""
        if raw[:4] == b"desc" and len(raw) >= 12:
            size = struct.unpack(">I", raw[8:12])[0]
            text = raw[12 : 12 + min(size, 1000)].split(b"\0")[0].decode("latin-1")
        elif raw[:4] == b"mluc" and len(raw) >= 28:
            size, offset = struct.unpack(">II", raw[20:28])
            text = raw[offset : offset + min(size, 2000)].decode("utf-16-be", "replace")
        return "".join(c for c in text if c.isprintable()).strip()

    def xyz(self, name: str) -> NDArray[np.float64] | None:
        """Return an XYZ tag's first three numbers (PCS, D50), or None."""
        raw = self.tag(name)
        if raw[:4] != b"XYZ " or len(raw) < 20:
            return None
        return np.array(struct.unpack(">3i", raw[8:20])) / 65536

    def colorants(self) -> NDArray[np.float64] | None:
        """Return the RGB colorants as rows R, G, B of XYZ (PCS, D50), or None."""
        rows = [row for row in map(self.xyz, ("rXYZ", "gXYZ", "bXYZ")) if row is not None]
        return np.array(rows) if len(rows) == 3 else None

    def tone_curve(self, name: str) -> Curve | None:
        """Return a TRC tag as a function from device values 0..1 to linear 0..1, or None."""
        return read_curve(self.tag(name))


def parse(data: bytes) -> IccProfile:
    """Return the profile in `data`. Raises DamagedProfile."""
    if len(data) < 132:
        raise DamagedProfile(f"{len(data)} bytes are too few for an ICC profile")
    if len(data) > MOST_PROFILE_BYTES:
        raise DamagedProfile(f"{len(data)} bytes are more than any ICC profile in use")
    size = struct.unpack(">I", data[:4])[0]
    if data[36:40] != b"acsp":
        raise DamagedProfile("the signature 'acsp' is missing")
    if size > len(data):
        raise DamagedProfile(f"it states {size} bytes and has {len(data)}")
    kind, space = data[12:16].decode("latin-1"), data[16:20].decode("latin-1")
    if kind not in CLASSES:
        raise DamagedProfile(f"its class {kind!r} is unknown")
    count = struct.unpack(">I", data[128:132])[0]
    if count > 200 or 132 + 12 * count > len(data):
        raise DamagedProfile(f"its table of {count} tags does not fit")
    tags = {}
    for i in range(count):
        name, offset, length = struct.unpack(">4sII", data[132 + 12 * i : 144 + 12 * i])
        if offset + length > len(data) or offset < 128:
            raise DamagedProfile(f"its tag {name.decode('latin-1')!r} lies outside the profile")
        tags[name.decode("latin-1")] = (offset, length)
    return IccProfile(
        data=data,
        kind=CLASSES[kind],
        space=SPACES.get(space, space.strip()),
        pcs=SPACES.get(data[20:24].decode("latin-1"), "?"),
        version=f"{data[8]}.{data[9] >> 4}",
        tags=tags,
    )


def read_curve(raw: bytes) -> Curve | None:
    """Return a curve (curveType or parametricCurveType) at the start of `raw`, or None."""
    if raw[:4] == b"curv" and len(raw) >= 12:
        count = struct.unpack(">I", raw[8:12])[0]
        if count > 65536 or len(raw) < 12 + 2 * count:
            return None
        table = np.frombuffer(raw, ">u2", count, 12).astype(np.float64)
        if count == 0:
            return lambda v: v
        if count == 1:
            gamma = float(table[0]) / 256
            return lambda v: v**gamma
        return lambda v: np.interp(v, np.linspace(0, 1, count), table / 65535)
    if raw[:4] == b"para" and len(raw) >= 16:
        shape = struct.unpack(">H", raw[8:10])[0]
        wanted = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}.get(shape)
        if wanted is None or len(raw) < 12 + 4 * wanted:
            return None
        return _parametric(shape, [p / 65536 for p in struct.unpack_from(f">{wanted}i", raw, 12)])
    return None


def _parametric(shape: int, p: list[float]) -> Curve | None:
    """ICC.1:2022 table 68: y = (ax + b)^g + e from d on, cx + f below."""
    g, a, b, c, d, e, f = (*p, *[0.0] * (7 - len(p)))
    if shape == 0:
        a, d = 1.0, 0.0
    elif shape in (1, 2):
        if a == 0:
            return None
        # c stands for the offset added on both sides in shape 2
        c, d, e, f = 0.0, -b / a, c, c
    return lambda v: np.where(v >= d, np.maximum(a * v + b, 0) ** g + e, c * v + f)
