"""Opening files of odd makes: channels beyond the colours, gain maps, few bits."""

from __future__ import annotations

import errno
import os
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from damaged_files import chunks, png_of, tiff_with
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.metadata.words import read_xmp
from pressworthy.files.opening import decode, opaque, read_header
from pressworthy.house import House
from pressworthy.measure.resolution import two_resolutions
from pressworthy.testing import a_picture, draw, found, write_picture, xmp
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import MachineTrouble
from pressworthy.values.placement import PlacementRequest
from pressworthy_rules import icc_profile


def laid(path: Path, values: Any, mode: str) -> Any:
    write_picture(path, values, mode=mode, icc=None)
    header = read_header(path)
    assert (header.mode, header.alpha) == (mode, True)
    return opaque(decode(path), header.mode).numpy()


@pytest.mark.parametrize("step", [1, 257])
@pytest.mark.parametrize(
    "mode, inks, paper", [("RGB", (66, 23, 22), 255), ("CMYK", (66, 23, 22, 11), 0)]
)
def test_alpha_lays_on_paper_and_further_channels_go(
    mode: str, inks: tuple[int, ...], paper: int, step: int, tmp_path: Path
) -> None:
    values = np.zeros((8, 8, len(inks) + 2), np.uint8 if step == 1 else np.uint16)
    values[..., :-2] = np.array(inks) * step
    values[:4, :, -2] = 255 * step
    values[..., -1] = 77
    result = laid(tmp_path / "p.tif", values, mode)
    assert result.dtype == values.dtype
    assert np.array_equal(result[:4], values[:4, :, :-2])
    assert (result[4:] == paper * step).all()


@pytest.mark.parametrize("step", [1, 257])
@pytest.mark.parametrize("mode, colours", [("RGB", 3), ("CMYK", 4), ("gray", 1)])
@pytest.mark.parametrize(
    "kinds, alpha, left_out", [((0,), 0, 1), ((0, 0), 0, 2), ((0, 2), 2, 1), ((2, 0), 1, 1)]
)
def test_selections_and_spot_inks_are_left_out_and_are_no_alpha(
    kinds: tuple[int, ...], alpha: int, left_out: int, mode: str, colours: int, step: int,
    tmp_path: Path,
) -> None:  # fmt: skip
    """alpha: which of the channels beyond the colours it is, from 1, or 0 where there is none."""
    dtype = np.uint8 if step == 1 else np.uint16
    values = np.zeros((16, 16, colours + len(kinds)), dtype)
    values[..., :colours] = np.array((60, 120, 180, 30))[:colours] * step
    # an empty selection; the alpha's upper half is opaque
    if alpha:
        values[:8, :, colours + alpha - 1] = 255 * step
    path = write_picture(tmp_path / "p.tif", values, mode=mode, icc=None)
    path.write_bytes(tiff_with(path.read_bytes(), 338, kinds))
    header = read_header(path)
    assert (header.mode, header.alpha, header.extra_channels) == (mode, bool(alpha), left_out)
    read = opaque(decode(path), header.mode).numpy().reshape(16, 16, -1)
    assert np.array_equal(read[:8], values[:8, :, :colours])
    paper = 0 if mode == "CMYK" else 255 * step
    below = values[8:, :, :colours]
    assert np.array_equal(read[8:], np.full_like(below, paper) if alpha else below)


def test_alpha_that_colours_are_multiplied_by_is_taken_out(tmp_path: Path) -> None:
    values = np.full((8, 8, 4), (50, 30, 10, 128), np.uint8)
    path = write_picture(tmp_path / "p.tif", values, icc=None)
    path.write_bytes(tiff_with(path.read_bytes(), 338, [1]))
    read = opaque(decode(path), "RGB").numpy()
    # on paper: what is there, and the paper that shows through
    assert np.abs(read - np.array((50, 30, 10)) - 127.0).max() <= 1


