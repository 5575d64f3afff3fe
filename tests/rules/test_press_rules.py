"""The rules about inks and gray: every code fires, and following its remedy passes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.colour.convert import convert, to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.icc import parse
from pressworthy.house import House, load_house
from pressworthy.measure.lightness import own_lightness
from pressworthy.measure.press import lightness_lost
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.values.finding import Unmeasured


@pytest.fixture
def ask(registry: Registry, tmp_path: Path) -> Any:
    """Return what a rule finds, by code, in a picture for a built-in house."""

    def codes(
        rule: str, values: Any, house: str = "coated-magazine", **written: Any
    ) -> dict[str, Any]:
        loaded: House = load_house(house, registry)
        options = {**loaded.rules[rule].options, **written.pop("options", {})}
        path = write_picture(tmp_path / "p.tif", values, **written)
        return found(registry.rules[rule], a_picture(path, output=loaded.output), options)

    return codes


def flat(*values: int, channels: int = 3, size: int = 96) -> Any:
    return np.full((size, size, channels), values, np.uint8)


def condition(registry: Registry, house: str) -> Any:
    return load_house(house, registry).output.condition


class TestGamut:
    def test_a_few_vivid_pixels_are_no_finding(self, ask: Any) -> None:
        values = draw()
        values[:, :20] = (0, 0, 255)  # 3 %: above the 95th percentile
        assert not ask("gamut", values)

    def test_vivid_areas_and_their_remedy(self, ask: Any) -> None:
        values = draw()
        values[:, :120] = (0, 0, 255)
        result = ask("gamut", values)
        assert set(result) == {"out-of-gamut", "far-out-of-gamut"}
        assert result["out-of-gamut"].measured == pytest.approx(100 * 120 / 640, abs=1.5)
        assert "left" in result["out-of-gamut"].remedy
        calm = values.copy()
        calm[:, :120] = (70, 90, 150)
        assert ask("gamut", calm) == {}

    def test_a_narrower_press_moves_more(self, ask: Any) -> None:
        values = draw()
        values[:, :120] = (225, 0, 120)
        strict = {"visible": 1.2}
        assert ask("gamut", values, options=strict) == {}
        assert ask("gamut", values, "newsprint", options=strict) != {}

    def test_what_moves_little_on_paper_is_no_finding(self, ask: Any, registry: Registry) -> None:
        """A fifth of the picture in the browns of coffee: they print within 1.5 dE00."""
        values = draw()
        values[:, :64], values[:, 64:128] = (154, 28, 2), (60, 42, 24)
        strict = {"visible": 2.0, "area": 0.0}
        assert ask("gamut", values, "newsprint", options=strict) == {}
        # laid on a black of L* 0, which newsprint does not have, they move visibly
        target = condition(registry, "newsprint").profiles["cmyk"]
        brown = values[:1, :1]
        inks = convert(brown, "RGB", "srgb", target)
        back = to_lab(inks, "CMYK", target.read_bytes(), black_point=True)
        assert delta_e_2000(to_lab(brown, "RGB", "srgb", black_point=True), back).item() > 3.5

    @pytest.mark.parametrize("vivid", [(0, 0, 255), (0, 255, 0), (255, 0, 255), (0, 255, 255)])
    def test_chroma_beyond_newsprint_counts(self, ask: Any, vivid: tuple[int, int, int]) -> None:
        values = draw()
        values[:, :128] = vivid
        assert "out-of-gamut" in ask("gamut", values, "newsprint")

    def test_inks_as_they_stand_do_not_move(self, ask: Any, registry: Registry) -> None:
        icc = condition(registry, "coated-magazine").profiles["cmyk"].read_bytes()
        assert ask("gamut", flat(255, 255, 0, 0, channels=4), mode="CMYK", icc=icc) == {}

    def test_a_wide_space_on_a_screen(self, ask: Any) -> None:
        assert ask("gamut", flat(0, 255, 0), "screen", icc="Display P3") != {}
        assert ask("gamut", flat(0, 255, 0), "screen", icc="sRGB") == {}


class TestInk:
    def test_a_cmyk_file_as_it_stands(self, ask: Any) -> None:
        heavy = flat(40, 40, 40, 0, channels=4)
        heavy[:10, :10] = (250, 240, 230, 220)
        result = ask("ink", heavy, mode="CMYK", icc=None)
        assert set(result) == {"too-much-ink"}
        assert result["too-much-ink"].measured == pytest.approx(940 / 255 * 100, abs=0.3)
        heavy[:10, :10] = 40
        heavy[0, 0] = 255
        specks = ask("ink", heavy, mode="CMYK", icc=None)
        assert set(specks) == {"specks-of-ink"}
        assert specks["specks-of-ink"].measured == pytest.approx(400, abs=0.3)

    @pytest.mark.parametrize("step", [1, 257])
    def test_what_is_transparent_takes_no_ink(self, ask: Any, step: int) -> None:
        values = flat(60, 60, 60, 60, 0, channels=5).astype(np.uint8 if step == 1 else np.uint16)
        values[:48, :, 4] = 255
        assert ask("ink", values * step, mode="CMYK", icc=None) == {}

    def test_exactly_the_limit_is_no_excess(self, ask: Any) -> None:
        inks = flat(191, 191, 191, 192, channels=4)  # 765 of 1020 levels: 300 %
        assert ask("ink", inks, mode="CMYK", icc=None) == {}
        assert ask("ink", inks + 1, mode="CMYK", icc=None) != {}

    @pytest.mark.parametrize("house", ["coated-magazine", "newsprint"])
    def test_converted_from_rgb_it_keeps_the_limit(self, ask: Any, house: str) -> None:
        values = draw()
        values[:240] //= 4
        values[:60] = 0
        assert ask("ink", values, house) == {}
        assert ask("ink", values, house, options={"limit": 180.0}) != {}

    def test_sixteen_bits_read_like_eight(self, ask: Any) -> None:
        inks = flat(250, 240, 230, 220, channels=4).astype(np.uint16) * 257
        result = ask("ink", inks, mode="CMYK", icc=None)
        assert result["too-much-ink"].measured == pytest.approx(940 / 255 * 100, abs=0.3)

    def test_sixteen_bits_are_rounded_and_not_cut(self, ask: Any) -> None:
        # 299.5 %, but 766 of 1020 levels where the lower byte is cut off
        inks = np.full((96, 96, 4), (49152, 49152, 49000, 49000), np.uint16)
        assert ask("ink", inks, mode="CMYK", icc=None, options={"limit": 300.0}) == {}


class TestToneRange:
    def test_delicate_lights_and_their_remedy(self, ask: Any) -> None:
        values = draw()
        values[:100] = 240  # prints 3.6 L* darker than the paper it breaks off to
        assert set(ask("tone-range", values, "newsprint")) == {"lost-highlights"}
        for passing in (215, 250):  # held, or lost by 1.2 L*
            values[:100] = passing
            assert ask("tone-range", values, "newsprint") == {}

    def test_the_plain_ground_of_a_studio_loses_nothing(self, ask: Any) -> None:
        values = np.full((480, 640, 3), 240, np.uint8)
        values[120:400, 160:480] = draw(320, 280)
        assert ask("tone-range", values, "newsprint") == {}
        values[:, ::8] = 225  # drawn on, it is a picture's light
        assert set(ask("tone-range", values, "newsprint")) == {"lost-highlights"}

    def test_bare_paper_is_meant_to_be(self, ask: Any) -> None:
        values = draw()
        values[:100] = 255
        assert ask("tone-range", values, "newsprint") == {}

    def test_closed_shadows_and_their_remedy(self, ask: Any) -> None:
        values = draw()
        values[:100] = 29  # prints 2.2 L* lighter than the solid it fills in to
        assert set(ask("tone-range", values, "mono")) == {"lost-shadows"}
        values[:100] = 40
        assert ask("tone-range", values, "mono") == {}

    @pytest.mark.parametrize("black", [0, 4, 12])
    def test_black_and_what_prints_within_a_hair_of_it_lose_nothing(
        self, ask: Any, black: int
    ) -> None:
        values = draw()
        values[:100] = black
        for house in ("coated-magazine", "newsprint", "mono"):
            assert ask("tone-range", values, house) == {}

    def test_inks_are_judged_by_the_lightness_lost(self, ask: Any, registry: Registry) -> None:
        def lost(house: str, *inks: int) -> set[str]:
            values = flat(*inks, channels=4)
            return set(ask("tone-range", values, house, mode="CMYK", icc=None))

        # TR002: K 90 is L* 39.9 and the solid 36.7
        assert lost("newsprint", 0, 0, 0, 232) == {"lost-shadows"}
        assert lost("newsprint", 0, 0, 0, 226) == set()
        assert lost("newsprint", 0, 0, 0, 255) == set()
        # three colours at 91 % print within 0.8 L* of all three full
        assert lost("newsprint", 232, 232, 232, 0) == set()

    @pytest.mark.parametrize("house", ["coated-magazine", "newsprint"])
    def test_a_lightness_that_is_known_is_the_same_one(
        self, registry: Registry, tmp_path: Path, house: str
    ) -> None:
        """Of inks for this press and, where that would be another's lightness, for another."""
        profile = condition(registry, "coated-magazine").profiles["cmyk"]
        inks = (convert(draw(), "RGB", "srgb", profile) >> 8).astype(np.uint8)
        path = write_picture(tmp_path / "p.tif", inks, mode="CMYK", icc=profile.read_bytes())
        output = load_house(house, registry).output
        first, second = (a_picture(path, output=output) for _ in range(2))
        own_lightness(second)
        lost = lightness_lost(first, 70)
        assert np.abs(lost - lightness_lost(second, 70)).max() < 0.01
        assert lost.max() > 1

    def test_a_screen_has_no_dots(self, ask: Any, registry: Registry, tmp_path: Path) -> None:
        output = load_house("screen", registry).output
        picture = a_picture(write_picture(tmp_path / "p.tif", draw()), output=output)
        options = load_house("mono", registry).rules["tone-range"].options
        with pytest.raises(Unmeasured):
            found(registry.rules["tone-range"], picture, options)


