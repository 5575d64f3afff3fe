"""The words a picture carries: creator, credit, copyright, caption, in XMP, IPTC-IIM and EXIF.

Property names: IPTC Photo Metadata Standard (XMP: ISO 16684-1; IIM record 2; EXIF: CIPA DC-008).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pressworthy.files.metadata import iim, xmp

XMP_NAMES = {
    "creator": xmp.tag("dc:creator"),
    "credit": xmp.tag("photoshop:Credit"),
    "copyright": xmp.tag("dc:rights"),
    "caption": xmp.tag("dc:description"),
    "source": xmp.tag("photoshop:Source"),
}
_XMP_FORMS = {"creator": "Seq", "copyright": "Alt", "caption": "Alt"}
_IIM_DATASETS = {"creator": 80, "credit": 110, "copyright": 116, "caption": 120, "source": 115}
IIM_MOST_BYTES = {"creator": 32, "credit": 32, "copyright": 128, "caption": 2000, "source": 32}
_EXIF_TAGS = {"creator": 0x013B, "copyright": 0x8298, "caption": 0x010E}
FIELDS = tuple(XMP_NAMES)


@dataclass(frozen=True)
class Words:
    """The words by field, and by the standard they were found in: xmp, iim, exif."""

    xmp: Mapping[str, str] = field(default_factory=dict)
    iim: Mapping[str, str] = field(default_factory=dict)
    exif: Mapping[str, str] = field(default_factory=dict)

    def get(self, name: str) -> str:
        """Return a field's text, XMP before IIM before EXIF, or ""."""
        return next((w[name] for w in (self.xmp, self.iim, self.exif) if w.get(name)), "")


def read_words(packet: bytes | None, block: bytes | None, exif_tags: Mapping[int, Any]) -> Words:
    """Return the words in a file's XMP packet, its IIM block and its EXIF tags.

    What cannot be read counts as absent.
    """
    return Words(read_xmp(packet), read_iim(block), _exif_words(exif_tags))


def read_xmp(packet: bytes | None) -> dict[str, str]:
    """Return field -> text of an XMP packet."""
    fields = {tag: name for name, tag in XMP_NAMES.items()}
    texts: dict[str, str] = {}
    for node in xmp.properties(packet):
        text = xmp.text_of(node).strip() if node.tag in fields else ""
        if text:
            texts.setdefault(fields[node.tag], text)
    return texts


def read_iim(block: bytes | None) -> dict[str, str]:
    """Return field -> text of an IPTC-IIM block."""
    datasets = iim.read(block)
    return {name: datasets[n] for name, n in _IIM_DATASETS.items() if datasets.get(n)}


def properties(words: Mapping[str, str]) -> list[ET.Element]:
    """Return the XMP properties of field -> text, for `xmp.write`."""
    return [
        xmp.element(XMP_NAMES[name], text, _XMP_FORMS.get(name, "")) for name, text in words.items()
    ]


def _exif_words(tags: Mapping[int, Any]) -> dict[str, str]:
    texts = {}
    for name, tag in _EXIF_TAGS.items():
        value = tags.get(tag)
        if isinstance(value, bytes):
            value = value.decode("utf-8", "replace")
        if isinstance(value, str) and value.strip("\0 \n"):
            texts[name] = value.strip("\0 \n")
    return texts
