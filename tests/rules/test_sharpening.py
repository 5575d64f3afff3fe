"""Sharpening measured on dead-leaves scenes, whose optics and sharpening are known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dead_leaves import as_bytes, dead_leaves, unsharp
from skimage import data

from pressworthy.measure.halo import FEWEST_EDGES, halo, halo_of
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.values.finding import Unmeasured
from pressworthy_rules.sharpening import rule

MASTER = {"supplied": "master", "master halo": 12.0, "least halo": 3.0, "most halo": 40.0}
FINISHED = {**MASTER, "supplied": "finished"}


@pytest.fixture(scope="module")
def scene() -> Any:
    return dead_leaves(seed=7, blur=0.6, noise=1.0)


def ask(folder: Path, values: Any, options: Any = MASTER, name: str = "p.png", **more: Any) -> Any:
    path = write_picture(folder / name, values, **more)
    return found(rule, a_picture(path), options)


def test_a_soft_master_passes_and_a_sharpened_one_does_not(scene: Any, tmp_path: Path) -> None:
    assert not ask(tmp_path, as_bytes(scene))
    assert not ask(tmp_path, as_bytes(unsharp(scene, 0.5, 0.8)))
    findings = ask(tmp_path, as_bytes(unsharp(scene, 2.0, 1.5)))
    assert set(findings) == {"already-sharpened"}
    assert findings["already-sharpened"].measured > 12


def test_a_finished_picture_must_be_sharpened(scene: Any, tmp_path: Path) -> None:
    assert set(ask(tmp_path, as_bytes(scene), FINISHED)) == {"not-sharpened"}
    assert not ask(tmp_path, as_bytes(unsharp(scene, 1.5, 1.0)), FINISHED)
    assert set(ask(tmp_path, as_bytes(unsharp(scene, 3.0, 4.0)), FINISHED)) == {"over-sharpened"}


def test_height_and_width_follow_the_radius(scene: Any, tmp_path: Path) -> None:
    seen = [
        halo(a_picture(write_picture(tmp_path / f"{sigma}.png", as_bytes(
            unsharp(scene, sigma, 1.5)))))
        for sigma in (0.75, 1.5, 3.0)
    ]  # fmt: skip
    for name in ("height", "width"):
        values = [getattr(one, name) for one in seen]
        assert values == sorted(values), name


@pytest.mark.parametrize("quality", [90, 75])
def test_jpeg_hides_nothing(scene: Any, tmp_path: Path, quality: int) -> None:
    sharp = as_bytes(unsharp(scene, 2.0, 1.5))
    assert "already-sharpened" in ask(tmp_path, sharp, name="s.jpg", Q=quality)
    assert not ask(tmp_path, as_bytes(scene), name="n.jpg", Q=quality)


def test_noise_of_a_scan_is_no_halo(tmp_path: Path) -> None:
    noisy = dead_leaves(seed=9, blur=0.9, noise=6)
    assert not ask(tmp_path, as_bytes(noisy))


def test_sixteen_bits_gray_and_cmyk_read_alike(scene: Any, tmp_path: Path) -> None:
    sharp = as_bytes(unsharp(scene, 2.0, 1.5))
    gray = sharp[..., 1:2]
    cmyk = np.concatenate([255 - sharp, np.zeros_like(gray)], axis=2)
    for values, mode in ((sharp.astype(np.uint16) * 257, "RGB"), (gray, "gray"), (cmyk, "CMYK")):
        findings = ask(tmp_path, values, name="p.tif", mode=mode, icc=None)
        assert set(findings) == {"already-sharpened"}, mode


def test_pictures_without_clean_edges_are_unmeasured(tmp_path: Path) -> None:
    with pytest.raises(Unmeasured, match="too few"):
        ask(tmp_path, draw())
    with pytest.raises(Unmeasured):
        ask(tmp_path, np.full((480, 640, 3), 128, np.uint8))
    soft = unsharp(dead_leaves(480, 360, seed=3), 6.0, -1.0)
    fog = as_bytes(soft + np.random.default_rng(3).normal(0, 1, soft.shape))
    with pytest.raises(Unmeasured):
        ask(tmp_path, fog)


def test_a_bright_line_beside_an_edge_is_no_halo(tmp_path: Path) -> None:
    # cup rims, hair, slivers: bright on one side only
    values = np.full((480, 640, 3), 60.0, np.float32)
    for left in range(40, 600, 60):
        values[:, left : left + 30] = 150
        values[:, left : left + 2] = 215
    soft = unsharp(values, 0.6, -1.0)
    seen = halo(a_picture(write_picture(tmp_path / "rims.png", as_bytes(soft))))
    assert seen.height < 0.08


def test_a_profile_drawn_by_the_formula_is_read_back() -> None:
    from math import erf, sqrt

    rng = np.random.default_rng(1)
    blur, sigma, amount = 0.6, 2.0, 1.0
    wide = sqrt(blur**2 + sigma**2)
    offsets = rng.uniform(-0.5, 0.5, (200, 1))
    distance = np.arange(-12, 13) - offsets
    step = np.vectorize(lambda t: (1 + erf(t / sqrt(2))) / 2)
    level = (1 + amount) * step(distance / blur) - amount * step(distance / wide)
    seen = halo_of(distance.astype(np.float32), level.astype(np.float32))
    # area over height, by the same formula
    fine = np.arange(0, 8, 0.01)
    curve = (1 + amount) * step(fine / blur) - amount * step(fine / wide) - 1
    width = np.maximum(curve, 0).sum() * 0.01 / curve.max()
    peak = max((1 + amount) * step(t / blur) - amount * step(t / wide) for t in (1.25, 1.5, 1.75))
    assert seen.height == pytest.approx(peak - 1, abs=0.03)
    assert seen.width == pytest.approx(width, rel=0.25)


@pytest.mark.parametrize(("name", "more"), [("p.png", {}), ("p.jpg", {"Q": 90})])
def test_strong_sharpening_tells_of_itself_where_its_halo_does_not(
    tmp_path: Path, name: str, more: Any
) -> None:
    coffee = data.coffee()
    assert not ask(tmp_path, coffee, name=name, **more)
    findings = ask(tmp_path, as_bytes(unsharp(coffee, 2.0, 2.5)), name=name, **more)
    assert set(findings) == {"probably-sharpened"}
    path = tmp_path / name
    assert not found(rule, a_picture(path), FINISHED)
    assert halo(a_picture(path)).height < 0.12


def test_strong_sharpening_that_spoils_the_edges_is_not_unmeasured(tmp_path: Path) -> None:
    rocket = data.rocket()
    with pytest.raises(Unmeasured, match="too few"):
        ask(tmp_path, rocket)
    sharp = as_bytes(unsharp(rocket, 2.0, 2.5))
    seen = halo(a_picture(write_picture(tmp_path / "sharp.png", sharp)))
    assert seen.edges < FEWEST_EDGES
    (finding,) = ask(tmp_path, sharp).values()
    assert finding.code == "probably-sharpened"
    assert "clipped on both sides: probably over-sharpened" in finding.remedy


def test_light_sharpening_is_not_called_strong(scene: Any, tmp_path: Path) -> None:
    for sigma, amount in ((0.5, 0.8), (0.8, 0.8)):
        light = as_bytes(unsharp(scene, sigma, amount))
        seen = halo(a_picture(write_picture(tmp_path / f"{sigma}.png", light)))
        assert not seen.is_likely()
        assert seen.clipped < 0.02
