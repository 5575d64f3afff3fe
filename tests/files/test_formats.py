"""What a file is, by its content: camera raw, layered files, and what is refused in words."""

from __future__ import annotations

import io
import struct
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.opening import decode, read_header
from pressworthy.testing import draw
from pressworthy.values.finding import Unmeasured

FORMS = {1: "B", 2: "s", 3: "H", 4: "I", 7: "s", 13: "I"}
Tags = Mapping[int, tuple[int, Any]]
"""Tag -> type and values: bytes of types 2 and 7, else a list of numbers."""
SUBFILE, WIDTH, HEIGHT, BITS, COMPRESSION, COLOURS = 0xFE, 0x100, 0x101, 0x102, 0x103, 0x106
STRIPS, CHANNELS, ROWS, LENGTHS, PARTS = 0x111, 0x115, 0x116, 0x117, 0x14A
MOSAIC, FILTER_SIZE, FILTER = 32803, 0x828D, 0x828E


def laid_out(chain: Sequence[Tags], parts: Sequence[Tags] = (), extra: bytes = b"") -> bytes:
    """Return a TIFF of directories in a chain, the first pointing at `parts`; extra lies behind.

    A tag STRIPS of type 7 holds the pixels themselves.
    """
    data = bytearray(b"II*\0\0\0\0\0")

    def put(content: bytes) -> int:
        data.extend(b"\0" * (len(data) % 2) + content)
        return len(data) - len(content)

    def directory(tags: Tags, following: int) -> int:
        tags = dict(tags)
        if STRIPS in tags and tags[STRIPS][0] == 7:
            pixels = tags[STRIPS][1]
            tags[STRIPS], tags[LENGTHS] = (4, [put(pixels)]), (4, [len(pixels)])
        entries = b""
        for tag, (kind, values) in sorted(tags.items()):
            if kind in (2, 7):
                raw, count = bytes(values), len(values)
            else:
                raw, count = struct.pack(f"<{len(values)}{FORMS[kind]}", *values), len(values)
            place = raw.ljust(4, b"\0") if len(raw) <= 4 else struct.pack("<I", put(raw))
            entries += struct.pack("<HHI", tag, kind, count) + place
        return put(struct.pack("<H", len(tags)) + entries + struct.pack("<I", following))

    places = [directory(tags, 0) for tags in parts]
    following = 0
    for n, tags in reversed(list(enumerate(chain))):
        more = {PARTS: (4, places)} if places and n == 0 else {}
        following = directory({**tags, **more}, following)
    struct.pack_into("<I", data, 4, following)
    return bytes(data) + extra


def image(values: Any, **more: tuple[int, Any]) -> dict[int, tuple[int, Any]]:
    """Return the tags of an uncompressed RGB or one-channel picture."""
    height, width, channels = values.shape
    return {
        WIDTH: (4, [width]), HEIGHT: (4, [height]), BITS: (3, [values.itemsize * 8] * channels),
        COMPRESSION: (3, [1]), COLOURS: (3, [2 if channels == 3 else 1]),
        STRIPS: (7, values.tobytes()), CHANNELS: (3, [channels]), ROWS: (4, [height]),
    }  # fmt: skip


def mosaic() -> dict[int, tuple[int, Any]]:
    """Return the tags of a sensor's values behind a filter of two by two (TIFF/EP, 5.2)."""
    values = draw(96, 64, depth=16, channels=1)
    return {
        **image(values), SUBFILE: (4, [0]), COLOURS: (3, [MOSAIC]),
        FILTER_SIZE: (3, [2, 2]), FILTER: (1, [0, 1, 1, 2]),
    }  # fmt: skip


def jpeg(width: int, height: int) -> bytes:
    held = io.BytesIO()
    Image.fromarray(draw(width, height)).save(held, "JPEG")
    return held.getvalue()


SMALL = {**image(draw(32, 24)), SUBFILE: (4, [1])}
PREVIEW = {
    WIDTH: (4, [320]), HEIGHT: (4, [240]), COMPRESSION: (3, [6]), BITS: (3, [8, 8, 8]),
    COLOURS: (3, [6]), STRIPS: (7, jpeg(320, 240)), CHANNELS: (3, [3]), ROWS: (4, [240]),
}  # fmt: skip
# T.81's lossless frame, as sensors' values are coded by
LOSSLESS = b"\xff\xd8\xff\xc3\0\x11\x08\x10\0\x10\0\3" + bytes(40)


