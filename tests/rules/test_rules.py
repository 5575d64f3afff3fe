"""Every code of every rule fires on a picture drawn for it, and following its remedy passes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import pressworthy_rules
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.house import House
from pressworthy.measure.lightness import lightness
from pressworthy.plugins import Registry
from pressworthy.testing import CREDITED, a_picture, an_output, draw, found, write_picture
from pressworthy.values.placement import Crop, Focus, PlacementRequest

ALL_EDGES = frozenset({"top", "right", "bottom", "left"})


@pytest.fixture
def codes(registry: Registry, coated: House, tmp_path: Path) -> Any:
    """Return what a rule, with the house's options, finds in a picture written to order."""

    def ask(
        rule: str,
        values: Any = None,
        *,
        name: str = "p.tif",
        size: tuple[float, float] | None = None,
        request: PlacementRequest | None = None,
        options: dict[str, Any] | None = None,
        output: dict[str, Any] | None = None,
        **written: Any,
    ) -> set[str]:
        path = write_picture(tmp_path / name, draw() if values is None else values, **written)
        picture = a_picture(path, request or PlacementRequest(size), an_output(**(output or {})))
        known = coated.rules[rule].options if rule in coated.rules else {}
        return set(found(registry.rules[rule], picture, {**known, **(options or {})}))

    return ask


class TestResolution:
    def test_a4_of_2480_pixels_passes_300_ppi(self, codes: Any) -> None:
        # 2480 px on 210 mm are 299.962 ppi: correct, by rounding to whole pixels
        assert codes("resolution", draw(2480, 20), size=(210, 1.7)) == set()
        assert codes("resolution", draw(2479, 20), size=(210, 1.7)) == {"too-few-pixels"}

    def test_too_few_and_its_remedy(self, codes: Any) -> None:
        assert codes("resolution", draw(640, 480), size=(120, 90)) == {"too-few-pixels"}
        assert codes("resolution", draw(1417, 1063), size=(120, 90)) == set()
        assert codes("resolution", draw(640, 480), size=(54.1, 40.6)) == set()

    def test_too_many_and_its_remedy(self, codes: Any) -> None:
        assert codes("resolution", draw(1500, 1125), size=(120, 90)) == {"too-many-pixels"}
        assert codes("resolution", draw(1488, 1116), size=(120, 90)) == set()

    def test_a_picture_fills_its_box_unless_a_stretch_is_stated(self, codes: Any) -> None:
        assert codes("resolution", draw(1200, 1200), size=(100, 80)) == {"cropped"}
        request = PlacementRequest((100, 80), crop=Focus())
        assert codes("resolution", draw(1200, 1200), request=request) == set()
        request = PlacementRequest((100, 80), fit="stretch")
        assert codes("resolution", draw(1200, 1200), request=request) == {"distorted"}

    def test_one_bleeding_edge_distorts_nothing(self, codes: Any) -> None:
        # 4:3 in a box of 4:3; with the bleed at the left 63 x 45 mm are to be filled
        request = PlacementRequest((60, 45), 3, frozenset({"left"}))
        assert codes("resolution", draw(760, 570), request=request) == set()

    def test_the_house_says_how_much_may_be_cropped_unasked(self, codes: Any) -> None:
        values = draw(1640, 1063)
        assert codes("resolution", values, size=(120, 90)) == {"cropped"}
        assert codes("resolution", values, size=(120, 90), options={"most cropped": 20}) == set()
        thin = PlacementRequest((120, 90), crop=Crop(0, 0, 0.88, 1))
        assert codes("resolution", values, request=thin) == set()

    def test_what_is_stretched_has_too_many_pixels_one_way(self, codes: Any) -> None:
        request = PlacementRequest((120, 90), fit="stretch")
        assert codes("resolution", draw(1600, 1063), request=request) == {"distorted"}

    def test_the_house_may_let_a_little_pass(self, codes: Any) -> None:
        values = draw(1300, 975)
        assert codes("resolution", values, size=(120, 90), options={"below": 0.0})
        assert not codes("resolution", values, size=(120, 90), options={"below": 10.0})

    def test_pixels_in_the_bleed_are_not_too_many(self, codes: Any) -> None:
        # 40 x 30 mm and 3 mm bleed: 46 x 36 mm, 543 x 425 px
        request = PlacementRequest((40, 30), 3, ALL_EDGES)
        assert codes("resolution", draw(543, 425), request=request) == set()

    def test_too_few_pixels_of_the_right_shape_are_not_distorted(self, codes: Any) -> None:
        request = PlacementRequest((210, 50), 3, ALL_EDGES, fit="stretch")
        # 216 x 56 mm at 295 ppi, 210 x 50 mm at 305, and neither shape
        assert codes("resolution", draw(2509, 650), request=request) == set()
        assert codes("resolution", draw(2522, 600), request=request) == set()
        assert codes("resolution", draw(2509, 700), request=request) == {"distorted"}

    def test_the_orientation_flag_turns_the_axes(self, codes: Any) -> None:
        turned = {"fields": {"orientation": 6}}
        assert codes("resolution", draw(945, 1417), name="p.jpg", size=(120, 80), **turned) == set()
        assert codes("resolution", draw(945, 1417), name="q.jpg", size=(80, 120)) == set()

    def test_the_files_own_resolution_is_its_placement(self, codes: Any) -> None:
        assert codes("resolution", ppi=72) == {"too-few-pixels"}
        assert codes("resolution", ppi=300) == set()
        assert codes("resolution", ppi=(300, 240)) == {"too-few-pixels", "cropped"}


