"""True resolution on scenes enlarged by code: proof, factor, suspicion, and no false proof."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dead_leaves import as_bytes, dead_leaves, unsharp
from PIL import Image

from pressworthy.measure.upscaling import (
    PROVEN,
    as_over_four,
    line_spectra,
    times_repeated,
    true_resolution,
)
from pressworthy.testing import a_picture, found, write_picture
from pressworthy.values.finding import Unmeasured
from pressworthy.values.placement import PlacementRequest
from pressworthy_rules.true_resolution import rule

OPTIONS = {"enlarged": 1.1, "suspicion": 95.0}


@pytest.fixture(scope="module")
def native() -> Any:
    return as_bytes(dead_leaves(1024, 768, seed=21, blur=0.5, noise=1.5, smallest=3))


def enlarged(scene: Any, factor: float, kernel: Any = Image.Resampling.BICUBIC) -> Any:
    height, width = scene.shape[0] / factor, scene.shape[1] / factor
    part = np.ascontiguousarray(scene[: round(height), : round(width)])
    return np.asarray(
        Image.fromarray(part).resize((round(part.shape[1] * factor), round(part.shape[0] * factor)),
                                     kernel)
    )  # fmt: skip


def ask(folder: Path, values: Any, size: Any = None, name: str = "p.png", **more: Any) -> Any:
    path = write_picture(folder / name, values, **more)
    return found(rule, a_picture(path, PlacementRequest(size)), OPTIONS)


def test_a_native_picture_passes(native: Any, tmp_path: Path) -> None:
    assert not ask(tmp_path, native)
    assert not ask(tmp_path, native, name="p.jpg", Q=90)


@pytest.mark.parametrize(
    "kernel", [Image.Resampling.BILINEAR, Image.Resampling.BICUBIC, Image.Resampling.LANCZOS]
)
@pytest.mark.parametrize("factor", [2.0, 2.6, 3.0])
def test_the_factor_is_named_within_5_per_cent(
    native: Any, tmp_path: Path, factor: float, kernel: Any
) -> None:
    findings = ask(tmp_path, enlarged(native, factor, kernel))
    assert set(findings) == {"enlarged"}
    assert findings["enlarged"].measured == pytest.approx(factor, rel=0.05)


def test_of_two_factors_with_one_period_none_is_told(native: Any, tmp_path: Path) -> None:
    # 1.7 and 2.43 repeat alike; which it was rests on the detail alone, and noise blurs that
    finding = ask(tmp_path, enlarged(native, 1.7))["enlarged"]
    assert finding.measured == "by an unsure factor"
    assert "give or take a fifth" in finding.remedy


@pytest.mark.parametrize(("factor", "quality"), [(1.5, 20), (1.77, 20), (2.0, 20), (2.0, 40)])
def test_no_factor_is_told_of_a_bad_jpeg_enlarged(
    native: Any, tmp_path: Path, factor: float, quality: int
) -> None:
    # its old blocks leave lines of their own: 1.2 and 5.3 were told for these
    small = native[: round(768 / factor), : round(1024 / factor)]
    write_picture(tmp_path / "small.jpg", np.ascontiguousarray(small), Q=quality)
    bad = Image.open(tmp_path / "small.jpg").convert("RGB")
    size = round(bad.width * factor), round(bad.height * factor)
    (finding,) = ask(tmp_path, np.asarray(bad.resize(size, Image.Resampling.BICUBIC))).values()
    assert finding.code == "enlarged"
    assert finding.measured == "by an unsure factor"


def test_doubling_is_proven_though_its_phases_mirror(native: Any, tmp_path: Path) -> None:
    findings = ask(tmp_path, enlarged(native, 2.0))
    assert findings["enlarged"].measured == pytest.approx(2.0)


def test_proof_survives_good_jpeg(native: Any, tmp_path: Path) -> None:
    findings = ask(tmp_path, enlarged(native, 2.6), name="p.jpg", Q=90)
    assert findings["enlarged"].measured == pytest.approx(2.6, rel=0.05)


def test_sixteen_bits_gray_and_cmyk_read_alike(native: Any, tmp_path: Path) -> None:
    big = enlarged(native, 3.0)
    gray = big[..., 1:2]
    cmyk = np.concatenate([255 - big, np.zeros_like(gray)], axis=2)
    for values, mode in ((big.astype(np.uint16) * 257, "RGB"), (gray, "gray"), (cmyk, "CMYK")):
        assert set(ask(tmp_path, values, name="p.tif", mode=mode, icc=None)) == {"enlarged"}, mode


def test_the_remedy_tells_the_real_resolution_at_the_placed_size(
    native: Any, tmp_path: Path
) -> None:
    big = enlarged(native, 3.0)
    # 1024 px on 86.7 mm are 300 ppi, of which 100 are real
    (finding,) = ask(tmp_path, big, size=(86.7, 65.0)).values()
    assert finding.code == "enlarged"
    assert "100 ppi as placed" in finding.remedy
    assert "341 x 256 px" in finding.remedy
    # placed so small that even the real pixels suffice: following the remedy
    assert set(ask(tmp_path, big, size=(28.0, 21.0))) == {"enlarged-but-enough"}


def test_a_soft_lens_is_never_proof(native: Any, tmp_path: Path) -> None:
    for blur in (0.9, 1.3, 2.0):
        soft = as_bytes(dead_leaves(768, 576, seed=22, blur=blur, noise=1.0))
        assert not {"enlarged", "enlarged-but-enough"} & set(ask(tmp_path, soft)), blur


def test_a_shrunken_picture_is_not_enlarged(native: Any, tmp_path: Path) -> None:
    # shrinking leaves a period too
    small = np.asarray(Image.fromarray(native).resize((788, 591), Image.Resampling.LANCZOS))
    assert not ask(tmp_path, small)


def test_pictures_without_detail_are_unmeasured(tmp_path: Path) -> None:
    with pytest.raises(Unmeasured, match="no detail"):
        ask(tmp_path, np.full((600, 800, 3), 90, np.uint8))
    with pytest.raises(Unmeasured, match="too few"):
        ask(tmp_path, np.full((40, 40, 3), 90, np.uint8))


def test_the_same_pixels_give_the_same_answer(native: Any, tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", enlarged(native, 1.7))
    assert true_resolution(a_picture(path)) == true_resolution(a_picture(path))


def test_fourfold_is_named(native: Any, tmp_path: Path) -> None:
    finding = ask(tmp_path, enlarged(native, 4.0))["enlarged"]
    assert finding.measured == pytest.approx(4.0, rel=0.05)


def test_a_part_of_a_soft_picture_is_no_more_suspect_than_the_whole(tmp_path: Path) -> None:
    # one tile's lines of mere noise are higher than four tiles': quarters had log odds 0.4 above
    def log_odds(values: Any) -> float:
        path = write_picture(tmp_path / "p.jpg", np.ascontiguousarray(values), Q=90)
        chance = true_resolution(a_picture(path)).probability
        return float(np.log(chance / (1 - chance)))

    soft = as_bytes(dead_leaves(1024, 768, seed=21, blur=0.9, noise=1.5, smallest=3))
    quarters = [soft[y : y + 384, x : x + 512] for y in (0, 384) for x in (0, 512)]
    above = np.mean([log_odds(part) for part in quarters]) - log_odds(soft)
    assert abs(above) < 0.25


@pytest.mark.parametrize("tiles", [1, 2, 9])
def test_the_strongest_line_of_noise_is_as_high_over_few_tiles_as_over_four(tiles: int) -> None:
    rng = np.random.default_rng(0)

    def strongest(many: int) -> Any:
        noise = [rng.normal(128, 10, (512, 512)).astype(np.float32) for _ in range(many)]
        # the lines between those that a JPEG's blocks make
        return line_spectra(tuple(noise))[0][:, 66:126].max(axis=1)

    over_four = np.mean([strongest(4) for _ in range(8)])
    as_seen = np.array([strongest(tiles) for _ in range(8)])
    put_right = as_over_four(as_seen, tiles).mean()
    assert abs(put_right - over_four) < 0.6 * abs(as_seen.mean() - over_four)


def test_a_line_that_is_proof_stands_as_it_is_however_few_the_tiles() -> None:
    lines = np.array([PROVEN, 2.5])
    assert as_over_four(lines, 1) == pytest.approx(lines)


@pytest.mark.parametrize("blur", [1.3, 2.0])
def test_detail_that_ends_early_is_suspicion_only(blur: float, tmp_path: Path) -> None:
    soft = as_bytes(dead_leaves(768, 576, seed=22, blur=blur, noise=1.0))
    assert set(ask(tmp_path, soft)) == {"ends-early"}


def test_the_coarser_direction_counts(native: Any, tmp_path: Path) -> None:
    (finding,) = ask(tmp_path, enlarged(native, 3.0), size=(28.0, 65.0)).values()
    assert finding.code == "enlarged"


def test_the_house_says_how_much_enlarging_is_too_much(native: Any, tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", enlarged(native, 3.0))
    assert found(rule, a_picture(path), OPTIONS)
    assert not found(rule, a_picture(path), {**OPTIONS, "enlarged": 3.5})


@pytest.mark.parametrize("times", [2, 3, 4])
def test_repeated_pixels_are_counted(native: Any, tmp_path: Path, times: int) -> None:
    # without loss also where the repeats do not begin with the picture
    big = np.repeat(np.repeat(native, times, 0), times, 1)
    for top, left, name, more in (
        (1, 1, "p.png", {}), (1, 0, "p.png", {}), (0, 0, "p.png", {}), (0, 0, "p.jpg", {"Q": 90}),
    ):  # fmt: skip
        part = np.ascontiguousarray(big[top : top + 768, left : left + 1024])
        findings = ask(tmp_path, part, name=name, **more)
        assert findings["enlarged"].measured == pytest.approx(times), (top, left, name)


def test_pixels_repeated_one_way_only_are_no_enlargement(native: Any) -> None:
    striped = np.repeat(native, 2, axis=1)[:768, :1024, 1].astype(np.float32)
    assert times_repeated((striped[:512, :512],)) is None


def test_a_jpeg_halved_keeps_block_edges_4_px_apart_and_is_native(
    native: Any, tmp_path: Path
) -> None:
    big = as_bytes(dead_leaves(1536, 1024, seed=23, blur=0.9, noise=2.0))
    write_picture(tmp_path / "big.jpg", big, Q=60)
    half = Image.open(tmp_path / "big.jpg").convert("RGB").reduce(2)
    assert not ask(tmp_path, np.asarray(half))


def test_sharpening_after_enlarging_hides_no_proof(native: Any, tmp_path: Path) -> None:
    for factor in (2.6, 3.0):
        sharp = as_bytes(unsharp(enlarged(native, factor), 1.5, 1.5))
        finding = ask(tmp_path, sharp)["enlarged"]
        assert finding.measured in (pytest.approx(factor, rel=0.05), "by an unsure factor")
