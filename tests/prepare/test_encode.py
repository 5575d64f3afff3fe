"""The bytes of a copy: its format's settings, its byte budget and its resolution."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.opening import read_header
from pressworthy.prepare.encode import dress, encode
from pressworthy.testing import draw, write_picture

JPEG = {"format": "JPEG", "quality": 90}


def picture(seed: int = 1, mode: str = "srgb") -> Any:
    values = draw(320, 240, seed=seed, channels=4 if mode == "cmyk" else 3)
    return pyvips.Image.new_from_array(values).copy(interpretation=mode)


def opened(data: bytes) -> Any:
    return Image.open(io.BytesIO(data))


def test_quality_within_the_budget_is_the_best_there_is() -> None:
    image = picture()
    sizes = {q: len(encode(image, {**JPEG, "quality": q})) for q in range(40, 91)}

    def chosen(bytes_: float, least: int = 40) -> int:
        file = {**JPEG, "least quality": least, "byte budget": bytes_ / 1000}
        return len(encode(image, file))

    # to the byte: half a one less, and the next lower quality is taken
    for quality in (41, 63, 90):
        assert chosen(sizes[quality] + 0.5) == sizes[quality]
        assert chosen(sizes[quality] - 0.5) == sizes[quality - 1]
    # what never fits is as small as it may be
    assert chosen(500) == sizes[40]
    assert chosen(500, least=90) == sizes[90]
    assert len(encode(image, {**JPEG, "byte budget": 0.5})) == sizes[90]


def test_a_jpeg_for_the_screen_is_progressive_and_one_for_print_keeps_its_colours_sharp() -> None:
    file = {**JPEG, "quality": 80}
    screen, print_ = encode(picture(), file), encode(picture(mode="cmyk"), file)
    assert opened(screen).info.get("progressive") and not opened(print_).info.get("progressive")
    # the sampling factors of a frame's components (ITU-T T.81 B.2.2), progressive and baseline
    starts = (screen.index(b"\xff\xc2"), screen), (print_.index(b"\xff\xc0"), print_)
    frames = [data[at:] for at, data in starts]
    factors = [[frame[11 + 3 * i] for i in range(frame[9])] for frame in frames]
    assert factors == [[0x22, 0x11, 0x11], [0x11] * 4]
    plain = picture(mode="cmyk").jpegsave_buffer(Q=80, subsample_mode="off")
    assert len(print_) < len(plain)  # its Huffman tables are its own


def test_tiff_loses_nothing_and_uses_the_likeness_of_neighbours() -> None:
    image = picture()
    data = encode(image, {"format": "TIFF", "compression": "lzw"})
    assert np.array_equal(np.asarray(opened(data)), image.numpy())
    tags = opened(data).tag_v2
    assert (tags[259], tags[317], tags[296]) == (5, 2, 2)  # LZW, horizontal, inch
    bare = encode(image, {"format": "TIFF", "compression": "none"})
    assert opened(bare).tag_v2[259] == 1 and len(bare) > len(data)


def test_a_tiff_is_packed_only_where_that_makes_it_smaller() -> None:
    noise = np.random.default_rng(1).integers(0, 256, (200, 160, 4)).astype(np.uint8)
    image = pyvips.Image.new_from_array(noise).copy(interpretation="cmyk")
    ways = {}
    for way in ("lzw if smaller", "lzw", "none"):
        data = encode(image, {"format": "TIFF", "compression": way})
        assert np.array_equal(np.asarray(opened(data)), noise)
        ways[way] = opened(data).tag_v2[259], len(data)
    assert ways["lzw if smaller"] == ways["none"] and ways["none"][1] < ways["lzw"][1]
    assert ways["lzw"][0] == 5
    # all of it is looked at, not only its beginning; and the smallest picture is no trouble
    noise[60:] //= 64
    half = pyvips.Image.new_from_array(noise).copy(interpretation="cmyk")
    for picture_ in (half, half.crop(0, 100, 60, 3)):
        data = encode(picture_, {"format": "TIFF", "compression": "lzw if smaller"})
        assert opened(data).tag_v2[259] == 5


def test_webp_takes_its_time() -> None:
    image = picture()
    data = encode(image, {"format": "WebP", "quality": 80})
    assert opened(data).format == "WEBP"
    assert data == image.webpsave_buffer(Q=80, effort=5, smart_subsample=True)


def test_a_copy_is_dressed_in_its_own_words_only(tmp_path: Path) -> None:
    fields = {"exif-ifd0-Artist": "A. (A., ASCII, 3 components, 3 bytes)", "orientation": 6}
    path = write_picture(tmp_path / "p.jpg", draw(), words={"creator": "A."}, fields=fields)
    bare = pyvips.Image.new_from_file(str(path))
    words = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>"
    image = dress(bare, ppi=254.0, xmp=words, iptc=b"\x1c\x02\x50\x00\x02A.\0" * 4)
    names = set(image.get_fields())
    assert not {name for name in names if name.startswith("exif")} and "orientation" not in names
    assert image.get("xmp-data") == words and image.get("iptc-data")[:3] == b"\x1c\x02\x50"
    assert image.get("icc-profile-data") == rgb_profile("sRGB")
    assert "iptc-data" not in dress(bare, ppi=254.0, xmp=words, iptc=None).get_fields()
    out = tmp_path / "out.tif"
    out.write_bytes(encode(image, {"format": "TIFF", "compression": "lzw"}))
    assert read_header(out).ppi == pytest.approx((254, 254))
    assert bare.get("exif-data")  # the master's own is as it was
