"""What decoding takes is foretold from the header, by how each format is written."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import pyvips

from pressworthy.files import memory
from pressworthy.files.opening import decode, stream
from pressworthy.values.machine import MachineTrouble

PIXELS = 640 * 480


@pytest.mark.parametrize(
    ("name", "how", "foretold"),
    [
        ("plain.jpg", {}, 0),
        ("progressive.jpg", {"interlace": True, "subsample_mode": "on"}, PIXELS * 1.5 * 2),
        ("progressive.jpg", {"interlace": True, "subsample_mode": "off"}, PIXELS * 3 * 2),
        ("plain.png", {}, 0),
        ("interlaced.png", {"interlace": True}, PIXELS * 3),
        ("interlaced16.png", {"interlace": True, "bitdepth": 16}, PIXELS * 3 * 2),
        ("a.webp", {}, PIXELS * 5),
        ("a.avif", {"compression": "av1", "effort": 0}, PIXELS * 12),
        ("strips.tif", {}, 0),
        ("tiles.tif", {"tile": True, "tile_width": 256, "tile_height": 240}, 2 * 240 * 640 * 3),
    ],
)
def test_a_decoder_takes_what_was_foretold(
    name: str, how: dict[str, Any], foretold: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / name
    (pyvips.Image.black(640, 480, bands=3) + 90).cast("uchar").copy(
        interpretation="srgb"
    ).write_to_file(str(path), **how)
    image = pyvips.Image.new_from_file(str(path))
    assert memory.to_decode(image, 2 if image.format == "ushort" else 1) == foretold
    monkeypatch.setattr(memory, "_budget", memory.BUDGET)
    memory.allow(int(foretold) + image.width * image.height * 3 * (1 + (image.format == "ushort")))
    assert decode(path).width == 640
    if foretold:
        memory.allow(int(foretold) - 1)
        for read in (decode, stream):
            with pytest.raises(MachineTrouble, match="give --memory 0.1GB"):
                read(path)
