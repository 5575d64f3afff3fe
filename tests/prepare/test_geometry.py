"""What of the master shows, and exactly how many pixels it becomes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import pyvips
from hypothesis import given
from hypothesis import strategies as st

from pressworthy.prepare.geometry import Cut, Plan, cut, mirror_out, plan, resample
from pressworthy.values.placement import Crop, Focus, Placement, pixels_for

ALL = frozenset({"top", "right", "bottom", "left"})


def laid(width: int, height: int, place: Placement, ppi: float = 300, **options: Any) -> Plan:
    settings: dict[str, Any] = {"enlarge": 1.0, "mirror": False, **options}
    return plan(width, height, place, ppi, **settings)


def test_a_picture_of_the_right_size_is_not_touched() -> None:
    # 2480 x 3508 px on 210 x 297 mm: 299.96 and 300.01 ppi, both right by rounding
    made = laid(2480, 3508, Placement(210, 297))
    assert made.cut == Cut(0, 0, 2480, 3508) and made.size() == (2480, 3508)
    values = np.arange(2480 * 3508, dtype=np.uint32).astype(np.uint16).reshape(3508, 2480)
    image = pyvips.Image.new_from_array(values)
    assert np.array_equal(resample(image, 2480, 3508).numpy(), values)


def test_the_shape_of_the_box_is_cut_around_the_focus() -> None:
    place = Placement(100, 100, crop=Focus(0.9, 0.5))
    assert laid(3000, 2000, place).cut == Cut(1000, 0, 2000, 2000)
    assert laid(3000, 2000, Placement(100, 100)).cut == Cut(500, 0, 2000, 2000)
    assert laid(3000, 2000, Placement(100, 100, crop=Focus(0.5, 0))).cut.top == 0
    crop = Placement(100, 50, crop=Crop(0.5, 0.5, 0.5, 0.5))
    assert laid(4000, 2000, crop).cut == Cut(2000, 1000, 2000, 1000)


def test_bleed_is_covered_on_its_edges_only() -> None:
    assert laid(4000, 4000, Placement(90, 60, 3, ALL)).size() == (1134, 780)
    assert laid(4000, 4000, Placement(90, 60, 3, frozenset({"left"}))).size() == (1098, 709)


def test_pixels_are_not_invented() -> None:
    made = laid(600, 400, Placement(100, 66.67))
    assert made.size() == (600, 400)
    assert made.ppi == pytest.approx(152.4, rel=1e-3) and made.short == 300
    # a house that lets them be stretched by a tenth gets them, up to that
    assert laid(1100, 740, Placement(100, 66.67), enlarge=1.1).size() == (1181, 787)
    assert laid(1000, 667, Placement(100, 66.67), enlarge=1.1).size() == (1000, 667)


def test_mirrored_bleed_only_where_the_house_allows_it() -> None:
    place = Placement(100, 50, 3, ALL)
    assert laid(1181, 591, place).short == 300
    made = laid(1181, 591, place, mirror=True)
    assert made.mirror == (35, 35, 36, 35) and made.short == 0
    assert made.size() == (pixels_for(106, 300), pixels_for(56, 300))


@pytest.mark.parametrize(
    "edges, mirror",
    [
        ({"left"}, (36, 0, 0, 0)),
        ({"top"}, (0, 35, 0, 0)),
        ({"right"}, (0, 0, 36, 0)),
        ({"bottom"}, (0, 0, 0, 35)),
        ({"left", "bottom"}, (36, 0, 0, 35)),
    ],
)
def test_the_mirror_is_made_at_the_edges_that_bleed(
    edges: set[str], mirror: tuple[int, int, int, int]
) -> None:
    # 100 x 50 mm are 1181 x 591 px, 103 and 53 mm 1217 and 626
    place = Placement(100, 50, 3, frozenset(edges))
    made = laid(1181, 591, place, mirror=True)
    assert made.mirror == mirror
    assert made.cut == Cut(0, 0, 1181, 591)
    assert (made.width, made.height) == (1181, 591) and made.ppi == 300
    assert made.size() == tuple(pixels_for(mm, 300) for mm in place.covered())


def test_what_does_not_fill_the_box_is_not_mirrored_either() -> None:
    place = Placement(100, 50, 3, ALL)
    # a pixel of rounding is no lack
    assert any(laid(1180, 590, place, mirror=True).mirror)
    for size in ((1179, 591), (1181, 589)):
        made = laid(*size, place, mirror=True)
        assert made.mirror == (0, 0, 0, 0) and made.short == 300
    # where a house lets pixels be stretched that far, it is
    assert any(laid(1100, 560, place, mirror=True, enlarge=1.08).mirror)
    assert not any(laid(1100, 560, Placement(100, 50), mirror=True).mirror)


def test_a_pixel_of_rounding_stretches_nothing() -> None:
    for size in ((1180, 591), (1181, 590)):
        made = laid(*size, Placement(100, 50))
        assert made.size() == (1181, 591) and made.ppi == 300 and made.short == 0
    for size in ((1179, 591), (1181, 589)):
        made = laid(*size, Placement(100, 50))
        assert made.short == 300
        # the whole picture is kept, at the ppi that the scarcer side gives
        assert made.ppi == pytest.approx(min(size[0] / 100, size[1] / 50) * 25.4)


def test_the_cut_is_rounded_to_what_is_there() -> None:
    # a third of 1000 px: 333.3, and no less than the shape asks for
    made = laid(1000, 500, Placement(40, 60), ppi=20)
    assert (made.cut.width, made.cut.height) == (334, 500)
    assert made.cut.left == 333
    wide = laid(1000, 500, Placement(40, 60, crop=Focus(1, 1)), ppi=20)
    assert wide.cut.left == 666
    assert laid(1000, 500, Placement(40, 60, crop=Focus(0, 1)), ppi=20).cut.left == 0
    thin = laid(10, 5000, Placement(0.01, 4000), ppi=20).cut
    assert thin.width == 1


def test_what_is_cut_is_the_part_that_shows() -> None:
    values = np.arange(48, dtype=np.uint8).reshape(6, 8)
    image = pyvips.Image.new_from_array(values)
    assert np.array_equal(cut(image, Cut(2, 1, 5, 3)).numpy(), values[1:4, 2:7])
    assert np.array_equal(cut(image, Cut(0, 1, 8, 3)).numpy(), values[1:4])
    assert cut(image, Cut(0, 0, 8, 6)) is image


def test_resampling_gives_each_side_its_pixels() -> None:
    image = pyvips.Image.black(90, 60) + 7
    for size in ((30, 60), (90, 20), (40, 21)):
        small = resample(image, *size)
        assert (small.width, small.height) == size
        assert small.numpy() == pytest.approx(np.full((size[1], size[0]), 7), abs=1e-4)
    # detail finer than the target's pixels is filtered out, at any reduction
    stripes = np.tile(np.array([0, 1], np.float32), (8, 1000))
    fine = resample(pyvips.Image.new_from_array(stripes), 153, 8).numpy()
    assert fine[:, 5:-5] == pytest.approx(np.full((8, 143), 0.5), abs=0.01)


def test_the_mirror_repeats_the_edge_outwards() -> None:
    row = np.arange(6, dtype=np.uint8)[None].repeat(4, 0)
    out = mirror_out(pyvips.Image.new_from_array(row), (2, 0, 3, 1)).numpy()
    assert out.shape == (5, 11) and out[0].tolist() == [1, 0, 0, 1, 2, 3, 4, 5, 5, 4, 3]


@given(
    st.integers(2, 9000),
    st.integers(2, 9000),
    st.floats(5, 900),
    st.floats(5, 900),
    st.floats(0, 1),
    st.floats(0, 1),
    st.sets(st.sampled_from(sorted(ALL))),
    st.booleans(),
)
def test_always_inside_the_picture_and_of_the_right_shape(
    width: int, height: int, across: float, down: float, x: float, y: float, edges: set[str],
    mirror: bool,
) -> None:  # fmt: skip
    place = Placement(across, down, 3.0, frozenset(edges), Focus(x, y))
    made = plan(width, height, place, 254, enlarge=1.0, mirror=mirror)
    shown = made.cut
    assert shown.left >= 0 and shown.left + shown.width <= width
    assert shown.top >= 0 and shown.top + shown.height <= height
    whole = tuple(pixels_for(mm, 254) for mm in place.covered())
    if made.short:
        assert made.width <= shown.width + 1 and made.height <= shown.height + 1
    else:
        assert made.size() == whole
        assert shown.width == width or shown.height == height


def test_a_crop_of_another_shape_is_cut_in_its_own_middle() -> None:
    place = Placement(100, 100, crop=Crop(0.0, 0.0, 0.8, 0.5))
    assert plan(4000, 4000, place, 300, enlarge=1.0, mirror=False).cut.left == 600
