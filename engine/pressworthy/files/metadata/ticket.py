"""The ticket: what a prepared copy says of how it was made, and a hash of its pixels.

It is a set of simple properties in the copy's XMP packet, in a namespace of this program's own.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import MISSING, dataclass, fields

from pressworthy.colour.tone import Tones
from pressworthy.files.metadata import xmp

NAMESPACE = xmp.NAMESPACES["ticket"]


@dataclass(frozen=True)
class Ticket:
    """How a prepared copy was made, as text, one XMP property each.

    master, master_sha256: the master's file name and the hash of its bytes.
    house, house_sha256: house profile and `House.fingerprint()`; condition, condition_sha256: the
    printing condition and `Condition.fingerprint()`, on tickets of old the hash of its ICC profile
    alone; colour: cmyk, gray or rgb.
    width, height, bleed: mm; edges: those that bleed; crop: the placement's; ppi: of the copy.
    assumed: the RGB space that a person vouched for, or "".
    sharpen: "no" where a person wanted none; gray_mix: that a person asked for; stretch: by how
    many % width and height were pulled apart, as the placement said; "" where nothing was asked.
    ink_limit: %, for which the condition's separation was made anew; "" where its own profile
    keeps to the limit, and on tickets of old.
    bare: share (0..1) of the copy where its master was transparent and the paper shows, or "".
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
    sharpen: str = ""
    gray_mix: str = ""
    stretch: str = ""
    ink_limit: str = ""
    bare: str = ""
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
        return all(getattr(self, name) == getattr(other, name) for name in _ORDER)


_ORDER = (
    "made_by", "master_sha256", "house_sha256", "condition_sha256", "colour",
    "width", "height", "bleed", "edges", "crop", "assumed",
    "sharpen", "gray_mix", "stretch", "ink_limit", "tone", "ppi",
)  # fmt: skip
_NUMBERS = ("width", "height", "bleed", "ppi", "radius", "amount")
_TAGS = {f"{{{NAMESPACE}}}{field.name}": field.name for field in fields(Ticket)}


def read_ticket(packet: bytes | None) -> Ticket | None:
    """Return the ticket in an XMP packet; None where there is none, or not a whole one."""
    if not packet or NAMESPACE.encode() not in packet:
        return None
    values: dict[str, str] = {}
    for node in xmp.properties(packet):
        if node.tag in _TAGS:
            values.setdefault(_TAGS[node.tag], node.text or "")
    whole = {field.name for field in fields(Ticket) if field.default is MISSING} <= values.keys()
    ticket = Ticket(**values) if whole else None
    return ticket if ticket and _measurable(ticket) else None


def properties(ticket: Ticket) -> list[ET.Element]:
    """Return the ticket's XMP properties, for `xmp.write`."""
    return [xmp.element(tag, getattr(ticket, name)) for tag, name in _TAGS.items()]


def _measurable(ticket: Ticket) -> bool:
    try:
        numbers = [float(getattr(ticket, name)) for name in _NUMBERS]
        numbers += [float(ticket.stretch or 0), float(ticket.bare or 0)]
        # tickets of old tell neither
        tones = [ticket.lift, *ticket.supplied.split()] if ticket.supplied else []
        numbers += map(float, tones)
    except ValueError:
        return False
    whole = len(tones) in (0, 1 + len(fields(Tones)))
    return whole and all(map(math.isfinite, numbers)) and float(ticket.ppi) > 0
