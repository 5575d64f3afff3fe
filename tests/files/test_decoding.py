"""Pictures that other libraries decode: HEIC, JPEG 2000, JPEG XL, beside a TIFF of their pixels."""

from __future__ import annotations

import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import brotli
import numpy as np
import pillow_heif
import pytest
import pyvips
from numpy.typing import NDArray
from other_writers import GAIN_MAP, P3, as_heic, as_jp2, as_jxl, as_phones_write_it, exif
from PIL import Image

from pressworthy.files import memory
from pressworthy.files.boxes import beyond_the_end
from pressworthy.files.decoding import jpeg_xl
from pressworthy.files.decoding.image import Undecoded
from pressworthy.files.formats import nature
from pressworthy.files.metadata.words import read_xmp
from pressworthy.files.opening import decode, lost_in, read_header, stream
from pressworthy.house import House
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.jobs.proofing import proof_picture
from pressworthy.plugins import load
from pressworthy.prepare.making import make
from pressworthy.prepare.order import Order
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import MachineTrouble
from pressworthy.values.placement import PlacementRequest

SIZE = 320, 240


def as_palette(path: Path, values: NDArray[Any]) -> Path:
    palette = Image.fromarray(values).quantize(200)
    palette.save(path, icc_profile=P3, dpi=(240, 240))
    return path


WRITERS: dict[str, Callable[[Path, NDArray[Any]], Path]] = {
    "p.heic": as_heic, "p.jp2": as_jp2, "p.jxl": as_jxl, "p.png": as_palette,
}  # fmt: skip


@pytest.mark.parametrize("name", WRITERS)
def test_it_is_judged_as_a_tiff_of_its_pixels(name: str, tmp_path: Path, coated: House) -> None:
    values = draw(*SIZE)
    path = WRITERS[name](tmp_path / name, values)
    header, image = read_header(path), decode(path)
    assert (header.mode, header.depth, header.alpha) == ("RGB", 8, False)
    assert np.abs(image.numpy().astype(int) - values).mean() <= (8 if name == "p.png" else 1)
    twin = tmp_path / "p.tif"
    kept = {"xmp-data": header.xmp} if header.xmp else {}
    write_picture(twin, image.numpy(), icc=header.icc, ppi=240, fields=kept)
    request = PlacementRequest((27, 20))

    def judged(one: Path) -> list[Any]:
        verdict = check_picture(Task(one, request), coated, Run(load(), processes=1))
        assert len(verdict.outcomes) > 10
        return [(o.rule, o.state, o.reason, o.findings) for o in verdict.outcomes]

    assert judged(path) == judged(twin)


@pytest.mark.parametrize("name", WRITERS)
def test_a_copy_is_made_of_it_as_of_a_tiff(name: str, tmp_path: Path, coated: House) -> None:
    values = draw(*SIZE)
    path = WRITERS[name](tmp_path / name, values)
    header, twin = read_header(path), tmp_path / "p.tif"
    write_picture(twin, decode(path).numpy(), icc=header.icc, ppi=240)
    made = []
    for master in (path, twin):
        order = Order(
            master, master.with_name(f"{master.name}-copy.tif"), PlacementRequest((27, 20))
        )
        make(order, coated)
        made.append(decode(order.target).numpy())
    assert made[0].shape == (236, 319, 4)
    assert np.array_equal(*made)


def test_a_person_sees_of_it_what_a_tiff_shows(tmp_path: Path, coated: House) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE))
    twin = write_picture(tmp_path / "p.tif", decode(path).numpy(), icc=P3, ppi=240)
    seen = []
    for one in (path, twin):
        pulled = proof_picture(
            Task(one, PlacementRequest((27, 20))), coated, Run(load(), processes=1)
        )[1]
        assert pulled is not None
        seen.append(pulled.views)
    assert seen[0].keys() >= {"supplied", "soft", "print"}
    assert seen[0] == seen[1]


