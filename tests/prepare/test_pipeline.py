"""One master in, one copy out: its size, colours, words, file and ticket."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from PIL import Image

from pressworthy.colour.convert import to_lab
from pressworthy.colour.lightness import lightness, luminance
from pressworthy.colour.linear import in_black
from pressworthy.files.intake import take_in
from pressworthy.files.metadata.exif import coordinate
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.opening import read_header
from pressworthy.house import House
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.jobs.preparing import prepare_copy
from pressworthy.judge import judge
from pressworthy.measure.lightness import printed_lightness
from pressworthy.measure.metadata import words
from pressworthy.measure.pixels import pixels
from pressworthy.measure.press import colour_shift, ink_coverage
from pressworthy.measure.ticket import pixel_hash
from pressworthy.measure.tones import tones
from pressworthy.plugins import Registry
from pressworthy.prepare import Made, Order, Refused
from pressworthy.testing import CREDITED, draw, write_picture, xmp
from pressworthy.values.finding import State
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Focus, PlacementRequest

Master = Callable[..., Path]
Prepared = Callable[..., Made]
EDGES = frozenset({"top", "right", "bottom", "left"})


def hashed(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def with_section(house: House, **changes: Any) -> House:
    assert house.prepare is not None
    steepest = changes.pop("steepest", house.output.steepest)
    named = {key.replace("_", " "): value for key, value in changes.items()}
    output = replace(house.output, steepest=steepest)
    return replace(house, prepare={**house.prepare, **named}, output=output)


def with_mix(house: House, mix: Any) -> House:
    return replace(house, output=replace(house.output, gray_mix=mix))


def _gray_profile() -> bytes:
    image = pyvips.Image.black(2, 2).copy(interpretation="b-w")
    return bytes(image.icc_transform("sgrey", input_profile="sgrey").get("icc-profile-data"))


def again(made: Made) -> Picture:
    """Return the copy as read from its file anew."""
    return replace(made.copy)


class TestTheCopy:
    def test_is_what_the_output_asks_for(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master(), request=PlacementRequest((40, 30), 3, EDGES))
        header = made.copy.header
        assert (header.width, header.height) == (543, 425)
        assert (header.mode, header.depth, header.format) == ("CMYK", 8, "TIFF")
        assert header.ppi == pytest.approx((300, 300))
        profile = made.copy.output.condition.profiles["cmyk"]
        assert header.icc == profile.read_bytes()

    @pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono"])
    def test_its_tone_is_never_darker_than_the_relative_rendering(
        self, house: str, master: Master, prepared: Prepared
    ) -> None:
        path = master()
        values = np.asarray(pyvips.Image.new_from_file(str(path)).colourspace("lab")[0].numpy())
        made = prepared(path, house)
        supplied, copy = float(np.median(values)), tones(again(made)).median
        slip = made.copy.header.xmp and read_ticket(made.copy.header.xmp)
        assert slip and (of_master := slip.tones())
        # within half a level of ink and the small copy's averaging
        assert copy == pytest.approx(supplied + float(slip.lift), abs=1.0)
        assert of_master.median == pytest.approx(supplied, abs=1.0)
        assert 2 < float(slip.lift) < 11

    def test_a_persons_word_holds(self, master: Master, prepared: Prepared) -> None:
        path = master()
        words = {tone: PlacementRequest((40, 30), tone=tone) for tone in ("as supplied", "+4 L*")}
        made = {
            tone: prepared(path, "newsprint", name=f"{n}.tif", request=request)
            for n, (tone, request) in enumerate(words.items())
        }
        for tone, lift in (("as supplied", "0.0"), ("+4 L*", "4.0")):
            slip = read_ticket(made[tone].copy.header.xmp)
            assert slip and (slip.tone, slip.lift) == (tone, lift)
        medians = [tones(again(one)).median for one in made.values()]
        assert medians[1] - medians[0] == pytest.approx(4, abs=0.5)
        assert not prepared(path, "newsprint", name="0.tif", request=words["as supplied"]).fresh
        assert prepared(path, "newsprint", name="0.tif", request=words["+4 L*"]).fresh

    def test_keeps_the_ink_limit(self, master: Master, prepared: Prepared) -> None:
        rng = np.random.default_rng(2)
        colours = rng.integers(0, 256, (450, 600, 3), np.uint8)
        colours[:150] //= 8  # deep shadows are where inks pile up
        for house in ("coated-magazine", "newsprint"):
            made = prepared(master("wild.png", colours), house, name=f"{house}.tif")
            limit = made.copy.output.condition.values["ink limit"]
            inks = np.asarray(pixels(again(made)).numpy(), float).sum(axis=2) / 2.55
            assert inks.max() <= limit + 1.0, house

    def test_keeps_a_lower_ink_limit_than_its_profile(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        house = houses["coated-magazine"]
        condition = house.output.condition
        low = replace(condition, values={**condition.values, "ink limit": 220.0})
        strict = replace(house, output=replace(house.output, condition=low))
        dark = master("dark.png", draw(600, 450) // 6)
        free = np.asarray(pixels(prepared(dark, name="free.tif").copy).numpy(), float)
        held = np.asarray(pixels(prepared(dark, strict, name="held.tif").copy).numpy(), float)
        assert free.sum(axis=2).max() / 2.55 > 280
        assert held.sum(axis=2).max() <= 561  # 220 % of 255
        # black takes over what the colours give up
        heavy = free.sum(axis=2) > 561
        assert held[heavy][:, 3].mean() > free[heavy][:, 3].mean() + 2
        assert (held[heavy][:, :3].mean(axis=0) < free[heavy][:, :3].mean(axis=0)).all()

    def test_keeps_to_the_house_where_its_limit_is_the_lower(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        values = draw(600, 450)
        values[:150] //= 6
        path = master("dark.png", values)
        house = houses["coated-magazine"]
        house = with_section(house, black_point_compensation=False)
        free = np.asarray(pixels(prepared(path, house, name="free.tif").copy).numpy(), int)
        for limit in (300.0, 330.0, None):
            higher = replace(house, output=replace(house.output, ink_limit=limit))
            made = prepared(path, higher, name=f"{limit}.tif")
            assert np.array_equal(pixels(made.copy).numpy(), free)
            assert not [step for step in made.steps if "separated" in step]
        lower = replace(house, output=replace(house.output, ink_limit=260.0))
        held = np.asarray(pixels(prepared(path, lower, name="held.tif").copy).numpy(), int)
        assert held.sum(axis=2).max() <= 663  # 260 % of 255
        light = free.sum(axis=2) < 600
        assert light.mean() > 0.4
        # to the bit, but beside an edge of what is over it
        assert (held == free)[light].all(axis=1).mean() > 0.99

    def test_one_ink_is_not_separated(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        path = master("gray.tif", draw(600, 450, channels=1), mode="gray", icc=_gray_profile())
        house = houses["coated-magazine"]
        lower = replace(house, output=replace(house.output, ink_limit=100.0))
        made = [prepared(path, one, name=f"{n}.tif") for n, one in enumerate((house, lower))]
        assert np.array_equal(*(pixels(one.copy).numpy() for one in made))
        assert not [step for step in made[1].steps if "separated" in step]

    def test_another_ink_limit_makes_the_copy_anew(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        path, house = master(), houses["coated-magazine"]

        def made(limit: float) -> Made:
            return prepared(path, replace(house, output=replace(house.output, ink_limit=limit)))

        assert [made(limit).fresh for limit in (300, 330, 260, 260, 280, 300)] == [
            True, False, True, False, True, True,
        ]  # fmt: skip

    def test_reads_what_was_put_in(self, master: Master, prepared: Prepared) -> None:
        # the pixels handed to the rules are those that a reader of the file gets
        made = prepared(master())
        assert np.array_equal(pixels(made.copy).numpy(), pixels(again(made)).numpy())

    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_is_upright(self, orientation: int, master: Master, prepared: Prepared) -> None:
        values = np.full((200, 300, 3), 60, np.uint8)
        values[:67, :100] = 220  # the light corner, top left as stored
        path = master("turned.tif", values, fields={"orientation": orientation})
        made = prepared(path, size=None, request=PlacementRequest())
        upright = pyvips.Image.new_from_file(str(path)).autorot()
        header = made.copy.header
        assert (header.width, header.height) == (upright.width, upright.height)
        assert header.orientation == 1
        light = 255.0 - np.asarray(pixels(made.copy).numpy(), float).mean(axis=2)
        wanted = np.asarray(upright.numpy(), float).mean(axis=2)
        assert np.corrcoef(light.ravel(), wanted.ravel())[0, 1] > 0.95

    def test_shows_the_focal_point(self, master: Master, prepared: Prepared) -> None:
        values = np.full((450, 900, 3), 60, np.uint8)
        values[200:250, 800:850] = 230
        request = PlacementRequest((30, 30), crop=Focus(0.917, 0.5))
        made = prepared(master("spot.png", values), request=request)
        ink = np.asarray(pixels(made.copy).numpy(), float).sum(axis=2)
        y, x = np.unravel_index(ink.argmin(), ink.shape)
        assert 0.4 < y / ink.shape[0] < 0.6 and 0.7 < x / ink.shape[1] < 0.95

    def test_is_opaque(self, master: Master, prepared: Prepared) -> None:
        values = np.concatenate([draw(450, 350), np.zeros((350, 450, 1), np.uint8)], axis=2)
        image = pyvips.Image.new_from_array(values).copy(interpretation="srgb")
        path = master("see-through.png")
        image.set_type(
            pyvips.GValue.blob_type, "icc-profile-data",
            pyvips.Image.new_from_file(str(path)).get("icc-profile-data"),
        )  # fmt: skip
        image.pngsave(str(path))
        made = prepared(path, size=(25, 20))
        assert not made.copy.header.alpha
        assert np.asarray(pixels(made.copy).numpy()).max() <= 3  # paper

    @pytest.mark.parametrize("depth", [8, 16])
    @pytest.mark.parametrize("mode", ["RGB", "gray", "CMYK", "Lab"])
    def test_comes_from_every_mode(
        self, mode: str, depth: int, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        path = self.of_mode(mode, depth, master, houses)
        values = pixels(again(prepared(path, "screen", size=(30, 22.5), name="m.jpg"))).numpy()
        plain = pixels(again(prepared(master("p.tif"), "screen", (30, 22.5), "p.jpg"))).numpy()
        assert np.abs(values.astype(float).mean() - plain.astype(float).mean()) < 6

    @staticmethod
    def of_mode(mode: str, depth: int, master: Master, houses: dict[str, House]) -> Path:
        if mode == "RGB":
            return master("m.tif", draw(600, 450, depth=depth))
        image = pyvips.Image.new_from_file(str(master("m.tif")))
        path = Path(image.filename).with_name("n.tif")
        if mode == "CMYK":
            profile = str(houses["coated-magazine"].output.condition.profiles["cmyk"])
            image = image.icc_transform(
                profile, intent="relative", black_point_compensation=True, depth=depth
            )
        elif mode == "gray":
            return master("n.tif", draw(600, 450, depth=depth, channels=1), mode="gray",
                          icc=TestTheCopy.gray_profile())  # fmt: skip
        else:
            image = image.icc_import(embedded=True, pcs="lab", intent="relative")
            image = image.colourspace("labs") if depth == 16 else image.colourspace("lab")
            image.remove("icc-profile-data")
        image.tiffsave(str(path))
        return path

    @staticmethod
    def gray_profile() -> bytes:
        # libvips' own gray of the tone curve of sRGB
        black = pyvips.Image.black(2, 2).copy(interpretation="b-w")
        return bytes(black.icc_transform("sgrey", input_profile="sgrey").get("icc-profile-data"))


class TestTheWords:
    def test_are_kept(self, master: Master, prepared: Prepared) -> None:
        copy = again(prepared(master()))
        assert {name: words(copy).get(name) for name in CREDITED} == CREDITED

    def test_come_from_the_older_records_too(self, master: Master, prepared: Prepared) -> None:
        records = b"\x1c\x02\x50\x00\x07A. Byer" + b"\x1c\x02\x78\x00\x06a mole"
        block = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0\0\0\0" + bytes([len(records)]) + records
        path = master("old.jpg", words=None, fields={"iptc-data": block})
        for name, house in (("c.tif", "coated-magazine"), ("c.jpg", "screen")):
            copy = words(again(prepared(path, house, name=name)))
            for record in (copy.xmp, copy.iim):
                assert (record["creator"], record["caption"]) == ("A. Byer", "a mole")

    def test_what_a_jpeg_has_no_room_for_is_left_out_and_named(
        self, master: Master, prepared: Prepared
    ) -> None:
        spare = [("Instructions", 70_000), ("Headline", 50_000), ("City", 5_000)]
        more = "".join(f"<photoshop:{name}>{'x' * n}</photoshop:{name}>" for name, n in spare)
        packet = xmp(CREDITED).replace(b"</rdf:Desc", more.encode() + b"</rdf:Desc")
        path = master("wordy.tif", words=None, fields={"xmp-data": packet})
        made = prepared(path, "screen", name="c.jpg")
        assert made.steps[-1] == "no room in its XMP for photoshop:Instructions"
        copy = again(made)
        assert {name: words(copy).get(name) for name in CREDITED} == CREDITED
        assert b"x" * 50_000 in (copy.header.xmp or b"") and read_ticket(copy.header.xmp)
        assert b"x" * 70_000 in (again(prepared(path)).header.xmp or b"")  # a TIFF has room
        assert not prepared(path, "screen", name="c.jpg").fresh
        endless = master("endless.tif", words={**CREDITED, "caption": "x" * 70_000})
        with pytest.raises(Refused, match="caption and credits take .* a JPEG holds 60000"):
            prepared(endless, "screen", name="d.jpg")

    def test_the_place_and_the_thumbnail_are_left_behind(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        place = {
            "exif-ifd3-GPSLatitude": "54/1 30/1 0/1 (54, 30,  0, Rational, 3 components, 24 bytes)",
            "exif-ifd3-GPSLatitudeRef": "N (N, ASCII, 2 components, 2 bytes)",
            "exif-ifd3-GPSLongitude": "1/1 15/1 0/1 ( 1, 15,  0, Rational, 3 components, 24 bytes)",
            "exif-ifd3-GPSLongitudeRef": "W (W, ASCII, 2 components, 2 bytes)",
        }
        path = master("placed.jpg", fields=place)
        for name, house in (("c.tif", "coated-magazine"), ("c.jpg", "screen")):
            copy = again(prepared(path, house, name=name))
            data = copy.path.read_bytes()
            assert b"GPSLat" not in data and "54" not in str(copy.header.exif or "")
        kept = with_section(houses["coated-magazine"], keep_position=True)
        packet = again(prepared(path, kept, name="kept.tif")).header.xmp or b""
        assert b"<exif:GPSLatitude>54,30.000000N" in packet
        assert b"<exif:GPSLongitude>1,15.000000W" in packet

    @pytest.mark.parametrize(
        "parts, written",
        [
            ((Fraction("51.6"), 0, 0), "51,36.000000N"),
            ((Fraction("0.99999999999"), 0, 0), "1,0.000000N"),
            ((54, Fraction("30.5"), 30), "54,31.000000N"),
            ((9, 59, Fraction("59.9999999")), "10,0.000000N"),
        ],
    )
    def test_a_position_is_degrees_and_minutes(self, parts: Any, written: str) -> None:
        assert coordinate(parts, "N") == written


class TestTheTicket:
    def test_says_how_the_copy_was_made(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        path = master()
        ticket = read_ticket(prepared(path).copy.header.xmp)
        assert ticket is not None
        assert ticket.master == "pier.jpg" and ticket.master_sha256 == hashed(path)
        assert ticket.house_sha256 == houses["coated-magazine"].fingerprint()
        assert (ticket.condition, ticket.colour) == ("coated", "cmyk")
        assert (float(ticket.width), float(ticket.height), float(ticket.ppi)) == (40, 30, 300)
        assert float(ticket.radius) == pytest.approx(1.5)

    def test_nothing_in_a_picture_is_taken_for_its_place(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        plain = with_section(houses["mono"], compression="none", steepest=1.0)
        caption = {"caption": "0" * 64}
        for gray in range(0, 256, 16):
            path = master(f"flat {gray}.png", np.full((60, 80, 3), gray, np.uint8), words=caption)
            made = prepared(path, plain, (80, 60), f"{gray}.tif")
            ticket = read_ticket(again(made).header.xmp)
            assert ticket is not None and ticket.pixels == pixel_hash(again(made))

    def test_a_copy_is_not_prepared_again(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master())
        with pytest.raises(Refused, match="prepared copy for coated-magazine.*pier.jpg"):
            prepared(made.copy.path, "newsprint", name="again.tif")

    def test_a_condition_without_its_profile_makes_no_copy(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        house = houses["coated-magazine"]
        bare = replace(house.output.condition, profiles={})
        unable = replace(house, output=replace(house.output, condition=bare))
        with pytest.raises(Refused, match="condition coated has no cmyk ICC profile"):
            prepared(master(), unable)


class TestDoubt:
    def test_is_not_prepared(self, master: Master, prepared: Prepared) -> None:
        with pytest.raises(Refused, match="no ICC profile.*--assume 'bare.png=SPACE'"):
            prepared(master("bare.png", icc=None))
        bent = master("bent.png").with_name("bent.jpg")
        Image.fromarray(draw(600, 450)).save(bent, icc_profile=b"nothing like a profile" * 20)
        with pytest.raises(Refused, match="cannot be used"):
            prepared(bent)
        clash = {
            "exif-ifd4-InteroperabilityIndex": "R03 (R03, ASCII, 4 components, 4 bytes)",
            "exif-ifd2-ColorSpace": "65535 (Uncalibrated, Short, 1 components, 2 bytes)",
        }
        with pytest.raises(Refused, match="profile says sRGB, its metadata opRGB"):
            prepared(master("clash.jpg", fields=clash))

    @pytest.mark.parametrize("mode, channels", [("gray", 1), ("CMYK", 4)])
    def test_of_gray_and_inks_is_no_matter_of_rgb_spaces(
        self, mode: str, channels: int, master: Master, prepared: Prepared
    ) -> None:
        bare = master("bare.tif", draw(600, 450, channels=channels), mode=mode, icc=None)
        with pytest.raises(Refused, match="no ICC profile.*save it again") as told:
            prepared(bare)
        assert "assume" not in str(told.value)
        with pytest.raises(Refused, match=f"is an RGB space, its pixels are {mode}"):
            prepared(bare, assume="sRGB")

    def test_a_person_may_vouch(self, master: Master, prepared: Prepared) -> None:
        bare = master("bare.png", draw(600, 450, seed=3), icc=None)
        named = master("named.png", draw(600, 450, seed=3), icc="opRGB")
        wrong = master("wrong.png", draw(600, 450, seed=3))
        vouched = pixels(prepared(bare, name="a.tif", assume="opRGB").copy).numpy()
        assert np.array_equal(vouched, pixels(prepared(named, name="b.tif").copy).numpy())
        assert not np.array_equal(vouched, pixels(prepared(wrong, name="c.tif").copy).numpy())


class TestScreens:
    @pytest.mark.parametrize("kind, suffix", [("JPEG", "jpg"), ("WebP", "webp"), ("AVIF", "avif")])
    def test_the_byte_budget_is_met_and_used(
        self, kind: str, suffix: str, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        if kind == "AVIF" and not pyvips.type_find("VipsForeign", "heifsave_buffer"):
            pytest.skip("this libvips writes no AVIF")
        settings = {"format": kind, "quality": 95, "least_quality": 20, "byte_budget": 20.0}
        house = with_section(houses["screen"], **settings)
        rough = draw(600, 450, seed=5)
        made = prepared(master("rough.png", rough), house, None, f"c.{suffix}", scale=1.0)
        assert made.copy.header.format == kind
        assert 12_000 < made.copy.path.stat().st_size <= 20_000

    def test_a_jpeg_for_screens_is_progressive(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master(), "screen", None, "c.jpg", scale=2.0)
        assert b"\xff\xc2" in made.copy.path.read_bytes()  # start of frame, progressive
        assert made.copy.header.width == 600  # no wider than its master at twice the pixels

    def test_each_scale_has_its_pixels(self, master: Master, prepared: Prepared) -> None:
        one = prepared(master(), "screen", (50, 37.5), "one.jpg", scale=1.0).copy.header
        two = prepared(master(), "screen", (50, 37.5), "two.jpg", scale=2.0).copy.header
        assert (one.width, two.width) == (189, 378)


class TestGray:
    def test_the_house_sets_the_mix(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        # two colours of one lightness: plain lightness makes them one, the mix parts them
        values = np.zeros((450, 600, 3), np.uint8)
        values[:, :300] = (200, 125, 106)
        values[:, 300:] = (0, 161, 165)
        path = master("equal.png", values)
        still = with_section(houses["mono"], steepest=1.0)
        plain = pixels(prepared(path, still, name="plain.tif").copy).numpy()
        assert abs(int(plain[150, 50]) - int(plain[150, 400])) < 8
        red = with_mix(still, (0.8, 0.2, 0.0))
        apart = pixels(prepared(path, red, name="apart.tif").copy).numpy()
        assert int(apart[150, 50]) - int(apart[150, 400]) > 40
        # the mildest mix that parts them is found by itself, and is no bare channel
        own = prepared(path, with_mix(still, "picture"), name="own.tif")
        found = pixels(own.copy).numpy()
        assert 8 < abs(int(found[150, 50]) - int(found[150, 400])) < 40
        (told,) = [step for step in own.steps if step.startswith("gray of")]
        assert max(float(share) for share in told[8:].split(", ")) <= 0.8

    def test_a_picture_without_a_finding_stays_as_it_is(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        plain = prepared(master(), houses["mono"], name="plain.tif")
        own = prepared(master(), with_mix(houses["mono"], "picture"), name="own.tif")
        assert not [step for step in own.steps if step.startswith("gray of")]
        assert (pixels(own.copy).numpy() == pixels(plain.copy).numpy()).all()


class TestGrayInFourColours:
    def test_the_house_decides_between_one_ink_and_four(
        self, master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry
    ) -> None:
        path = master("g.tif", draw(600, 450, channels=1), mode="gray", icc=_gray_profile())
        told, medians = {}, {}
        for house in (houses["coated-magazine"], houses["newsprint"]):
            assert house.output.gray_pictures == "one ink"
            for inks in ("one ink", "four inks"):
                asked = replace(house, output=replace(house.output, gray_pictures=inks))
                made = prepared(path, asked, name=f"{house.name} {inks}.tif")
                most = pixels(made.copy).numpy().reshape(-1, 4).max(axis=0)
                assert most[3] > 200
                assert bool(most[:3].any()) is (inks == "four inks")
                (told[inks],) = [step for step in made.steps if step.startswith("converted")]
                medians[inks] = printed_lightness(made.copy).median
                verdict = judge(made.copy, asked, registry.rules)
                assert not verdict.findings()
                # black alone reaches less deep, and the copy's middle is where the house wants it
                assert house.output.median[0] <= medians[inks] <= house.output.median[1]
        assert "in black ink alone" in told["one ink"]
        assert "in four inks" in told["four inks"]

    def test_its_tone_is_what_the_condition_prints_in_black(self, coated: House) -> None:
        condition = coated.output.condition
        light = np.linspace(0, 65535, 64)[None, :].astype(np.uint16)
        image = pyvips.Image.new_from_array(light)
        inks = in_black(image, condition.profiles["cmyk"], black_point=True).numpy()
        assert not inks[..., :3].any()
        shown = to_lab(inks, "CMYK", condition.profiles["cmyk"].read_bytes())[0, :, 0]
        # laid between the paper and its solid black, as the condition's own gray profile has it
        gray = 255 - inks[..., 3:]
        own = to_lab(gray, "gray", condition.profiles["gray"].read_bytes())[0, :, 0]
        assert np.abs(shown - own).max() < 0.5
        deepest = luminance(float(shown[0]))
        wanted = lightness(deepest + (1 - deepest) * (light[0] / 65535))
        assert np.abs(shown - wanted).max() < 0.5

    def test_a_master_is_judged_by_the_ink_it_will_print_in(
        self, master: Master, coated: House
    ) -> None:
        path = master("k.tif", np.zeros((450, 600, 1), np.uint8), mode="gray", icc=_gray_profile())
        for inks, most in (("one ink", 100), ("four inks", 250)):
            output = replace(coated.output, gray_pictures=inks)
            picture = take_in(path, output, PlacementRequest((40, 30)))
            coverage = ink_coverage(picture).most
            assert coverage == pytest.approx(100, abs=1) if most == 100 else coverage > most
            black = output.condition.black if most == 100 else output.condition.darkest
            assert printed_lightness(picture).median == pytest.approx(black[0], abs=0.5)
            assert colour_shift(picture).max() < 1


class TestAgain:
    @pytest.mark.parametrize(
        "house, name",
        [("coated-magazine", "c.tif"), ("mono", "m.tif"), ("screen", "s.jpg")],
    )
    def test_the_same_order_gives_the_same_bytes(
        self, house: str, name: str, master: Master, prepared: Prepared
    ) -> None:
        path = master()
        first = prepared(path, house, name=name)
        before = first.copy.path.read_bytes()
        assert first.fresh and not prepared(path, house, name=name).fresh
        assert prepared(path, house, name=name, force=True).fresh
        assert first.copy.path.read_bytes() == before
        assert prepared(path, house, name="other-" + name).copy.path.read_bytes() == before

    def test_a_changed_order_is_made_anew(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        path = master()
        prepared(path)
        assert prepared(path, size=(35, 26.25)).fresh
        assert prepared(path, "newsprint", size=(35, 26.25)).fresh
        write_picture(path, draw(600, 450, seed=9), words=CREDITED)
        assert prepared(path, "newsprint", size=(35, 26.25)).fresh
        assert not prepared(path, "newsprint", size=(35, 26.25)).fresh

    @pytest.mark.parametrize(
        "changed", [{"ink limit": 280.0}, {"paper": (90.0, 0.0, 0.0)}, {"black": (20.0, 0.0, 0.0)}]
    )
    def test_another_figure_of_the_condition_is_another_order(
        self, changed: dict[str, Any], master: Master, prepared: Prepared, coated: House
    ) -> None:
        path = master()
        prepared(path)
        given = coated.output.condition
        figures = {**given.values, **changed}
        condition = replace(
            given, values=figures, **{k: v for k, v in changed.items() if k != "ink limit"}
        )
        made = prepared(path, replace(coated, output=replace(coated.output, condition=condition)))
        assert made.fresh
        same = replace(given, values={**given.values, "caution": "Ask the printer, and again."})
        house = replace(coated, output=replace(coated.output, condition=same))
        assert prepared(path, house).fresh and not prepared(path).fresh

    def test_a_copy_edited_later_is_kept_and_reported(
        self, master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry
    ) -> None:
        path = master()
        made = prepared(path)
        image = pyvips.Image.new_from_file(str(made.copy.path)).copy_memory()
        (image.invert()).tiffsave(str(made.copy.path))
        edited = made.copy.path.read_bytes()
        kept = prepared(path)
        assert not kept.fresh and kept.edited and kept.copy.path.read_bytes() == edited
        order = Order(path, made.copy.path, PlacementRequest((40, 30)))
        verdict = prepare_copy(order, houses["coated-magazine"], Run(registry))
        assert "was edited by hand" in verdict.facts["made"]
        (remedy,) = [f.remedy for _, f in verdict.findings() if f.code == "edited-after-sharpening"]
        assert "--force" in verdict.facts["made"] and "--force" in remedy
        said = judge(again(kept), houses["coated-magazine"], registry.rules).findings()
        assert "edited-after-sharpening" in {finding.code for _, finding in said}
        with pytest.raises(Refused, match="edited after it was prepared"):
            prepared(path, size=(35, 26.25))
        assert prepared(path, force=True).fresh

    @pytest.mark.parametrize("other", ["b/pier.jpg", "a/pier.tif"])
    def test_another_masters_copy_is_left_alone(
        self, other: str, tmp_path: Path, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        first, second = tmp_path / "a" / "pier.jpg", tmp_path / other
        for seed, path in enumerate((first, second)):
            path.parent.mkdir(exist_ok=True)
            write_picture(path, draw(600, 450, seed=seed), words=CREDITED)
        made = prepared(first).copy.path.read_bytes()
        for size in ((80, 60), (35, 26.25)):
            with pytest.raises(Refused, match="is the copy of .*pier.jpg.*--into.*{folder}.*force"):
                prepared(second, size=size)
        with pytest.raises(Refused) as told:
            prepared(second, with_section(houses["coated-magazine"], name="{folder} {stem}"))
        assert "{folder}" not in str(told.value)
        assert prepared(first).copy.path.read_bytes() == made
        assert prepared(second, force=True).fresh

    def test_masters_may_be_altered_renamed_and_moved_with_their_copies(
        self, master: Master, prepared: Prepared, tmp_path: Path
    ) -> None:
        prepared(master())
        assert not prepared(master("new name.jpg")).fresh
        moved = tmp_path / "elsewhere"
        moved.mkdir()
        for name in ("masters", "copies"):
            (tmp_path / name).rename(moved / name)
        (tmp_path / "copies").symlink_to(moved / "copies")
        path = moved / "masters" / "pier.jpg"
        assert not prepared(path).fresh
        write_picture(path, draw(600, 450, seed=4))
        assert prepared(path).fresh

    def test_a_ticket_of_old_does_not_tell_where_its_master_lay(
        self, master: Master, prepared: Prepared
    ) -> None:
        path = master()
        copy = prepared(path).copy.path
        packet = read_header(copy).xmp or b""
        place = re.search(b"<ticket:master_place>.*</ticket:master_place>", packet)
        assert place is not None
        copy.write_bytes(copy.read_bytes().replace(place[0], b" " * len(place[0])))
        assert not prepared(path).fresh
        write_picture(path, draw(600, 450, seed=4))
        assert prepared(path).fresh

    def test_a_damaged_copy_is_made_anew(self, master: Master, prepared: Prepared) -> None:
        path = master()
        copy = prepared(path, "screen", name="s.jpg").copy.path
        whole = copy.read_bytes()
        copy.write_bytes(whole[: len(whole) // 2])
        made = prepared(path, "screen", name="s.jpg")
        assert made.fresh and "damaged" in made.steps[0]
        assert copy.read_bytes() == whole

    def test_a_strangers_file_is_left_alone(
        self, master: Master, prepared: Prepared, tmp_path: Path
    ) -> None:
        stranger = tmp_path / "copies" / "copy.tif"
        stranger.parent.mkdir()
        write_picture(stranger, draw())
        before = stranger.read_bytes()
        with pytest.raises(Refused, match="no prepared copy"):
            prepared(master(), force=True)
        assert stranger.read_bytes() == before


def test_the_master_is_read_only_and_stays_as_it_was(master: Master, prepared: Prepared) -> None:
    path = master()
    before = hashed(path), path.stat().st_mtime_ns
    path.chmod(0o400)
    prepared(path)
    assert (hashed(path), path.stat().st_mtime_ns) == before


def test_a_size_of_hardly_a_pixel_is_refused(master: Master, prepared: Prepared) -> None:
    with pytest.raises(Refused, match="0.05 x 0.02 mm is 1 x 0 px at 300 ppi, too few to bring"):
        prepared(master(), size=(0.05, 0.02))
    with pytest.raises(Refused, match="472 x 0 px at 300 ppi"):
        prepared(master(), size=(40, 0.02))
    assert prepared(master(), size=(0.34, 0.26)).copy.header.width == 4


def test_a_damaged_master_makes_no_copy(master: Master, prepared: Prepared, tmp_path: Path) -> None:
    path = master()
    path.write_bytes(path.read_bytes()[:-40_000])
    with pytest.raises(Exception, match="damaged or cut short"):
        prepared(path)
    assert list((tmp_path / "copies").iterdir()) == []


SEEN_THROUGH = np.concatenate([draw(600, 450), np.full((450, 600, 1), 255, np.uint8)], axis=2)
BARE = {"words": None}
LIGHT = 255 - draw(1200, 900) // 3


class TestFaults:
    """What preparing puts right is gone on re-check, what it cannot put right still stands."""

    @staticmethod
    def codes(picture: Picture, house: House, registry: Registry) -> set[str]:
        return {finding.code for _, finding in judge(picture, house, registry.rules).findings()}

    @pytest.mark.parametrize(
        "code, values, request_, written",
        [
            ("too-many-pixels", draw(600, 450), PlacementRequest((35, 26.25)), {}),
            ("cropped", draw(600, 450), PlacementRequest((30, 30)), {}),
            ("turned-by-flag", draw(600, 450), None, {"fields": {"orientation": 6}}),
            ("transparent", SEEN_THROUGH, None, {}),
            ("mended-on-copy", draw(600, 450) // 20 * 7, None, {}),
            ("too-light", LIGHT, PlacementRequest(tone="-6 L*"), {}),
            ("unusual-space", draw(600, 450), None, {"icc": "ROMM RGB"}),
            ("misnamed", draw(600, 450), None, {}),
        ],
    )
    def test_put_right(
        self, code: str, values: Any, request_: PlacementRequest | None, written: dict[str, Any],
        master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry,
    ) -> None:  # fmt: skip
        house = houses["coated-magazine"]
        path = master("faulty.tif", values, **written)
        if code == "misnamed":
            path = path.rename(path.with_suffix(".jpg"))
        request = request_ or PlacementRequest()
        as_supplied = take_in(path, house.output, request)
        assert code in self.codes(as_supplied, house, registry)
        made = prepared(path, request=request)
        assert code not in self.codes(again(made), house, registry)

    @pytest.mark.parametrize(
        "code, values, request_, written",
        [
            ("too-few-pixels", draw(600, 450), PlacementRequest((80, 60)), {}),
            # darker than the steepest slope can mend: for a person to decide
            ("too-dark", draw(600, 450) // 5, None, {}),
            # and nothing is darkened unasked
            ("too-light", LIGHT, None, {}),
            ("blown-highlights", np.maximum(draw(600, 450), 128) * 2 - 1, None, {}),
            ("no-copyright", draw(600, 450), None, BARE),
            ("distorted", draw(600, 450), PlacementRequest((30, 30), fit="stretch"), {}),
            ("thin-bleed", draw(600, 450), PlacementRequest((30, 22.5), 1, EDGES), {}),
        ],
    )
    def test_still_standing(
        self, code: str, values: Any, request_: PlacementRequest | None, written: dict[str, Any],
        master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry,
    ) -> None:  # fmt: skip
        house = houses["coated-magazine"]
        path = master("faulty.tif", values.astype(np.uint8), **written)
        request = request_ or PlacementRequest()
        assert code in self.codes(take_in(path, house.output, request), house, registry)
        made = prepared(path, request=request)
        assert code in self.codes(again(made), house, registry)


def test_metadata_that_nests_without_end_is_told(
    master: Master, prepared: Prepared, registry: Registry, coated: House
) -> None:
    whole, deep = xmp(CREDITED), 100_000
    end = b"</rdf:Description>"
    nested = whole.replace(end, b"<dc:a>" * deep + b"</dc:a>" * deep + end, 1)
    path = master("deep.tif", draw(300, 225), fields={"xmp-data": nested}, words=None)
    verdict = check_picture(Task(path, PlacementRequest((20, 15))), coated, Run(registry))
    assert not [one for one in verdict.outcomes if one.state is State.BROKEN]
    (credit,) = [one for one in verdict.outcomes if one.rule == "credit"]
    told = {one.measured for one in credit.findings}
    assert told == {"empty; the file's XMP cannot be read"}
    made = prepared(path, size=(20, 15))
    assert "its XMP cannot be read and is left out" in made.steps
    assert "its XMP" not in " ".join(prepared(master(), size=(20, 15), name="b.tif").steps)
