"""The pixel measurements against published figures and independent implementations."""

from __future__ import annotations

import json
import warnings
from math import erf, log, sqrt
from pathlib import Path

import numpy as np
import pytest
from dead_leaves import as_bytes, dead_leaves, unsharp

from pressworthy.measure.halo import halo
from pressworthy.measure.source_space import lab_of, source_space, surface_chroma
from pressworthy.measure.weights import FILE
from pressworthy.testing import a_picture, write_picture


@pytest.mark.parametrize(
    ("coded", "read_as", "lab"),
    [
        # LittleCMS, transicc -t1, with ghostscript's a98.icc, rommrgb.icc and srgb.icc
        ((224.1, 124.2, 48.2), "opRGB", (66.84, 45.91, 66.27)),
        ((224.1, 124.2, 48.2), "ROMM RGB", (71.07, 67.67, 76.51)),
        ((200.8, 123.2, 56.9), "sRGB", (59.40, 27.00, 48.16)),
        ((224.0, 124.0, 49.0), "sRGB", (62.69, 35.87, 56.46)),
    ],
)
def test_colours_under_a_wrong_profile(
    coded: tuple[float, ...], read_as: str, lab: tuple[float, ...]
) -> None:
    seen = lab_of(np.array([coded], np.float32), read_as)[0]
    assert np.linalg.norm(seen - np.array(lab)) < 0.6


def test_the_gamut_of_real_surfaces_is_pointers() -> None:
    # M. R. Pointer 1980, as colour-science holds it
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.models import DATA_POINTER_GAMUT_VOLUME

    for light, chroma, hue in DATA_POINTER_GAMUT_VOLUME:
        seen = surface_chroma(np.array([light], np.float32), np.array([hue], np.float32))[0]
        assert seen == pytest.approx(chroma, abs=0.01)


def test_halo_height_follows_the_profile_of_an_unsharp_mask(tmp_path: Path) -> None:
    """A step of blur s under radius sigma and amount a peaks at s S/sigma sqrt(2 ln((1+a)S/(a s))).

    Derived from the Gaussian step response (elementary calculus), S^2 = s^2 + sigma^2.
    """

    def height(s: float, sigma: float, a: float) -> float:
        wide = sqrt(s * s + sigma * sigma)
        t = s * wide / sigma * sqrt(2 * log((1 + a) * wide / (a * s)))
        step = [(1 + erf(t / (w * sqrt(2)))) / 2 for w in (s, wide)]
        return (1 + a) * step[0] - a * step[1] - 1

    # height .226 .339 .414 for s = .5, a = 1.5 and sigma = 1, 1.5, 2
    assert [round(height(0.5, sigma, 1.5), 3) for sigma in (1, 1.5, 2)] == [0.226, 0.339, 0.414]
    scene = dead_leaves(seed=31, blur=0.8, noise=0.5)
    for sigma in (1.5, 2.0):
        path = write_picture(tmp_path / f"{sigma}.png", as_bytes(unsharp(scene, sigma, 1.5)))
        assert halo(a_picture(path)).height == pytest.approx(height(0.8, sigma, 1.5), abs=0.06)


def test_a_photograph_whose_profile_is_rightly_oprgb(tmp_path: Path) -> None:
    # scikit-image's rocket.jpg carries opRGB by its colorants
    import skimage

    path = Path(skimage.__file__).parent / "data/rocket.jpg"
    seen = source_space(a_picture(path))
    assert seen.tag == "opRGB"
    assert seen.gain() < seen.limits().query


def test_the_weights_name_the_command_that_made_them() -> None:
    import pressworthy.measure

    known = json.loads((Path(pressworthy.measure.__file__).parent / FILE).read_text("utf-8"))
    assert "tests/benchmarks/detection.py" in known["made by"]