@pytest.mark.parametrize("name", ["p.heic", "p.jp2", "p.jxl"])
def test_its_profile_and_words_are_those_of_the_file(name: str, tmp_path: Path) -> None:
    header = read_header(WRITERS[name](tmp_path / name, draw(*SIZE)))
    assert header.format == {"p.heic": "HEIC", "p.jp2": "JPEG 2000", "p.jxl": "JPEG XL"}[name]
    assert (header.width, header.height, header.orientation) == (*SIZE, 1)
    # the writer of JPEG XL takes no profile and means sRGB
    assert header.icc == P3 if name != "p.jxl" else header.icc
    assert read_xmp(header.xmp) == CREDITED
    if name != "p.jp2":
        assert header.ppi == (240, 240)


def test_ten_bits_of_a_heic_are_kept_and_white_is_white(tmp_path: Path) -> None:
    values = draw(*SIZE, depth=16)
    values[:40], values[40:80] = 65535, 0
    path = as_heic(tmp_path / "p.heic", values, quality=-1)
    header, image = read_header(path), decode(path)
    assert (header.depth, header.mode, image.format) == (10, "RGB", "ushort")
    read = image.numpy().astype(int)
    assert np.abs(read - values).mean() / 257 <= 1
    assert (read[20, 20] == 65535).all() and (read[60, 20] == 0).all()
    # more than 256 values of it are used
    assert len(np.unique(read[100:])) > 500


def test_gray_and_alpha_of_a_heic(tmp_path: Path) -> None:
    gray = as_heic(tmp_path / "g.heic", draw(*SIZE, channels=1), icc_profile=None)
    assert (read_header(gray).mode, decode(gray).bands) == ("gray", 1)
    values = np.concatenate([draw(*SIZE), np.full((240, 320, 1), 255, np.uint8)], axis=2)
    values[:120, :, 3] = 0
    clear = as_heic(tmp_path / "a.heic", values)
    assert (read_header(clear).mode, read_header(clear).alpha) == ("RGB", True)
    alpha = decode(clear).numpy()[..., 3]
    assert (alpha[:100] < 3).all() and (alpha[140:] > 252).all()


def test_a_heic_turned_by_its_own_words_stands_upright(tmp_path: Path) -> None:
    path = tmp_path / "p.heic"
    values = draw(*SIZE)
    picture = Image.fromarray(values)
    pillow_heif.register_heif_opener()
    # both ways of saying it: the writer puts a turn beside EXIF's 6
    picture.save(path, exif=exif(orientation=6), quality=95, chroma=444)
    header = read_header(path)
    assert (header.width, header.height, header.orientation) == (240, 320, 1)
    off = decode(path).numpy().astype(int) - np.rot90(values, -1)
    assert np.abs(off).mean() <= 1
    assert decode(path).copy().autorot().width == 240


def test_small_pictures_in_a_heic_are_left_aside_and_others_counted(tmp_path: Path) -> None:
    one, other = Image.fromarray(draw(*SIZE)), Image.fromarray(draw(160, 120, seed=2))
    held = pillow_heif.from_pillow(other)
    held.add_from_pillow(one)
    held.save(tmp_path / "p.heic", primary_index=1, quality=95, thumbnails=[64])
    header = read_header(tmp_path / "p.heic")
    assert (header.width, header.height, header.pages) == (*SIZE, 2)
    assert (decode(tmp_path / "p.heic").width) == SIZE[0]


