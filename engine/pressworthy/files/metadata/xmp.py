"""XMP packets (ISO 16684-1): the one parser, which is guarded, and the one writer.

A property is an element whose tag is ``{namespace}name``; `tag` and `short` translate.
"""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from typing import Any

NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",  # as the IPTC standard prescribes
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
    "plus": "http://ns.useplus.org/ldf/xmp/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "x": "adobe:ns:meta/",  # the wrapper ISO 16684-1 allows
    "ticket": "https://pressworthy.invalid/ns/ticket/1.0/",
}
_PREFIXES = {uri: prefix for prefix, uri in NAMESPACES.items()}
_LANG = "{http://www.w3.org/XML/1998/namespace}lang"

MOST_PACKET_BYTES = 4_000_000
"""Of a packet; a longer one is neither read nor written."""

MOST_DEPTH = 100
"""Elements inside one another; a packet that nests deeper is not read. The writer recurses."""

_FORBIDDEN = re.compile("[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ROOM = {"JPEG": 60_000}  # it holds a packet in one segment, and libvips drops what is longer

for _prefix, _uri in NAMESPACES.items():
    ET.register_namespace(_prefix, _uri)


def tag(name: str) -> str:
    """Return the tag of a property named as people write it, such as ``dc:subject``."""
    prefix, _, local = name.partition(":")
    return f"{{{NAMESPACES[prefix]}}}{local}"


def short(tag: str) -> str:
    """Return a property's name as people write it, the other way round."""
    uri, _, local = tag[1:].partition("}")
    return f"{_PREFIXES[uri]}:{local}"


def room(kind: str) -> int:
    """Return the most bytes of a packet that a file of the format `kind` holds."""
    return _ROOM.get(kind, MOST_PACKET_BYTES)


def properties(packet: bytes | None) -> list[ET.Element]:
    """Return the properties that a packet gives its picture, as they stand in it.

    One written as an attribute comes as an element too. What stands inside another property is
    told of something else and does not count. There are none where the packet cannot be read.
    """
    root = _parsed(packet or b"")
    if root is None:
        return []
    elements: list[ET.Element] = []
    for described in root.iter(tag("rdf:RDF")):
        for body in described.findall(tag("rdf:Description")):
            elements += (_simple(name, value) for name, value in body.attrib.items())
            elements += body
    return elements


def is_unread(packet: bytes | None) -> bool:
    """Tell whether there is a packet that cannot be read: broken, too long, or nested too deep."""
    return bool(packet and packet.strip(b"\0 \n\r\t")) and _parsed(packet or b"") is None


def text_of(node: ET.Element) -> str:
    """Return a property's text: of alternatives the default, of a list its entries joined."""
    items = list(node.iter(tag("rdf:li")))
    if not items:
        return node.text or ""
    default = [item.text or "" for item in items if item.get(_LANG) == "x-default"]
    return default[0] if default else "; ".join(item.text or "" for item in items)


def element(name: str, text: str, form: str = "") -> ET.Element:
    """Return a property to write.

    name: its tag; form: ``Seq`` where it is a list, ``Alt`` where it has a text by language.
    """
    if not form:
        return _simple(name, _allowed(text))
    node = ET.Element(name)
    language = {_LANG: "x-default"} if form == "Alt" else {}
    item = ET.SubElement(ET.SubElement(node, tag(f"rdf:{form}")), tag("rdf:li"), language)
    item.text = _allowed(text)
    return node


def write(properties: Iterable[ET.Element]) -> bytes:
    """Return the packet that holds these properties. The same ones give the same bytes."""
    meta = ET.Element(tag("x:xmpmeta"))
    described = ET.SubElement(meta, tag("rdf:RDF"))
    body = ET.SubElement(described, tag("rdf:Description"), {tag("rdf:about"): ""})
    body.extend(properties)
    written: bytes = ET.tostring(meta, "utf-8")
    start = b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    return start + written + b'\n<?xpacket end="r"?>'


EXTENDED = b"HasExtendedXMP"
"""What a JPEG's packet has where it goes on in further segments (ISO 16684-3, 5.4)."""

_EXTENSION = b"http://ns.adobe.com/xmp/extension/\0"


def extension(segments: Iterable[bytes]) -> bytes:
    """Return what a JPEG's APP1 segments hold of one extended packet, or nothing if it has gaps.

    Each has a digest of 32 characters, the length of all, its place there, and a part.
    """
    parts: dict[int, bytes] = {}
    length, first = 0, b""
    for segment in segments:
        body = segment[len(_EXTENSION) :]
        if not segment.startswith(_EXTENSION) or len(body) < 40:
            continue
        digest, (length, at) = body[:32], struct.unpack(">II", body[32:40])
        first = first or digest
        if digest == first:
            parts[at] = body[40:]
    whole = b"".join(parts[at] for at in sorted(parts))
    return whole if len(whole) == length <= MOST_PACKET_BYTES else b""


def joined(packet: bytes, extension: bytes) -> bytes:
    """Return one packet with the properties of a JPEG's packet and of what it extends into."""
    own = properties(packet)
    return write([*own, *properties(extension)]) if own else packet


def _utf8(packet: bytes) -> bytes:
    """Return a packet in UTF-8; ISO 16684-1 allows UTF-16 and UTF-32 too, in both orders."""
    for kind in ("utf-32-le", "utf-32-be", "utf-16-le", "utf-16-be"):
        if packet.startswith(("<".encode(kind), "\ufeff".encode(kind))):
            text = packet.decode(kind, "ignore").lstrip("\ufeff")
            # what it says of its own encoding is no longer so
            return re.sub(r"^<\?xml.*?\?>", "", text).encode()
    return packet


class _Guarded(ET.TreeBuilder):
    """Builds a packet's tree. Raises ValueError at a document type, and at too deep a nesting.

    Entities, which can make a small packet a huge one, are declared in a document type only.
    """

    def __init__(self) -> None:
        super().__init__()
        self.depth = 0

    def doctype(self, *_: Any) -> None:
        raise ValueError("it declares a document type")

    def start(self, tag: Any, attrs: Any, /) -> ET.Element:
        self.depth += 1
        if self.depth > MOST_DEPTH:
            raise ValueError("its elements nest too deep")
        return super().start(tag, attrs)

    def end(self, tag: Any, /) -> ET.Element:
        self.depth -= 1
        return super().end(tag)


def _parsed(packet: bytes) -> ET.Element | None:
    if not packet or len(packet) > MOST_PACKET_BYTES:
        return None
    parser = ET.XMLParser(target=_Guarded())
    try:
        parser.feed(_utf8(packet).strip(b"\0 \n\r\t"))
        root: ET.Element = parser.close()
    except (ET.ParseError, ValueError):
        return None
    return root


def _simple(name: str, text: str) -> ET.Element:
    node = ET.Element(name)
    node.text = text
    return node


def _allowed(text: str) -> str:
    """XML 1.0 has no form for most control characters and for lone surrogates."""
    return _FORBIDDEN.sub("\ufffd", text)