class TestBleed:
    def test_short_bleed_and_its_remedy(self, codes: Any) -> None:
        request = PlacementRequest((40, 30), 3, ALL_EDGES)
        assert codes("bleed", draw(472, 354), request=request) == {"short-bleed"}
        assert codes("bleed", draw(543, 424), request=request) == {"short-bleed"}
        assert codes("bleed", draw(543, 425), request=request) == set()

    def test_only_edges_that_bleed_need_pixels(self, codes: Any) -> None:
        request = PlacementRequest((40, 30), 3, frozenset({"left"}))
        assert codes("bleed", draw(508, 354), request=request) == set()
        assert codes("bleed", draw(472, 354), request=request) == {"short-bleed"}
        assert codes("bleed", draw(472, 354), request=PlacementRequest((40, 30))) == set()

    def test_less_than_the_house_asks(self, codes: Any) -> None:
        request = PlacementRequest((40, 30), 2, ALL_EDGES)
        assert codes("bleed", draw(543, 425), request=request) == {"thin-bleed"}

    def test_a_page_rounds_its_coordinates(self, codes: Any) -> None:
        def thin(mm: float) -> Any:
            request = PlacementRequest((40, 30), mm, ALL_EDGES)
            return codes("bleed", draw(543, 425), request=request)

        assert thin(2.9999) == set()
        assert thin(2.9) == {"thin-bleed"}


