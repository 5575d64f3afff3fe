"""Views of a copy: sizes, ends of the scale, the two ways to the same print, and refusals."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pressworthy.house import House
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print import printlook
from pressworthy.print.eye import as_seen
from pressworthy.print.printlook import Window
from pressworthy.testing import an_output
from pressworthy.values.condition import Condition
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import MM_PER_INCH


def flat(*inks: int, side: int = 96) -> printlook.Tones:
    return np.broadcast_to(np.array(inks, np.uint8), (side, side, len(inks))).copy()


def scene(side: int = 160) -> printlook.Tones:
    """A scene in four inks: cyan, magenta and yellow by its colours, black by its shadows."""
    rgb = 255 - dead_leaves(side, side, seed=5, noise=0, smallest=4)
    black = np.clip(rgb.min(axis=2, keepdims=True) - 90, 0, 160)
    inks = np.concatenate([rgb - black * 0.8, black], axis=2)
    return np.asarray(np.clip(np.rint(inks), 0, 255), np.uint8)


@pytest.fixture(scope="module", params=["coated-magazine", "newsprint", "mono"])
def printed(request: pytest.FixtureRequest, houses: dict[str, House]) -> House:
    return houses[request.param]


class TestReadingView:
    def test_has_the_size_of_the_copy(self, houses: dict[str, House]) -> None:
        condition = houses["coated-magazine"].output.condition
        tones = flat(0, 0, 0, 0)[:50, :70]
        view = printlook.reading_view(tones, 300, condition)
        assert view.shape == (50, 70, 3)
        assert view.dtype == np.uint8

    def test_tiles_join_without_a_seam(self, houses: dict[str, House]) -> None:
        # a picture of two tiles shows, at the seam, what a picture cut elsewhere shows there
        condition = houses["mono"].output.condition
        rng = np.random.default_rng(2)
        drawn = rng.integers(0, 256, (80, 260, 1)).astype(np.uint8)
        tones = np.repeat(np.repeat(drawn, 3, 0), 3, 1)
        whole = printlook.page_light(tones, 300, condition)[1]
        size = printlook._TILE
        try:
            printlook._TILE = 300
            other = printlook.page_light(tones, 300, condition)[1]
        finally:
            printlook._TILE = size
        assert np.abs(whole - other).max() < 0.004

    def test_paper_and_solid_are_the_measured_ones(self, printed: House) -> None:
        condition = printed.output.condition
        press = printlook.press_of(condition)
        for tones, mix in ((flat(0), 0), (flat(255), 8), (flat(255, 255, 0, 0), 3)):
            light = printlook.page_light(tones, printed.output.ppi, condition).mean(axis=(1, 2))
            assert light == pytest.approx(press.inks.primaries[mix], abs=2e-4)

    def test_paper_white_can_be_taken_off(self, printed: House) -> None:
        condition = printed.output.condition
        tones = flat(0)
        on = printlook.reading_view(tones, printed.output.ppi, condition)
        off = printlook.reading_view(tones, printed.output.ppi, condition, paper_white=False)
        assert off.min() >= 254
        assert on.mean() < 250

    def test_dots_fade_with_distance(self, printed: House) -> None:
        condition, ppi = printed.output.condition, printed.output.ppi
        near, held, far = (
            printlook.page_light(flat(128), ppi, condition, distance=mm)[1].std()
            for mm in (150, 317.5, 1000)
        )
        assert near > 1.5 * held > 15 * far

    def test_light_is_spread_among_pixels_as_among_dots(self, printed: House) -> None:
        """The reading view against every dot of the device, seen from the reader's distance.

        Away from the borders, where the one picture goes on and the other repeats.
        """
        output = printed.output
        condition, ppi = output.condition, output.ppi
        tones = scene()
        if output.colour == "gray":
            tones = tones[..., 1:2]
        quick = printlook.page_light(tones, ppi, condition)[1]
        dots = printlook.dots_light(tones, ppi, condition)[1]
        press = printlook.press_of(condition)
        seen = as_seen(dots[None], MM_PER_INCH / press.device, press.distance)[0]
        rows = np.arange(tones.shape[0] + 1) * seen.shape[0] / tones.shape[0]
        cells = _means(_means(seen, rows).T, rows).T
        inner = slice(24, -24)
        difference = quick[inner, inner] - cells[inner, inner]
        assert abs(difference.mean()) < 0.004
        assert difference.std() < 0.025
        assert np.corrcoef(quick[inner, inner].ravel(), cells[inner, inner].ravel())[0, 1] > 0.985


def _means(values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Return the means of rows between fractional edges."""
    total = np.concatenate([np.zeros((1, values.shape[1])), values.cumsum(axis=0)])
    at = np.array([np.interp(edges, np.arange(len(total)), column) for column in total.T]).T
    return np.diff(at, axis=0) / np.diff(edges)[:, None]


