"""The steps and the ticket of a copy tell what was done to it, in figures that are so."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.colour.lightness import printed
from pressworthy.colour.tone import lightness_for
from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.house import House
from pressworthy.measure.pixels import pixels
from pressworthy.prepare import Made
from pressworthy.testing import draw
from pressworthy.values.placement import Crop, Focus, PlacementRequest

Master = Callable[..., Path]
Prepared = Callable[..., Made]
ONE_TO_ONE = (50.8, 38.1)
"""Where 600 x 450 px are 300 ppi."""


def setting(house: House, **changes: Any) -> House:
    assert house.prepare is not None
    output = replace(house.output, steepest=changes.pop("steepest", house.output.steepest))
    named = {key.replace("_", " "): value for key, value in changes.items()}
    return replace(house, prepare={**house.prepare, **named}, output=output)


def ticket_of(made: Made) -> Ticket:
    ticket = read_ticket(made.copy.header.xmp)
    assert ticket is not None
    return ticket


def only(made: Made, start: str) -> str:
    """Return the one step that starts so."""
    (step,) = [step for step in made.steps if step.startswith(start)]
    return step


def starts(made: Made, start: str) -> bool:
    return any(step.startswith(start) for step in made.steps)


def shown_lightness(level: float) -> float:
    """Return the luminance 0..1 of a coded sRGB value (IEC 61966-2-1)."""
    value = level / 255
    return float(((value + 0.055) / 1.055) ** 2.4 if value > 0.04045 else value / 12.92)


def star(luminance: float) -> float:
    return float(116 * np.cbrt(luminance) - 16)


class TestSize:
    def test_what_is_cut_and_brought_to_size(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master(), request=PlacementRequest((30, 30), crop=Focus()))
        assert made.steps[:2] == (
            "cropped to 450 x 450 px",
            "brought to 354 x 354 px at 300 ppi",
        )
        assert ticket_of(made).crop == "focus 0.5 0.5"
        high = PlacementRequest((50.8, 19.05), crop=Crop(0, 0.25, 1, 0.5))
        lower = prepared(master(), request=high, name="c.tif")
        assert lower.steps[0] == "cropped to 600 x 225 px"
        assert ticket_of(lower).crop == "crop 0 0.25 1 0.5"
        assert ticket_of(made).steps == "; ".join(made.steps)

    def test_what_is_kept(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master(), size=ONE_TO_ONE)
        assert made.steps[0] == "kept 600 x 450 px at 300 ppi"
        assert not starts(made, "cropped") and ticket_of(made).crop == ""
        assert not any("mirrored" in step for step in made.steps)

    def test_too_few_pixels_keep_their_own_ppi_and_the_radius_that_goes_with_it(
        self, master: Master, prepared: Prepared
    ) -> None:
        made = prepared(master(), size=(76.2, 57.15))
        assert made.steps[0] == (
            "kept 600 x 450 px at 200 ppi, its own: no pixels are invented to reach 300 ppi"
        )
        assert ticket_of(made).ppi == "200.0000"
        assert ticket_of(made).radius == "1.0000"
        assert only(made, "sharpened") == "sharpened, radius 1.00 px, amount 0.91"

    @pytest.mark.parametrize("edge, axis, outer", [
        ("left", 1, slice(0, 35)), ("right", 1, slice(-35, None)),
        ("top", 0, slice(0, 35)), ("bottom", 0, slice(-35, None)),
    ])  # fmt: skip
    def test_a_mirrored_bleed_is_outside_the_trim_where_it_bleeds(
        self, edge: str, axis: int, outer: slice, master: Master, prepared: Prepared, coated: House
    ) -> None:
        house = setting(coated, mirrored_bleed=True, amount=0, steepest=1.0)
        request = PlacementRequest(ONE_TO_ONE, 3, frozenset({edge}))
        made = prepared(master("m.png"), house, request=request)
        assert "bleed mirrored from the picture's edge: look at it" in made.steps
        plain = np.asarray(
            pixels(prepared(master("m.png"), house, ONE_TO_ONE, "p.tif").copy).numpy()
        )
        bled = np.moveaxis(np.asarray(pixels(made.copy).numpy()), axis, 0)
        box = np.moveaxis(plain, axis, 0)
        assert len(bled) == len(box) + 35
        inner = bled[35:] if outer.start == 0 else bled[:-35]
        assert np.array_equal(inner, box)
        beside = inner[:35] if outer.start == 0 else inner[-35:]
        assert np.array_equal(bled[outer], beside[::-1])
        ticket = ticket_of(made)
        assert (ticket.bleed, ticket.edges) == ("3", edge)


class TestTone:
    @pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "mono"])
    def test_the_median_told_is_the_pictures_at_a_quarter_of_a_megapixel(
        self, name: str, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        # 1.08 MP: two columns are averaged, in light, before the median is taken
        values = np.full((900, 1200, 3), 60, np.uint8)
        values[:, ::2] = 190
        house = setting(houses[name], amount=0)
        made = prepared(master("lines.png", values), house, (101.6, 76.2))
        median = star((shown_lightness(60) + shown_lightness(190)) / 2)
        moved = told(made, median, "", "lifted")
        # where half-way from black to paper it is to stand: as far as a slope of 1.5 lets
        black, paper = made.copy.output.span
        whole = lightness_for(median, black, paper)
        x = median / 100
        assert moved == pytest.approx(min(whole, 100 * x / (x + (1 - x) / 1.5)), abs=0.3)
        assert ticket_of(made).tone == "house"

    def test_the_tones_on_the_ticket_are_the_masters(
        self, master: Master, prepared: Prepared
    ) -> None:
        # of 25 columns one is black, one white, and nine are of a middle gray between two others
        levels = [0, *[80] * 7, *[120] * 9, *[160] * 7, 255]
        values = np.repeat(np.array(levels, np.uint8), 24)
        values = np.repeat(np.broadcast_to(values, (450, 600))[..., None], 3, axis=2)
        made = prepared(master("grays.png", np.ascontiguousarray(values)), size=ONE_TO_ONE)
        seen = list(map(float, ticket_of(made).supplied.split()))
        lightness = [star(shown_lightness(level)) for level in (80, 120, 160)]
        assert seen == pytest.approx(lightness, abs=0.2)

    def test_what_is_light_is_left_so(self, master: Master, prepared: Prepared) -> None:
        light = master("light.png", 255 - draw(600, 450) // 12)
        left(prepared(light), "of a high key picture", "high key")

    def test_what_is_dark_and_holds_lights_is_left_so(
        self, master: Master, prepared: Prepared
    ) -> None:
        night = draw(600, 450) // 12
        night[:150] = 230
        left(prepared(master("night.png", night)), "of a low key picture", "low key")
        # by candlelight a bit is lifted
        dusk = draw(600, 450) // 4
        dusk[:150] = 230
        made = prepared(master("dusk.png", dusk), name="d.tif")
        median = float(ticket_of(made).supplied.split()[1])
        assert 10 < median < 20
        told(made, median, " of a low key picture", "lifted")
        assert ticket_of(made).kind == "low key"
        # without the lights it is lifted whole
        short = prepared(master("short.png", draw(600, 450) // 4), name="s.tif")
        assert ticket_of(short).kind == ""
        told(short, float(ticket_of(short).supplied.split()[1]), "", "lifted")
        assert float(ticket_of(short).lift) > float(ticket_of(made).lift)

    @pytest.mark.parametrize(
        ("tone", "lift", "verb"), [("+4 L*", 4.0, "lifted"), ("-6 L*", -6.0, "lowered")]
    )
    def test_what_a_person_asks_is_told(
        self, tone: str, lift: float, verb: str, master: Master, prepared: Prepared
    ) -> None:
        made = prepared(master(), request=PlacementRequest((40, 30), tone=tone))
        median = float(ticket_of(made).supplied.split()[1])
        moved = told(made, median, f", as a person asked ({tone})", verb)
        assert moved - median == pytest.approx(lift, abs=0.11)
        assert (ticket_of(made).tone, ticket_of(made).lift) == (tone, f"{lift:.1f}")

    @pytest.mark.parametrize(("sign", "verb"), [("+", "lifted"), ("-", "lowered")])
    def test_more_than_the_slope_lets_is_held_and_told(
        self, sign: str, verb: str, master: Master, prepared: Prepared
    ) -> None:
        tone = f"{sign}30 L*"
        made = prepared(master(), request=PlacementRequest((40, 30), tone=tone))
        median = float(ticket_of(made).supplied.split()[1])
        told(made, median, f", as a person asked ({tone}), as far as a slope of 1.5 lets", verb)
        assert ticket_of(made).bend == ("0.6667" if sign == "+" else "1.5000")

    def test_as_supplied_is_left_so(self, master: Master, prepared: Prepared) -> None:
        made = prepared(master(), request=PlacementRequest((40, 30), tone="as supplied"))
        left(made, "as a person asked (as supplied)", "")
        assert ticket_of(made).tone == "as supplied"

    def test_what_is_not_moved_is_not_told(
        self, master: Master, prepared: Prepared, coated: House
    ) -> None:
        made = prepared(master(), setting(coated, steepest=1.0))
        assert not starts(made, "mid-tone")
        assert (ticket_of(made).bend, ticket_of(made).lift) == ("1.0000", "0.0")
        # at L* 54 the median moves by 24.8 (slope - 1) L*
        hardly = prepared(master(), setting(coated, steepest=1.0024), name="h.tif")
        assert starts(hardly, "mid-tone") and ticket_of(hardly).lift == "0.1"
        under = prepared(master(), setting(coated, steepest=1.0016), name="u.tif")
        assert not starts(under, "mid-tone")


def told(made: Made, median: float, why: str, verb: str) -> float:
    """Assert that the step and the ticket tell one curve, and return where the median comes to."""
    step = only(made, "mid-tone")
    seen = re.fullmatch(
        r"mid-tone at L\* ([\d.]+)(.*), (lifted|lowered) to ([\d.]+) between black and paper, so "
        r"that it prints at ([\d.]+)",
        step,
    )
    assert seen is not None, step
    assert (seen[2], seen[3]) == (why, verb)
    start, moved, shown = float(seen[1]), float(seen[4]), float(seen[5])
    assert start == pytest.approx(median, abs=0.3)
    condition, gray = made.copy.output.condition, made.copy.output.colour == "gray"
    black = (condition.black if gray else condition.darkest)[0]
    assert shown == pytest.approx(printed(moved, black, condition.paper[0]), abs=0.1)
    ticket = ticket_of(made)
    x, bend = start / 100, float(ticket.bend)
    assert moved == pytest.approx(100 * x / (x + bend * (1 - x)), abs=0.15)
    assert (verb == "lifted") is (moved > start) is (bend < 1)
    assert float(ticket.lift) == pytest.approx(moved - start, abs=0.11)
    assert float(ticket.supplied.split()[1]) == start
    return moved


def left(made: Made, why: str, kind: str) -> None:
    """Assert that the step and the ticket tell of a picture left as supplied."""
    ticket = ticket_of(made)
    median = ticket.supplied.split()[1]
    gap = "" if why.startswith("of") else ","
    assert only(made, "mid-tone") == f"mid-tone at L* {median}{gap} {why}, left as supplied"
    assert (ticket.bend, ticket.lift, ticket.kind) == ("1.0000", "0.0", kind)


class TestSharpening:
    def test_none_is_none(self, master: Master, prepared: Prepared, coated: House) -> None:
        plain = prepared(master(), setting(coated, amount=0), name="p.tif")
        assert not starts(plain, "sharpened")
        assert (ticket_of(plain).radius, ticket_of(plain).amount) == ("1.5000", "0")
        # under a third of a pixel the sampled Gaussian is one pixel wide
        small = prepared(master(), setting(coated, radius=0.00007), name="s.tif")
        assert not starts(small, "sharpened")
        assert ticket_of(small).radius == "0.2625"
        first, second = (np.asarray(pixels(made.copy).numpy()) for made in (plain, small))
        assert np.array_equal(first, second)

    def test_it_raises_detail_by_its_amount(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        # a wave of 8 px: 1 + amount (1 - exp(-2 pi^2 radius^2 / 64)) of its contrast
        x = np.arange(600)
        wave = np.round(128 + 12 * np.sin(2 * np.pi * x / 8)).astype(np.uint8)
        values = np.repeat(np.broadcast_to(wave, (450, 600))[..., None], 3, axis=2)
        path = master("wave.png", np.ascontiguousarray(values))

        def contrast(amount: float, **more: float) -> float:
            settings = {"steepest": 1.0, "halo": 100.0, "threshold": 0.0, **more}
            house = setting(houses["mono"], amount=amount, **settings)
            made = prepared(path, house, ONE_TO_ONE, force=True)
            ink = np.asarray(pixels(made.copy).numpy(), float)[150:300, 150:450]
            return float(ink.std())

        plain = contrast(0)
        gain = 1 - np.exp(-2 * np.pi**2 * 1.5**2 / 64)
        assert contrast(1.0) / plain == pytest.approx(1 + gain, abs=0.06)
        assert contrast(2.0) / plain == pytest.approx(1 + 2 * gain, abs=0.08)
        assert contrast(2.0, halo=1.0) < contrast(1.0)
        assert contrast(1.0, threshold=30.0) / plain < 1.05


class TestColours:
    @pytest.mark.parametrize("compensated", [True, False])
    def test_the_conversion_is_told(
        self, compensated: bool, master: Master, prepared: Prepared, coated: House
    ) -> None:
        house = setting(coated, black_point_compensation=compensated, intent="relative")
        made = prepared(master(), house)
        verb = "with" if compensated else "without"
        wanted = f"converted to coated cmyk, relative intent, {verb} black point compensation"
        assert only(made, "converted") == wanted
        assert not starts(made, "separated anew") and not starts(made, "gray")

    def test_the_black_point_and_the_intent_are_those_of_the_house(
        self, master: Master, prepared: Prepared, coated: House
    ) -> None:
        dark = master("dark.png", draw(600, 450) // 5)
        named: dict[str, dict[str, Any]] = {"bpc": {}, "none": {"black_point_compensation": False},
                 "perceptual": {"intent": "perceptual"}}  # fmt: skip
        copies = [
            prepared(dark, setting(coated, **changes), name=f"{key}.tif").copy
            for key, changes in named.items()
        ]
        seen = [float(np.asarray(pixels(copy).numpy()).mean()) for copy in copies]
        assert len({round(mean, 1) for mean in seen}) == 3

    def test_a_lower_ink_limit_is_told(
        self, master: Master, prepared: Prepared, coated: House
    ) -> None:
        condition = coated.output.condition
        low = replace(condition, values={**condition.values, "ink limit": 220.0})
        made = prepared(master(), replace(coated, output=replace(coated.output, condition=low)))
        told = only(made, "separated anew")
        figures = re.fullmatch(
            r"separated anew within 220 % of ink: more black for less colour; its black prints at "
            r"L\* ([\d.]+), ([\d.]+) without the limit", told,
        )  # fmt: skip
        assert figures
        held, free = map(float, figures.groups())
        assert condition.darkest[0] == pytest.approx(free, abs=0.5)
        assert free < held < free + 2
        assert made.steps.index(told) == len(made.steps) - 2
        assert ticket_of(made).ink_limit == "220"
        assert ticket_of(prepared(master(), name="free.tif")).ink_limit == ""

    def test_the_gray_mix_is_told(
        self, master: Master, prepared: Prepared, houses: dict[str, House]
    ) -> None:
        mono = houses["mono"]
        mixing = replace(mono, output=replace(mono.output, gray_mix=(0.8, 0.15, 0.05)))
        made = prepared(master(), mixing)
        assert only(made, "gray of") == "gray of 0.8, 0.15, 0.05"
        plain = prepared(master("g.tif", draw(600, 450, channels=1), mode="gray",
                                icc=_gray_profile()), mixing,
                         name="g.tif")  # fmt: skip
        assert not starts(plain, "gray of")

    def test_what_a_person_vouches_for_comes_first(
        self, master: Master, prepared: Prepared
    ) -> None:
        made = prepared(master(), assume="opRGB")
        assert made.steps[0] == "read as opRGB, which a person vouches for"
        assert ticket_of(made).assumed == "opRGB"

    def test_flattened_and_turned(self, master: Master, prepared: Prepared) -> None:
        seen = np.concatenate([draw(450, 600), np.full((600, 450, 1), 200, np.uint8)], axis=2)
        path = master("both.tif", seen, fields={"orientation": 6})
        made = prepared(path, size=ONE_TO_ONE)
        assert made.steps[:3] == (
            "flattened on white", "turned upright", "kept 600 x 450 px at 300 ppi",
        )  # fmt: skip


def _gray_profile() -> bytes:
    import pyvips

    black = pyvips.Image.black(2, 2).copy(interpretation="b-w")
    return bytes(black.icc_transform("sgrey", input_profile="sgrey").get("icc-profile-data"))
