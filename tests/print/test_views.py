"""The print look: ends of the scale, dots and their means alike, and refusals."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pressworthy.house import House
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print import printlook
from pressworthy.print.eye import as_seen
from pressworthy.print.printlook import Part
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
    tones: printlook.Tones = np.clip(np.rint(inks), 0, 255).astype(np.uint8)
    return tones


@pytest.fixture(scope="module", params=["coated-magazine", "newsprint", "mono"])
def printed(request: pytest.FixtureRequest, houses: dict[str, House]) -> House:
    return houses[request.param]


class TestInk:
    def test_paper_and_solid_are_the_measured_ones(self, printed: House) -> None:
        press = printlook.press_of(printed.output.condition)
        for tones, mix in ((flat(0), 0), (flat(255), 8), (flat(255, 255, 0, 0), 3)):
            light = printlook.dots_light(tones, printed.output.ppi, press)
            assert light.mean(axis=(1, 2), dtype=np.float64) == pytest.approx(
                press.inks.primaries[mix], abs=2e-4
            )

    def test_dots_fade_with_distance(self, printed: House) -> None:
        press = printlook.press_of(printed.output.condition)
        page = printlook.printed_luminance(flat(128, side=512), printed.output.ppi, press, fine=2)
        inner = slice(256, -256)
        near, held, far = (
            as_seen(page, MM_PER_INCH / printed.output.ppi / 2, mm)[inner, inner].std()
            for mm in (150, 317.5, 1000)
        )
        assert near > 1.5 * held > 15 * far

    @pytest.mark.parametrize("fine", [2, 4])
    def test_the_mean_of_the_dots_prints_as_every_dot_does(self, printed: House, fine: int) -> None:
        """Luminance from the mean over each sample, and from the device's dots, both as read.

        Away from the borders, where the one picture goes on and the other repeats.
        """
        output = printed.output
        press = printlook.press_of(output.condition)
        tones = scene()
        if output.colour == "gray":
            tones = tones[..., 1:2]
        means = printlook.printed_luminance(tones, output.ppi, press, fine=fine)
        means = as_seen(means, MM_PER_INCH / output.ppi / fine, output.viewing_distance)
        dots = printlook.dots_light(tones, output.ppi, press)[1]
        dots = as_seen(dots, MM_PER_INCH / press.device, output.viewing_distance)
        quick, exact = (
            _means(_means(light, edges).T, edges).T
            for light in (means, dots)
            for edges in [np.arange(tones.shape[0] + 1) * light.shape[0] / tones.shape[0]]
        )
        inner = slice(24, -24)
        difference = quick[inner, inner] - exact[inner, inner]
        assert abs(difference.mean()) < 0.004
        assert difference.std() < 0.025
        assert np.corrcoef(quick[inner, inner].ravel(), exact[inner, inner].ravel())[0, 1] > 0.985


def _means(values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Return the means of rows between fractional edges."""
    total = np.concatenate([np.zeros((1, values.shape[1])), values.cumsum(axis=0)])
    at = np.array([np.interp(edges, np.arange(len(total)), column) for column in total.T]).T
    return np.diff(at, axis=0) / np.diff(edges)[:, None]


class TestDots:
    def test_dots_are_ink_or_no_ink(self, houses: dict[str, House]) -> None:
        press = printlook.press_of(houses["mono"].output.condition)
        light = printlook.dots_light(flat(128, side=48), 300, replace(press, blur=0))[1]
        ends = np.sort(press.inks.primaries[[0, 8], 1])
        assert np.unique(light.round(4)) == pytest.approx(ends, abs=1e-4)

    def test_a_part_shows_what_stands_there(self, houses: dict[str, House]) -> None:
        press = replace(printlook.press_of(houses["mono"].output.condition), blur=0)
        tones = scene(96)[..., :1]
        whole = printlook.dots_light(tones, 300, press)
        part = printlook.dots_light(tones, 300, press, Part(16, 32, 24, 40))
        assert np.abs(whole[:, 32 * 8 : 72 * 8, 16 * 8 : 40 * 8] - part).max() < 1e-4

    def test_refuses_what_it_cannot_show(self, houses: dict[str, House]) -> None:
        press = printlook.press_of(houses["mono"].output.condition)
        with pytest.raises(ValueError, match="outside"):
            printlook.dots_light(flat(10), 300, press, Part(90, 0, 10, 10))
        with pytest.raises(ValueError, match="too large"):
            printlook.dots_light(flat(10, side=1100), 300, press)


class TestRefusals:
    def test_a_condition_without_a_screen(self) -> None:
        with pytest.raises(Unmeasured, match="ruling"):
            printlook.press_of(an_output().condition)

    def test_a_condition_without_measured_inks(
        self, houses: dict[str, House], tmp_path: Path
    ) -> None:
        condition: Condition = houses["mono"].output.condition
        bare = replace(condition, profiles={"gray": tmp_path / "gray.icc"}, inks=None)
        (tmp_path / "gray.icc").write_bytes(b"none")
        with pytest.raises(Unmeasured, match="ICC profile"):
            printlook.press_of(bare)

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


def test_a_condition_may_state_its_press_blur(houses: dict[str, House]) -> None:
    condition = houses["mono"].output.condition
    stated = replace(condition, values={**condition.values, "press blur": 0.03})
    assert printlook.press_of(condition).blur == pytest.approx(0.08)
    assert printlook.press_of(stated).blur == pytest.approx(0.03)
