"""The XMP packet of a prepared copy: what its master says of the picture, and the ticket."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Collection, Mapping

from pressworthy.files.metadata import ticket as tickets
from pressworthy.files.metadata import words as wording
from pressworthy.files.metadata import xmp
from pressworthy.files.metadata.ticket import Ticket
from pressworthy.files.metadata.words import FIELDS, XMP_NAMES, Words

DESCRIPTIVE = frozenset(
    xmp.NAMESPACES[prefix]
    for prefix in ("dc", "photoshop", "xmpRights", "Iptc4xmpCore", "Iptc4xmpExt", "plus")
)
"""Namespaces whose properties say what a picture shows and whose it is (IPTC Photo Metadata
Standard). Everything else in a master's packet tells of its file or camera and stays behind."""

TECHNICAL = frozenset(
    xmp.tag(name)
    for name in (
        "dc:format",
        "photoshop:ColorMode",
        "photoshop:ICCProfile",
        "photoshop:History",
        "photoshop:DocumentAncestors",
    )
)
"""Properties in those namespaces that describe the master's file and not its content."""


def packet(
    master: bytes | None,
    words: Words,
    ticket: Ticket,
    position: Mapping[str, str],
    without: Collection[str] = (),
) -> bytes:
    """Return an XMP packet. The same arguments give the same bytes.

    master: the master's packet; words: what its other records say, taken where the packet is
    silent; position: XMP GPS properties to keep, by name; without: tags of the master's properties
    that are left out, see `largest`.
    """
    kept = [node for node in _descriptive(master) if node.tag not in without]
    present = {node.tag for node in kept}
    silent = [name for name in FIELDS if XMP_NAMES[name] not in present and words.get(name)]
    return xmp.write(
        [
            *kept,
            *wording.properties({name: words.get(name) for name in silent}),
            *(xmp.element(xmp.tag(f"exif:{name}"), value) for name, value in position.items()),
            *tickets.properties(ticket),
        ]
    )


def largest(master: bytes | None, without: Collection[str]) -> str:
    """Return the tag of the largest property of a master's packet that can be left out, or "".

    What every publisher needs, creator and credit to caption, cannot.
    """
    kept = {*XMP_NAMES.values(), *without}
    nodes = [node for node in _descriptive(master) if node.tag not in kept]
    return max(nodes, key=lambda node: len(ET.tostring(node))).tag if nodes else ""


def _descriptive(master: bytes | None) -> list[ET.Element]:
    kept: dict[str, ET.Element] = {}
    for node in xmp.properties(master):
        if node.tag[1:].partition("}")[0] in DESCRIPTIVE and node.tag not in TECHNICAL:
            kept.setdefault(node.tag, node)
    return list(kept.values())
