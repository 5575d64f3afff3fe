"""What of the master shows, and exactly how many pixels it becomes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import pyvips
from hypothesis import given
from hypothesis import strategies as st

from pressworthy.prepare.geometry import Plan, Window, mirror_out, plan, resample
from pressworthy.values.placement import Crop, Focus, Placement, pixels_for

ALL = frozenset({"top", "right", "bottom", "left"})


def laid(width: int, height: int, place: Placement, ppi: float = 300, **options: Any) -> Plan:
    settings: dict[str, Any] = {"enlarge": 1.0, "mirror": False, **options}
    return plan(width, height, place, ppi, **settings)


def test_a_picture_of_the_right_size_is_not_touched() -> None:
    # 2480 x 3508 px on 210 x 297 mm: 299.96 and 300.01 ppi, both right by rounding
    made = laid(2480, 3508, Placement(210, 297))
    assert made.window == Window(0, 0, 2480, 3508) and made.size() == (2480, 3508)
    image = pyvips.Image.black(2480, 3508)
    assert resample(image, 2480, 3508) is image


def test_the_shape_of_the_box_is_cut_around_the_focus() -> None:
    place = Placement(100, 100, crop=Focus(0.9, 0.5))
    assert laid(3000, 2000, place).window == Window(1000, 0, 2000, 2000)
    assert laid(3000, 2000, Placement(100, 100)).window == Window(500, 0, 2000, 2000)
    assert laid(3000, 2000, Placement(100, 100, crop=Focus(0.5, 0))).window.top == 0
    crop = Placement(100, 50, crop=Crop(0.5, 0.5, 0.5, 0.5))
    assert laid(4000, 2000, crop).window == Window(2000, 1000, 2000, 1000)


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
    window = made.window
    assert window.left >= 0 and window.left + window.width <= width
    assert window.top >= 0 and window.top + window.height <= height
    whole = tuple(pixels_for(mm, 254) for mm in place.covered())
    if made.short:
        assert made.width <= window.width + 1 and made.height <= window.height + 1
    else:
        assert made.size() == whole
        assert window.width == width or window.height == height


def test_a_crop_of_another_shape_is_cut_in_its_own_middle() -> None:
    place = Placement(100, 100, crop=Crop(0.0, 0.0, 0.8, 0.5))
    assert plan(4000, 4000, place, 300, enlarge=1.0, mirror=False).window.left == 600