class TestLuminance:
    def test_a_normal_picture_passes(self, codes: Any) -> None:
        assert codes("luminance") == set()

    def test_dark_light_and_their_remedy(self, codes: Any) -> None:
        dark = (draw() * 0.35).astype(np.uint8)
        light = (255 - (255 - draw().astype(float)) * 0.3).astype(np.uint8)
        assert "too-dark" in codes("luminance", dark)
        assert "too-light" in codes("luminance", light, options={"least spread": 0})
        lifted = (255 * (dark / 255) ** 0.45).astype(np.uint8)
        assert "too-dark" not in codes("luminance", lifted)

    def test_what_prepare_mends_is_a_note_and_a_persons_word_holds(self, codes: Any) -> None:
        dark = draw() // 20 * 7  # L* 18, and no lights

        def asked(tone: str, values: Any = dark, steepest: float = 1.5) -> set[str]:
            request, output = PlacementRequest(tone=tone), {"steepest": steepest}
            # either is dull too, which is not asked here
            only = {"least spread": 0}
            asked_of: set[str] = codes(
                "luminance", values, output=output, request=request, options=only
            )
            return asked_of

        assert asked("", steepest=1.0) == {"too-dark"}
        assert asked("") == {"mended-on-copy"}
        assert asked("as supplied") == {"too-dark"}
        assert asked("house") == {"mended-on-copy"}
        assert asked("+1 L*") == {"too-dark"}
        assert asked("+5 L*") == {"mended-on-copy"}
        light = 255 - draw() // 3
        assert asked("", light) == {"too-light"}
        assert asked("-6 L*", light) == {"mended-on-copy"}

    def test_a_dark_picture_with_lights_is_left_to_a_person(self, codes: Any) -> None:
        night = draw() // 8
        night[:100, :200] = 230
        assert codes("luminance", night, output={"steepest": 1.5}) == {"too-dark"}

    def test_a_light_picture_with_darks_is_meant_so(self, codes: Any) -> None:
        pale = 225 + draw() // 9
        pale[:, ::12] = 205  # what is drawn all over is no ground
        assert codes("luminance", pale, options={"least spread": 0}) == {"too-light"}
        pale[:60] = draw()[:60] // 8
        assert codes("luminance", pale, options={"least spread": 0}) == {"light-as-meant"}
        # what a person asked of its tones is judged
        asked = PlacementRequest(tone="as supplied")
        assert codes("luminance", pale, request=asked, options={"least spread": 0}) == {"too-light"}

    def test_dull_and_its_remedy(self, codes: Any) -> None:
        dull = (110 + draw() * 0.12).astype(np.uint8)
        assert codes("luminance", dull) == {"dull"}
        wider = np.clip((dull.astype(float) - 126) * 6 + 126, 0, 255).astype(np.uint8)
        assert codes("luminance", wider) == set()

    @pytest.mark.parametrize(("value", "code"), [(255, "blown-highlights"), (0, "blocked-shadows")])
    def test_clipped_areas(self, codes: Any, value: int, code: str) -> None:
        values = draw()
        values[:120, :240] = value
        assert codes("luminance", values) == {code}
        assert codes("luminance", values, options={"blown": 10, "blocked": 10}) == set()

    @pytest.mark.parametrize(("value", "code"), [(255, "blown-highlights"), (0, "blocked-shadows")])
    def test_the_ground_of_a_cut_out_is_not_lost(self, codes: Any, value: int, code: str) -> None:
        options = {"blown": 10, "blocked": 10}
        values = np.full((360, 480, 3), value, np.uint8)
        # the thing stands on the lower edge: three fifths of the outline are left
        values[100:, 60:420] = draw(360, 260)
        assert code not in codes("luminance", values, options=options)
        # what is lost in the thing itself is lost
        values[150:330, 120:360] = value
        assert code in codes("luminance", values, options=options)
        sky = draw(480, 360)
        sky[:175] = value
        assert code in codes("luminance", sky, options=options)

    @pytest.mark.parametrize(("value", "code"), [(255, "blown-highlights"), (0, "blocked-shadows")])
    def test_nor_is_a_ground_that_grain_keeps_off_the_end(
        self, codes: Any, value: int, code: str
    ) -> None:
        off = np.random.default_rng(1).integers(0, 6, (360, 480, 1))
        values = np.repeat(np.abs(value - off), 3, axis=2).astype(np.uint8)
        values[100:, 60:420] = draw(360, 260)
        assert codes("luminance", values) <= {"too-dark"}
        values[150:330, 120:360] = value
        assert code in codes("luminance", values)

    def test_a_plain_ground_makes_a_picture_neither_light_nor_dull(self, codes: Any) -> None:
        options = {"blown": 100, "blocked": 100}
        values = np.full((480, 640, 3), 245, np.uint8)
        values[200:320, 240:400] = draw(160, 120)
        assert codes("luminance", values, options=options) == set()
        # a thing of the ground's own tones is told
        values[200:320, 240:400] = 230 + draw(160, 120) // 12
        assert {"too-light", "dull"} <= codes("luminance", values, options=options)
        # what is drawn all over is no ground
        values[200:320, 240:400] = draw(160, 120)
        values[:, ::12] = 225
        assert "too-light" in codes("luminance", values, options=options)

    def test_a_dark_ground_may_be_a_night(self, codes: Any) -> None:
        values = np.full((480, 640, 3), 12, np.uint8)
        values[200:320, 240:400] = draw(160, 120)
        assert codes("luminance", values, options={"blocked": 100}) == {"too-dark"}

    def test_sparkles_are_not_blown(self, codes: Any) -> None:
        values = draw(2400, 1800)
        values[::8, ::2] = 255  # 6 % of the pixels, nowhere an area
        assert codes("luminance", values) == set()

    def test_transparent_parts_are_no_blown_highlights(self, codes: Any) -> None:
        cut_out = np.concatenate([draw(), np.full((480, 640, 1), 255, np.uint8)], axis=2)
        cut_out[:200, :, 3] = 0
        assert codes("luminance", cut_out, name="p.png") == set()
        cut_out[200:, :, :3] = 255
        assert "blown-highlights" in codes("luminance", cut_out, name="p.png")

    def test_newsprint_narrows_the_spread(self, codes: Any) -> None:
        from pressworthy.values.condition import Condition

        paper = Condition("n", "print", (80, 0, 3), (37, 0, 0), (31, 0, 0), {})
        values = (45 + draw() * 0.62).astype(np.uint8)
        assert codes("luminance", values) == set()
        assert codes("luminance", values, output={"condition": paper}) == {"dull"}

    def test_lightness_is_spread_as_its_percentiles_say(self, tmp_path: Path) -> None:
        # a hundred tones, one column each, of which three are white and five black
        levels = np.concatenate([np.zeros(5), np.linspace(20, 220, 92), np.full(3, 255)])
        coded = np.repeat(np.round(levels).astype(np.uint8)[None, :, None], 3, axis=2)
        seen = lightness(a_picture(write_picture(tmp_path / "p.png", coded.repeat(90, 0))))
        value = np.round(levels) / 255
        linear = np.where(value > 0.04045, ((value + 0.055) / 1.055) ** 2.4, value / 12.92)
        tones = np.where(linear > 216 / 24389, 116 * np.cbrt(linear) - 16, linear * 24389 / 27)
        wanted = np.percentile(tones, [5, 25, 50, 75, 95])
        told = [seen.p5, seen.p25, seen.median, seen.p75, seen.p95]
        assert told == pytest.approx(wanted, abs=0.2)
        assert (seen.white, seen.black) == pytest.approx((0.03, 0.05))

    def test_sixteen_bits_and_gray_read_alike(self, codes: Any) -> None:
        gray = draw(channels=1)
        assert codes("luminance", gray, mode="gray", icc=None) == set()
        assert codes("luminance", draw(depth=16)) == set()


