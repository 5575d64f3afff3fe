"""The soft proof: paper, black, mono, and how small a page view may be."""

from __future__ import annotations

import numpy as np
import pytest

from pressworthy.colour.convert import as_vips, to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import D50, from_xyz
from pressworthy.colour.lightness import lightness, luminance
from pressworthy.colour.linear import to_light
from pressworthy.colour.spaces import SPACES
from pressworthy.house import House
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print import softproof
from pressworthy.print.eye import as_seen, low_pass
from pressworthy.print.optics import blur_share, cropped, padded
from pressworthy.print.printlook import dots_light, press_of, tones_of
from pressworthy.values.units import MM_PER_INCH


def flat(value: float, side: int = 8) -> softproof.Floats:
    return np.broadcast_to((value * D50).astype(np.float32), (side, side, 3)).copy()


def lab_of(light: softproof.Floats) -> np.ndarray:
    return from_xyz(np.asarray(light, np.float64))


class TestPaper:
    @pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "mono"])
    def test_white_is_the_paper_and_off_it_is_the_screens_white(
        self, houses: dict[str, House], name: str
    ) -> None:
        condition = houses[name].output.condition
        shown = lab_of(softproof.soft_proof(flat(1), condition))[0, 0]
        assert shown == pytest.approx(condition.paper, abs=0.05)
        assert (softproof.srgb(flat(1)) == 255).all()

    def test_the_matrix_takes_the_papers_white_off(self, houses: dict[str, House]) -> None:
        condition = houses["newsprint"].output.condition
        to_srgb = np.linalg.inv(SPACES["sRGB"].colorants)
        with_paper = softproof.soft_proof(flat(0.4), condition)[0, 0] @ to_srgb
        without = flat(0.4)[0, 0] @ to_srgb
        assert softproof.paper_off(condition) @ with_paper == pytest.approx(without, abs=1e-4)


class TestCopyLight:
    def test_cmyk_has_the_colours_its_profile_says(self, houses: dict[str, House]) -> None:
        output = houses["coated-magazine"].output
        rng = np.random.default_rng(1)
        inks = rng.integers(0, 256, (12, 16, 4)).astype(np.uint8)
        light = softproof.copy_light(as_vips(inks, "CMYK"), output)
        said = to_lab(inks, "CMYK", output.condition.profiles["cmyk"].read_bytes())
        assert delta_e_2000(lab_of(light), said).max() < 0.2

    def test_a_cmyk_masters_white_is_white_in_linear_light(self, houses: dict[str, House]) -> None:
        profile = houses["coated-magazine"].output.condition.profiles["cmyk"].read_bytes()
        bare = as_vips(np.zeros((4, 4, 4), np.uint8), "CMYK")
        light = to_light(bare, "CMYK", profile, intent="relative", black_point=True)
        (romm,) = light.romm()
        assert romm == pytest.approx(np.full((4, 4, 3), 65535), rel=2e-3)


class TestMonoProof:
    def test_lies_between_black_ink_and_paper(self, houses: dict[str, House]) -> None:
        condition = houses["coated-magazine"].output.condition
        black = lab_of(softproof.mono_proof(flat(0), condition))[0, 0]
        white = lab_of(softproof.mono_proof(flat(1), condition))[0, 0]
        assert black == pytest.approx(condition.black, abs=0.05)
        assert white == pytest.approx(condition.paper, abs=0.05)


class TestPageView:
    def test_takes_fine_contrast_and_keeps_broad_shapes(self, houses: dict[str, House]) -> None:
        output = houses["coated-magazine"].output
        press, distance = press_of(output.condition), output.viewing_distance
        columns = np.arange(256)

        def kept(cycles_a_pixel: float) -> float:
            wave = 0.4 + 0.1 * np.cos(2 * np.pi * cycles_a_pixel * columns)
            light = (wave[None, :, None] * D50).astype(np.float32).repeat(64, 0)
            seen = softproof.page_view(light, 150, press.blur, distance)
            assert seen.mean() == pytest.approx(light.mean(), rel=0.02)
            return float(seen[32, 64:192, 1].std() / light[32, 64:192, 1].std())

        for cycles in (1 / 64, 1 / 8, 1 / 4):
            a_mm = np.array([cycles * 150 / 25.4])
            # a little contrast of T . (P * T): half of it is not blurred
            ink = (1 + blur_share(a_mm, press.blur)[0]) / 2
            assert kept(cycles) == pytest.approx(ink * low_pass(a_mm, distance)[0], abs=0.02)

    def test_agrees_with_the_dots_where_they_run_together(self, houses: dict[str, House]) -> None:
        # lightness of the same gray copy, both brought to a quarter: one without, one with dots
        output = houses["mono"].output
        press = press_of(output.condition)
        scene = dead_leaves(192, 192, seed=3, noise=0, smallest=4).mean(axis=2)
        copy = np.round(scene).astype(np.uint8)[..., None]
        relative = softproof.copy_light(as_vips(copy, "gray"), output)
        view = softproof.page_view(relative, output.ppi, press.blur, output.viewing_distance)
        view = softproof.soft_proof(view, output.condition)[..., 1]
        dots = dots_light(tones_of(copy, "gray"), output.ppi, press)[1]
        pitch = MM_PER_INCH / press.device
        dots = cropped(as_seen(padded(dots, pitch, 0), pitch, output.viewing_distance), dots)

        def quarter(light: np.ndarray) -> np.ndarray:
            side = light.shape[0] // 48
            blocks = light.reshape(48, side, 48, side)
            return lightness(blocks.mean((1, 3)).astype(np.float64))

        assert np.abs(quarter(view) - quarter(dots)).mean() < 1.5


def test_srgb_is_coded_by_its_standard() -> None:
    # mid grey of sRGB, 8 bits: 0.5 of IEC 61966-2-1 is linear 0.2140
    assert softproof.srgb(flat(0.21404))[0, 0] == pytest.approx([128, 128, 128], abs=1)
    assert luminance(50.0) == pytest.approx(0.184, abs=0.001)
