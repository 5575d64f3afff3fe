"""What pages say of their own printing: output intents, PDF/X, boxes (ISO 32000-2, 14.11)."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import pikepdf

from pressworthy.colour.icc import MOST_PROFILE_BYTES
from pressworthy.files.pages.document import as_it_stands, objects_of
from pressworthy.values.on_page import OnPage
from pressworthy.values.units import MM_PER_INCH, figure

PDFX = "{http://www.npes.org/pdfx/ns/id/}GTS_PDFXVersion"
"""The XMP property of PDF/X-4 and later (ISO 15930-7, 6.16)."""

TOLERANCE = 0.01
"""Points that writers round boxes by."""

MOST_LETTERS = 80
_EDGES = ("left", "bottom", "right", "top")


def printing_of(pdf: Path, index: int) -> OnPage:
    """Return what a page says of its printing. What cannot be read says nothing here."""
    try:
        document = objects_of(pdf)
        page = document.pages[index].obj
        intent, claimed = _intent(document, page), _claimed(document)
        return OnPage(
            astray=_astray(page), pdfx=claimed, intent=None if intent is None else _named(intent)
        )
    except Exception:
        # pikepdf raises many kinds on odd files
        return OnPage()


def intended_profile(pdf: Path, index: int) -> bytes | None:
    """Return the ICC profile of a page's output intent, None where it has none.

    It says what device colours on the page mean. What cannot be read says nothing here.
    """
    try:
        return _profile(*as_it_stands(pdf), index)
    except Exception:
        return None


@lru_cache(maxsize=1)
def _profile(pdf: Path, _changed: int, _size: int, index: int) -> bytes | None:
    # a picture that stands on a page a thousand times asks for it as often
    document = objects_of(pdf)
    intent = _intent(document, document.pages[index].obj)
    stream = intent.get("/DestOutputProfile") if intent is not None else None
    if isinstance(stream, pikepdf.Stream):
        return stream.read_bytes()[:MOST_PROFILE_BYTES]
    return None


def _intent(document: Any, page: Any) -> Any:
    """Return the output intent that counts for a page, the printers' before any other, or None.

    A page's own stand before the document's (ISO 32000-2, 14.11.5).
    """
    for holder in (page, document.Root):
        given = holder.get("/OutputIntents")
        intents = [
            one
            for one in (given if isinstance(given, pikepdf.Array) else ())
            if isinstance(one, pikepdf.Dictionary)
        ]
        if intents:
            return max(
                intents, key=lambda one: (one.get("/S") == "/GTS_PDFX", "/DestOutputProfile" in one)
            )
    return None


def _named(intent: Any) -> str:
    """Return what an output intent calls its condition; "unnamed" where it does not."""
    for key in ("/OutputConditionIdentifier", "/OutputCondition", "/Info"):
        if name := str(intent.get(key, "")).strip()[:MOST_LETTERS]:
            return name
    return "unnamed"


def _claimed(document: Any) -> str:
    """Return the version of PDF/X that a document claims: in its Info up to X-3, then in XMP."""
    info = document.trailer.get("/Info")
    if isinstance(info, pikepdf.Dictionary):
        for key in ("/GTS_PDFXConformance", "/GTS_PDFXVersion"):
            if name := str(info.get(key, "")).strip()[:MOST_LETTERS]:
                return name
    if "/Metadata" not in document.Root:
        return ""
    try:
        return str(document.open_metadata().get(PDFX, "")).strip()[:MOST_LETTERS]
    except Exception:
        # an XMP packet may be damaged in many ways, and claims nothing then
        return ""


def _astray(page: Any) -> str:
    """Return in words which of a page's boxes reach beyond those that hold them, or ""."""
    boxes = {name: _box(page, name) for name in ("MediaBox", "BleedBox", "TrimBox")}
    faults = []
    for inner, outer in (
        ("TrimBox", "BleedBox"),
        ("TrimBox", "MediaBox"),
        ("BleedBox", "MediaBox"),
    ):
        if over := list(_beyond(boxes[inner], boxes[outer])):
            faults.append(f"{inner} beyond {outer}, {' and '.join(over)}")
    return "; ".join(faults)


def _beyond(inner: Any, outer: Any) -> Iterator[str]:
    """Yield by how much and where one box reaches beyond another, in points each."""
    if not inner or not outer:
        return
    signs = (-1, -1, 1, 1)
    for edge, sign, a, b in zip(_EDGES, signs, inner, outer, strict=True):
        if (over := sign * (a - b)) > TOLERANCE:
            yield f"{figure(over * MM_PER_INCH / 72, 'mm')} {edge}"


def _box(page: Any, name: str) -> tuple[float, float, float, float] | None:
    """Return left, bottom, right, top of a box that a page states; the MediaBox is inherited."""
    for _ in range(50):
        given = page.get(f"/{name}")
        if isinstance(given, pikepdf.Array) and len(given) == 4:
            a, b, c, d = (float(one) for one in list(given))
            return min(a, c), min(b, d), max(a, c), max(b, d)
        page = page.get("/Parent") if name == "MediaBox" else None
        if not isinstance(page, pikepdf.Dictionary):
            break
    return None