class TestIccProfile:
    def test_the_houses_spaces_pass(self, codes: Any) -> None:
        for space in ("sRGB", "opRGB", "Display P3"):
            assert codes("icc-profile", icc=space) == set()

    def test_unusual_space(self, codes: Any) -> None:
        assert codes("icc-profile", icc="ROMM RGB") == {"unusual-space"}
        assert codes("icc-profile", icc="ROMM RGB", options={"spaces": ["ROMM RGB"]}) == set()

    def test_missing_and_its_remedy(self, codes: Any) -> None:
        assert codes("icc-profile", icc=None) == {"missing"}
        assert codes("icc-profile", icc="sRGB") == set()

    def test_missing_but_stated(self, codes: Any) -> None:
        stated = {"exif-ifd2-ColorSpace": "1 (sRGB, Short, 1 components, 2 bytes)"}
        assert codes("icc-profile", name="p.jpg", icc=None, fields=stated) == {"missing-but-stated"}

    def test_what_a_person_vouches_for_is_settled(
        self, coated: House, registry: Registry, tmp_path: Path
    ) -> None:
        path = write_picture(tmp_path / "p.tif", draw(), icc="ROMM RGB")
        picture = replace(a_picture(path), assumed=rgb_profile("opRGB"))
        options = coated.rules["icc-profile"].options
        told = found(registry.rules["icc-profile"], picture, options)
        assert set(told) == {"vouched-for"}
        assert "read as opRGB" in str(told["vouched-for"].measured)
        options = coated.rules["source-profile"].options
        assert found(registry.rules["source-profile"], picture, options) == {}

    def test_nobody_vouches_for_gray(
        self, coated: House, registry: Registry, tmp_path: Path
    ) -> None:
        path = write_picture(tmp_path / "g.tif", draw(channels=1), mode="gray")
        picture = replace(a_picture(path), assumed=rgb_profile("opRGB"))
        rules = {name: registry.rules[name] for name in ("icc-profile", "luminance")}
        told = [found(rule, picture, coated.rules[name].options) for name, rule in rules.items()]
        assert set(told[0]) == {"missing"}

    def test_contradicting_exif(self, codes: Any) -> None:
        uncalibrated = {
            "exif-ifd2-ColorSpace": "65535 (Uncalibrated, Short, 1 components, 2 bytes)"
        }
        index = {"exif-ifd4-InteroperabilityIndex": "R03 (R03, ASCII, 4 components, 4 bytes)"}
        srgb = {"exif-ifd2-ColorSpace": "1 (sRGB, Short, 1 components, 2 bytes)"}
        assert codes("icc-profile", name="a.jpg", fields=uncalibrated) == set()
        both = {**uncalibrated, **index}
        assert codes("icc-profile", name="b.jpg", fields=both) == {"contradicts-exif"}
        assert codes("icc-profile", name="c.jpg", icc="opRGB", fields=both) == set()
        assert codes("icc-profile", name="d.jpg", icc="opRGB", fields=srgb) == {"contradicts-exif"}

    def test_damaged_wrong_class_and_wrong_space(
        self, registry: Registry, coated: House, tmp_path: Path
    ) -> None:
        from pressworthy.colour.rgb_profile import rgb_profile

        whole = rgb_profile("sRGB")

        def ask(icc: bytes, mode: str = "RGB") -> set[str]:
            # libvips will not write such files, Pillow will
            path = tmp_path / "p.jpg"
            Image.fromarray(draw()).convert(mode).save(path, icc_profile=icc)
            options = coated.rules["icc-profile"].options
            return set(found(registry.rules["icc-profile"], a_picture(path), options))

        assert ask(whole) == set()
        assert ask(whole[:200]) == {"damaged"}
        assert ask(whole[:36] + b"xxxx" + whole[40:]) == {"damaged"}
        assert ask(whole[:12] + b"link" + whole[16:]) == {"wrong-class"}
        assert ask(whole, "L") == {"wrong-space"}