@pytest.mark.parametrize("how", ["auxiliary", "derived"])
def test_a_gain_map_is_left_aside_and_ten_bits_are_kept(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    values = draw(*SIZE, depth=16)
    values[:40] = 65535
    path = as_phones_write_it(tmp_path / "p.heic", values, how)
    header, image = read_header(path), decode(path)
    assert (header.width, header.height, header.pages, header.depth) == (*SIZE, 1, 10)
    assert (header.mode, header.alpha, header.icc) == ("RGB", False, P3)
    assert (image.width, image.height, image.format) == (*SIZE, "ushort")
    assert np.abs(image.numpy().astype(int) - values).mean() / 257 <= 1
    assert (image.numpy()[20] == 65535).all()
    # they are there, whole, for whom asks for them
    for option in ("THUMBNAILS", "DEPTH_IMAGES", "AUX_IMAGES"):
        monkeypatch.setattr(pillow_heif.options, option, True)
    told = pillow_heif.open_heif(path).info
    assert len(told["thumbnails"]) == len(told["depth_images"]) == 1
    if how == "auxiliary":
        assert GAIN_MAP.decode() in told["aux"]
    else:
        # the brand and the item; not every binding tells of its group
        assert path.read_bytes().count(b"tmap") == 2


@pytest.mark.parametrize(
    ("coded", "stated"), [((1, 13), "sRGB"), ((12, 13), "Display P3"), ((2, 2), ""),
                          ((9, 16), "Rec.2100 PQ"), ((1, 1), "nclx 1 1")],
)  # fmt: skip
def test_the_space_a_heic_without_profile_names(
    coded: tuple[int, int], stated: str, tmp_path: Path
) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE), icc_profile=None)
    data = path.read_bytes()
    at = data.index(b"colrnclx") + 8
    path.write_bytes(data[:at] + struct.pack(">HH", *coded) + data[at + 4 :])
    header = read_header(path)
    assert (header.icc, header.stated_space) == (None, stated)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.97])
@pytest.mark.parametrize("name", ["p.heic", "p.jp2", "p.jxl"])
def test_one_cut_short_is_told(name: str, share: float, tmp_path: Path) -> None:
    path = WRITERS[name](tmp_path / name, draw(*SIZE))
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(Unmeasured, match="^the file is damaged or cut short"):
        decode(path)


def test_a_heic_in_tiles_that_is_cut_short_is_told(tmp_path: Path) -> None:
    """Its decoder fills in the tiles that are missing."""
    if not hasattr(pillow_heif.options, "GRID_TILE_SIZE"):
        pytest.skip("this libheif writes no tiles")
    path = as_heic(tmp_path / "p.heic", draw(*SIZE), tiles=128, exif=None, xmp=None)
    data = path.read_bytes()
    assert beyond_the_end(path) == ""
    assert decode(path).width == SIZE[0]
    path.write_bytes(data[: len(data) * 2 // 3])
    assert pillow_heif.open_heif(path).data
    with pytest.raises(Unmeasured, match="^the file is damaged or cut short: .* parts are missing"):
        decode(path)


@pytest.mark.parametrize("name", ["p.heic", "p.jp2", "p.webp"])
def test_what_their_readers_do_not_tell_is_not_promised(name: str, tmp_path: Path) -> None:
    """Where one tells it one day, read-whole's page and docs/reliability.md can say so."""
    path, values = tmp_path / name, draw(*SIZE)
    if name == "p.webp":
        write_picture(path, values, Q=95)
    else:
        WRITERS[name](path, values)
    whole, data = decode(path).numpy(), bytearray(path.read_bytes())
    # in the coded data, which come last
    data[-len(data) // 4] ^= 0x10
    path.write_bytes(data)
    image = decode(path)
    assert (image.numpy() != whole).any() and not lost_in(image)


def test_a_heic_is_never_accused_for_a_missing_decoder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE))
    for words in (
        "Unsupported feature: Unsupported codec",
        "Error while loading plugin: Support for this compression format has not been built in",
    ):

        def fails(*_: Any, words: str = words, **__: Any) -> Any:
            raise Undecoded(words)

        monkeypatch.setitem(
            sys.modules["pressworthy.files.opening"]._BY_OTHERS,
            "HEIC",
            fails,
        )
        for read in (read_header, decode):
            with pytest.raises(Unmeasured) as told:
                read(path)
            assert str(told.value).startswith("HEIC, which the libraries installed here do not de")


def test_brands_beside_the_first_tell_what_a_file_is(tmp_path: Path) -> None:
    path = tmp_path / "p"
    for brands, kind in (
        (b"heic", "HEIC"), (b"mif1\0\0\0\0mif1heic", "HEIC"), (b"mif1\0\0\0\0mif1avif", "AVIF"),
        (b"avif\0\0\0\0mif1miaf", "AVIF"), (b"hevc\0\0\0\0msf1", "a film, or sound"),
    ):  # fmt: skip
        path.write_bytes(struct.pack(">I4s", 8 + len(brands), b"ftyp") + brands + bytes(60))
        assert nature(path) == kind


def test_memory_is_asked_for_before_a_heic_is_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE))
    monkeypatch.setattr(memory, "_budget", 1000)
    asked: list[Any] = []
    monkeypatch.setattr(pillow_heif.HeifImage, "data", property(asked.append))
    for read in (decode, stream):
        with pytest.raises(MachineTrouble, match="to decode it takes"):
            read(path)
    assert not asked
    assert read_header(path).width == SIZE[0]


