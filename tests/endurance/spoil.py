"""Bad files, made from good ones by a seeded generator: pictures, house profiles, lists, pages."""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pyvips
from other_writers import as_heic, as_jp2, as_jxl
from pdf_writer import form, image, stream, write_pages
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.metadata import iim
from pressworthy.testing import CREDITED, draw, write_picture, xmp

WIDTH, HEIGHT = 120, 90
ICC = rgb_profile("opRGB")
LIMITS = (0, 1, 2, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFFFFFE)
KINDS: dict[str, tuple[str, Sequence[dict[str, Any]]]] = {
    "JPEG": (".jpg", ({}, {"Q": 60, "interlace": True}, {"mode": "CMYK"}, {"mode": "gray"})),
    "TIFF": (
        ".tif",
        (
            {},
            {"tile": True, "tile_width": 32, "tile_height": 32, "compression": "lzw"},
            {"depth": 16},
            {"mode": "CMYK"},
            {"bigtiff": True, "compression": "deflate"},
            {"compression": "jpeg"},
            {"pyramid": True, "tile": True},
        ),
    ),
    "PNG": (".png", ({}, {"depth": 16}, {"interlace": True}, {"mode": "gray"})),
    "WebP": (".webp", ({}, {"lossless": True})),
    "AVIF": (".avif", ({"effort": 0}, {"effort": 0, "lossless": True})),
    "HEIC": (".heic", ({}, {"depth": 16}, {"mode": "gray"}, {"tiles": 64})),
    "JPEG 2000": (".jp2", ({}, {"mode": "gray"}, {"depth": 16, "mode": "gray"})),
    "JPEG XL": (".jxl", ({}, {"mode": "gray"})),
}
WRITERS: dict[str, Callable[..., Path]] = {
    "HEIC": as_heic, "JPEG 2000": as_jp2, "JPEG XL": as_jxl,
}  # fmt: skip
ODD = (
    "", "~", "off", "010", "12:30", "1e999", "-1", ".nan", "-.inf", "9" * 400, "3 parsecs", "-3 mm",
    "0 ppi", "1e308 mm", "[[[[", "{a: b", "&a [*a, *a]", "*a", "<<: *a", "!!python/name:os.system",
    "\0", "\t", "\u202e", "'", '"', "../../../etc/passwd", "<b>&", "=cmd|' /C x'!A0", "a" * 5000,
    "\x1b[2J", "|\n  x", "? ", "- - - -", "%YAML 1.1", "---", "...", "\ufeff", "é", "null",
    "true", "[]", "{}", ",,,,", ";", '"a', "house", "coated-magazine", "0.5 0.5 9 9", "top all",
    "2026-13-41",
)  # fmt: skip

ODD_IN_PDF = (
    "", "0", "-1", "1e9", "1e-12", "99999999999", "-2147483648", "nan", "/A", "/F", "/X Do", "Q",
    "q " * 500, "cm", "<<", ">>", "[", "]", "(", "4 0 R", "8 0 R", "null", "/Filter",
)  # fmt: skip


def picture(path: Path, kind: str, rng: random.Random) -> bytes:
    """Write one spoiled picture and return the bytes of the file before it was spoiled.

    Four in ten are whole files around spoiled metadata, the others files whose own bytes are.
    """
    inner = rng.random() < 0.4
    _written(path, kind, rng, spoilt=inner)
    whole = path.read_bytes()
    if not inner:
        path.write_bytes(_file(whole, kind, rng))
    return whole


def set_up(text: str, rng: random.Random) -> bytes:
    """Return a spoiled YAML or CSV file."""
    for _ in range(rng.choice((1, 1, 1, 2))):
        text = rng.choice(_TEXT)(text, rng)
    data = text.encode("utf-8", "surrogatepass")
    return any_bytes(data, rng) if rng.random() < 0.2 else data


