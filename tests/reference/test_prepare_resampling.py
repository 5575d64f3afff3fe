"""Resampling measured as optics are: aliasing on a zone plate, sharpness on a slanted edge.

The edge's evaluation follows ISO 12233 (four bins a pixel); a zone plate's frequencies are known
by construction.
"""

from __future__ import annotations

import numpy as np
import pytest
import pyvips

from pressworthy.prepare.geometry import plan, resample
from pressworthy.values.placement import Placement, pixels_for


def resampled(values: np.ndarray, width: int, height: int) -> np.ndarray:
    """Return (height, width) of linear values 0..1, through 16 bits as in the pipeline."""
    image = pyvips.Image.new_from_array(np.round(values * 65535).astype(np.uint16))
    return np.asarray(resample(image, width, height).numpy(), float) / 65535


@pytest.mark.parametrize("factor", [2.1, 3.3, 5.2, 8.3])
def test_a_zone_plate_does_not_alias(factor: float) -> None:
    # cos(pi r^2 / n) runs from 0 in the middle to 0.5 cycles/px at the edge of n px
    n = round(420 * factor)
    y, x = np.mgrid[0:n, 0:n].astype(np.float32) - n / 2 + 0.5
    plate = 0.5 + 0.45 * np.cos(np.pi * (x**2 + y**2) / n)
    size = round(n / factor)
    out = resampled(plate, size, size)
    v, u = (np.mgrid[0:size, 0:size] - size / 2 + 0.5) * n / size
    frequency = np.maximum(np.abs(u), np.abs(v)) / n  # of the finer axis, cycles/px of the source
    nyquist = size / n / 2
    # from 1.6 times the limit on everything must be gone; nearer to it a kernel of three lobes
    # still lets through what folds back just below the limit
    beyond = out[(frequency > 1.6 * nyquist) & (frequency < 0.48)]
    assert 20 * np.log10(np.std(beyond - beyond.mean()) * np.sqrt(2) / 0.45) < -40
    # and no single spot stands out: 1 % of the plate's own contrast is -40 dB
    assert np.abs(beyond - 0.5).max() < 0.01 * 0.9
    # what the copy can hold is still there
    held = out[frequency < 0.5 * nyquist]
    assert np.std(held) * np.sqrt(2) == pytest.approx(0.45, rel=0.03)


@pytest.mark.parametrize("factor", [1.4, 2.1, 4.3])
def test_a_slanted_edge_keeps_its_sharpness(factor: float) -> None:
    n = 1600
    y, x = np.mgrid[0:n, 0:n].astype(float) + 0.5
    angle = np.radians(5)
    distance = (x - n / 2) * np.cos(angle) + (y - n / 2) * np.sin(angle)
    edge = np.clip(0.5 + distance, 0, 1) * 0.6 + 0.2  # a perfect edge seen through a pixel
    size = round(n / factor)
    out = resampled(edge, size, size)
    v, u = (np.mgrid[0:size, 0:size] + 0.5) * n / size
    across = ((u - n / 2) * np.cos(angle) + (v - n / 2) * np.sin(angle)) * size / n
    bins = np.floor(across * 4).astype(int).ravel()
    keep = np.abs(bins) < 64
    bins, tones = bins[keep] + 64, out.ravel()[keep]
    profile = np.bincount(bins, tones, 128)[1:] / np.bincount(bins, minlength=128)[1:]
    spread = np.gradient(profile)
    at = (np.arange(127) - 63) / 4
    frequency = np.linspace(0, 0.5, 51)
    mtf = np.abs(np.exp(-2j * np.pi * np.outer(frequency, at)) @ spread)
    # what the source's own pixels took away is not the resampling's doing
    mtf /= mtf[0] * np.sinc(frequency / factor)
    # measured against an ideal copy, whose response is 1 up to half a cycle a pixel: the kernel
    # passes more than 95 % to a quarter and still more than half at 0.45
    assert mtf[:26].min() > 0.95 and mtf[45] > 0.5
    assert mtf.max() < 1.08, "no frequency is raised by resampling: that is sharpening's part"


@pytest.mark.parametrize(
    "mm, bleed, ppi, px",
    [
        # 25.4 mm = 1 in exactly; computed by hand
        ((210, 297), 3, 300, (2551, 3579)),
        ((148, 210), 3, 300, (1819, 2551)),
        ((85, 55), 3, 300, (1075, 720)),
        ((180, 120), 3, 300, (2197, 1488)),
        ((210, 297), 3, 254, (2160, 3030)),
        ((90, 60), 3, 304.8, (1152, 792)),
        ((297, 210), 0, 300, (3508, 2480)),
    ],
)
def test_sizes_in_pixels(
    mm: tuple[float, float], bleed: float, ppi: float, px: tuple[int, int]
) -> None:
    edges = frozenset({"top", "right", "bottom", "left"})
    place = Placement(*mm, bleed, edges)
    made = plan(9000, 9000, place, ppi, enlarge=1.0, mirror=False)
    assert made.size() == px == tuple(pixels_for(side, ppi) for side in place.covered())


def test_light_is_averaged_and_not_its_code() -> None:
    # black and white lines a pixel wide reflect half the light: sRGB 188, not 128
    lines = np.tile([0.0, 1.0], (400, 200))
    out = resampled(lines, 100, 100)[20:80, 20:80]
    assert out == pytest.approx(0.5, abs=0.01)
