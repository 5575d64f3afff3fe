"""What merges in gray, and every remedy followed: it clears its finding, or it is not offered."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.house import House, load_house
from pressworthy.measure.gray_mix import (
    MOST_SHARE,
    Lightened,
    Limits,
    areas,
    contrast_in,
    grain,
    lightened,
    limits_of,
    luminance_mix,
    merging,
    mildest_mix,
    mix_for,
)
from pressworthy.measure.press import sample_lab
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.values.picture import Picture, preset
from pressworthy_rules.grayscale import rule

PHOTOGRAPHS = ("astronaut", "coffee", "chelsea", "rocket")
Taken = Callable[..., Picture]


@pytest.fixture
def mono(houses: dict[str, House]) -> House:
    return houses["mono"]


@pytest.fixture
def taken(mono: House, tmp_path: Path) -> Taken:
    """Return a taker-in of pictures for a gray title, with its gray mix."""

    def take(values: Any, mix: Any = "", **written: Any) -> Picture:
        output = replace(mono.output, gray_mix=mix)
        return a_picture(write_picture(tmp_path / "p.tif", values, **written), output=output)

    return take


def options(mono: House, **changed: float) -> dict[str, Any]:
    return {
        **mono.rules["grayscale"].options,
        **{k.replace("_", " "): v for k, v in changed.items()},
    }


def halves(first: tuple[int, ...], second: tuple[int, ...], size: int = 96) -> Any:
    values = np.full((size, size, 3), first, np.uint8)
    values[:, size // 2 :] = second
    return values


# of one lightness: L* 60, hues 40 and 200 degrees
EQUAL = halves((200, 125, 106), (0, 161, 165))


def ladybird(noise: tuple[float, float, float] = (2, 2, 2)) -> Any:
    """Return red with black spots on green of nearly the same lightness."""
    values = np.full((600, 600, 3), (60.0, 120, 50))
    y, x = np.mgrid[:600, :600]
    values[np.hypot(x - 300, y - 300) < 200] = (190, 30, 25)
    for left, top in ((230, 230), (370, 230), (240, 370), (360, 370)):
        values[np.hypot(x - left, y - top) < 35] = (20, 18, 18)
    values += np.random.default_rng(1).normal(0, noise, values.shape)
    return np.clip(values, 0, 255).astype(np.uint8)


def parted_by_noise(noise: float) -> Any:
    """Return two colours that blue alone tells apart, with so much noise in it."""
    values = halves((124, 124, 124), (108, 121, 188), 400).astype(float)
    values += np.random.default_rng(2).normal(0, (0.0, 0.0, noise), values.shape)
    return np.clip(values, 0, 255).astype(np.uint8)


def advised(remedy: str) -> tuple[float, float, float] | None:
    """Return the mix that a remedy says to write, read as a picture list would be."""
    written = re.search(r"Write ([\d. ]+) in the list's column gray mix", remedy)
    if not written:
        return None
    red, green, blue = map(float, written[1].split())
    return red, green, blue


def followed(picture: Picture, code: str, remedy: str, mono: House) -> bool | None:
    """Return whether the finding is cleared by doing what its remedy says, None if it says nothing.

    What it says must be a mix to write, an area to lighten, or that nothing of the kind helps.
    """
    asked = options(mono)
    if (mix := advised(remedy)) is not None:
        mended = replace(picture, output=replace(picture.output, gray_mix=mix))
    elif lighten := re.search(r"Lighten the (.*?) \((.*?)\) by (\d+) L\* on a copy", remedy):
        named = [a for a in areas(picture)[0] if (a.name, a.place) == lighten.groups()[:2]]
        cleared = []
        for area in named:
            mended = replace(picture)
            preset(mended, sample_lab, lightened(picture, Lightened(area, int(lighten[3]))))
            cleared.append(code not in found(rule, mended, asked))
        return any(cleared)
    else:
        assert "No mix" in remedy
        return None
    return code not in found(rule, mended, asked)


@pytest.mark.parametrize("name", [*PHOTOGRAPHS, "ladybird", "equal", "noise"])
def test_every_remedy_followed_clears_its_finding(name: str, taken: Taken, mono: House) -> None:
    drawn = {"ladybird": ladybird(), "equal": EQUAL, "noise": parted_by_noise(25)}
    values = drawn[name] if name in drawn else _photograph(name)
    for mix in ("", "picture", (0.3, 0.6, 0.1), (0.9, 0.1, 0.0)):
        picture = taken(values, mix)
        for code, finding in found(rule, picture, options(mono)).items():
            assert followed(picture, code, finding.remedy, mono) is not False, finding.remedy
            assert advised(finding.remedy) != mix_for(picture, limits_of(options(mono)))
            assert mix != "picture" or advised(finding.remedy) is None


def _photograph(name: str) -> Any:
    return getattr(pytest.importorskip("skimage.data"), name)()


@pytest.mark.parametrize("name", ["coffee", "chelsea"])
def test_a_photograph_without_a_finding_stays_as_it_is(
    name: str, taken: Taken, mono: House
) -> None:
    picture = taken(_photograph(name), "picture")
    assert mix_for(picture, limits_of(options(mono))) == luminance_mix()
    assert not found(rule, picture, options(mono))


def test_the_ladybird_stays_red_enough_to_be_no_black_one(taken: Taken, mono: House) -> None:
    picture = taken(ladybird())
    limits = limits_of(options(mono))
    assert set(found(rule, picture, options(mono))) == {"merging-areas", "weak-separation"}
    mix = mildest_mix(picture, limits)
    assert mix is not None
    assert np.linalg.norm(np.subtract(mix, luminance_mix())) < 0.2
    assert merging(picture, mix, limits.closest) is None
    assert not found(rule, taken(ladybird(), "picture"), options(mono))


@pytest.mark.parametrize("noise", [0, 25])
def test_noise_is_weighed(noise: int, taken: Taken) -> None:
    """Two colours that blue alone tells apart: its noise would come with it."""
    picture = taken(parted_by_noise(noise))
    borne = mildest_mix(picture, Limits(4.0, 0.0, 50.0))
    assert borne is not None
    assert 0.1 < borne[2] <= MOST_SHARE
    gained = grain(picture, borne) - grain(picture, luminance_mix())
    assert (gained > 0.5) is (noise > 0)
    assert mildest_mix(picture, Limits(4.0, 0.0, 0.5)) == (None if noise else borne)


def test_a_mix_parts_areas_and_is_the_mildest(taken: Taken, mono: House) -> None:
    limits = limits_of(options(mono))
    picture = taken(EQUAL)
    finding = found(rule, picture, options(mono))["merging-areas"]
    assert (finding.limit, finding.unit) == (4, "L*")
    assert 0 <= float(finding.measured) < 4
    assert "orange" in finding.remedy or "red" in finding.remedy
    assert "turquoise" in finding.remedy
    mix = mildest_mix(picture, limits)
    assert mix is not None
    assert advised(finding.remedy) == mix
    # half the way back to lightness they merge
    half = tuple((np.array(mix) + luminance_mix()) / 2)
    assert merging(picture, half, limits.closest) is not None


def test_the_limit_itself_passes(taken: Taken, mono: House) -> None:
    wide = options(mono, closest=9.0, least_contrast=0.0)
    finding = found(rule, taken(EQUAL), wide)["merging-areas"]
    assert found(rule, taken(EQUAL), {**wide, "closest": finding.measured}) == {}


def test_where_no_mix_parts_all_it_is_said_and_a_lighter_area_offered(
    taken: Taken, mono: House
) -> None:
    picture = taken(parted_by_noise(25))
    remedy = found(rule, picture, options(mono))["merging-areas"].remedy
    assert "No mix parts all that merges. Lighten the " in remedy
    assert followed(picture, "merging-areas", remedy, mono)


def merges(picture: Picture) -> bool:
    return merging(picture, luminance_mix(), 4.0) is not None


def test_areas_must_meet_be_broad_and_hang_together(taken: Taken) -> None:
    first, second = EQUAL[0, 0], EQUAL[0, -1]
    assert merges(taken(EQUAL))
    apart = EQUAL.copy()
    apart[:, 40:56] = 240
    assert not merges(taken(apart))
    line = halves(tuple(first), tuple(second), 400)
    line[:, 199:202] = 20  # a line is no distance
    assert merges(taken(line))
    rim = np.full((400, 400, 3), first, np.uint8)
    rim[:, 200:204] = second
    assert not merges(taken(rim))
    rim[:, 200:240] = second
    assert merges(taken(rim))
    line = np.full((800, 800, 3), first, np.uint8)
    line[:, 400:410] = second  # less than may lie between areas that meet, 1.5 % of the side
    assert not merges(taken(line))
    line[:, 400:414] = second
    assert merges(taken(line))
    specks = np.full((400, 400, 3), first, np.uint8)
    specks[::8, ::8] = specks[1::8, ::8] = specks[::8, 1::8] = specks[1::8, 1::8] = second
    assert not merges(taken(specks))


def test_a_gradient_has_no_border(taken: Taken) -> None:
    share = np.linspace(0, 1, 400)[None, :, None]
    values = EQUAL[0, 0] * (1 - share) + EQUAL[0, -1] * share
    assert not merges(taken(np.repeat(np.round(values), 300, axis=0).astype(np.uint8)))


def test_in_the_dark_only_what_the_eye_tells_apart_merges(taken: Taken) -> None:
    """Rock against a night sky: 24 dE00 by their values, 10 with a print's own light over them."""
    assert not merges(taken(halves((16, 11, 9), (5, 10, 26))))
    # as dark, and yet another colour
    assert merges(taken(halves((70, 10, 10), (10, 34, 62))))


