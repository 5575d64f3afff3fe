"""Linear light to inks, a few rows at a time: as LittleCMS gives it of the whole."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import pyvips

from pressworthy.colour.computed import strips, values_of
from pressworthy.colour.linear import ROMM, TOP, Light, encoding, from_light
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.house import House

RNG = np.random.default_rng(7)


@pytest.mark.parametrize("shape", [(1, 1, 1), (7, 40_000, 1), (70, 1000, 3), (129, 301, 4)])
def test_strips_are_the_picture(shape: tuple[int, int, int]) -> None:
    values = RNG.integers(0, TOP + 1, shape).astype(np.uint16)
    image = pyvips.Image.new_from_array(values)
    assert (np.concatenate(list(strips(image))) == values).all()
    assert (values_of(image) == values).all()


def colours() -> np.ndarray:
    """Return linear ROMM RGB (111, 600, 3), some of it below black and above white."""
    dark = RNG.random((111, 600, 1)) ** 3
    return ((dark * (1 + RNG.normal(0, 0.3, (111, 600, 3))) * 1.3 - 0.02) * TOP).astype(np.float32)


@pytest.mark.parametrize(("house", "colour"), [("coated-magazine", "cmyk"), ("screen", "rgb")])
@pytest.mark.parametrize("depth", [8, 16])
@pytest.mark.parametrize("black_point", [True, False])
def test_rows_become_what_the_whole_does(
    house: str, colour: str, depth: int, black_point: bool, houses: dict[str, House]
) -> None:
    profile, romm = houses[house].output.condition.profiles[colour], colours()
    # in one piece, through libvips alone
    coded = encoding()[np.clip(romm, 0, TOP).astype(np.uint16)]
    image = pyvips.Image.new_from_array(coded).copy(interpretation="rgb16")
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", rgb_profile(ROMM.name))
    wanted = image.icc_transform(
        str(profile),
        embedded=True,
        intent="relative",
        black_point_compensation=black_point,
        depth=depth,
    )

    def rows() -> Iterator[np.ndarray]:
        for top in range(0, len(romm), 50):
            yield romm[top : top + 50].copy()

    how: Any = {"intent": "relative", "black_point": black_point, "depth": depth}
    found = from_light(rows(), len(romm), profile, **how)
    assert (found.format, found.interpretation) == (wanted.format, wanted.interpretation)
    assert found.get("icc-profile-data") == profile.read_bytes()
    assert (found.numpy() == wanted.numpy()).all()


def test_light_is_mixed_as_its_matrix_says() -> None:
    values = RNG.integers(0, TOP + 1, (90, 700, 3)).astype(np.uint16)
    matrix = np.array([[0.7, 0.2, 0.1], [-0.1, 1.2, -0.1], [0.0, 0.1, 0.9]])
    light = Light(pyvips.Image.new_from_array(values), matrix)
    romm = values @ matrix.T
    assert np.concatenate(list(light.romm())) == pytest.approx(romm, abs=0.05)
    weights = np.array([0.5, 1.5, -0.7])
    mixed = light.mixed(weights).numpy()
    assert mixed.dtype == np.uint16
    assert np.abs(mixed - np.clip(romm @ weights, 0, TOP)).max() <= 1.01
    gray = Light(pyvips.Image.new_from_array(values[..., :1]), np.ones((3, 1)))
    assert (np.concatenate(list(gray.romm())) == values[..., :1]).all()