class TestForeignCondition:
    def test_inks_for_another_paper_and_the_remedy(self, ask: Any, registry: Registry) -> None:
        values = draw()
        news = condition(registry, "newsprint").profiles["cmyk"]
        own = condition(registry, "coated-magazine").profiles["cmyk"]
        for target, codes in ((news, {"foreign-condition"}), (own, set())):
            inks = (convert(values, "RGB", "srgb", target) >> 8).astype(np.uint8)
            result = ask("foreign-condition", inks, mode="CMYK", icc=target.read_bytes())
            assert set(result) == codes

    def test_the_difference_is_told_at_its_limit(self, ask: Any, registry: Registry) -> None:
        values = flat(120, 80, 60, 20, channels=4)
        news = condition(registry, "newsprint").profiles["cmyk"]
        own = condition(registry, "coated-magazine").profiles["cmyk"]
        meant, printed = (to_lab(values, "CMYK", path.read_bytes()) for path in (news, own))
        written = {"mode": "CMYK", "icc": news.read_bytes()}
        result = ask("foreign-condition", values, **written, options={"difference": 1.5})
        finding = result["foreign-condition"]
        assert finding.measured == pytest.approx(delta_e_2000(meant, printed).mean(), rel=1e-3)
        assert (finding.limit, finding.unit) == (1.5, "dE00")
        name = parse(news.read_bytes()).description()
        assert name and f"profile is {name}; the page is coated." in finding.remedy
        at_limit = {"difference": finding.measured}
        assert ask("foreign-condition", values, **written, options=at_limit) == {}

    def test_without_the_pages_profile_nobody_can_tell(
        self, registry: Registry, tmp_path: Path
    ) -> None:
        icc = condition(registry, "newsprint").profiles["cmyk"].read_bytes()
        path = write_picture(tmp_path / "p.tif", draw(channels=4), mode="CMYK", icc=icc)
        with pytest.raises(Unmeasured, match="which condition"):
            found(registry.rules["foreign-condition"], a_picture(path), {"difference": 3.0})

    def test_without_a_profile_nobody_can_tell(self, ask: Any) -> None:
        with pytest.raises(Unmeasured, match="no ICC profile"):
            ask("foreign-condition", draw(channels=4), mode="CMYK", icc=None)

    def test_rgb_is_not_mixed_yet(self, ask: Any) -> None:
        assert ask("foreign-condition", draw()) == {}
