"""The test strip: one detail, six amounts, each sharpened by as much as it says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pressworthy.house import House
from pressworthy.prepare.amount import derived_amount
from pressworthy.prepare.detail import detail
from pressworthy.prepare.strip import PATCH_MM, strip
from pressworthy.testing import write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.units import MM_PER_INCH

SIZE = tuple(round(side / MM_PER_INCH * 300) for side in PATCH_MM)


def waves(path: Path, period: float = 8) -> Path:
    """A faint wave: above the threshold, far below the halo limit."""
    across, down = SIZE
    wave = 128 + 22 * np.sin(2 * np.pi * np.arange(across) / period)
    values = np.broadcast_to(np.rint(wave)[None, :, None], (down, across, 3)).astype(np.uint8)
    return write_picture(path, values)


def test_the_patches_differ_by_their_amounts(houses: dict[str, House], tmp_path: Path) -> None:
    house = houses["mono"]
    shown = strip(house, waves(tmp_path / "waves.png"))
    amounts = [patch.amount for patch in shown.patches]
    middle = derived_amount(house)
    assert amounts == pytest.approx(
        [0, *(middle * x for x in (1 / 3, 2 / 3, 1, 4 / 3, 2))], abs=0.006
    )
    assert [patch.told for patch in shown.patches] == ["", "", "", "derived", "", ""]
    assert shown.radius == pytest.approx(1.5)
    # 1 + amount (1 - exp(-2 pi^2 radius^2 f^2)) of the contrast, f of an eighth of a pixel
    full = 1 - np.exp(-2 * np.pi**2 * 1.5**2 / 64)
    contrasts = [float(patch.image.numpy()[100:-100, 100:-100].std()) for patch in shown.patches]
    gains = [contrast / contrasts[0] for contrast in contrasts]
    assert gains == pytest.approx([1 + amount * full for amount in amounts], abs=0.05)
    assert {(patch.image.width, patch.image.height) for patch in shown.patches} == {SIZE}


def test_without_a_model_of_the_press_the_houses_amount_is_in_the_middle(
    houses: dict[str, House], tmp_path: Path
) -> None:
    mono = houses["mono"]
    bare = replace(mono.output.condition, values={"ink limit": 100.0})
    house = replace(mono, output=replace(mono.output, condition=bare))
    patch = strip(house, waves(tmp_path / "waves.png")).patches[3]
    assert (patch.amount, patch.told) == (0.97, "the house profile's")


def test_a_picture_that_is_too_small_is_refused(houses: dict[str, House], tmp_path: Path) -> None:
    path = write_picture(tmp_path / "small.png", np.full((400, 400, 3), 120, np.uint8))
    with pytest.raises(SetupError, match=r"small\.png: .*picture of more pixels"):
        strip(houses["mono"], path)


def test_a_house_that_prints_nothing_has_no_strip(houses: dict[str, House]) -> None:
    with pytest.raises(SetupError, match="no ink"):
        strip(houses["screen"])
    with pytest.raises(SetupError, match="no section 'prepare'"):
        strip(replace(houses["mono"], prepare=None))


def test_the_detail_has_foliage_letters_and_skin() -> None:
    card = detail(*PATCH_MM, 200)
    height, width = card.shape[:2]
    assert (width, height) == tuple(round(side / MM_PER_INCH * 200) for side in PATCH_MM)
    leaves, skin = card[: height // 3].astype(float), card[-height // 8 :].astype(float)
    # green, and busy at every pixel
    assert leaves[..., 1].mean() > leaves[..., 0].mean() > leaves[..., 2].mean()
    assert np.abs(np.diff(leaves.mean(axis=2), axis=1)).mean() > 5
    # red, and smooth
    assert skin[..., 0].mean() > skin[..., 1].mean() > skin[..., 2].mean()
    assert np.abs(np.diff(skin.mean(axis=2), axis=1)).mean() < 2