def test_little_contrast_kept_and_the_limit_itself(taken: Taken, mono: House) -> None:
    odd = np.add.outer(np.arange(192) // 8, np.arange(192) // 8) % 2 == 1
    values = np.full((192, 192, 3), (200, 125, 106), np.uint8)
    values[odd] = (108, 156, 104)
    picture = taken(values)
    alone = options(mono, closest=0.0)
    (finding,) = found(rule, picture, alone).values()
    assert finding.code == "weak-separation"
    assert (finding.limit, finding.unit) == (30, "%")
    assert finding.measured == pytest.approx(contrast_in(picture, luminance_mix()))
    assert f"it keeps {contrast_in(picture, advised(finding.remedy)):.0f} %" in finding.remedy  # type: ignore[arg-type]
    assert found(rule, picture, {**alone, "least contrast": finding.measured}) == {}


def test_gray_pictures_and_parted_colours_pass(taken: Taken, mono: House) -> None:
    assert not found(rule, taken(draw(channels=1), mode="gray", icc=None), options(mono))
    assert not found(rule, taken(halves((90, 30, 20), (150, 220, 225))), options(mono))


def test_the_house_hands_its_mix_on(registry: Registry, tmp_path: Path) -> None:
    def output(mix: str) -> Any:
        path = tmp_path / "leaf.yaml"
        path.write_text(
            f"house: leaf\nkind: output\nstands on: mono\nprepare:\n  gray mix: {mix}\n"
        )
        return load_house(str(path), registry).output

    assert output("picture").gray_mix == "picture"
    assert output("{red: 0.5, green: 0.5, blue: 0}").gray_mix == (0.5, 0.5, 0)
    assert load_house("mono", registry).output.gray_mix == ""
    with pytest.raises(Exception, match="of no colour at all nothing but black can be mixed"):
        output("{red: 0, green: 0, blue: 0}")


def test_the_demos_quilt_is_parted_by_the_remedy_and_by_its_house(
    taken: Taken, mono: House, registry: Registry, monkeypatch: Any
) -> None:
    demo = Path(__file__).parents[2] / "demo"
    monkeypatch.syspath_prepend(str(demo))
    for name in [name for name in sys.modules if name.split(".")[0] == "scenes"]:
        monkeypatch.delitem(sys.modules, name)
    from scenes import SCENES

    values = np.round(SCENES["quilt"](1417, 992) * 255).astype(np.uint8)
    plain = taken(values)
    finding = found(rule, plain, options(mono))["merging-areas"]
    assert followed(plain, "merging-areas", finding.remedy, mono)
    leaf = load_house(str(demo / "houses/parish-leaf.yaml"), registry)
    assert leaf.output.gray_mix == "picture"
    assert not found(rule, taken(values, leaf.output.gray_mix), leaf.rules["grayscale"].options)
