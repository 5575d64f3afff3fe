"""page-printing: told once of all pages, and how far an output intent lies from the house's."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
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


SPOT = "[/Separation /Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 " \
    "/C0 [0 0 0 0] /C1 [0 0.2 0.6 0.2] >>]"  # fmt: skip


@pytest.mark.parametrize("stands", ["outside", "as a stencil", "in a pattern"])
def test_a_page_is_judged_though_of_its_pictures_none_can_be(
    stands: str, tmp_path: Path, houses: dict[str, House], capsys: pytest.CaptureFixture[str]
) -> None:
    press = houses["newsprint"].output.condition.profiles["cmyk"].read_bytes()
    gold = image(draw(60, 40, channels=1), SPOT)
    bits = image(np.zeros((40, 8, 1), np.uint8), "/DeviceGray", depth=1, more="/ImageMask true")
    bits = bits.replace(b"/ColorSpace /DeviceGray", b"").replace(b"/Width 8 ", b"/Width 60 ")
    stencil = stands == "as a stencil"
    objects = {"P": stream("/N 4", press), "A": bits if stencil else gold}
    content, resources = "q 144 0 0 96 {} cm /A Do Q", ""
    content = content.format("900 900" if stands == "outside" else "100 100")
    if stands == "in a pattern":
        tile = "/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 99 99] "
        tile += "/XStep 99 /YStep 99 /Resources << /XObject << /A 5 0 R >> >>"
        objects["T"] = stream(tile, b"/A Do")
        resources, content = "/Pattern << /T 6 0 R >>", "/Pattern cs /T scn 0 0 99 99 re f"
    intent = "<< /S /GTS_PDFX /OutputConditionIdentifier (coldset) /DestOutputProfile 4 0 R >>"
    pdf = write_pages(
        tmp_path / "p.pdf", content, objects, page="/MediaBox [0 0 500 700]", pages=2,
        catalog=f"/OutputIntents [{intent}]", resources=resources,
    )  # fmt: skip
    assert main(["check", "--pages", str(pdf), "--house", "coated-magazine",
                 "--format", "json"]) == 1  # fmt: skip
    pictures = json.loads(capsys.readouterr().out)["pictures"]
    assert len(pictures) == 2
    states = [{one["rule"]: one["state"] for one in picture["outcomes"]} for picture in pictures]
    told = {
        finding["code"]: finding["remedy"]
        for picture in pictures
        for outcome in picture["outcomes"]
        for finding in outcome["findings"]
    }
    assert {"other-intent", "no-trim-box"} <= told.keys()
    assert told["other-intent"].startswith("It is so of 2 pages from 1 on. Its output intent")
    # nothing that nobody could look into has passed
    others = [state for one in states for rule, state in one.items() if "page" not in rule]
    assert set(others) == ({"unmeasured"} if stands == "in a pattern" else set())
    assert ("spot-ink" in told) == (stands == "outside")


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
