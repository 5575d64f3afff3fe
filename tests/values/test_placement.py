"""Sizes in pixels; worked values by exact arithmetic with 25.4 mm to the inch."""

from pathlib import Path

import pytest

from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.placement import (
    Crop,
    Focus,
    Placement,
    PlacementRequest,
    parse_bleed,
    parse_crop,
    parse_focus,
    parse_size,
    pixels_for,
)


@pytest.mark.parametrize(
    ("mm", "ppi", "px"),
    [
        (210, 300, 2480),  # A4: 2480.3
        (297, 300, 3508),
        (216, 300, 2551),  # A4 with 3 mm bleed: 2551.18
        (303, 300, 3579),
        (154, 300, 1819),  # A5 with bleed
        (186, 300, 2197),
        (216, 254, 2160),  # exact
        (303, 254, 3030),
        (96, 304.8, 1152),
        (3, 254, 30),
    ],
)
def test_pixels_for_a_size(mm: float, ppi: float, px: int) -> None:
    assert pixels_for(mm, ppi) == px


def test_box_and_bleed_are_covered() -> None:
    place = Placement(210, 297, 3, frozenset({"top", "right", "bottom"}))
    assert place.covered() == (213, 303)
    assert place.size_and_bleed() == "210 x 297 mm, bleed 3 mm top, right, bottom"


def test_a_focus_shows_the_largest_part_of_the_boxs_shape() -> None:
    place = Placement(100, 50, crop=Focus())
    assert place.shown(3000, 3000) == (3000, 1500)
    assert Placement(100, 50, crop=Crop(0.1, 0, 0.5, 1)).shown(3000, 2000) == (1500, 750)
    assert Placement(100, 50, crop=Crop(0.1, 0, 0.5, 1)).part(3000, 2000) == (1500, 2000)


def test_a_stretch_shows_all_of_it() -> None:
    assert Placement(100, 50, fit="stretch").shown(3000, 3000) == (3000, 3000)
    assert Placement(100, 50, exact=True).shown(3000, 3000) == (3000, 3000)


def test_sizes_bleeds_and_focal_points_are_read() -> None:
    assert parse_size("210x148mm") == (210, 148)
    assert parse_size("8 x 10 in") == pytest.approx((203.2, 254))
    assert parse_size("96x192px") == pytest.approx((25.4, 50.8))  # W3C CSS: 1 px is 1/96 in
    assert parse_bleed("3mm") == (3, frozenset({"top", "right", "bottom", "left"}))
    assert parse_bleed("0.25in:top,left") == (6.35, frozenset({"top", "left"}))
    assert parse_bleed("0mm") == (0, frozenset())
    assert parse_focus("0.5,0.25") == Focus(0.5, 0.25)
    assert parse_crop("0.1,0,0.8,1") == Crop(0.1, 0, 0.8, 1)


@pytest.mark.parametrize(
    "text", ["210", "210x148", "0x10mm", "ax10mm", "1.2.3x4mm", "10x10ppi", "9x0.001mm"]
)
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="size|between"):
        parse_size(text)


@pytest.mark.parametrize(
    "text", ["3", "3mm:side", "mm", "1.1.1mm", "-3mm", "1e9mm", "9999999999mm"]
)
def test_what_is_no_bleed_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="bleed|edge"):
        parse_bleed(text)


@pytest.mark.parametrize("text", ["1", "a,b", "2,0", "0.5,-1", "nan,0"])
def test_what_is_no_focal_point_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="focal"):
        parse_focus(text)


@pytest.mark.parametrize(
    "text", ["1", "a,b,c,d", "0.5,0,0.6,1", "0,0,0,1", "0,-1,1,1", "nan,0,1,1"]
)
def test_what_is_no_crop_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="crop"):
        parse_crop(text)


def test_a_stated_resolution_turns_with_the_picture(tmp_path: Path) -> None:
    path = write_picture(
        tmp_path / "p.jpg", draw(600, 300), ppi=(300, 150), fields={"orientation": 6}
    )
    place = a_picture(path).placement
    assert place
    assert (place.width, place.height) == pytest.approx((50.8, 50.8), abs=0.05)


def test_a_stated_size_is_that_of_box_and_bleed(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.tif", draw(600, 300))
    request = PlacementRequest(None, 3, frozenset({"left", "right"}))
    place = a_picture(path, request).placement
    assert place
    assert (place.width, place.height) == pytest.approx((44.8, 25.4), abs=0.01)