class TestColourMode:
    def test_a_plain_picture_passes(self, codes: Any) -> None:
        assert codes("colour-mode") == set()
        assert codes("colour-mode", draw(depth=16)) == set()
        assert codes("colour-mode", draw(channels=4), mode="CMYK") == set()

    def test_mode_and_depth(self, codes: Any) -> None:
        wanted = {"modes": ["RGB"], "depths": [16]}
        assert codes("colour-mode", draw(channels=1), mode="gray", options=wanted) == {
            "wrong-mode", "wrong-depth",
        }  # fmt: skip
        assert codes("colour-mode", draw(depth=16), options=wanted) == set()

    def test_transparency(self, codes: Any) -> None:
        assert codes("colour-mode", draw(channels=4), name="p.png") == {"transparent"}
        assert codes("colour-mode", draw(), name="p.png") == set()

    def test_turned_by_flag(self, codes: Any) -> None:
        assert codes("colour-mode", name="p.jpg", fields={"orientation": 8}) == {"turned-by-flag"}

    def test_several_pages(self, codes: Any) -> None:
        pages = {"fields": {"page-height": 240}}
        assert codes("colour-mode", draw(640, 480), **pages) == {"several-pages"}

    def test_misnamed(self, codes: Any, tmp_path: Path) -> None:
        jpeg = write_picture(tmp_path / "x.jpg", draw())
        wrong = jpeg.rename(tmp_path / "x.tif")
        from pressworthy_rules.colour_mode import rule

        options = {"modes": ["RGB"], "depths": [8]}
        assert set(found(rule, a_picture(wrong), options)) == {"misnamed"}
        assert set(found(rule, a_picture(wrong.rename(tmp_path / "y.jpg")), options)) == set()


class TestCompression:
    def test_quality_and_blocks(self, codes: Any) -> None:
        assert codes("compression", name="p.jpg", Q=92) == set()
        assert codes("compression", name="p.jpg", Q=79) == {"low-quality"}
        assert codes("compression", name="p.jpg", Q=15) == {"low-quality", "blocks"}

    def test_a_bad_jpeg_saved_anew_is_still_found(self, codes: Any, tmp_path: Path) -> None:
        import pyvips

        bad = write_picture(tmp_path / "bad.jpg", draw(), Q=12)
        values = pyvips.Image.new_from_file(str(bad)).numpy()
        assert codes("compression", values, name="again.png") == {"blocks"}
        # a crop that shifts the grid does not hide it
        assert codes("compression", values[3:, 5:], name="crop.png") == {"blocks"}
        assert codes("compression", draw(), name="clean.png") == set()