def test_gray_of_jpeg_2000_keeps_its_16_bits_and_colours_of_16_are_not_read(tmp_path: Path) -> None:
    values = draw(*SIZE, depth=16, channels=1)
    path = as_jp2(tmp_path / "p.jp2", values, icc=None)
    header, image = read_header(path), decode(path)
    assert (header.mode, header.depth, image.format) == ("gray", 16, "ushort")
    assert np.array_equal(image.numpy().reshape(240, 320), values.squeeze())
    path = as_jp2(tmp_path / "q.jp2", draw(*SIZE))
    data = bytearray(path.read_bytes())
    # the bits of each channel in the codestream's head
    at = data.index(b"\xff\x4f\xff\x51") + 42
    data[at], data[at + 3], data[at + 6] = 15, 15, 15
    path.write_bytes(data)
    with pytest.raises(Unmeasured, match="^JPEG 2000 of 16 bits a channel, .*export a TIFF"):
        read_header(path)


def test_jpeg_2000_says_its_space_and_inks_are_not_read(tmp_path: Path) -> None:
    path = as_jp2(tmp_path / "p.jp2", draw(*SIZE), icc=None)
    assert read_header(path).stated_space == "sRGB"
    data = path.read_bytes()
    path.write_bytes(data.replace(struct.pack(">I", 16), struct.pack(">I", 14), 1))
    assert data != path.read_bytes()
    with pytest.raises(Unmeasured, match="^JPEG 2000 in colours that are not read here"):
        read_header(path)


def test_jpeg_xl_names_the_extra_that_reads_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = as_jxl(tmp_path / "p.jxl", draw(*SIZE))
    monkeypatch.setitem(sys.modules, "pillow_jxl", None)
    with pytest.raises(Unmeasured, match=r"^JPEG XL, .*pip install 'pressworthy\[formats\]'"):
        read_header(path)


@pytest.mark.parametrize(
    ("head", "words"),
    [
        # size by eighths, square, not all by default, no extra fields; whole values of 16 bits
        (0b1111_11_0_0_0_001_00011_1, "^JPEG XL of 16 bits a channel"),
        (0b1_0_0_001_00011_1, "^JPEG XL of floating values a channel"),
        (0b1_0_000_1_0_001_00011_1, "^JPEG XL of several pictures"),
    ],
)
def test_what_a_jpeg_xls_head_says_is_believed(head: int, words: str, tmp_path: Path) -> None:
    path = tmp_path / "p.jxl"
    path.write_bytes(b"\xff\x0a" + head.to_bytes(8, "little") + bytes(60))
    with pytest.raises(Unmeasured, match=words):
        read_header(path)


def test_sizes_in_a_jpeg_xls_head() -> None:
    for width, height in ((8, 8), (4000, 3000), (1, 70_000), (1920, 1080)):
        bits = sized(width, height)
        head = jpeg_xl._head(b"\xff\x0a" + bits)
        assert head[:3] == (width, height, 8)


