"""Pictures with whole metadata and damaged pixels, each beside the whole file it was made of."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

import numpy as np
import pyvips

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.testing import CREDITED, draw, xmp

WIDTH, HEIGHT = 600, 448
STRIPS, TILES = (273, 279), (324, 325)  # offsets and byte counts: TIFF 6.0, sections 3 and 15
Damaged = dict[str, tuple[bytes, bytes]]
"""Name -> the whole file's bytes, and the damaged one's."""


def picture(values: Any = None) -> Any:
    """Return a credited picture at 300 ppi with its ICC profile, as a libvips image."""
    values = draw(WIDTH, HEIGHT) if values is None else values
    image = pyvips.Image.new_from_array(values).copy(
        interpretation="srgb", xres=300 / 25.4, yres=300 / 25.4
    )
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", rgb_profile("sRGB"))
    image.set_type(pyvips.GValue.blob_type, "xmp-data", xmp(CREDITED))
    return image


def changed(data: bytes, start: float, length: int, value: int | None = None) -> bytes:
    """Return data with bytes drawn at random, or all `value`, from `start` on."""
    first = int(start)
    new = np.random.default_rng(first).bytes(length) if value is None else bytes([value]) * length
    return data[:first] + new + data[first + length :]


# TIFF


ZSTD, LZMA = 50000, 34925


def tiff_numbers(data: bytes, tag: int) -> tuple[int, str, list[int]]:
    """Return where a tag's numbers stand, their form, and the numbers."""
    order, entries = _entries(data)
    kind, count = struct.unpack_from(f"{order}HI", data, entries[tag] + 2)
    form = {3: "H", 4: "I"}[kind]
    inside = struct.calcsize(form) * count <= 4
    at = entries[tag] + 8
    at = at if inside else struct.unpack_from(f"{order}I", data, at)[0]
    whole = f"{order}{count}{form}"
    return at, whole, list(struct.unpack_from(whole, data, at))


def tiff_with(data: bytes, tag: int, numbers: Sequence[int]) -> bytes:
    """Return a TIFF with other numbers, as many as before, under a tag."""
    at, form, _ = tiff_numbers(data, tag)
    new = struct.pack(form, *numbers)
    return data[:at] + new + data[at + len(new) :]


def _entries(data: bytes) -> tuple[str, dict[int, int]]:
    order = "<" if data[:2] == b"II" else ">"
    (at,) = struct.unpack_from(f"{order}I", data, 4)
    (count,) = struct.unpack_from(f"{order}H", data, at)
    places = range(at + 2, at + 2 + 12 * count, 12)
    return order, {struct.unpack_from(f"{order}H", data, place)[0]: place for place in places}


def directory_first(data: bytes) -> bytes:
    """Return a TIFF with its directory before its pixels, so that cutting it leaves it whole."""
    order, entries = _entries(data)
    offsets, counts = TILES if TILES[0] in entries else STRIPS
    starts, lengths = tiff_numbers(data, offsets)[2], tiff_numbers(data, counts)[2]
    (directory,) = struct.unpack_from(f"{order}I", data, 4)
    end = max(map(sum, zip(starts, lengths, strict=True)))
    end += end % 2
    if directory < end:
        return data
    tail, shift = data[end:], end - 8
    moved = bytearray(data[:8] + tail + data[8:end])
    struct.pack_into(f"{order}I", moved, 4, directory - shift)
    for place in entries.values():
        kind, count, value = struct.unpack_from(f"{order}HII", data, place + 2)
        if {1: 1, 2: 1, 3: 2, 5: 8, 7: 1}.get(kind, 4) * count > 4:
            struct.pack_into(f"{order}I", moved, place - shift + 8, value - shift)
    return tiff_with(bytes(moved), offsets, [start + len(tail) for start in starts])


def _tiff(**save: Any) -> bytes:
    return directory_first(picture().tiffsave_buffer(**save))


