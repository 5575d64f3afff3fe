"""page-printing: told once of all pages, and how far an output intent lies from the house's."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pdf_writer import image, stream, write_pages

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.commands.main import main
from pressworthy.house import House
from pressworthy.measure.intent import intent_difference
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.on_page import OnPage


def test_a_fault_of_all_pages_is_told_once_with_their_first_picture(
    tmp_path: Path, houses: dict[str, House], capsys: pytest.CaptureFixture[str]
) -> None:
    press = houses["newsprint"].output.condition.profiles["cmyk"].read_bytes()
    objects = {"P": stream("/N 4", press), "A": image(draw(600, 400, channels=4), "/DeviceCMYK")}
    intent = "<< /S /GTS_PDFX /OutputConditionIdentifier (coldset) /DestOutputProfile 4 0 R >>"
    pdf = write_pages(
        tmp_path / "p.pdf", "q 144 0 0 96 100 100 cm /A Do Q " * 2, objects,
        page="/MediaBox [0 0 500 700]", pages=12, catalog=f"/OutputIntents [{intent}]",
    )  # fmt: skip
    assert main(["check", "--pages", str(pdf), "--house", "coated-magazine",
                 "--format", "json"]) == 1  # fmt: skip
    pictures = json.loads(capsys.readouterr().out)["pictures"]
    told = {
        (finding["code"], picture["name"]): finding
        for picture in pictures
        for outcome in picture["outcomes"]
        for finding in outcome["findings"]
        if outcome["rule"] == "page-printing"
    }
    first = "p.pdf, page 1, picture 1"
    assert set(told) == {("other-intent", first), ("no-trim-box", first)}
    other = told["other-intent", first]
    # the two presses differ by far more than proof and print may
    assert other["measured"] > 2 * other["limit"] == 6
    assert other["remedy"].startswith(
        "It is so of 12 pages from 1 on. Its output intent is coldset"
    )
    assert {one["facts"]["on page"]["output intent"] for one in pictures} == {"coldset"}


def test_a_file_of_its_own_is_not_judged_by_pages(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_picture(tmp_path / "a.tif", draw())
    main(["check", str(tmp_path), "--house", "mono", "--format", "json"])
    (picture,) = json.loads(capsys.readouterr().out)["pictures"]
    states = {one["rule"]: one["state"] for one in picture["outcomes"]}
    assert states["page-printing"] == states["page-inks"] == "waived"


def difference(tmp_path: Path, house: House, icc: bytes) -> Any:
    picture = a_picture(write_picture(tmp_path / "a.tif", draw()), output=house.output)
    return intent_difference(replace(picture, on_page=OnPage(icc=icc)))


def test_an_intent_is_compared_in_its_own_colours(tmp_path: Path, houses: dict[str, House]) -> None:
    coated, newsprint = (houses[name] for name in ("coated-magazine", "newsprint"))
    for mode in ("cmyk", "gray"):
        own, other = (house.output.condition.profiles[mode] for house in (coated, newsprint))
        assert difference(tmp_path, coated, own.read_bytes()) == 0
        there = difference(tmp_path, coated, other.read_bytes())
        back = difference(tmp_path, newsprint, own.read_bytes())
        assert there == pytest.approx(back, rel=0.01) and there > 3
    assert difference(tmp_path, coated, rgb_profile("sRGB")) == "for RGB"
    assert difference(tmp_path, houses["screen"], rgb_profile("sRGB")) < 0.5
    assert difference(tmp_path, coated, b"no profile") == "a damaged ICC profile"