def pages(path: Path, rng: random.Random) -> Path:
    """Write one spoiled PDF and return its path."""
    values = draw(WIDTH, HEIGHT, seed=rng.randrange(8))
    jpeg = path.with_suffix(".jpg")
    data = write_picture(jpeg, values).read_bytes()
    jpeg.unlink()
    icc = rng.random() < 0.5
    objects = {
        "A": image(values, "[/ICCBased 6 0 R]" if icc else "/DeviceRGB"),
        "J": stream(
            f"/Type /XObject /Subtype /Image /Width {WIDTH} /Height {HEIGHT} "
            "/BitsPerComponent 8 /ColorSpace /DeviceRGB /Filter /DCTDecode",
            any_bytes(data, rng) if rng.random() < 0.2 else data,
            flate=False,
        ),
        "I": stream("/N 3", any_bytes(ICC, rng) if rng.random() < 0.5 else ICC),
        "F": form("q 40 0 0 30 5 5 cm /A Do Q /G Do", {"A": 4, "G": 8}, "/BBox [0 0 99 99]"),
        "G": form("q 20 5 -5 20 9 9 cm /J Do Q", {"J": 5}),
    }
    content = (
        "q 144 0 0 108 60 60 cm /A Do Q q 9 9 200 200 re W n 90 20 -20 70 300 300 cm /J Do Q "
        "q 1 0 0 1 100 400 cm /F Do Q"
    )
    if rng.random() < 0.5:
        content = _words(content, rng)
    if rng.random() < 0.4:
        name = rng.choice(list(objects))
        head, _, rest = objects[name].partition(b"stream\n")
        objects[name] = _words(head.decode(), rng).encode() + b"stream\n" + rest
    page = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680]"
    write_pages(path, content, objects, page=page, pages=rng.choice((1, 1, 3)))
    if rng.random() < 0.7:
        path.write_bytes(any_bytes(path.read_bytes(), rng))
    return path


def _written(path: Path, kind: str, rng: random.Random, *, spoilt: bool) -> None:
    _, options = KINDS[kind]
    save = dict(rng.choice(options))
    mode, depth = save.pop("mode", "RGB"), save.pop("depth", 8)
    channels = {"RGB": 3, "CMYK": 4, "gray": 1}[mode]
    values = draw(WIDTH, HEIGHT, depth=depth, channels=channels, seed=rng.randrange(1000))
    if kind in WRITERS:
        WRITERS[kind](path, values, **save)
        if spoilt:
            path.write_bytes(_exif_spoiled(path.read_bytes(), kind, rng))
        return
    blocks = {"icc-profile-data": ICC, "xmp-data": xmp(CREDITED), "exif-data": _exif()}
    if wrapped := iim.for_copy(iptc(), "TIFF" if kind == "TIFF" else "JPEG"):
        blocks["iptc-data"] = wrapped
    if spoilt:
        for name in rng.sample(sorted(blocks), rng.choice((1, 1, 2))):
            if name != "exif-data":
                # an empty one is not for writers
                blocks[name] = any_bytes(blocks[name], rng) or b"?"
    try:
        write_picture(path, values, mode=mode, icc=None, fields=blocks, **save)
        if spoilt:
            path.write_bytes(_exif_spoiled(path.read_bytes(), kind, rng))
    except pyvips.Error:
        # a block no writer takes: what goes into the file is then spoiled as bytes
        write_picture(path, values, mode=mode, words=CREDITED, **save)
        path.write_bytes(_file(path.read_bytes(), kind, rng))


def _exif_spoiled(data: bytes, kind: str, rng: random.Random) -> bytes:
    """Spoil the EXIF block of a whole file in half of the cases; writers write none but their own.

    The block keeps its length, so that the file around it stays whole.
    """
    at = max(data.find(mark, 8) for mark in (b"II*\0", b"MM\0*"))
    if at < 0 or rng.random() < 0.5:
        return data
    block = data[at : at + 150]
    spoilt = rng.choice((_flipped, _numbered, _noisy))(block, rng)[: len(block)]
    whole = data[:at] + spoilt + data[at + len(spoilt) :]
    return _summed(whole) if kind == "PNG" else whole


def _exif() -> bytes:
    block = Image.Exif()
    block[0x010E], block[0x013B], block[0x0112] = "What it shows.", "A. Maker", 6
    block.get_ifd(0x8769).update({0xA001: 65535, 0x9003: "2026:01:01 00:00:00"})
    return block.tobytes()


