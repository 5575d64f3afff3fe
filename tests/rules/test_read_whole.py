"""Damaged pictures are told, by whatever their readers mend in silence, and honest ones are not."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from damaged_files import (
    HEIGHT,
    LZMA,
    WIDTH,
    ZSTD,
    all_damaged,
    chunks,
    picture,
    png_of,
    scan_start,
    tiff_in,
)
from pdf_writer import stream, write_pages
from PIL import Image, TiffImagePlugin
from skimage import data

from pressworthy.commands.main import main
from pressworthy.testing import a_picture, draw, found
from pressworthy.values.finding import Unmeasured
from pressworthy_rules.read_whole import rule

DAMAGED = all_damaged()
PASSED = {"tif: deflate, changed", "webp: changed", "webp: lossless, changed"}
"""Data without a sum, or with one that no reader looks at, and of the right length even so."""


def told(path: Path) -> str:
    """Return what is told of a file's pixels, "" where they pass."""
    try:
        return str(found(rule, a_picture(path), {}).get("damaged", ""))
    except Unmeasured as reason:
        return str(reason)


def leniently(data: bytes) -> Any:
    """Return the pixels as a reader gives them that minds nothing."""
    return pyvips.Image.new_from_buffer(data, "", fail_on="none").numpy()[..., :3].astype(int)


@pytest.mark.parametrize("name", DAMAGED)
def test_what_does_not_show_the_picture_that_was_sent_is_told(name: str, tmp_path: Path) -> None:
    suffix, whole, bad = DAMAGED[name]
    path = tmp_path / f"p{suffix}"
    path.write_bytes(whole)
    assert told(path) == ""
    try:
        shows = np.abs(leniently(bad) - leniently(whole)).max(axis=-1) > 8
    except pyvips.Error:
        shows = np.array(True)
    assert shows.mean() > 0.01, "it shows the picture all the same"
    path.write_bytes(bad)
    assert (told(path) == "") is (name in PASSED)


def test_of_48_damaged_pictures_44_or_more_are_told() -> None:
    assert (len(DAMAGED), len(PASSED & DAMAGED.keys())) == (48, 3)


def test_a_compression_not_read_here_is_told_with_its_mend(tmp_path: Path) -> None:
    path = tmp_path / "p.tif"
    for compression, called in ((ZSTD, "ZSTD"), (LZMA, "LZMA")):
        path.write_bytes(tiff_in(compression))
        assert told(path) == (
            f"TIFF in {called} compression, which is not read here; save it with LZW, ZIP "
            "(deflate) or none"
        )


def honest() -> dict[str, bytes]:
    plain, coarse = picture().jpegsave_buffer(Q=90), picture().jpegsave_buffer(Q=60)
    woven = picture().jpegsave_buffer(Q=90, interlace=True)
    restarts = bytearray(picture().jpegsave_buffer(Q=90, restart_interval=16))
    restarts[scan_start(bytes(restarts)) - 2] = 10
    noise = np.random.default_rng(1).bytes(5000)
    tables = woven.index(b"\xff\xdb")
    grey = picture(np.full((HEIGHT, WIDTH, 3), 128, np.uint8))
    below = draw(WIDTH, HEIGHT)
    below[200:] = 128
    file = io.BytesIO()
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[65000] = "a maker's own"
    Image.fromarray(draw(WIDTH, HEIGHT)).save(file, "TIFF", tiffinfo=tags, compression="tiff_lzw")
    parts = chunks(picture().pngsave_buffer())
    own = (b"abCd", b"a maker's own")
    return {
        "bytes after the end.jpg": plain + noise,
        "zeros after the end.jpg": plain + bytes(5000),
        "a second picture after the end.jpg": plain + coarse,
        "zeros before the end.jpg": plain[:-2] + bytes(17) + plain[-2:],
        "filling before the end.jpg": plain[:-2] + b"\xff" * 17 + plain[-2:],
        "bytes between segments.jpg": woven[:tables] + b"\0\1\2" + woven[tables:],
        "odd parameters of the scan.jpg": bytes(restarts),
        "progressive.jpg": woven,
        "all grey.jpg": grey.jpegsave_buffer(Q=90),
        "all grey, coarse.jpg": grey.jpegsave_buffer(Q=50, subsample_mode="on"),
        "grey below.jpg": picture(below).jpegsave_buffer(Q=90),
        "tags of its own.tif": file.getvalue(),
        "chunks of its own.png": png_of([parts[0], own, *parts[1:]]),
        "bytes after the end.png": png_of(parts) + noise,
    }


HONEST = honest()


@pytest.mark.parametrize("name", HONEST)
def test_what_honest_cameras_and_programs_write_passes(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(HONEST[name])
    assert told(path) == ""


@pytest.mark.parametrize("subsample", ["on", "off"])
@pytest.mark.parametrize("channels, kind", [(1, "b-w"), (3, "srgb"), (4, "cmyk")])
def test_every_jpeg_ends_where_its_picture_ends(
    channels: int, kind: str, subsample: str, tmp_path: Path
) -> None:
    """At all sizes beside the edges of its blocks, and where the last of them are grey."""
    path = tmp_path / "p.jpg"
    for width, height in (
        (1, 1),
        (7, 9),
        (16, 16),
        (17, 33),
        (64, 3),
        (65, 65),
        (90, 16),
        (8, 300),
    ):
        for drawn in (draw(width, height, channels=channels), None):
            values = np.full((height, width, channels), 128, np.uint8) if drawn is None else drawn
            image = pyvips.Image.new_from_array(values).copy(interpretation=kind)
            image.jpegsave(str(path), Q=80, subsample_mode=subsample)
            assert told(path) == "", f"{width} x {height}"


@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "rocket", "camera"])
def test_photographs_pass_in_every_format(name: str, tmp_path: Path) -> None:
    image = pyvips.Image.new_from_array(getattr(data, name)())
    for file, save in (
        ("a.jpg", {}), ("b.jpg", {"interlace": True}), ("c.jpg", {"restart_interval": 5}),
        ("a.tif", {"compression": "deflate"}), ("b.tif", {"compression": "jpeg", "tile": True}),
        ("a.png", {"interlace": True}), ("a.webp", {}),
    ):  # fmt: skip
        image.write_to_file(str(tmp_path / file), **save)
        assert told(tmp_path / file) == "", file


def test_a_jpeg_half_grey_is_told_on_a_page_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    entries = (
        f"/Type /XObject /Subtype /Image /Width {WIDTH} /Height {HEIGHT} /BitsPerComponent 8 "
        "/ColorSpace /DeviceRGB /Filter /DCTDecode"
    )
    content = "q 144 0 0 108 60 60 cm /A Do Q"
    page = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680]"
    seen = []
    for bytes_of in DAMAGED["jpg: ended at 50%"][1:]:
        objects = {"A": stream(entries, bytes_of, flate=False)}
        pdf = write_pages(tmp_path / "p.pdf", content, objects, page=page)
        main(["check", "--pages", str(pdf), "--house", "mono", "--format", "json"])
        (picture,) = json.loads(capsys.readouterr().out)["pictures"]
        seen += [o["state"] for o in picture["outcomes"] if o["rule"] == "read-whole"]
    assert seen == ["passed", "found"]