def sized(width: int, height: int) -> bytes:
    """Return a head of 8 bits by default and a size in 18 bits a side (18181-1, D.2)."""
    value, at = 0, 0
    for number, count in (
        (0, 1), (2, 2), (height - 1, 18), (0, 3), (2, 2), (width - 1, 18), (1, 1)
    ):  # fmt: skip
        value |= number << at
        at += count
    return value.to_bytes(16, "little")


def test_a_jpeg_xl_made_of_a_jpeg_gives_it_back(tmp_path: Path) -> None:
    pytest.importorskip("pillow_jxl")
    own = write_picture(tmp_path / "p.jpg", draw(*SIZE), words=CREDITED)
    with Image.open(own) as picture:
        picture.save(tmp_path / "p.jxl", "JXL", lossless_jpeg=True)
    header = read_header(tmp_path / "p.jxl")
    assert (header.format, header.icc) == ("JPEG XL", read_header(own).icc)
    assert np.array_equal(decode(tmp_path / "p.jxl").numpy(), decode(own).numpy())


def packed(data: bytes, kind: bytes, content: bytes | None = None) -> bytes:
    """Return a JPEG XL with a box compressed, or with other bytes in place of what that gives."""
    at = data.index(kind) - 4
    end = at + int.from_bytes(data[at : at + 4], "big")
    content = brotli.compress(data[at + 8 : end]) if content is None else content
    box = struct.pack(">I4s", 12 + len(content), b"brob") + kind + content
    return data[:at] + box + data[end:]


def test_compressed_words_of_a_jpeg_xl_are_read(tmp_path: Path) -> None:
    path = as_jxl(tmp_path / "p.jxl", draw(*SIZE))
    plain, data = read_header(path), path.read_bytes()
    path.write_bytes(packed(packed(data, b"Exif"), b"xml "))
    assert b"Exif" not in path.read_bytes().replace(b"brobExif", b"")
    header = read_header(path)
    assert (header.exif, header.xmp, header.ppi) == (plain.exif, plain.xmp, (240, 240))
    assert read_xmp(header.xmp) == CREDITED


def test_words_of_a_jpeg_xl_that_cannot_be_unpacked_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = as_jxl(tmp_path / "p.jxl", draw(*SIZE))
    data = path.read_bytes()
    whole = brotli.compress(b"<x/>" * 5000)
    bomb = brotli.compress(bytes(jpeg_xl.MOST_WORDS_BYTES + 1), quality=1)
    for content, words in ((b"\xff" * 40, "damaged"), (whole[:-3], "cut"), (bomb, "far too long")):
        path.write_bytes(packed(data, b"xml ", content))
        with pytest.raises(Unmeasured, match=f"damaged or cut short: its compressed.*{words}"):
            read_header(path)
    # without the library no credit is found missing: nothing is said of the picture
    path.write_bytes(packed(data, b"xml "))
    monkeypatch.setitem(sys.modules, "brotli", None)
    with pytest.raises(Unmeasured, match=r"^JPEG XL, .*pip install 'pressworthy\[formats\]'"):
        read_header(path)


def test_a_bomb_of_a_heic_is_not_decoded(tmp_path: Path) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE))
    data = bytearray(path.read_bytes())
    at = data.index(b"ispe") + 8
    data[at : at + 8] = struct.pack(">II", 60_000, 60_000)
    path.write_bytes(data)
    with pytest.raises((Unmeasured, MachineTrouble)):
        read_header(path)
        decode(path)


def test_libvips_alone_does_not_read_them() -> None:
    """Where it does one day, the modules beside it can go."""
    assert {".jxl", ".jp2"}.isdisjoint(pyvips.get_suffixes())


def test_nothing_is_imported_before_such_a_file_is_read() -> None:
    names = "{'pillow_heif', 'pillow_jxl'}"
    asked = f"import sys, pressworthy.files.opening; print({names} & sys.modules.keys())"
    told = subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True)
    assert told.stdout.strip() == "set()"
