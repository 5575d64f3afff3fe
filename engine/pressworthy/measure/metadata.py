"""The words a picture carries: creator, credit, copyright, caption, from XMP, IPTC-IIM and EXIF.

Property names: IPTC Photo Metadata Standard (XMP: ISO 16684-1; IIM record 2; EXIF: CIPA DC-008).
"""

from __future__ import annotations

import struct
import warnings
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from PIL import Image

from pressworthy.values.picture import Picture, measurement

_DC = "{http://purl.org/dc/elements/1.1/}"
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_NEWS = "{http://ns.adobe.com/photoshop/1.0/}"  # as the IPTC standard prescribes
XMP_NAMES = {
    "creator": _DC + "creator",
    "credit": _NEWS + "Credit",
    "copyright": _DC + "rights",
    "caption": _DC + "description",
    "source": _NEWS + "Source",
}
IIM_DATASETS = {"creator": 80, "credit": 110, "copyright": 116, "caption": 120, "source": 115}
IIM_MOST_BYTES = {80: 32, 110: 32, 116: 128, 120: 2000, 115: 32}
EXIF_TAGS = {"creator": 0x013B, "copyright": 0x8298, "caption": 0x010E}
FIELDS = tuple(XMP_NAMES)
MOST_XMP_BYTES = 4_000_000


@dataclass(frozen=True)
class Words:
    """The words by field, and by the standard they were found in: xmp, iim, exif."""

    xmp: Mapping[str, str] = field(default_factory=dict)
    iim: Mapping[str, str] = field(default_factory=dict)
    exif: Mapping[str, str] = field(default_factory=dict)

    def get(self, name: str) -> str:
        """Return a field's text, XMP before IIM before EXIF, or ""."""
        return next((w[name] for w in (self.xmp, self.iim, self.exif) if w.get(name)), "")


@measurement
def words(picture: Picture) -> Words:
    """Return the descriptive metadata; unreadable blocks count as absent."""
    header = picture.header
    return Words(
        xmp=read_xmp(header.xmp or b""),
        iim=read_iim(header.iptc or b""),
        exif=_exif_words(exif(picture)),
    )


@measurement
def exif(picture: Picture) -> dict[int, Any]:
    """Return the EXIF tags of the first directory and its sub-directories, by number.

    Interoperability's tag 1 stands under 0x10001, so that it does not clash.
    """
    raw = picture.header.exif
    if not raw:
        return {}
    tags: dict[int, Any] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            block = Image.Exif()
            block.load(raw)
            tags.update(block)
            details = block.get_ifd(0x8769)
            tags.update(details)
            tags.update({0x10000 + k: v for k, v in block.get_ifd(0xA005).items()})
        except Exception:
            # Pillow raises many kinds on mangled EXIF; what was read before stays
            return tags
    return tags


@measurement
def stated_space(picture: Picture) -> str:
    """Return the RGB space EXIF names (CIPA DC-008 ColorSpace, InteroperabilityIndex), or ""."""
    tags = exif(picture)
    index = tags.get(0x10001, "")
    index = index.decode("latin-1") if isinstance(index, bytes) else str(index)
    colour_space = tags.get(0xA001)
    if index.startswith("R03"):
        return "opRGB"
    if colour_space == 1 or (index.startswith("R98") and colour_space is None):
        return "sRGB"
    return ""


def read_xmp(packet: bytes) -> dict[str, str]:
    """Return the known fields of an XMP packet; nothing where it is not well-formed."""
    if not packet or len(packet) > MOST_XMP_BYTES or b"<!DOCTYPE" in packet:
        return {}
    try:
        root = ET.fromstring(packet.strip(b"\0 \n\r\t"))
    except (ET.ParseError, ValueError):
        return {}
    found: dict[str, str] = {}
    for node in root.iter(_RDF + "Description"):
        for name, tag in XMP_NAMES.items():
            text = node.get(tag) or _xmp_text(node.find(tag))
            if text and text.strip():
                found.setdefault(name, text.strip())
    return found


def _xmp_text(node: ET.Element | None) -> str:
    if node is None:
        return ""
    items = list(node.iter(_RDF + "li"))
    if not items:
        return node.text or ""
    lang = "{http://www.w3.org/XML/1998/namespace}lang"
    default = [item.text or "" for item in items if item.get(lang) == "x-default"]
    return default[0] if default else "; ".join(item.text or "" for item in items)


def read_iim(block: bytes) -> dict[str, str]:
    """Return the known fields of IPTC-IIM record 2, bare or inside image resource blocks."""
    data = iim_records(block)
    raw: dict[int, list[bytes]] = {}
    utf8 = False
    at = 0
    while at + 5 <= len(data) and data[at] == 0x1C:
        record, dataset, size = struct.unpack(">BBH", data[at + 1 : at + 5])
        if size > 0x7FFF or at + 5 + size > len(data):
            break
        value = data[at + 5 : at + 5 + size]
        if (record, dataset) == (1, 90):
            utf8 = value == b"\x1b%G"
        elif record == 2:
            raw.setdefault(dataset, []).append(value)
        at += 5 + size
    found = {}
    for name, dataset in IIM_DATASETS.items():
        text = "; ".join(_iim_text(value, utf8) for value in raw.get(dataset, ())).strip()
        if text:
            found[name] = text
    return found


def iim_records(block: bytes) -> bytes:
    """Return the IIM records; a JPEG wraps them in resource blocks, number 0x0404."""
    start = block.find(b"8BIM")
    if start < 0:
        return block
    at = start
    while block[at : at + 4] == b"8BIM" and at + 12 <= len(block):
        number = struct.unpack(">H", block[at + 4 : at + 6])[0]
        name = block[at + 6] + 1
        body = at + 6 + name + name % 2
        if body + 4 > len(block):
            return b""
        size = struct.unpack(">I", block[body : body + 4])[0]
        if number == 0x0404:
            return block[body + 4 : body + 4 + size]
        at = body + 4 + size + size % 2
    return b""


def _iim_text(value: bytes, utf8: bool) -> str:
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        return value.decode("utf-8", "ignore") if utf8 else value.decode("latin-1")


def _exif_words(tags: Mapping[int, Any]) -> dict[str, str]:
    found = {}
    for name, tag in EXIF_TAGS.items():
        value = tags.get(tag)
        if isinstance(value, bytes):
            value = value.decode("utf-8", "replace")
        if isinstance(value, str) and value.strip("\0 \n"):
            found[name] = value.strip("\0 \n")
    return found
