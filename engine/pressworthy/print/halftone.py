"""Halftone dots: thresholds that make a tone into ink or no ink, and how much they cover.

A screen is a lattice of square cells, turned by its angle. Every point of a cell has a threshold,
the rank of cos u + cos v, so dots are round in the highlights, meet as a checkerboard at half
coverage and leave round holes in the shadows, and a tone of coverage g inks exactly the share g of
the cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from pressworthy.print.optics import SINGLE, blur_share
from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]
Values = NDArray[np.float64]

TONES = 256
PHASES = 32
_GRID = 64
_LARGEST_TILE = 512


@dataclass(frozen=True)
class Screen:
    """A halftone screen: ruling in lines/mm, angle in degrees."""

    ruling: float
    angle: float

    def vector(self) -> tuple[float, float]:
        """Return the cycles/mm across and down of one of its two directions."""
        turn = np.radians(self.angle)
        return float(self.ruling * np.cos(turn)), float(self.ruling * np.sin(turn))


@lru_cache(maxsize=32)
def threshold_tile(screen: Screen, device: float) -> Floats:
    """Return thresholds 0..1 of a square that repeats, in pixels of `device` dpi.

    The square holds many cells, so that ruling and angle are met nearly exactly; its thresholds
    are the ranks (i + 0.5) / N, so the flat tone g inks exactly the share #{threshold < g} / N.
    """
    across, down = (part * MM_PER_INCH / device for part in screen.vector())
    sides = np.arange(32, _LARGEST_TILE + 1)
    misses = np.hypot(
        across - np.round(across * sides) / sides, down - np.round(down * sides) / sides
    )
    side = int(sides[np.argmin(misses)])
    m, n = round(across * side), round(down * side)
    y, x = np.mgrid[0:side, 0:side].astype(np.float64)
    return _ranks(_spot((m * x + n * y) / side, (m * y - n * x) / side))


def _spot(u: Values, v: Values) -> Values:
    return np.asarray(-np.cos(2 * np.pi * u) - np.cos(2 * np.pi * v))


def _ranks(spot: Values) -> Floats:
    # equal values in raster order would join into lines: their order is drawn, in the bits below
    drawn = (np.random.default_rng(0).random(spot.size) * 2**30).astype(np.int64)
    order = np.argsort((np.rint(spot.ravel() * 1e9).astype(np.int64) << 30) + drawn)
    ranks = np.empty(spot.size, np.float32)
    ranks[order] = (np.arange(spot.size) + 0.5) / spot.size
    return ranks.reshape(spot.shape)


@cache
def _cell() -> Floats:
    step = (np.arange(_GRID) + 0.5) / _GRID
    return _ranks(_spot(step[None, :], step[:, None]))


def _dot_spectra(areas: Values) -> NDArray[np.complex64]:
    """Return Fourier coefficients (n, 64, 64) of the dots that cover `areas` (n,) of a cell."""
    dots = (_cell() < np.asarray(areas, np.float32)[:, None, None]).astype(np.float32)
    return np.asarray(np.fft.fft2(dots, norm=SINGLE) / _GRID, np.complex64)


def _harmonics(screen: Screen, pitch: float) -> tuple[Values, Values]:
    """Return cycles/mm of the coefficients, and what a box of `pitch` mm leaves of each."""
    order = np.fft.fftfreq(_GRID, 1 / _GRID)
    p, q = screen.vector()
    # u runs along (p, q), v at right angles to it
    across = order[None, :] * p - order[:, None] * q
    down = order[None, :] * q + order[:, None] * p
    return np.hypot(across, down), np.sinc(across * pitch) * np.sinc(down * pitch)


def ripple(screen: Screen, areas: Values, pitch: float, blur: float) -> Values:
    """Return, for each coverage, how much the dots raise the mean of T . (P * T), of (1 - t)^2.

    With ink of transmittance t on a share a of the paper that mean is (1 - (1 - t) a)^2 +
    (1 - t)^2 ripple: the first part is Yule and Nielsen's n = 2, and with no blur at all the
    ripple is a (1 - a), which makes it n = 1. Samples are boxes of `pitch` mm.
    """
    frequency, box = _harmonics(screen, pitch)
    weight = box**2 * blur_share(frequency, blur)
    weight[0, 0] = 0
    return np.asarray((np.abs(_dot_spectra(areas)) ** 2 * weight).sum(axis=(1, 2)), np.float64)


def coverages(ramp: tuple[Values, Values], screen: Screen, pitch: float, blur: float) -> Values:
    """Return the dots' coverage (256,) for tones 0..255 that prints as the ramp was measured.

    Fitted in whichever of X, Y and Z the ink darkens most, Y where that is nearly so, for samples
    of `pitch` mm, 0 for ideal ones: the mean of the simulated tint is then the measured one,
    whatever the blur.
    """
    tones, xyz = ramp
    left = xyz[-1] / xyz[0]
    channel = 1 if left[1] < left.min() + 0.05 else int(np.argmin(left))
    roots = np.sqrt(xyz[:, channel] / xyz[0, channel])
    # roots are nearly straight over the tone, so lines between measured tints serve
    wanted = np.interp(np.arange(TONES) / (TONES - 1), tones, roots) ** 2
    areas = np.linspace(0, 1, 65)
    black = 1 - roots[-1]
    means = (1 - black * areas) ** 2 + black**2 * ripple(screen, areas, pitch, blur)
    return np.asarray(np.interp(-wanted, -means, areas))


def shares(screen: Screen, areas: Values, pitch: float) -> Floats:
    """Return the inked share of a square of `pitch` mm, by tone and place: (n, 32, 32).

    areas: (n,) coverages. The last axes are the place of the square's centre in the screen's cell,
    down and across, in 1/32 of it. Nothing but coverage and place determines the share, so this is
    the exact mean of the dots over every pixel of a copy.
    """
    _, box = _harmonics(screen, pitch)
    # phases are counted from the cell's corner, samples from half a step within it
    shift = np.exp(-1j * np.pi * np.fft.fftfreq(_GRID, 1 / _GRID) / _GRID)
    spectra = _dot_spectra(areas) * (box * shift[None, :] * shift[:, None]).astype(np.complex64)
    dots = np.fft.ifft2(spectra, norm=SINGLE).real * _GRID
    step = _GRID // PHASES
    return np.ascontiguousarray(np.clip(dots[:, ::step, ::step], 0, 1), np.float32)


def phases(
    screen: Screen, pitch: float, count: int
) -> tuple[NDArray[np.uint32], NDArray[np.uint32]]:
    """Return what the first `count` samples along an axis add to the phase, in 2^-32 cells.

    The first array is their share along the screen's vector, the second across it; both wrap.
    """
    centres = (np.arange(count) + 0.5) * pitch
    first, second = (
        np.asarray(np.mod(centres * part, 1) * 2**32, np.uint64).astype(np.uint32)
        for part in screen.vector()
    )
    return first, second