class TestCloseView:
    def test_shows_dots_at_any_magnification(self, houses: dict[str, House]) -> None:
        condition = houses["coated-magazine"].output.condition
        for width in (50, 320, 1000):
            view = printlook.close_view(
                flat(120, 60, 0, 0), 300, condition, Window(10, 20, 40, 30), width
            )
            assert view.shape[1] == width
            assert view.shape[0] == pytest.approx(width * 3 / 4, abs=1)

    def test_dots_are_ink_or_no_ink(self, houses: dict[str, House]) -> None:
        condition = houses["mono"].output.condition
        light = printlook.dots_light(flat(128, side=48), 300, condition, spread=0)[1]
        press = printlook.press_of(condition)
        ends = np.sort(press.inks.primaries[[0, 8], 1])
        assert np.unique(light.round(4)) == pytest.approx(ends, abs=1e-3)

    def test_a_window_shows_what_stands_there(self, houses: dict[str, House]) -> None:
        condition = houses["mono"].output.condition
        tones = scene(96)[..., :1]
        whole = printlook.dots_light(tones, 300, condition, spread=0)
        part = printlook.dots_light(tones, 300, condition, Window(16, 32, 24, 40), spread=0)
        assert np.abs(whole[:, 32 * 8 : 72 * 8, 16 * 8 : 40 * 8] - part).max() < 1e-4

    def test_refuses_what_it_cannot_show(self, houses: dict[str, House]) -> None:
        condition = houses["mono"].output.condition
        with pytest.raises(ValueError, match="outside"):
            printlook.close_view(flat(10), 300, condition, Window(90, 0, 10, 10), 100)
        with pytest.raises(ValueError, match="too large"):
            printlook.dots_light(flat(10, side=1100), 300, condition)


class TestRefusals:
    def test_a_condition_without_a_screen(self) -> None:
        with pytest.raises(Unmeasured, match="ruling"):
            printlook.reading_view(flat(0), 300, an_output().condition)

    def test_a_condition_without_measured_inks(
        self, houses: dict[str, House], tmp_path: Path
    ) -> None:
        condition: Condition = houses["mono"].output.condition
        bare = replace(condition, profiles={"gray": tmp_path / "gray.icc"})
        with pytest.raises(Unmeasured, match="inks"):
            printlook.reading_view(flat(0), 300, bare)

    def test_pixels_that_are_no_ink(self) -> None:
        with pytest.raises(Unmeasured, match="RGB"):
            printlook.tones_of(np.zeros((4, 4, 3), np.uint8), "RGB")


def test_tones_of_gray_and_cmyk() -> None:
    gray = np.array([[0, 255, 200]], np.uint8)
    assert printlook.tones_of(gray, "gray")[..., 0].tolist() == [[255, 0, 55]]
    assert printlook.tones_of(gray.astype(np.uint16) * 257, "gray")[0, :, 0].tolist() == [
        255,
        0,
        55,
    ]
    inks = np.array([[[0, 128, 255, 7]]], np.uint8)
    assert printlook.tones_of(inks, "CMYK").tolist() == inks.tolist()


def test_a_condition_may_state_its_papers_spread(houses: dict[str, House]) -> None:
    condition = houses["mono"].output.condition
    stated = replace(condition, values={**condition.values, "light spread": 0.03})
    assert printlook.press_of(condition).spread == pytest.approx(0.08)
    assert printlook.press_of(stated).spread == pytest.approx(0.03)
