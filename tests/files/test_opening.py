"""Opening files of odd makes: channels beyond the colours, gain maps, few bits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips

from pressworthy.files.opening import decode, opaque, read_header
from pressworthy.testing import draw, write_picture
from pressworthy.values.finding import Unmeasured


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
