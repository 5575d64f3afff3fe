"""IPTC-IIM, the older record of a picture's words: its datasets read, and its block passed on."""

from __future__ import annotations

import struct
from collections.abc import Iterator

_SETS = {b"\x1b%G": "utf-8", b"\x1b.A": "latin-1", b"\x1b-A": "latin-1"}
"""Character sets as dataset 1:90 names them, by their escape sequences (ISO/IEC 2022)."""

_RECORDS = 0x0404  # the image resource that holds the records


def read(block: bytes | None) -> dict[int, str]:
    """Return dataset -> text of record 2, bare or inside image resource blocks.

    A dataset that is repeated comes joined by semicolons; unreadable ones count as absent. Where no
    character set is named, only what is UTF-8 is read: a guess makes another name of a name.
    """
    values: dict[int, list[bytes]] = {}
    named = ""
    for record, dataset, value, _ in _datasets(_records(block or b"")):
        if (record, dataset) == (1, 90):
            named = _SETS.get(value, "")
        elif record == 2:
            values.setdefault(dataset, []).append(value)
    texts = {
        dataset: [_text(value, named) for value in repeated] for dataset, repeated in values.items()
    }
    # one of two names alone would be another credit
    return {
        dataset: "; ".join(part for part in parts if part)
        for dataset, parts in texts.items()
        if None not in parts and any(parts)
    }


def for_copy(block: bytes | None, kind: str) -> bytes | None:
    """Return a master's records as libvips wants them for a file of the format `kind`, or None.

    Only what a publisher needs is in IIM, so all of it goes along that is whole: what fills up the
    last one would become part of its text. WebP and AVIF have no place for it.
    """
    records = _records(block or b"")
    records = records[: max((end for *_, end in _datasets(records)), default=0)]
    if not records or kind not in ("TIFF", "JPEG"):
        return None
    records += bytes(-len(records) % 4)
    if kind == "JPEG":
        # an unnamed image resource inside APP13
        head = b"8BIM" + struct.pack(">HHI", _RECORDS, 0, len(records))
        return b"Photoshop 3.0\0" + head + records
    # libvips counts the tag in words of four bytes and stores as many bytes
    return records + bytes(3 * len(records))


def _datasets(data: bytes) -> Iterator[tuple[int, int, bytes, int]]:
    """Yield record, dataset, value and end of each, as far as they are whole."""
    at = 0
    while at + 5 <= len(data) and data[at] == 0x1C:
        record, dataset, size = struct.unpack(">BBH", data[at + 1 : at + 5])
        at += 5
        if size > 0x7FFF:
            # an extended one: so many bytes tell its length
            more = size & 0x7FFF
            size = int.from_bytes(data[at : at + more], "big") if more <= 8 else len(data)
            at += more
        if at + size > len(data):
            return
        yield record, dataset, data[at : at + size], at + size
        at += size


def _records(block: bytes) -> bytes:
    """Return the records; a JPEG wraps them in image resource blocks."""
    at = block.find(b"8BIM")
    if at < 0:
        return block
    while block[at : at + 4] == b"8BIM" and at + 12 <= len(block):
        number = struct.unpack(">H", block[at + 4 : at + 6])[0]
        name = block[at + 6] + 1
        body = at + 6 + name + name % 2
        if body + 4 > len(block):
            return b""
        size = struct.unpack(">I", block[body : body + 4])[0]
        if number == _RECORDS:
            return block[body + 4 : body + 4 + size]
        at = body + 4 + size + size % 2
    return b""


def _text(value: bytes, named: str) -> str | None:
    """Return a dataset's text, None where its character set is not known."""
    try:
        return value.decode("utf-8").strip()
    except UnicodeDecodeError:
        return value.decode(named, "ignore").strip() if named else None
