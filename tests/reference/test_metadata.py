"""Metadata written by exiftool, an independent writer, and read back by us (IPTC, XMP, EXIF)."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from conftest import need

from pressworthy.measure.metadata import exif, stated_space, words
from pressworthy.testing import a_picture, draw, write_picture


def exiftool(*arguments: str | Path) -> str:
    call = [need("exiftool"), *map(str, arguments)]
    return subprocess.run(call, check=True, capture_output=True, text=True).stdout


@pytest.mark.parametrize("suffix", ["jpg", "tif", "png", "webp"])
def test_xmp_by_exiftool(suffix: str, tmp_path: Path) -> None:
    path = write_picture(tmp_path / f"p.{suffix}", draw())
    exiftool(
        "-q", "-overwrite_original", "-XMP-dc:Creator=Ünal Weir", "-XMP-photoshop:Credit=The House",
        "-XMP-dc:Rights=© 2026 Weir", "-XMP-dc:Description=A boat & a <bird>.", path,
    )  # fmt: skip
    found = words(a_picture(path))
    assert dict(found.xmp) == {
        "creator": "Ünal Weir",
        "credit": "The House",
        "copyright": "© 2026 Weir",
        "caption": "A boat & a <bird>.",
    }


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
@pytest.mark.parametrize("charset", ["UTF8", "Latin"])
def test_iim_by_exiftool(suffix: str, charset: str, tmp_path: Path) -> None:
    path = write_picture(tmp_path / f"p.{suffix}", draw())
    marker = ["-IPTC:CodedCharacterSet=UTF8"] if charset == "UTF8" else []
    exiftool(
        "-q", "-overwrite_original", *marker, "-IPTC:By-line=Zoë Pike", "-IPTC:By-line=B. Two",
        "-IPTC:Credit=The House", "-IPTC:CopyrightNotice=2026", "-IPTC:Caption-Abstract=A bird.",
        path,
    )  # fmt: skip
    # Latin is written without saying so
    creator = {"creator": "Zoë Pike; B. Two"} if charset == "UTF8" else {}
    assert dict(words(a_picture(path)).iim) == {
        **creator,
        "credit": "The House",
        "copyright": "2026",
        "caption": "A bird.",
    }


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
def test_exif_by_exiftool(suffix: str, tmp_path: Path) -> None:
    path = write_picture(tmp_path / f"p.{suffix}", draw())
    exiftool(
        "-q", "-overwrite_original", "-EXIF:Artist=A. Maker", "-EXIF:Copyright=2026 Maker",
        "-EXIF:ImageDescription=A boat", "-EXIF:ColorSpace#=65535", path,
    )  # fmt: skip
    picture = a_picture(path)
    assert dict(words(picture).exif) == {
        "creator": "A. Maker",
        "copyright": "2026 Maker",
        "caption": "A boat",
    }
    assert exif(picture)[0xA001] == 65535


def test_oprgb_as_the_camera_standard_writes_it(tmp_path: Path) -> None:
    """CIPA DC-008: opRGB is ColorSpace 65535 with InteroperabilityIndex R03; sRGB is 1 or R98."""
    path = write_picture(tmp_path / "p.jpg", draw())
    for arguments, space in (
        (["-EXIF:ColorSpace#=65535", "-InteropIndex=R03"], "opRGB"),
        (["-EXIF:ColorSpace#=1", "-InteropIndex=R98"], "sRGB"),
        (["-EXIF:ColorSpace#=65535", "-InteropIndex="], ""),
    ):
        exiftool("-q", "-overwrite_original", *arguments, path)
        assert stated_space(a_picture(path)) == space


def test_exiftool_agrees_on_the_header(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.tif", draw(depth=16), ppi=(300, 240))
    header = a_picture(path).header
    told = exiftool("-T", "-ImageWidth", "-ImageHeight", "-XResolution", "-YResolution", "-n", path)
    width, height, across, down = (float(v) for v in told.split())
    assert (header.width, header.height) == (width, height)
    assert header.ppi == pytest.approx((across, down), rel=1e-3)
    assert exiftool("-T", "-BitsPerSample", path).split()[0] == str(header.depth)
