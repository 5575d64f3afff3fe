"""What the house and the order ask for reaches the copy, and a change of it makes a new one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.files.intake import take_in
from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import hash_file
from pressworthy.house import House
from pressworthy.measure.lightness import lightness
from pressworthy.measure.pixels import pixels
from pressworthy.measure.tones import tones
from pressworthy.prepare import Refused, making
from pressworthy.testing import draw
from pressworthy.values.placement import Crop, Focus, PlacementRequest

Make = Callable[..., Any]


def with_settings(house: House, **changed: Any) -> House:
    assert house.prepare is not None
    output = replace(house.output, steepest=changed.pop("steepest", house.output.steepest))
    named = {name.replace("_", " "): value for name, value in changed.items()}
    return replace(house, prepare={**house.prepare, **named}, output=output)


def ticket_of(made: Any) -> Ticket:
    ticket = read_ticket(made.copy.header.xmp)
    assert ticket
    return ticket


def values_of(made: Any) -> Any:
    return np.asarray(pixels(made.copy).numpy(), float)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (PlacementRequest((30, 30), crop=Focus(0.2, 0.5)),
         PlacementRequest((30, 30), crop=Focus(0.8, 0.5))),
        (PlacementRequest((30, 22.5), crop=Crop(0, 0, 0.8, 0.8)),
         PlacementRequest((30, 22.5), crop=Crop(0.2, 0.2, 0.8, 0.8))),
        (PlacementRequest((30, 30)), PlacementRequest((30, 30), fit="stretch")),
        (PlacementRequest((30, 22.5)), PlacementRequest((30, 22.5), sharpen=False)),
        (PlacementRequest((30, 22.5), 3, frozenset({"left"})),
         PlacementRequest((30, 22.5), 3, frozenset({"right"}))),
        (PlacementRequest((30, 22.5), 3, frozenset({"left"})),
         PlacementRequest((30, 22.5), 2, frozenset({"left"}))),
    ],
    ids=["focus", "crop", "fit", "sharpen", "edges", "bleed"],
)  # fmt: skip
def test_another_part_or_bleed_is_made_anew(
    first: PlacementRequest, second: PlacementRequest, master: Make, prepared: Make
) -> None:
    path = master()
    prepared(path, request=first)
    assert not prepared(path, request=first).fresh
    assert prepared(path, request=second).fresh


def test_another_space_or_house_is_made_anew(
    master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    path = master("untagged.png", icc=None)
    prepared(path, assume="sRGB")
    assert prepared(path, assume="opRGB").fresh
    house = houses["coated-magazine"]
    tagged = master("tagged.png")
    prepared(tagged, house, name="tagged.tif")
    other = replace(house, document={**house.document, "about": "other"})
    assert prepared(tagged, other, name="tagged.tif").fresh


def test_the_ticket_tells_amount_tone_and_crop(
    master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    house = with_settings(houses["coated-magazine"], amount=0.6)
    request = PlacementRequest((30, 30), crop=Focus(0.2, 0.5))
    ticket = ticket_of(prepared(master(values=draw(600, 450) // 2), house, request=request))
    assert ticket.amount == "0.6"
    assert float(ticket.bend) < 0.95  # a dark master is lifted
    assert ticket.crop == "focus 0.2 0.5"


def test_the_radius_follows_the_copys_own_resolution(master: Make, prepared: Make) -> None:
    # viewing distance in inches x ppi x 0.0004: common practice, no source; 12.5 inches
    ticket = ticket_of(prepared(master(values=draw(600, 450)), size=(100, 75)))
    assert float(ticket.radius) == pytest.approx(12.5 * 152.4 * 0.0004, abs=0.01)


def test_the_limit_of_halos_reaches_the_copy(
    master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    step = np.full((300, 400, 3), 90, np.uint8)
    step[:, 200:] = 165
    path = master("step.tif", step)

    def overshoot(halo: float) -> float:
        house = with_settings(houses["mono"], halo=halo, amount=2.0, steepest=1.0)
        made = prepared(path, house, None, f"halo-{halo}.tif", PlacementRequest())
        row = values_of(made).reshape(300, 400)[150]
        return float(row.max() - row[350])

    assert overshoot(1.0) < 5 < overshoot(10.0)


def test_the_threshold_reaches_the_copy(
    master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    noise = 128 + np.random.default_rng(1).normal(0, 1.5, (300, 400, 1))
    path = master("noise.tif", np.rint(noise).astype(np.uint8).repeat(3, axis=2))

    def spread(threshold: float) -> float:
        house = with_settings(houses["mono"], threshold=threshold, amount=2.0, steepest=1.0)
        made = prepared(path, house, None, f"at-{threshold}.tif", PlacementRequest())
        return float(values_of(made).std())

    assert spread(5.0) < 0.7 * spread(0.0)


@pytest.mark.parametrize("compensated", [True, False])
def test_black_is_compensated_where_the_house_says_so(
    compensated: bool, master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    condition = houses["coated-magazine"].output.condition
    assert condition
    ink = np.full((300, 400, 4), (178, 153, 153, 255), np.uint8)
    path = master("ink.tif", ink, mode="CMYK", icc=condition.profiles["cmyk"].read_bytes())
    house = with_settings(
        houses["screen"], black_point_compensation=compensated, steepest=1.0, amount=0
    )
    made = prepared(path, house, (30, 22.5), f"{compensated}.jpg", scale=1.0)
    assert bool(values_of(made).mean() < 8) is compensated


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", "jpg"), ("WebP", "webp"), ("AVIF", "avif")])
def test_copies_for_the_screen_carry_its_profile(
    kind: str, suffix: str, master: Make, prepared: Make, houses: Mapping[str, House]
) -> None:
    house = with_settings(houses["screen"], format=kind)
    made = prepared(master(), house, (30, 22.5), f"c.{suffix}", scale=1.0)
    condition = made.copy.output.condition
    assert made.copy.header.icc == condition.profiles[made.copy.output.colour].read_bytes()


def test_the_median_and_not_the_mean_is_lifted(master: Make, prepared: Make) -> None:
    values = draw(600, 450).astype(float)
    dark = np.arange(450)[:, None, None] < 280
    skewed = np.where(dark, values * 0.55 + 20, np.clip(190 + values * 0.2, 0, 255))
    path = master("skewed.tif", skewed.astype(np.uint8))
    made = prepared(path, "newsprint")
    on_screen = lightness(take_in(path, made.copy.output, PlacementRequest())).median
    copy = tones(replace(made.copy)).median
    assert copy - on_screen == pytest.approx(float(ticket_of(made).lift), abs=1.0)


def test_a_master_that_changes_meanwhile_is_refused(
    master: Make, prepared: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, hashed = master(), hash_file
    seen: list[Path] = []

    def changing(file: Path) -> str:
        seen.extend([file] if file == path else [])
        return "other" if len(seen) > 1 else hashed(file)

    monkeypatch.setattr(making, "hash_file", changing)
    with pytest.raises(Refused, match="master changed"):
        prepared(path)


def test_a_person_chooses_the_gray_mix(master: Make, prepared: Make) -> None:
    red = np.zeros((450, 600, 3), np.uint8)
    red[..., 0] = np.linspace(60, 250, 600).astype(np.uint8)
    path = master("red.tif", red)
    plain = values_of(prepared(path, "mono", name="plain.tif")).mean()
    request = PlacementRequest((40, 30), gray_mix=(1.0, 0.0, 0.0))
    made = prepared(path, "mono", name="red.tif", request=request)
    assert values_of(made).mean() > plain + 30
    assert any("as a person asked" in step for step in made.steps)
