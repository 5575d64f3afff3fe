"""What a file is, by its first bytes and not by its name; for what is no picture read here."""

from __future__ import annotations

from pathlib import Path

from pressworthy.files.tiff import directory

LAYERED = "a layered file of an image editor; export a flattened TIFF"
RAW = "camera raw; it has to be developed first, and exported as a TIFF"
HEIC, AVIF = "HEIC", "AVIF"
_XL = "JPEG XL; export a TIFF or JPEG"
_2000 = "JPEG 2000; export a TIFF or JPEG"
_START = 512

_SIGNATURES = (
    (0, b"\xff\xd8", "JPEG"),
    (0, b"\x89PNG", "PNG"),
    (8, b"WEBP", "WebP"),
    (0, b"%PDF", "a PDF; give page PDFs to check --pages"),
    (0, b"GIF8", "GIF"),
    (0, b"%!PS", "PostScript; export a TIFF"),
    (0, b"BM", "BMP"),
    # image editors' own files; a ZIP whose first member says so (the open layered format)
    (0, b"8BPS", LAYERED),
    (4, b" xcf ", LAYERED),
    (30, b"mimetypeimage/openraster", LAYERED),
    (0, b"PK\x03\x04", "a ZIP archive; unpack it"),
    # ISO/IEC 18181-2, 9.1, and the codestream of 18181-1; ISO/IEC 15444-1, annexes A and I
    (0, b"\0\0\0\x0cJXL \r\n\x87\n", _XL),
    (0, b"\xff\x0a", _XL),
    (0, b"\0\0\0\x0cjP  \r\n\x87\n", _2000),
    (0, b"\xff\x4f\xff\x51", _2000),
    # cameras' own files that are no TIFF, or one by another number; from memory
    (0, b"IIU\0", RAW),
    (0, b"IIRO", RAW),
    (0, b"IIRS", RAW),
    (0, b"MMOR", RAW),
    (0, b"FOVb", RAW),
    (0, b"\0MRM", RAW),
    (8, b"CCD-RAW", RAW),
    (10, b"CCDR", RAW),
)
_BRANDS = {
    **dict.fromkeys(("heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"), HEIC),
    **dict.fromkeys(("avif", "avis"), AVIF),
    "crx ": RAW,
    "jxl ": _XL,
}
"""What the first brand of a file in boxes stands for (ISO/IEC 14496-12 and 23008-12)."""

_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_KIND, _COLOURS, _PARTS, _OPEN_RAW = 0x00FE, 0x0106, 0x014A, 0xC612
_MOSAIC = (32803, 34892)
"""Values of a sensor, by filter or linear (TIFF/EP, ISO 12234-2, and its open successor)."""


def nature(path: Path) -> str:
    """Return what a file is, in a few words, with what to do where that can be said."""
    try:
        with path.open("rb") as stream:
            start = stream.read(_START)
        if start[:4] in _TIFF and _is_raw(path):
            return RAW
    except OSError as error:
        return f"cannot be read: {error.strerror}"
    if start[:4] in _TIFF:
        return "TIFF"
    for offset, signature, name in _SIGNATURES:
        if start.startswith(signature, offset):
            return name
    if start[4:8] == b"ftyp":
        return _BRANDS.get(start[8:12].decode("latin-1"), "a film, or sound")
    if start and all(byte >= 32 or byte in (9, 10, 13) for byte in start):
        return "text"
    return "unknown content"


def _is_raw(path: Path) -> bool:
    """Tell whether a TIFF holds what a sensor saw, and at most a small picture made of it."""
    tags = {tag: numbers[0] for tag, numbers in directory(path).items() if numbers}
    colours, small = tags.get(_COLOURS), tags.get(_KIND, 0) & 1
    # a developed picture may come first, reduced, with the sensor's values in a part of its own
    return _OPEN_RAW in tags or colours in _MOSAIC or bool(small and _PARTS in tags)