def png_with(*chunks_more: tuple[bytes, bytes], icc: str | None = None) -> bytes:
    values = draw(64, 48)
    image = pyvips.Image.new_from_array(values).copy(interpretation="srgb")
    if icc:
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", rgb_profile(icc))
    head, *rest = chunks(image.pngsave_buffer())
    return png_of([head, *chunks_more, *rest])


def points(*xy: float) -> bytes:
    return struct.pack(">8I", *(round(value * 100_000) for value in xy))


SRGB_POINTS = points(0.3127, 0.329, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06)
OP_POINTS = points(0.3127, 0.329, 0.64, 0.33, 0.21, 0.71, 0.15, 0.06)
GAMMA = (b"gAMA", struct.pack(">I", 45455))


@pytest.mark.parametrize(
    "more, icc, stated, codes",
    [
        ([], None, "", {"missing"}),
        ([(b"cICP", b"\x01\x0d\0\1")], None, "sRGB", {"missing-but-stated"}),
        ([(b"cICP", b"\x0c\x0d\0\1")], None, "Display P3", {"missing-but-stated"}),
        ([(b"cICP", b"\x09\x10\0\1")], None, "Rec.2100 PQ", {"missing-but-stated"}),
        ([(b"cICP", b"\x0c\x0d\0\1")], "sRGB", "Display P3", {"contradicts-exif"}),
        ([(b"cICP", b"\x01\x0d\0\1")], "sRGB", "sRGB", set()),
        ([(b"cICP", b"\x01\x01\x01\1")], "sRGB", "cICP 1 1 1 1", {"contradicts-exif"}),
        ([(b"sRGB", b"\0")], None, "sRGB", {"missing-but-stated"}),
        ([GAMMA, (b"cHRM", SRGB_POINTS)], None, "sRGB", {"missing-but-stated"}),
        ([GAMMA, (b"cHRM", OP_POINTS)], None, "opRGB", {"missing-but-stated"}),
        ([GAMMA], None, "", {"missing"}),
        # a profile goes before these, and writers give both
        ([GAMMA, (b"cHRM", OP_POINTS)], "sRGB", "", set()),
    ],
)
def test_what_a_png_says_of_its_colours_is_told(
    more: list[tuple[bytes, bytes]], icc: str | None, stated: str, codes: set[str],
    tmp_path: Path, coated: House,
) -> None:  # fmt: skip
    path = tmp_path / "p.png"
    path.write_bytes(png_with(*more, icc=icc))
    assert read_header(path).stated_space == stated
    options = coated.rules["icc-profile"].options
    told = found(icc_profile.rule, a_picture(path), options)
    assert told.keys() == codes
    for finding in told.values():
        assert ("Name Rec" in finding.remedy) is False
        assert stated in str(finding.measured)


@pytest.mark.parametrize(
    "unit, density, exif, ppi, other",
    [
        (1, 300, None, 300, None), (2, 118, None, 300, None), (2, 79, None, 201, None),
        (1, 72, 300, 300, 72), (1, 300, 300, 300, None), (2, 118, 300, 300, None),
    ],
)  # fmt: skip
def test_what_a_jpeg_states_of_its_resolution(
    unit: int, density: int, exif: int | None, ppi: float, other: float | None, tmp_path: Path
) -> None:
    path, block = tmp_path / "p.jpg", Image.Exif()
    if exif:
        block[282], block[283], block[296] = float(exif), float(exif), 2
    Image.fromarray(draw(60, 40)).save(path, dpi=(72, 72), exif=block)
    data = bytearray(path.read_bytes())
    at = data.index(b"JFIF\0") + 7
    data[at : at + 5] = struct.pack(">BHH", unit, density, density)
    path.write_bytes(data)
    header = read_header(path)
    assert header.ppi and header.ppi[0] == pytest.approx(ppi)
    assert (header.other_ppi and header.other_ppi[0]) == other
    size = a_picture(path)
    assert bool(two_resolutions(size)) is bool(other)
    assert two_resolutions(a_picture(path, PlacementRequest((10, 10)))) == ""