class TestCredit:
    def test_each_missing_field_and_its_remedy(self, codes: Any) -> None:
        assert codes("credit", words=CREDITED) == set()
        for name in CREDITED:
            words = {key: text for key, text in CREDITED.items() if key != name}
            assert codes("credit", words=words) == {f"no-{name}"}
        assert codes("credit", words=CREDITED, options={"required": ["source"]}) == {"no-source"}

    def test_exif_serves_where_xmp_is_silent(self, codes: Any) -> None:
        fields = {"exif-ifd0-Artist": "A. Maker (A. Maker, ASCII, 9 components, 9 bytes)"}
        wanted = {"required": ["creator"]}
        assert codes("credit", name="p.jpg", fields=fields, options=wanted) == set()

    def test_records_that_disagree(self, codes: Any) -> None:
        fields = {"exif-ifd0-Artist": "B. Other (B. Other, ASCII, 9 components, 9 bytes)"}
        assert codes("credit", name="p.jpg", words=CREDITED, fields=fields) == {"fields-disagree"}


class TestFileWeight:
    OPTIONS = {"heaviest": 100.0, "longest edge": 800.0, "shortest long edge": 300.0}  # noqa: RUF012

    def test_each_limit_and_its_remedy(self, codes: Any) -> None:
        def ask(width: int, height: int, quality: int) -> Any:
            return codes("file-weight", draw(width, height), name="p.jpg", Q=quality,
                         options=self.OPTIONS, output={"medium": "screen"})  # fmt: skip

        assert ask(640, 480, 75) == set()
        assert ask(640, 480, 100) == {"too-heavy"}
        assert ask(1000, 300, 40) == {"too-wide"}
        assert ask(200, 150, 75) == {"too-small"}

    def test_its_place_says_how_many_pixels_it_needs(self, codes: Any) -> None:
        def ask(px: int, css_px: float) -> Any:
            values, side = draw(px, px // 2), css_px / 96 * 25.4
            request = PlacementRequest((side, side / 2))
            return codes("file-weight", values, name="p.jpg", request=request, options=self.OPTIONS,
                         output={"medium": "screen", "ppi": 192.0})  # fmt: skip

        # two pixels to a CSS pixel, though the house wants 300 px where nothing is known
        assert ask(200, 100) == set()
        assert ask(198, 100) == {"too-small"}
        # between one and two the house decides
        assert ask(300, 200) == set()
        assert ask(298, 200) == {"too-small"}
        # one is the least
        assert ask(400, 400) == set()
        assert ask(398, 400) == {"too-small"}


def test_a_copy_for_plain_screens_is_not_asked_for_the_original(
    registry: Registry, houses: dict[str, House], prepared: Any, master: Any
) -> None:
    screen = houses["screen"]
    options, rule = screen.rules["file-weight"].options, registry.rules["file-weight"]
    path, size = master(values=draw(1200, 900)), PlacementRequest((150, 112.5))
    plain = prepared(path, screen, name="1x.jpg", request=size, scale=1.0).copy
    dense = prepared(path, screen, name="2x.jpg", request=size, scale=2.0).copy
    assert max(plain.header.upright()) < options["shortest long edge"]
    assert found(rule, plain, options) == found(rule, dense, options) == {}


def test_a_cut_outs_paper_is_no_blown_highlight_on_its_copy(
    registry: Registry, coated: House, prepared: Any, master: Any
) -> None:
    cut_out = np.concatenate([draw(600, 450), np.full((450, 600, 1), 255, np.uint8)], axis=2)
    cut_out[:200, :, 3] = 0
    copy = prepared(master("cut out.png", cut_out)).copy
    told = found(registry.rules["luminance"], copy, coated.rules["luminance"].options)
    assert not {"blown-highlights", "too-light"} & set(told)


def test_a_rule_is_read_at_one_sitting() -> None:
    modules = [*Path(pressworthy_rules.__file__).parent.glob("*.py")]
    assert len(modules) > len(pressworthy_rules.MODULES) > 0
    long = {path.name for path in modules if len(path.read_text("utf-8").splitlines()) > 80}
    assert not long
