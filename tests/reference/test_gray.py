"""Colour to gray: CCPR (Lu, Xu, Jia 2012) on open photographs, and the equal-lightness trap."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips

from pressworthy.colour.convert import as_vips, to_lab
from pressworthy.colour.lightness import lightness
from pressworthy.colour.linear import to_light
from pressworthy.house import House
from pressworthy.measure.gray_mix import (
    contrast_in,
    contrast_kept,
    limits_of,
    linear_srgb,
    luminance_mix,
    merging,
    mildest_mix,
    mix_for,
    mixed,
)
from pressworthy.testing import a_picture, write_picture

# Mean CCPR over t = 1..15 of the L* conversion on scikit-image's open photographs, computed with
# numpy from the paper's formula (D65 Lab there; D50 here, hence the tolerance).
KEPT = {"astronaut": 0.651, "coffee": 0.661, "chelsea": 0.768, "rocket": 0.438}
# The same of Rec.601 luma: what orders the two conversions from picture to picture
LUMA = {"astronaut": 0.647, "coffee": 0.682, "chelsea": 0.720, "rocket": 0.384}


def photograph(name: str) -> Any:
    return getattr(pytest.importorskip("skimage.data"), name)()


@pytest.mark.parametrize("name", KEPT)
def test_ccpr_of_open_photographs(name: str) -> None:
    values = photograph(name)
    lab = to_lab(values, "RGB", "srgb")
    assert contrast_kept(lab, lab[..., 0]) == pytest.approx(KEPT[name], abs=0.02)
    luma = values @ np.array([0.299, 0.587, 0.114]) / 2.55
    assert contrast_kept(lab, luma) == pytest.approx(LUMA[name], abs=0.02)


def test_ccpr_worked_by_hand() -> None:
    """Two columns, colour difference 10 (L* 3 apart): kept for t = 1, 2, 3 of the ten t <= 10."""
    lab = np.zeros((2, 2, 3))
    lab[:, 1] = [3, np.sqrt(100 - 9), 0]
    assert contrast_kept(lab, lab[..., 0]) == pytest.approx(3 / 10)
    assert contrast_kept(lab, np.zeros((2, 2))) == 0
    assert contrast_kept(lab, lab[..., 0] * 10) == 1


def checker(first: tuple[int, ...], second: tuple[int, ...]) -> Any:
    values = np.zeros((192, 192, 3), np.uint8)
    odd = np.add.outer(np.arange(192) // 8, np.arange(192) // 8) % 2 == 1
    values[:], values[odd] = first, second
    return values


# sRGB colours of L* 60, C* 35 at five hues (LCh of CIELAB, computed with colour-science)
HUES = {40: (200, 125, 106), 140: (108, 156, 104), 200: (0, 161, 165), 270: (98, 148, 206),
        320: (173, 129, 185)}  # fmt: skip


def test_the_colours_of_the_trap_have_one_lightness() -> None:
    lab = to_lab(np.array([list(HUES.values())], np.uint8), "RGB", "srgb")[0]
    assert np.ptp(lab[:, 0]) < 4.5  # D50; within 0.3 in D65
    assert np.hypot(lab[:, 1], lab[:, 2]) == pytest.approx(35, abs=6)


@pytest.mark.parametrize("pair", [(40, 200), (40, 270), (140, 320), (200, 320)])
def test_the_chosen_mix_beats_plain_lightness_on_the_trap(
    pair: tuple[int, int], houses: dict[str, House], tmp_path: Path
) -> None:
    mono = houses["mono"]
    picture = a_picture(
        write_picture(tmp_path / "trap.png", checker(HUES[pair[0]], HUES[pair[1]])),
        output=mono.output,
    )
    limits = limits_of(mono.rules["grayscale"].options)
    chosen, plain = mildest_mix(picture, limits), luminance_mix()
    assert chosen is not None
    assert merging(picture, plain, limits.closest) is not None
    assert merging(picture, chosen, limits.closest) is None
    assert contrast_in(picture, chosen) >= max(limits.least, contrast_in(picture, plain))
    assert math.dist(chosen, plain) < 0.25


def test_the_luminance_mix_keeps_lightness() -> None:
    values = photograph("chelsea")[::4, ::4]
    lab = to_lab(np.ascontiguousarray(values), "RGB", "srgb")
    gray = mixed(linear_srgb(lab), luminance_mix())
    assert np.abs(gray - lab[..., 0]).max() < 0.2


def test_mono_judges_by_the_gray_that_prepare_makes(
    houses: dict[str, House], tmp_path: Path
) -> None:
    mono = houses["mono"]
    assert mono.prepare is not None and "gray mix" not in mono.prepare
    limits = limits_of(mono.rules["grayscale"].options)
    for asked, mix in (("", luminance_mix()), ((2.0, 1.0, 1.0), (0.5, 0.25, 0.25))):
        output = replace(mono.output, gray_mix=asked)
        picture = a_picture(write_picture(tmp_path / "p.png", checker((9, 9, 9), (90, 90, 90))),
                            output=output)  # fmt: skip
        assert mix_for(picture, limits) == mix


def test_a_gray_profile_towards_lab_is_read_alike_by_check_and_prepare() -> None:
    black = pyvips.Image.black(2, 2).copy(interpretation="b-w")
    icc = black.icc_transform("sgrey", input_profile="sgrey").get("icc-profile-data")
    icc = icc[:20] + b"Lab " + icc[24:]
    values = np.array([[30, 90, 128, 200, 255]], np.uint8)
    light = to_light(
        as_vips(values, "gray"), "gray", icc, intent="relative", black_point=False
    ).luminance()
    seen = to_lab(values[..., None], "gray", icc)[0, :, 0]
    assert lightness(light.numpy().ravel() / 65535) == pytest.approx(seen, abs=0.05)