def iptc() -> bytes:
    """Return four IPTC-IIM records."""
    words = {80: b"A. Maker", 110: b"The House", 116: b"2026 A. Maker", 120: b"What it shows."}
    return b"".join(struct.pack(">BBBH", 0x1C, 2, n, len(w)) + w for n, w in words.items())


def _file(data: bytes, kind: str, rng: random.Random) -> bytes:
    """Spoil a file's structure: its blocks, its numbers, or any bytes."""
    blocks = list(_BLOCKS[kind](data))
    if blocks and rng.random() < 0.6:
        start, end = rng.choice(blocks)
        block = data[start:end]
        change = rng.choice(("again", "gone", "moved", "inside", "inside", "inside"))
        if change == "again":
            data = data[:start] + block * rng.choice((2, 3, 500)) + data[end:]
        elif change == "gone":
            data = data[:start] + data[end:]
        elif change == "moved":
            rest = data[:start] + data[end:]
            at = rng.choice(blocks)[0]
            data = rest[:at] + block + rest[at:]
        else:
            data = data[:start] + any_bytes(block, rng) + data[end:]
    else:
        data = any_bytes(data, rng)
    # a wrong checksum alone would hide what stands behind it
    return _summed(data) if kind == "PNG" and rng.random() < 0.8 else data


def any_bytes(data: bytes, rng: random.Random) -> bytes:
    """Return data with one to five of its places spoiled."""
    for _ in range(rng.choice((1, 1, 1, 2, 5))):
        data = rng.choice(_RAW)(data, rng)
    return data


def _place(data: bytes, rng: random.Random) -> int:
    """Return an offset, the start of the file as likely as the rest of it."""
    return rng.randrange(min(len(data), rng.choice((64, 1024, 1 << 30))) or 1)


def _flipped(data: bytes, rng: random.Random) -> bytes:
    found = bytearray(data)
    for _ in range(rng.choice((1, 2, 16, 200)) if found else 0):
        found[_place(data, rng)] ^= 1 << rng.randrange(8)
    return bytes(found)


def _numbered(data: bytes, rng: random.Random) -> bytes:
    at, width = _place(data, rng), rng.choice((1, 2, 4, 8))
    value = rng.choice(LIMITS) if width < 8 else rng.choice((*LIMITS, 1 << 63, (1 << 64) - 1))
    value &= (1 << 8 * width) - 1
    at -= at % min(width, 4)
    return data[:at] + value.to_bytes(width, rng.choice(("little", "big"))) + data[at + width :]


def _spliced(data: bytes, rng: random.Random) -> bytes:
    start, at = _place(data, rng), _place(data, rng)
    part = data[start : start + rng.choice((1, 4, 12, 100, 5000))]
    over = rng.choice((0, len(part)))
    return data[:at] + part + data[at + over :]


