"""Lightness of the small copy: by the profile's own curves, and of ink as the page shows it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from pressworthy.colour import lightness as cie
from pressworthy.colour.convert import convert, to_lab, to_lightness
from pressworthy.colour.spaces import SPACES
from pressworthy.house import load_house
from pressworthy.measure.lightness import own_lightness, seen_lightness
from pressworthy.measure.pixels import small_copy
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, write_picture


@pytest.mark.parametrize("space", ["sRGB", "opRGB", "Display P3", "ROMM RGB"])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_a_profile_of_curves_is_applied_exactly(tmp_path: Path, space: str, dtype: type) -> None:
    """To what 16 bits tell of L*; LittleCMS goes by a table, and errs by 0.1 in the darks."""
    top = np.iinfo(dtype).max
    # down to black
    values: NDArray[Any] = (np.random.default_rng(5).random((90, 70, 3)) ** 3 * top).astype(dtype)
    picture = a_picture(write_picture(tmp_path / "p.tif", values, icc=space))
    linear = SPACES[space].decode(small_copy(picture).astype(np.float64) / top)
    exact = cie.lightness(linear @ SPACES[space].colorants[:, 1])
    assert np.abs(own_lightness(picture) - exact).max() < 0.02
    assert np.abs(own_lightness(picture) - exact).mean() < 0.002
    by_table = to_lab(small_copy(picture), "RGB", picture.header.icc or b"")[..., 0]
    assert np.abs(own_lightness(picture) - by_table).max() < 0.3


def test_gray_without_a_profile(tmp_path: Path) -> None:
    codes = np.arange(256, dtype=np.uint8)
    values = np.broadcast_to(codes[:, None], (80, 256, 1))
    picture = a_picture(write_picture(tmp_path / "p.tif", values, mode="gray", icc=None))
    exact = cie.lightness(SPACES["sRGB"].decode(np.arange(256) / 255))
    assert np.abs(own_lightness(picture) - exact).max() < 0.002
    assert np.array_equal(seen_lightness(picture), own_lightness(picture))


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono"])
def test_ink_as_littlecms_compensates_its_black(
    registry: Registry, tmp_path: Path, house: str
) -> None:
    """But near the black itself, where its table rounds the corner off."""
    output = load_house(house, registry).output
    profile = output.condition.profiles[output.colour]
    inks = (convert(draw(), "RGB", "srgb", profile) >> 8).astype(np.uint8)
    path = write_picture(tmp_path / "p.tif", inks, mode=output.mode, icc=profile.read_bytes())
    picture = a_picture(path, output=output)
    values, own = small_copy(picture), own_lightness(picture)
    known = to_lightness(values, output.mode, profile.read_bytes(), black_point=True)
    off = np.abs(seen_lightness(picture) - known)
    assert off[known > 8].max() < 0.3
    assert off.mean() < 0.05
    assert np.abs(own - seen_lightness(picture)).max() > 3
