"""HEIC, JPEG 2000 and JPEG XL beside what the standards' own libraries make of them elsewhere."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from conftest import need
from other_writers import as_heic, as_jp2, as_phones_write_it, exif

from pressworthy.files.metadata.words import read_xmp
from pressworthy.files.opening import decode, read_header
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Unmeasured

SIZE = 320, 240


def by(program: str, *arguments: str | Path) -> str:
    call = [need(program), *map(str, arguments)]
    return subprocess.run(call, check=True, capture_output=True, text=True).stdout


def off(path: Path, other: Path) -> float:
    """Return by how many codes of 255 the pixels of two files differ, on average."""
    ours, theirs = decode(path), pyvips.Image.new_from_file(str(other))
    assert (ours.width, ours.height, ours.bands) == (theirs.width, theirs.height, theirs.bands)
    scaled = [
        one.numpy().astype(float) / (257 if one.format == "ushort" else 1) for one in (ours, theirs)
    ]
    return float(np.abs(scaled[0] - scaled[1]).mean())


def test_heic_as_libheifs_own_program_has_it(tmp_path: Path) -> None:
    for name, values in (("a", draw(*SIZE)), ("b", draw(*SIZE, depth=16))):
        path = as_heic(tmp_path / f"{name}.heic", values)
        by("heif-convert", path, tmp_path / f"{name}.png")
        assert off(path, tmp_path / f"{name}.png") <= 0.5
    assert f"image: {SIZE[0]}x{SIZE[1]}" in by("heif-info", tmp_path / "a.heic")


def test_a_heic_written_by_libheifs_own_program(tmp_path: Path) -> None:
    source = write_picture(tmp_path / "p.png", draw(*SIZE), icc="Display P3")
    by("heif-enc", source, "-L", "-p", "chroma=444", "--matrix_coefficients=0", "-t", "64",
       "-o", tmp_path / "p.heic")  # fmt: skip
    header = read_header(tmp_path / "p.heic")
    assert (header.width, header.height, header.depth, header.pages) == (*SIZE, 8, 1)
    assert header.icc == read_header(source).icc
    assert off(tmp_path / "p.heic", source) <= 0.5


@pytest.mark.parametrize("kind", ["HEIC", "AVIF"])
def test_words_that_libheifs_own_program_compressed_are_no_missing_words(
    kind: str, tmp_path: Path
) -> None:
    source = write_picture(tmp_path / "p.jpg", draw(*SIZE), words=CREDITED)
    path = tmp_path / f"p.{kind.lower()}"
    for more in ([], ["--enable-metadata-compression"]):
        by("heif-enc", *more, source, "-o", path)
        if not more:
            assert read_xmp(read_header(path).xmp) == CREDITED
            continue
        with pytest.raises(Unmeasured, match=f"^{kind} whose metadata are compressed.*export a"):
            read_header(path)


@pytest.mark.parametrize("how", ["auxiliary", "derived"])
def test_what_libheif_says_of_a_heic_with_a_gain_map(how: str, tmp_path: Path) -> None:
    path = as_phones_write_it(tmp_path / "p.heic", draw(*SIZE, depth=16), how)
    told = by("heif-info", path)
    assert f"image: {SIZE[0]}x{SIZE[1]} (id=1), primary" in told and told.count("image:") == 1
    assert "thumbnail: 80x60" in told and "depth channel: yes" in told
    by("heif-convert", path, tmp_path / "p.png")
    assert off(path, tmp_path / "p.png") <= 0.5


def test_what_exiftool_reads_in_a_heic(tmp_path: Path) -> None:
    path = as_heic(tmp_path / "p.heic", draw(*SIZE), exif=exif())
    told = by("exiftool", "-s3", "-ImageSize", "-XResolution", "-ProfileDescription", path)
    assert told.split("\n")[:2] == ["320x240", "240"]
    assert read_header(path).ppi == (240, 240)


def test_jpeg_2000_as_openjpegs_own_program_has_it(tmp_path: Path) -> None:
    path = as_jp2(tmp_path / "p.jp2", draw(*SIZE), icc=None)
    by("opj_decompress", "-i", path, "-o", tmp_path / "p.tif")
    assert off(path, tmp_path / "p.tif") == 0
    gray = as_jp2(tmp_path / "g.jp2", draw(*SIZE, depth=16, channels=1), icc=None)
    by("opj_decompress", "-i", gray, "-o", tmp_path / "g.tif")
    assert off(gray, tmp_path / "g.tif") == 0


def test_jpeg_xl_as_libjxls_own_program_has_it(tmp_path: Path) -> None:
    source = write_picture(tmp_path / "p.png", draw(*SIZE), icc="Display P3")
    for distance in ("0", "1"):
        by("cjxl", source, tmp_path / "p.jxl", "-d", distance)
        by("djxl", tmp_path / "p.jxl", tmp_path / "back.png")
        assert off(tmp_path / "p.jxl", tmp_path / "back.png") <= 0.5
        assert read_header(tmp_path / "p.jxl").icc


def test_words_that_libjxls_own_program_compressed_are_read(tmp_path: Path) -> None:
    """Those of a JPEG it was made of, once that can no more be given back."""
    source = write_picture(tmp_path / "p.jpg", draw(*SIZE), words=CREDITED)
    by("exiftool", "-q", "-overwrite_original", "-EXIF:Make=Plate", source)
    by("cjxl", source, tmp_path / "p.jxl")
    data = (tmp_path / "p.jxl").read_bytes()
    assert data.count(b"brob") == 2
    (tmp_path / "p.jxl").write_bytes(data.replace(b"jbrd", b"free"))
    header = read_header(tmp_path / "p.jxl")
    assert read_xmp(header.xmp) == CREDITED
    assert header.exif and b"Plate" in header.exif


def test_a_turned_jpeg_xl_stands_upright(tmp_path: Path) -> None:
    values: Any = draw(*SIZE)
    source = write_picture(tmp_path / "p.png", values, fields={"exif-ifd0-Orientation": "6"})
    by("exiftool", "-q", "-overwrite_original", "-n", "-EXIF:Orientation=6", source)
    by("cjxl", source, tmp_path / "p.jxl", "-d", "0")
    header = read_header(tmp_path / "p.jxl")
    assert (header.width, header.height, header.orientation) == (240, 320, 1)
    assert np.array_equal(decode(tmp_path / "p.jxl").numpy(), np.rot90(values, -1))


def test_a_jpeg_xl_of_16_bits_is_known_by_its_head(tmp_path: Path) -> None:
    source = write_picture(tmp_path / "p.png", draw(*SIZE, depth=16))
    by("cjxl", source, tmp_path / "p.jxl", "-d", "1")
    with pytest.raises(Unmeasured, match="^JPEG XL of 16 bits a channel"):
        read_header(tmp_path / "p.jxl")