@pytest.mark.parametrize(
    ("data", "preview"),
    [
        (laid_out([SMALL], [mosaic()]), "32 x 24"),
        # a preview in full colour stands first, and the sensor's values in a later directory
        (laid_out([PREVIEW, mosaic()]), "320 x 240"),
        (laid_out([image(draw(200, 150)), mosaic()]), "200 x 150"),
        (laid_out([SMALL], [mosaic()], LOSSLESS + jpeg(160, 120)), "160 x 120"),
        (laid_out([mosaic()]), ""),
        (laid_out([{**mosaic(), COLOURS: (3, [34892])}], (), jpeg(48, 32)), "48 x 32"),
        (b"\0\0\0\x18ftypcrx \0\0\0\1" + bytes(60) + jpeg(64, 48), "64 x 48"),
        (b"II*\0\x10\0\0\0CR\2\0" + bytes(60), ""),
        (b"IIU\0" + bytes(60) + b"\xff\xd8\xff\xe0\xff\xff", ""),
    ],
)
def test_camera_raw_is_known_and_never_judged_by_its_preview(
    data: bytes, preview: str, tmp_path: Path
) -> None:
    path = tmp_path / "p.tif"
    path.write_bytes(data)
    ending = f"; the preview in it has {preview} px, and is not judged" if preview else ""
    words = "camera raw; it has to be developed first, and exported as a TIFF" + ending
    for read in (read_header, decode):
        with pytest.raises(Unmeasured) as told:
            read(path)
        assert str(told.value) == f"not a picture format read here: {words}"


def test_a_developed_tiff_with_small_pictures_in_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "p.tif"
    for data in (laid_out([image(draw(64, 48)), SMALL]), laid_out([image(draw(64, 48))], [SMALL])):
        path.write_bytes(data)
        assert (read_header(path).width, decode(path).width) == (64, 64)


def test_directories_in_a_ring_end(tmp_path: Path) -> None:
    path = tmp_path / "p.tif"
    data = bytearray(laid_out([image(draw(64, 48))]))
    at = struct.unpack_from("<I", data, 4)[0]
    count = struct.unpack_from("<H", data, at)[0]
    struct.pack_into("<I", data, at + 2 + 12 * count, at)
    path.write_bytes(data)
    assert read_header(path).format == "TIFF"


@pytest.mark.parametrize("depth", [8, 16])
def test_of_a_layered_tiff_the_picture_it_makes_is_read(depth: int, tmp_path: Path) -> None:
    """The layers lie in private tags, and every reader passes over those (TIFF 6.0, section 2)."""
    values, icc = draw(64, 48, depth=depth), rgb_profile("opRGB")
    layers = {37724: (7, b"layers of an editor" + bytes(999)), 34377: (7, bytes(50))}
    path = tmp_path / "p.tif"
    path.write_bytes(laid_out([{**image(values), **layers, 34675: (7, icc)}]))
    header = read_header(path)
    assert (header.format, header.mode, header.depth, header.icc) == ("TIFF", "RGB", depth, icc)
    assert np.array_equal(decode(path).numpy(), values)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"GIF89a" + bytes(60), "GIF, of at most 256 colours; ask for the original"),
        (b"BM" + bytes(60), "BMP, mostly without an ICC profile; ask for the original"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "PostScript; export a TIFF at its placed size"),
        (b"\xc5\xd0\xd3\xc6" + bytes(60), "PostScript; export a TIFF at its placed size"),
        (b"%PDF-1.7\n" + bytes(60), "a PDF; .*export a picture in one as a TIFF"),
        (b"\0\0\0\x18ftypmsf1\0\0\0\0hevc" + bytes(60), "a film, or sound"),
    ],
)
def test_what_is_refused_says_what_to_ask_for(data: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "p.tif"
    path.write_bytes(data)
    with pytest.raises(Unmeasured, match=f"^not a picture format read here: {words}"):
        read_header(path)


@pytest.mark.parametrize("save", ["GIF", "BMP", "EPS"])
def test_pillows_files_of_these_are_told_too(save: str, tmp_path: Path) -> None:
    Image.fromarray(draw(64, 48)).save(tmp_path / "p", save)
    with pytest.raises(Unmeasured, match="^not a picture format read here: (GIF|BMP|PostScript)"):
        read_header(tmp_path / "p")


@pytest.mark.parametrize(
    ("dtype", "words"),
    [("float32", "floating values of 32 bits"), ("uint32", "values of 32 bits"),
     ("float64", "more than 32 bits a value")],
)  # fmt: skip
def test_values_whose_white_nothing_fixes_are_not_read(
    dtype: str, words: str, tmp_path: Path
) -> None:
    values, path = draw(64, 48).astype(dtype), tmp_path / "p.tif"
    floats = {0x153: (3, [3] * 3)} if dtype.startswith("float") else {}
    path.write_bytes(laid_out([{**image(values), **floats}]))
    with pytest.raises(Unmeasured, match=f"^TIFF of {words}.*save it in 16 bits"):
        read_header(path)