def tiff_in(compression: int) -> bytes:
    """Return a TIFF that says it is in a compression, by its number."""
    return tiff_with(_tiff(compression="none"), 259, [compression])


def _in_the_middle(data: bytes, tags: tuple[int, int] = STRIPS, length: int = 400) -> bytes:
    """Return a TIFF with bytes changed in the strip or tile in the middle."""
    starts, lengths = tiff_numbers(data, tags[0])[2], tiff_numbers(data, tags[1])[2]
    which = len(starts) // 2
    return changed(data, starts[which] + lengths[which] * 0.3, length)


def _part(data: bytes, share: float) -> bytes:
    return data[: int(len(data) * share)]


@cache
def tiffs() -> Damaged:
    plain, lzw = _tiff(compression="none"), _tiff(compression="lzw", predictor="horizontal")
    deflate = _tiff(compression="deflate", predictor="horizontal")
    jpeg = _tiff(compression="jpeg")
    tiles = _tiff(compression="none", tile=True, tile_width=128, tile_height=128)
    packed = _tiff(compression="deflate", tile=True, tile_width=128, tile_height=128)
    starts, lengths = tiff_numbers(plain, STRIPS[0])[2], tiff_numbers(plain, STRIPS[1])[2]
    gone = [start if i < len(starts) // 2 else 0 for i, start in enumerate(starts)]
    return {
        "cut at 98 %": (plain, _part(plain, 0.98)),
        "cut at 60 %": (plain, _part(plain, 0.60)),
        "LZW, cut at 98 %": (lzw, _part(lzw, 0.98)),
        "LZW, cut at 60 %": (lzw, _part(lzw, 0.60)),
        "deflate, cut at 60 %": (deflate, _part(deflate, 0.60)),
        "tiles, cut at 60 %": (tiles, _part(tiles, 0.60)),
        "strips missing": (plain, tiff_with(plain, STRIPS[0], gone)),
        "byte counts too small": (plain, tiff_with(plain, STRIPS[1], [n // 3 for n in lengths])),
        "LZW, changed": (lzw, _in_the_middle(lzw)),
        "deflate, changed": (deflate, _in_the_middle(deflate)),
        "JPEG inside, changed": (jpeg, _in_the_middle(jpeg, length=300)),
        "tiles, changed": (packed, _in_the_middle(packed, TILES)),
        "zstd": (plain, tiff_in(ZSTD)),
        "LZMA": (plain, tiff_in(LZMA)),
    }


# JPEG

_AFTER_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7]")


def scan_start(data: bytes, number: int = 0) -> int:
    """Return where the data of a JPEG's scan begin."""
    at, seen = 2, 0
    while True:
        marker = data[at + 1]
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if marker != 0xDA:
            continue
        if seen == number:
            return at
        seen += 1
        at = scan_end(data, at)


def scan_end(data: bytes, start: int) -> int:
    """Return where the marker stands that ends the data of a JPEG's scan."""
    found = _AFTER_SCAN.search(data, start)
    assert found
    return found.start()


@cache
def jpegs() -> Damaged:
    base = picture().jpegsave_buffer(Q=90)
    coarse = picture().jpegsave_buffer(Q=75, subsample_mode="on")
    progressive = picture().jpegsave_buffer(Q=90, interlace=True)
    restarts = picture().jpegsave_buffer(Q=90, restart_interval=8)

    def at(data: bytes, share: float) -> int:
        start = scan_start(data)
        return start + int((len(data) - start) * share)

    half = at(restarts, 0.5)
    third = scan_end(progressive, scan_start(progressive, 2))
    end = b"\xff\xd9"
    return {
        **{f"cut at {s:.0%}": (base, base[: at(base, s)]) for s in (0.98, 0.9, 0.6, 0.3)},
        **{f"ended at {s:.0%}": (base, base[: at(base, s)] + end) for s in (0.97, 0.5)},
        **{f"changed at {s:.0%}": (base, changed(base, at(base, s), 200))
           for s in (0.1, 0.3, 0.5, 0.7, 0.9)},
        "4:2:0, changed": (coarse, changed(coarse, at(coarse, 0.6), 200)),
        "4:2:0, ended at 80%": (coarse, coarse[: at(coarse, 0.8)] + end),
        "zeros": (base, changed(base, at(base, 0.5), 4096, 0)),
        "a part taken out": (base, base[: at(base, 0.4)] + base[at(base, 0.6) :]),
        "restarts lost": (
            restarts, restarts[:half] + re.sub(rb"\xff[\xd0-\xd7]", b"", restarts[half:])
        ),
        "intervals lost": (restarts, restarts[: at(restarts, 0.3)] + restarts[half:]),
        "progressive, cut": (progressive, _part(progressive, 0.3)),
        "progressive, scans missing": (progressive, progressive[:third] + end),
        "progressive, changed": (
            progressive, changed(progressive, scan_start(progressive, 4) + 500, 200)
        ),
    }  # fmt: skip


# WebP and PNG


def webps() -> Damaged:
    lossy, lossless = picture().webpsave_buffer(Q=90), picture().webpsave_buffer(lossless=True)
    return {
        "cut": (lossy, _part(lossy, 0.6)),
        "lossless, cut": (lossless, _part(lossless, 0.6)),
        "changed": (lossy, changed(lossy, len(lossy) * 0.5, 300)),
        "lossless, changed": (lossless, changed(lossless, len(lossless) * 0.5, 300)),
    }


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return type and content of a PNG's chunks."""
    found, at = [], 8
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        found.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    return found


def png_of(parts: Iterable[tuple[bytes, bytes]]) -> bytes:
    """Return a PNG of these chunks, their checksums right."""
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in parts
    )


def pngs() -> Damaged:
    base, woven = picture().pngsave_buffer(), picture().pngsave_buffer(interlace=True)
    parts = chunks(base)
    head = [part for part in parts if part[0] not in (b"IDAT", b"IEND")]
    data = b"".join(body for kind, body in parts if kind == b"IDAT")

    def split(data: bytes) -> list[tuple[bytes, bytes]]:
        return [(b"IDAT", data[at : at + 8192]) for at in range(0, len(data), 8192)]

    def whole(parts: list[tuple[bytes, bytes]]) -> bytes:
        return png_of([*head, *parts, (b"IEND", b"")])

    pieces = split(data)
    middle = len(pieces) // 2
    exchanged = [*pieces[:middle], pieces[middle + 1], pieces[middle], *pieces[middle + 2 :]]
    stored = zlib.compress(zlib.decompress(data), 0)
    return {
        "cut at 98 %": (base, _part(base, 0.98)),
        "cut at 60 %": (base, _part(base, 0.60)),
        "interlaced, cut": (woven, _part(woven, 0.3)),
        "data end early": (base, whole(split(_part(data, 0.5)))),
        "changed, checksums right": (base, whole(split(changed(data, len(data) * 0.5, 200)))),
        "few bytes changed": (base, whole(split(changed(data, len(data) * 0.3, 3)))),
        "stored, sum of all wrong": (
            base, whole(split(changed(stored, len(stored) * 0.4, 9000)))
        ),
        "checksum wrong": (base, changed(whole(split(stored)), len(stored) * 0.6, 9000)),
        "a chunk lost": (base, whole(pieces[:middle] + pieces[middle + 1 :])),
        "chunks exchanged": (base, whole(exchanged)),
    }  # fmt: skip


def all_damaged() -> dict[str, tuple[str, bytes, bytes]]:
    """Return name -> suffix of the file, the whole file's bytes, the damaged one's."""
    sets = {".tif": tiffs(), ".jpg": jpegs(), ".webp": webps(), ".png": pngs()}
    return {
        f"{suffix[1:]}: {name}": (suffix, whole, bad)
        for suffix, made in sets.items()
        for name, (whole, bad) in made.items()
    }
