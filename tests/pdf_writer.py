"""Page PDFs written byte by byte, for what no library writes: ISO 32000-1, 7.3 and 7.5."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from numpy.typing import NDArray


def stream(entries: str, data: bytes, *, flate: bool = True) -> bytes:
    """Return a stream object with the given dictionary entries."""
    if flate:
        data, entries = zlib.compress(data), f"{entries} /Filter /FlateDecode"
    return f"<< {entries} /Length {len(data)} >>\nstream\n".encode() + data + b"\nendstream"


def image(values: NDArray[Any], space: str, *, depth: int = 8, more: str = "") -> bytes:
    """Return an image object of (height, width, ...) values as a PDF stores them."""
    height, width = values.shape[:2]
    entries = (
        f"/Type /XObject /Subtype /Image /Width {width} /Height {height} "
        f"/BitsPerComponent {depth} /ColorSpace {space} {more}"
    )
    return stream(entries, values.tobytes())


def form(
    content: str, uses: Mapping[str, int], more: str = "/BBox [-9999 -9999 9999 9999]"
) -> bytes:
    """Return a form object that uses objects by number."""
    entries = f"/Type /XObject /Subtype /Form /Resources << {_used(uses)} >> {more}"
    return stream(entries, content.encode())


def write_pages(
    path: Path,
    content: str,
    objects: Mapping[str, bytes],
    *,
    page: str = "/MediaBox [0 0 500 700]",
    pages: int = 1,
    catalog: str = "",
    resources: str = "",
) -> Path:
    """Write a PDF of equal pages; `objects` are named as the content uses them, numbered from 4.

    Object 4 + i is the i-th of them, so that they can refer to each other. catalog, resources:
    further entries of these dictionaries.
    """
    numbers = {name: number for number, name in enumerate(objects, 4)}
    first = 4 + len(objects)
    kids = " ".join(f"{first + i} 0 R" for i in range(pages))
    held = f"/Resources << {_used(numbers)} {resources} >>"
    one = f"<< /Type /Page /Parent 2 0 R /Contents 3 0 R {held} {page} >>"
    bodies = [
        f"<< /Type /Catalog /Pages 2 0 R {catalog} >>".encode(),
        f"<< /Type /Pages /Kids [{kids}] /Count {pages} >>".encode(),
        stream("", content.encode()),
        *objects.values(),
        *[one.encode()] * pages,
    ]
    text, offsets = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", []
    for number, body in enumerate(bodies, 1):
        offsets.append(len(text))
        text += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    table = "".join(f"{offset:010d} 00000 n \n" for offset in offsets)
    size = len(bodies) + 1
    end = (
        f"xref\n0 {size}\n0000000000 65535 f \n{table}"
        f"trailer << /Size {size} /Root 1 0 R >>\nstartxref\n{len(text)}\n%%EOF\n"
    )
    path.write_bytes(text + end.encode())
    return path


def _used(uses: Mapping[str, int]) -> str:
    names = " ".join(f"/{name} {number} 0 R" for name, number in uses.items())
    return f"/XObject << {names} >>"
