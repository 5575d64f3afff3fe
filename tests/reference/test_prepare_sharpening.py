"""The transfer function of a finished copy against that of an unsharp mask.

H(f) = 1 + a (1 - exp(-2 pi^2 sigma^2 f^2)): the Fourier transform of the mask with a Gaussian of
sigma pixels, by derivation. What is measured is the finished copy: TIFF, CMYK or gray, 8 bits,
read back by LittleCMS; a sharpened copy over one made without.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pressworthy.colour.convert import to_lab
from pressworthy.house import House, load_house
from pressworthy.measure.pixels import pixels
from pressworthy.plugins import Registry
from pressworthy.prepare import Order, make
from pressworthy.testing import write_picture
from pressworthy.values.placement import PlacementRequest

SIZE = 1200
FREQUENCIES = (20, 50, 100, 150, 200, 240, 300, 400)  # cycles over SIZE px
ASLANT = 0.12  # radians a row
SIGMA = 1.5


def transfer(frequency: np.ndarray, sigma: float, amount: float) -> np.ndarray:
    return 1 + amount * (1 - np.exp(-2 * np.pi**2 * sigma**2 * frequency**2))


@pytest.fixture
def lightness(registry: Registry, tmp_path: Path) -> Callable[..., np.ndarray]:
    """Return the L* of a finished copy of gray values (height, width), 0..1, sRGB-encoded."""

    def measure(values: np.ndarray, amount: float, house: str = "coated-magazine") -> np.ndarray:
        stack = np.repeat(np.round(values * 65535).astype(np.uint16)[..., None], 3, axis=2)
        path = write_picture(tmp_path / "chart.tif", stack)
        loaded = load_house(house, registry)
        made = make(
            Order(path, tmp_path / f"{amount}.tif", PlacementRequest(), force=True),
            sharpened_by(loaded, amount),
        )
        header = made.copy.header
        assert header.icc
        copy = np.asarray(pixels(made.copy).numpy())
        copy = copy.reshape(header.height, header.width, -1)
        return to_lab(copy, header.mode, header.icc)[..., 0]

    return measure


def sharpened_by(house: House, amount: float) -> House:
    assert house.prepare is not None
    plain = {"amount": amount, "threshold": 0.0, "halo": 100.0}
    untoned = replace(house.output, steepest=1.0)
    return replace(house, prepare={**house.prepare, **plain}, output=untoned)


@pytest.mark.parametrize("house", ["coated-magazine", "mono"])
@pytest.mark.parametrize("amount", [0.5, 1.0])
def test_sine_charts(house: str, amount: float, lightness: Callable[..., np.ndarray]) -> None:
    x = np.arange(SIZE)
    # a band 40 px high for each frequency; its waves run a little aslant, so that the steps of
    # 8-bit inks average out
    drift = np.arange(40)[:, None] * ASLANT
    bands = [0.6 + 0.05 * np.sin(2 * np.pi * f * x / SIZE + drift) for f in FREQUENCIES]
    chart = np.concatenate(bands)
    sharp, plain = lightness(chart, amount, house), lightness(chart, 0.0, house)

    def response(values: np.ndarray, band: int) -> float:
        rows = values[40 * band + 8 : 40 * band + 32].astype(float)
        f = FREQUENCIES[band]
        return float(np.abs(np.fft.fft(rows, axis=1)[:, f]).mean())

    measured = [response(sharp, i) / response(plain, i) for i in range(len(FREQUENCIES))]
    aslant = np.hypot(np.array(FREQUENCIES) / SIZE, ASLANT / (2 * np.pi))
    wanted = transfer(aslant, SIGMA, amount)
    assert measured == pytest.approx(wanted, rel=0.02)


def test_slanted_edge(lightness: Callable[..., np.ndarray]) -> None:
    # 5 degrees from the vertical, blurred by 1 px, of low contrast so that L* is near linear
    y, x = np.mgrid[0:400, 0:SIZE].astype(float)
    distance = (x - SIZE / 2) * np.cos(np.radians(5)) + (y - 200) * np.sin(np.radians(5))
    from scipy.special import ndtr

    chart = 0.55 + 0.1 * ndtr(distance)
    sharp, plain = lightness(chart, 1.0), lightness(chart, 0.0)
    frequency = np.arange(1, 13) / 64  # cycles/px
    measured = edge_response(sharp, distance, frequency) / edge_response(plain, distance, frequency)
    assert measured == pytest.approx(transfer(frequency, SIGMA, 1.0), rel=0.02)


def edge_response(values: np.ndarray, distance: np.ndarray, frequency: np.ndarray) -> np.ndarray:
    """Return |FT| of the edge's derivative, after ISO 12233: four bins a pixel, Hamming window."""
    bins = np.floor(distance[:, 100:-100] * 4).astype(int).ravel()
    keep = np.abs(bins) < 128
    bins, tones = bins[keep] + 128, values[:, 100:-100].ravel()[keep].astype(float)
    profile = np.bincount(bins, tones, 256)[1:] / np.bincount(bins, minlength=256)[1:]
    spread = np.gradient(profile) * np.hamming(255)
    at = (np.arange(255) - 127) / 4
    return np.abs(np.exp(-2j * np.pi * np.outer(frequency, at)) @ spread)


def test_colours_keep_their_hue(registry: Registry, tmp_path: Path) -> None:
    # lightness alone is sharpened: across an edge between a dark and a light tint of one colour
    # the chromaticity a*/b* stays
    linear = np.where(np.arange(600) < 300, 0.18, 0.30)[None, :, None] * np.array([1.0, 0.7, 0.55])
    coded = 1.055 * linear ** (1 / 2.4) - 0.055
    chart = np.round(np.repeat(coded, 200, axis=0) * 65535).astype(np.uint16)
    path = write_picture(tmp_path / "tints.tif", chart)
    house = sharpened_by(load_house("coated-magazine", registry), 1.0)
    made = make(Order(path, tmp_path / "copy.tif", PlacementRequest()), house)
    header = made.copy.header
    assert header.icc
    lab = to_lab(np.asarray(pixels(made.copy).numpy()), "CMYK", header.icc)[100]
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    assert lab[:, 0].max() > lab[550, 0] + 2, "the edge was sharpened"
    assert np.ptp(hue[250:350]) < 2.5