def test_xmp_that_goes_on_in_further_segments_is_read_whole(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(64, 48), words={"creator": "A. Maker"})
    more = xmp({"credit": "The House", "caption": "sea " * 20_000})
    own = path.read_bytes()
    about = b'<rdf:Description rdf:about=""'
    note = about + b' xmlns:n="http://ns.adobe.com/xmp/note/" n:HasExtendedXMP="0"'
    head = own.index(b"http://ns.adobe.com/xap/1.0/\0") - 4
    length = int.from_bytes(own[head + 2 : head + 4], "big")
    packet = own[head + 4 : head + 2 + length].replace(about, note)
    parts = [
        b"http://ns.adobe.com/xmp/extension/\0" + b"D" * 32
        + struct.pack(">II", len(more), at) + more[at : at + 50_000]
        for at in range(0, len(more), 50_000)
    ]  # fmt: skip

    def written(parts: list[bytes]) -> dict[str, str]:
        segments = b"".join(
            b"\xff\xe1" + struct.pack(">H", len(one) + 2) + one for one in (packet, *parts)
        )
        path.write_bytes(own[:head] + segments + own[head + 2 + length :])
        return read_xmp(read_header(path).xmp)

    assert len(parts) == 2
    assert written(parts[::-1]).keys() == {"creator", "credit", "caption"}
    assert written(parts[:1]) == {"creator": "A. Maker"}


def tiff_of_lab(values: Any, photometric: int, tmp_path: Path) -> Any:
    path = write_picture(tmp_path / "p.tif", values, icc=None)
    path.write_bytes(tiff_with(path.read_bytes(), 262, [photometric]))
    return path


def test_icc_lab_is_read_and_lab_of_8_bits_told(tmp_path: Path) -> None:
    eight = np.full((8, 8, 3), (128, 148, 108), np.uint8)
    wide = np.full((8, 8, 3), (32640, 37888, 27648), np.uint16)
    for values in (eight, wide):
        path = tiff_of_lab(values, 9, tmp_path)
        header = read_header(path)
        assert (header.mode, header.depth) == ("Lab", values.dtype.itemsize * 8)
        light, a, b = decode(path).colourspace("lab").numpy()[0, 0]
        assert (light, a, b) == (pytest.approx(50, abs=0.3), 20, -20)
    with pytest.raises(Unmeasured, match="Lab in 8 bits, which is not read here"):
        read_header(tiff_of_lab(eight, 8, tmp_path))


def test_the_depth_is_the_files_and_not_that_of_its_unpacked_values(tmp_path: Path) -> None:
    image = pyvips.Image.black(64, 64).linear(1, 255).cast("uchar")
    for depth in (1, 2, 4, 8):
        image.tiffsave(str(tmp_path / "p.tif"), bitdepth=depth)
        image.pngsave(str(tmp_path / "p.png"), bitdepth=depth)
        assert read_header(tmp_path / "p.tif").depth == depth
        assert read_header(tmp_path / "p.png").depth == depth
    colours = image.bandjoin([image, image]).copy(interpretation="srgb")
    colours.pngsave(str(tmp_path / "p.png"), palette=True, bitdepth=1)
    assert read_header(tmp_path / "p.png").depth == 8


