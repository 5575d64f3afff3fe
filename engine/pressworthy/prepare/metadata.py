"""The words a prepared copy carries: the master's, and the ticket, as XMP and IPTC-IIM."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Collection
from dataclasses import fields

from pressworthy.measure.metadata import FIELDS, MOST_XMP_BYTES, XMP_NAMES, Words, iim_records
from pressworthy.measure.ticket import NAMESPACE, PREFIX, Ticket

_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_META = "adobe:ns:meta/"  # the wrapper ISO 16684-1 allows
_XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"
_EXIF = "http://ns.adobe.com/exif/1.0/"

DESCRIPTIVE = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
    "plus": "http://ns.useplus.org/ldf/xmp/1.0/",
}
"""Namespaces whose properties say what a picture shows and whose it is (IPTC Photo Metadata
Standard). Everything else in a master's packet tells of its file or camera and stays behind."""

TECHNICAL = {
    f"{{{DESCRIPTIVE['dc']}}}format",
    f"{{{DESCRIPTIVE['photoshop']}}}ColorMode",
    f"{{{DESCRIPTIVE['photoshop']}}}ICCProfile",
    f"{{{DESCRIPTIVE['photoshop']}}}History",
    f"{{{DESCRIPTIVE['photoshop']}}}DocumentAncestors",
}
"""Properties in those namespaces that describe the master's file and not its content."""

MOST_BYTES = {"JPEG": 60_000}
"""Of a packet, by format: a JPEG holds it in one segment, and libvips drops what is longer."""

for _prefix, _uri in {
    **DESCRIPTIVE, PREFIX: NAMESPACE, "rdf": _RDF, "x": _META, "exif": _EXIF,
}.items():  # fmt: skip
    ET.register_namespace(_prefix, _uri)


def packet(
    master: bytes | None,
    words: Words,
    ticket: Ticket,
    position: dict[str, str],
    without: Collection[str] = (),
) -> bytes:
    """Return an XMP packet. The same arguments give the same bytes.

    master: the master's packet; words: what its other records say, taken where the packet is
    silent; position: XMP GPS properties to keep, by name; without: the master's properties that
    are left out, see `largest`.
    """
    meta = ET.Element(f"{{{_META}}}xmpmeta")
    rdf = ET.SubElement(meta, f"{{{_RDF}}}RDF")
    body = ET.SubElement(rdf, f"{{{_RDF}}}Description", {f"{{{_RDF}}}about": ""})
    for node in _descriptive(master or b""):
        if node.tag not in without:
            body.append(node)
    present = {node.tag for node in body}
    for name in FIELDS:
        text = words.get(name)
        if text and XMP_NAMES[name] not in present:
            body.append(_word(name, _allowed(text)))
    for name, value in position.items():
        ET.SubElement(body, f"{{{_EXIF}}}{name}").text = value
    for field in fields(Ticket):
        node = ET.SubElement(body, f"{{{NAMESPACE}}}{field.name}")
        node.text = _allowed(getattr(ticket, field.name))
    written: bytes = ET.tostring(meta, "utf-8")
    start = b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    return start + written + b'\n<?xpacket end="r"?>'


def largest(master: bytes | None, without: Collection[str]) -> str:
    """Return the largest property of a master's packet that can be left out, or "".

    What every publisher needs, creator and credit to caption, cannot.
    """
    kept = {*XMP_NAMES.values(), *without}
    nodes = [node for node in _descriptive(master or b"") if node.tag not in kept]
    return max(nodes, key=lambda node: len(ET.tostring(node))).tag if nodes else ""


def short(tag: str) -> str:
    """Return the property's name as people write it, such as ``dc:subject``."""
    uri, _, name = tag[1:].partition("}")
    return f"{dict(zip(DESCRIPTIVE.values(), DESCRIPTIVE, strict=True))[uri]}:{name}"


def iim(master: bytes | None, kind: str) -> bytes | None:
    """Return the master's IPTC-IIM records as libvips wants them for a `kind` of file, or None.

    Only what a publisher needs is in IIM, so all of it goes along; WebP and AVIF have no place
    for it.
    """
    records = iim_records(master or b"")
    if not records.startswith(b"\x1c") or kind not in ("TIFF", "JPEG"):
        return None
    records += bytes(-len(records) % 4)
    if kind == "JPEG":
        # image resource 0x0404, unnamed, inside APP13
        size = len(records).to_bytes(4, "big")
        return b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + size + records
    # libvips counts the tag in words of four bytes and stores as many bytes
    return records + bytes(3 * len(records))


def _descriptive(master: bytes) -> list[ET.Element]:
    if not master or len(master) > MOST_XMP_BYTES or b"<!DOCTYPE" in master:
        return []
    try:
        root = ET.fromstring(master.strip(b"\0 \n\r\t"))
    except (ET.ParseError, ValueError):
        return []
    kept: dict[str, ET.Element] = {}
    for node in root.iter(f"{{{_RDF}}}RDF"):
        for body in node.findall(f"{{{_RDF}}}Description"):
            for name, text in body.attrib.items():
                if _keeps(name):
                    element = ET.Element(name)
                    element.text = text
                    kept.setdefault(name, element)
            for child in body:
                if _keeps(child.tag):
                    kept.setdefault(child.tag, child)
    return list(kept.values())


def _keeps(tag: str) -> bool:
    return tag[1:].partition("}")[0] in DESCRIPTIVE.values() and tag not in TECHNICAL


def _word(name: str, text: str) -> ET.Element:
    node = ET.Element(XMP_NAMES[name])
    if name == "creator":
        sequence = ET.SubElement(node, f"{{{_RDF}}}Seq")
        ET.SubElement(sequence, f"{{{_RDF}}}li").text = text
    elif name in ("copyright", "caption"):
        choice = ET.SubElement(node, f"{{{_RDF}}}Alt")
        ET.SubElement(choice, f"{{{_RDF}}}li", {_XML_LANG: "x-default"}).text = text
    else:
        node.text = text
    return node


def _allowed(text: str) -> str:
    """XML 1.0 has no form for most control characters and for lone surrogates."""
    return "".join(
        c
        if c in "\t\n" or (c >= " " and not "\ud800" <= c <= "\udfff" and c < "\ufffe")
        else "\ufffd"
        for c in text
    )
