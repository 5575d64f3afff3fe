"""The ticket: what a prepared copy says of how it was made, and a hash of its pixels.

It is a set of simple properties in the copy's XMP packet (ISO 16684-1), in a namespace of this
program's own.
"""

from __future__ import annotations

import hashlib
import math
import xml.etree.ElementTree as ET
from dataclasses import MISSING, dataclass, fields
from pathlib import Path

from pressworthy.colour.tone import Tones
from pressworthy.files.opening import hash_pixels
from pressworthy.measure.metadata import MOST_XMP_BYTES
from pressworthy.measure.pixels import pixels
from pressworthy.values.picture import Picture, measurement

NAMESPACE = "https://pressworthy.invalid/ns/ticket/1.0/"
PREFIX = "ticket"
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"


@dataclass(frozen=True)
class Ticket:
    """How a prepared copy was made, as text, one XMP property each.

    master, master_sha256: the master's file name and the hash of its bytes.
    house, house_sha256: house profile and `House.fingerprint()`; condition, condition_sha256: the
    printing condition and `Condition.fingerprint()`, on tickets of old the hash of its ICC profile
    alone; colour: cmyk, gray or rgb.
    width, height, bleed: mm; edges: those that bleed; crop: the placement's; ppi: of the copy.
    assumed: the RGB space that a person vouched for, or "".
    tone: what a person asked of the tone curve, or "house"; bend: of the curve; lift: L* by which
    it moved the median; kind: of picture, see `tone.Curve`; supplied: the master's L* at the 5th,
    50th and 95th percentile, as cut. All but bend are "" on tickets of old.
    radius, amount: of the sharpening.
    pixels: hash of the decoded pixels; made_by: version of the pipeline.
    master_place: hash of the master's path as seen from the copy, "" on tickets of old; the path
    itself would tell readers of a web page how the house names its folders.
    """

    made_by: str
    master: str
    master_sha256: str
    house: str
    house_sha256: str
    condition: str
    condition_sha256: str
    colour: str
    width: str
    height: str
    bleed: str
    edges: str
    crop: str
    ppi: str
    assumed: str
    radius: str
    amount: str
    bend: str
    steps: str
    pixels: str
    master_place: str = ""
    tone: str = ""
    lift: str = ""
    kind: str = ""
    supplied: str = ""

    def tones(self) -> Tones | None:
        """Return the master's tones, None on tickets of old."""
        return Tones(*map(float, self.supplied.split())) if self.supplied else None

    def of_another_master(self, other: Ticket) -> bool:
        """Tell whether the two were made of different masters, not of two states of one."""
        if self.master_sha256 == other.master_sha256:
            return False
        return self.master != other.master or self.master_place not in ("", other.master_place)

    def same_order(self, other: Ticket) -> bool:
        """Tell whether both were made to the same order; what was measured does not count."""
        return all(getattr(self, name) == getattr(other, name) for name in ORDER)


ORDER = (
    "made_by", "master_sha256", "house_sha256", "condition_sha256", "colour",
    "width", "height", "bleed", "edges", "crop", "assumed", "tone",
    "ppi",
)  # fmt: skip
_NUMBERS = ("width", "height", "bleed", "ppi", "radius", "amount")


@measurement
def ticket(picture: Picture) -> Ticket | None:
    """Return the ticket of a prepared copy, None on any other picture."""
    return read_ticket(picture.header.xmp)


@measurement
def pixel_hash(picture: Picture) -> str:
    """Return the SHA-256 of the picture's decoded pixels, size and depth. Raises Unmeasured."""
    return hash_pixels(pixels(picture))


def read_ticket(packet: bytes | None) -> Ticket | None:
    """Return the ticket in an XMP packet; None where there is none, or not a whole one."""
    if not packet or NAMESPACE.encode() not in packet or len(packet) > MOST_XMP_BYTES:
        return None
    if b"<!DOCTYPE" in packet:
        return None
    try:
        root = ET.fromstring(packet.strip(b"\0 \n\r\t"))
    except (ET.ParseError, ValueError):
        return None
    found: dict[str, str] = {}
    for node in root.iter(_RDF + "Description"):
        for field in fields(Ticket):
            name = f"{{{NAMESPACE}}}{field.name}"
            text = node.get(name)
            text = node.findtext(name) if text is None else text
            if text is not None:
                found.setdefault(field.name, text)
    whole = {field.name for field in fields(Ticket) if field.default is MISSING} <= found.keys()
    made = Ticket(**found) if whole else None
    return made if made and _measurable(made) else None


def _measurable(made: Ticket) -> bool:
    try:
        numbers = [float(getattr(made, name)) for name in _NUMBERS]
        numbers += map(float, made.supplied.split())
    except ValueError:
        return False
    whole = len(made.supplied.split()) in (0, len(fields(Tones)))
    return whole and all(map(math.isfinite, numbers)) and float(made.ppi) > 0


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, opened for reading only. Raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