def tiff(order: str, *tags: tuple[int, int]) -> bytes:
    """Return the head of a TIFF whose first directory has these tags, each one long."""
    mark = b"II*\0" if order == "<" else b"MM\0*"
    entries = b"".join(struct.pack(f"{order}HHII", tag, 4, 1, value) for tag, value in tags)
    return mark + struct.pack(f"{order}IH", 8, len(tags)) + entries + bytes(64)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"8BPS\0\1" + bytes(60), "a layered file of an image editor; export a flattened TIFF"),
        (b"8BPS\0\2" + bytes(60), "a layered file"),
        (b"PK\3\4" + bytes(26) + b"mimetypeimage/openraster", "a layered file"),
        (b"PK\3\4" + bytes(60), "a ZIP archive; unpack it"),
        (b"\0\0\0\x18ftypcrx \0\0\0\1" + bytes(60), "camera raw; it has to be developed first"),
        (tiff("<", (0x0106, 32803)), "camera raw"),
        (tiff(">", (0x00FE, 1), (0x014A, 200)), "camera raw"),
        (b"\0\0\0\x18ftypqt  \0\0\0\0" + bytes(60), "a film, or sound"),
        (b"%PDF-1.7\n" + bytes(60), "a PDF; give page PDFs to check --pages"),
        (b"words\n", "text"),
        (bytes(60), "unknown content"),
    ],
)
def test_what_is_not_read_is_told_for_what_it_is(data: bytes, words: str, tmp_path: Path) -> None:
    # the name says nothing
    path = tmp_path / "p.jpg"
    path.write_bytes(data)
    with pytest.raises(Unmeasured, match=f"^not a picture format read here: {words}"):
        read_header(path)


def test_camera_raw_that_opens_as_its_small_picture_is_no_picture(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.tif", draw(64, 48))
    assert read_header(path).width == 64
    # a tag in the place of another: the mark of an open raw file
    data = bytearray(path.read_bytes())
    order = "little" if data[:2] == b"II" else "big"
    start = int.from_bytes(data[4:8], order)  # type: ignore[arg-type]
    count = int.from_bytes(data[start : start + 2], order)  # type: ignore[arg-type]
    tags = [start + 2 + 12 * i for i in range(count)]
    (place,) = (at for at in tags if int.from_bytes(data[at : at + 2], order) == 0x0112)  # type: ignore[arg-type]
    data[place : place + 2] = (0xC612).to_bytes(2, order)  # type: ignore[arg-type]
    path.write_bytes(data)
    with pytest.raises(Unmeasured, match="camera raw"):
        read_header(path)


def test_a_picture_that_no_decoder_is_there_for_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "p.avif"
    path.write_bytes(b"\0\0\0\x18ftypavif\0\0\0\0" + bytes(60))

    def none(*_: Any, **__: Any) -> Any:
        raise pyvips.Error("unable", "heif: Unsupported feature: Unsupported codec (4.3000)")

    monkeypatch.setattr("pressworthy.files.opening._loader", lambda _: "heifload_source")
    monkeypatch.setattr(pyvips.Image, "new_from_source", none)
    with pytest.raises(Unmeasured, match="^AVIF, which the libraries installed here do not decode"):
        read_header(path)


def test_a_jpeg_with_a_gain_map_is_a_jpeg(tmp_path: Path) -> None:
    path = tmp_path / "phone.jpg"
    light = pyvips.Image.new_from_array(draw(256, 192).astype(np.float32) / 60)
    light = light.copy(interpretation="scrgb")
    if not pyvips.type_find("VipsForeignSave", "uhdrsave"):
        pytest.skip("this libvips writes no gain maps")
    light.uhdrsave(str(path))
    header = read_header(path)
    assert (header.format, header.mode, header.depth) == ("JPEG", "RGB", 8)
    assert header.icc and header.quantisation
    assert np.array_equal(decode(path).numpy(), pyvips.Image.jpegload(str(path)).numpy())
    path.write_bytes(path.read_bytes()[:3000])
    with pytest.raises(Unmeasured):
        decode(path)


def test_a_folder_where_a_picture_should_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(Unmeasured, match="^a folder, no picture$"):
        read_header(tmp_path)
    told = {
        errno.EACCES: (Unmeasured, "a folder that cannot be opened: Permission denied; let this"),
        errno.EMFILE: (MachineTrouble, "too few files may be open at once"),
    }
    for number, (kind, words) in told.items():

        def refuse(_: Path, number: int = number) -> None:
            raise OSError(number, os.strerror(number))

        with monkeypatch.context() as patch, pytest.raises(kind, match=words):
            # for the administrator no folder is closed
            patch.setattr(os, "scandir", refuse)
            read_header(tmp_path)