def _noisy(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    part = rng.randbytes(rng.choice((1, 4, 64)))
    return data[:at] + part + data[at + len(part) :]


def _without(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    return data[:at] + data[at + rng.choice((1, 2, 12, 500)) :]


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.choice((0, rng.randrange(64), _place(data, rng), max(0, len(data) - 9)))]


_RAW: Sequence[Callable[[bytes, random.Random], bytes]] = (
    _flipped, _flipped, _numbered, _numbered, _numbered, _spliced, _noisy, _without, _cut,
)  # fmt: skip


def _jpeg_blocks(data: bytes) -> Iterator[tuple[int, int]]:
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF and data[at + 1] != 0xDA:
        end = at + 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
        yield at, end
        at = end


def _png_blocks(data: bytes) -> Iterator[tuple[int, int]]:
    at = 8
    while at + 12 <= len(data):
        end = at + 12 + struct.unpack(">I", data[at : at + 4])[0]
        yield at, end
        at = end


def _webp_blocks(data: bytes) -> Iterator[tuple[int, int]]:
    at = 12
    while at + 8 <= len(data):
        size = struct.unpack("<I", data[at + 4 : at + 8])[0]
        yield at, at + 8 + size + size % 2
        at += 8 + size + size % 2


def _box_blocks(data: bytes) -> Iterator[tuple[int, int]]:
    """Yield the boxes of an ISO base media file, and those inside its `meta` and their lists."""
    stack = [(0, len(data))]
    while stack:
        at, last = stack.pop()
        while at + 8 <= last:
            size, name = struct.unpack(">I4s", data[at : at + 8])
            if size < 8 or at + size > last:
                break
            yield at, at + size
            inside = {b"meta": 12, b"iprp": 8, b"ipco": 8, b"iinf": 14, b"jp2h": 8}.get(name)
            if inside:
                stack.append((at + inside, at + size))
            at += size


def _tiff_blocks(data: bytes) -> Iterator[tuple[int, int]]:
    """Yield the entries of a TIFF's first directory, and what those with long values point at."""
    big = data[2] == 43
    start = struct.unpack_from("<Q", data, 8)[0] if big else struct.unpack_from("<I", data, 4)[0]
    head, size, form_ = (8, 20, "<HHQQ") if big else (2, 12, "<HHII")
    count = struct.unpack_from("<Q" if big else "<H", data, start)[0]
    for i in range(count):
        at = start + head + i * size
        yield at, at + size
        _, kind, many, value = struct.unpack_from(form_, data, at)
        many *= {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 16: 8}.get(kind, 1)
        if many > (8 if big else 4) and value + many <= len(data):
            yield value, value + many


_BLOCKS: dict[str, Callable[[bytes], Iterator[tuple[int, int]]]] = {
    "JPEG": _jpeg_blocks,
    "TIFF": _tiff_blocks,
    "PNG": _png_blocks,
    "WebP": _webp_blocks,
    **dict.fromkeys(("AVIF", "HEIC", "JPEG 2000", "JPEG XL"), _box_blocks),
}


def _summed(data: bytes) -> bytes:
    """Return a PNG with the checksums of the chunks that are still to be found put right."""
    whole = data[:8]
    for start, end in _png_blocks(data):
        body = data[start + 4 : end - 4]
        if end > len(data):
            return whole + data[start:]
        whole += data[start : start + 4] + body + struct.pack(">I", zlib.crc32(body))
    return whole + data[len(whole) :]


def _words(text: str, rng: random.Random) -> str:
    """Put odd numbers, names and nothing in place of some of the words between spaces."""
    words = text.split(" ")
    for _ in range(rng.choice((1, 2, 5))):
        words[rng.randrange(len(words))] = rng.choice(ODD_IN_PDF)
    return " ".join(words)


def _other_value(text: str, rng: random.Random) -> str:
    """Put something odd in place of a value: after a colon, or between two commas."""
    lines = text.split("\n")
    at = rng.randrange(len(lines))
    line = lines[at]
    if ":" in line and "," not in line:
        lines[at] = line[: line.index(":") + 1] + " " + rng.choice(ODD)
    else:
        cells = line.split(",")
        cells[rng.randrange(len(cells))] = rng.choice(ODD)
        lines[at] = ",".join(cells)
    return "\n".join(lines)


def _lines(change: str) -> Callable[[str, random.Random], str]:
    def changed(text: str, rng: random.Random) -> str:
        lines = text.split("\n")
        at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
        if change == "gone":
            del lines[at]
        elif change == "again":
            lines.insert(other, lines[at])
        elif change == "many":
            lines[at:at] = [lines[at]] * 3000
        elif change == "deeper":
            lines[at] = " " * rng.choice((1, 2, 9)) + lines[at]
        else:
            lines.insert(at, rng.choice(ODD))
        return "\n".join(lines)

    return changed


def _nested(text: str, rng: random.Random) -> str:
    deep = rng.choice((30, 3000))
    return text + "\ndeep: " + rng.choice(("[" * deep + "]" * deep, "{a: " * deep + "}" * deep))


def _odd_within(text: str, rng: random.Random) -> str:
    at = rng.randrange(len(text) or 1)
    return text[:at] + rng.choice(ODD) + text[at + rng.choice((0, 1, 20)) :]


_TEXT: Sequence[Callable[[str, random.Random], str]] = (
    _other_value, _other_value, _other_value, _other_value, _odd_within, _odd_within, _nested,
    *map(_lines, ("gone", "again", "deeper", "odd", "many")),
)  # fmt: skip
