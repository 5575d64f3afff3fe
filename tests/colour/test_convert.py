"""A transform that stays open gives what one set up for the picture alone gives."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.convert import as_vips, convert, to_lab, to_lightness
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.house import House
from pressworthy.values.finding import Unmeasured

# fewer than the buffer's row takes, and more than the whole buffer takes
SIZES = [(1, 1), (7, 300), (300, 401)]


def coloured(size: tuple[int, int], dtype: Any, channels: int = 3) -> NDArray[Any]:
    """Return random colours with all grays between."""
    rng = np.random.default_rng(size[1])
    top = np.iinfo(dtype).max
    values = rng.integers(0, top + 1, (*size, channels)).astype(dtype)
    values[0] = np.linspace(0, top, size[1]).astype(dtype)[:, None]
    return values


def alone(values: NDArray[Any], profile: bytes, black_point: bool) -> NDArray[Any]:
    image = as_vips(values, "RGB")
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    lab = image.icc_import(
        embedded=True, intent="relative", pcs="lab", black_point_compensation=black_point
    )
    return np.asarray(lab.numpy()).reshape(values.shape)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_one_after_the_other_to_the_last_bit(dtype: Any) -> None:
    for space in ("sRGB", "ROMM RGB", "sRGB"):
        for black_point in (True, False):
            for size in SIZES:
                values, profile = coloured(size, dtype), rgb_profile(space)
                lab = to_lab(values, "RGB", profile, black_point=black_point)
                assert np.array_equal(lab, alone(values, profile, black_point))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize(("mode", "channels"), [("CMYK", 4), ("gray", 1)])
def test_lightness_alone_is_that_of_the_colour(
    coated: House, dtype: Any, mode: str, channels: int
) -> None:
    profile = coated.output.condition.profiles[mode.lower()].read_bytes()
    values = coloured((40, 60), dtype, channels)
    for black_point in (True, False):
        lab = to_lab(values, mode, profile, black_point=black_point)
        found = to_lightness(values, mode, profile, black_point=black_point)
        assert found.shape == (40, 60)
        assert np.abs(found - lab[..., 0]).max() < 0.002


def test_a_profile_that_is_written_anew_is_read_anew(coated: House, tmp_path: Path) -> None:
    profiles = coated.output.condition.profiles
    target, values = tmp_path / "target.icc", coloured((7, 300), np.uint8)
    for colour, channels in (("cmyk", 4), ("gray", 1), ("cmyk", 4)):
        target.unlink(missing_ok=True)
        target.write_bytes(profiles[colour].read_bytes())
        assert convert(values, "RGB", "srgb", target).shape == (7, 300, channels)


def test_a_profile_that_is_not_there_is_unmeasured(tmp_path: Path) -> None:
    with pytest.raises(Unmeasured, match="LittleCMS"):
        convert(coloured((7, 300), np.uint8), "RGB", "srgb", tmp_path / "none.icc")


def test_a_profile_that_lies_elsewhere_the_next_time_is_the_same_one(
    coated: House, tmp_path: Path
) -> None:
    values, profile = coloured((4, 4), np.uint8), coated.output.condition.profiles["cmyk"]
    wanted = convert(values, "RGB", "srgb", profile)
    for name in ("one.icc", "other.icc"):
        lent = tmp_path / name
        lent.write_bytes(profile.read_bytes())
        first = convert(values, "RGB", "srgb", lent)
        lent.unlink()
        assert np.array_equal(first, wanted)
