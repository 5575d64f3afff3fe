"""What a file is, by its first bytes and not by its name; for what is no picture read here."""

from __future__ import annotations

from pathlib import Path

from pressworthy.files import raw

LAYERED = "a layered file of an image editor; export a flattened TIFF"
RAW = raw.DEVELOP
HEIC, AVIF, XL, JPEG_2000 = "HEIC", "AVIF", "JPEG XL", "JPEG 2000"
_GIF = "GIF, of at most 256 colours; ask for the original, as a TIFF or JPEG"
_BMP = "BMP, mostly without an ICC profile; ask for the original, as a TIFF or JPEG"
_PDF = "a PDF; give page PDFs to check --pages, and export a picture in one as a TIFF"
_POSTSCRIPT = "PostScript; export a TIFF at its placed size and the output's ppi"
_FILM = "a film, or sound"
_START = 512

PICTURES = ("JPEG", "PNG", "WebP", "TIFF", HEIC, AVIF, XL, JPEG_2000, _GIF, _BMP, RAW, LAYERED)
"""Natures of pictures, whether they are read or have to be asked for otherwise."""

_SIGNATURES = (
    (0, b"\xff\xd8", "JPEG"),
    (0, b"\x89PNG", "PNG"),
    (8, b"WEBP", "WebP"),
    (0, b"%PDF", _PDF),
    (0, b"GIF8", _GIF),
    (0, b"%!PS", _POSTSCRIPT),
    # with a picture of itself for screens
    (0, b"\xc5\xd0\xd3\xc6", _POSTSCRIPT),
    (0, b"BM", _BMP),
    # image editors' own files; a ZIP whose first member says so (the open layered format)
    (0, b"8BPS", LAYERED),
    (4, b" xcf ", LAYERED),
    (30, b"mimetypeimage/openraster", LAYERED),
    (0, b"PK\x03\x04", "a ZIP archive; unpack it"),
    # ISO/IEC 18181-2, 9.1, and the codestream of 18181-1; ISO/IEC 15444-1, annexes A and I
    (0, b"\0\0\0\x0cJXL \r\n\x87\n", XL),
    (0, b"\xff\x0a", XL),
    (0, b"\0\0\0\x0cjP  \r\n\x87\n", JPEG_2000),
    (0, b"\xff\x4f\xff\x51", JPEG_2000),
    # cameras' own files that are no TIFF, or one by another number; from memory
    (0, b"IIIIwaR", RAW),
    (0, b"MMMMRaw", RAW),
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
    "crx ": RAW,
    "jxl ": XL,
    **dict.fromkeys(("avif", "avis"), AVIF),
    **dict.fromkeys(("heic", "heix", "heim", "heis", "mif1"), HEIC),
}
"""What a file in boxes is by the first of its brands that is here (ISO/IEC 14496-12, 23008-12)."""

_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")


def nature(path: Path) -> str:
    """Return what a file is, in a few words, with what to do where that can be said."""
    try:
        with path.open("rb") as stream:
            start = stream.read(_START)
        if start[:4] in _TIFF and (start.startswith(b"CR\2\0", 8) or raw.is_raw(path)):
            return RAW
    except OSError as error:
        return f"cannot be read: {error.strerror}"
    if start[:4] in _TIFF:
        return "TIFF"
    for offset, signature, name in _SIGNATURES:
        if start.startswith(signature, offset):
            return name
    if start[4:8] == b"ftyp":
        return _of_brands(start)
    if start and all(byte >= 32 or byte in (9, 10, 13) for byte in start):
        return "text"
    return "unknown content"


def _of_brands(start: bytes) -> str:
    """Return what a file in boxes is, by what it says it can be read as."""
    end = min(int.from_bytes(start[:4], "big"), len(start))
    names = [start[8:12], *(start[at : at + 4] for at in range(16, end, 4))]
    brands = {name.decode("latin-1") for name in names}
    return next((kind for brand, kind in _BRANDS.items() if brand in brands), _FILM)


def unread(path: Path) -> str:
    """Return what a file that is not read here is, in words, of a camera raw also its preview."""
    kind = nature(path)
    return raw.told(path) if kind == RAW else kind
