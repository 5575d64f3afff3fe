"""Skin is told of one shaded, smooth area of some size, and not of what only has its colour."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pressworthy.measure.skin import skin

SIZE = 120, 160
Y, X = np.mgrid[: SIZE[0], : SIZE[1]]
ACROSS = (X - 80) / 30
FACE = ((Y - 60) / 40) ** 2 + ACROSS**2 < 1


def lab(light: Any, chroma: Any, hue: Any) -> Any:
    angle = np.radians(hue)
    layers = np.broadcast_arrays(light, chroma * np.cos(angle), chroma * np.sin(angle), FACE)
    return np.stack(layers[:3], -1).astype(np.float32)


FOLIAGE = lab(40.0, 25.0, 130.0)
SHADED = lab(62.0 + 14 * ACROSS, 22.0, 48.0)


def on_foliage(area: Any, colours: Any) -> Any:
    return np.where(area[..., None], colours, FOLIAGE)


def test_a_face_before_leaves_is_skin() -> None:
    found = skin(on_foliage(FACE, SHADED))
    # but for the rim that joining takes
    assert found[FACE].mean() > 0.9
    assert not found[~FACE].any()


def test_the_largest_of_several_areas_is_told() -> None:
    hand = ((Y - 20) / 8) ** 2 + ((X - 15) / 8) ** 2 < 1
    found = skin(on_foliage(FACE | hand, SHADED))
    assert found[60, 80] and not found[hand].any()


@pytest.mark.parametrize(
    "picture",
    [
        pytest.param(np.where(FACE[..., None], SHADED, lab(40.0, 12.0, 55.0)), id="sepia"),
        pytest.param(on_foliage(Y > 60, lab(55.0 + Y / 4, 14.0, 60.0)), id="snow at sunset"),
        pytest.param(on_foliage(FACE, lab(62.0, 22.0, 48.0)), id="a wall"),
        pytest.param(
            on_foliage(FACE, SHADED + 15.0 * ((X + Y) % 2)[..., None] * np.array([1, 0, 0])),
            id="gravel",
        ),
        pytest.param(
            on_foliage((np.abs(ACROSS) < 0.1) | (np.abs(Y - 60) < 3), SHADED + Y[..., None] * 0.0),
            id="branches",
        ),
        pytest.param(on_foliage(FACE & (Y % 40 < 4), SHADED), id="a rail fence"),
        pytest.param(on_foliage(FACE, lab(62.0 + 14 * ACROSS, 22.0, 130.0)), id="leaves"),
        pytest.param(on_foliage(FACE, lab(62.0 + 14 * ACROSS, 60.0, 48.0)), id="an orange"),
        pytest.param(SHADED[:2], id="two rows"),
    ],
)
def test_what_only_has_its_colour_is_not(picture: Any) -> None:
    assert not skin(picture.astype(np.float32)).any()
