"""How much of a picture's contrast the print carries to the reader, by fineness of detail.

The coherent transfer of a band of cycles/degree is

    H = Re sum(conj(R) P) / sum(|R|^2)

with R the spectrum of a reference picture's contrast, P that of the print's, both windowed and each
over its own mean luminance. The screen's dots keep no step with the picture and drop out of the
sum, so H says how much of the picture is there and not how busy the paper is.

The reference decides what 1 means. Against the master as the screen shows it, H is the share of
the original's contrast that reaches the reader, the paper's shorter range included. Against what
this paper would show if neither dots nor blur existed, H is what screen and paper take away, and
what sharpening can give back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pressworthy.print.eye import cpiq, mm_per_degree
from pressworthy.values.units import MM_PER_INCH

Values = NDArray[np.float64]
Pair = tuple[NDArray[np.floating], NDArray[np.floating]]

BANDS = ((2, 4), (4, 8), (8, 12), (12, 16), (16, 24))
"""Cycles/degree: from broad shapes to the finest detail that a page holds."""

_LINKED = 1.5  # a Hann window's noise bandwidth in bins: neighbouring coefficients err together


@dataclass(frozen=True)
class Transfer:
    """Contrast transfer of a print.

    values: by band of `BANDS`, NaN where the picture holds nothing so fine.
    acutance: the transfer weighted by the CPIQ contrast sensitivity, 1 where all of it arrives;
    both integrals end at the finest detail that the pixels hold. doubt: its standard error, large
    where the picture has little detail for the dots to be told from.
    frequencies, response: the transfer by single cycles/degree, from 1 to that end.
    """

    values: tuple[float, ...]
    acutance: float
    doubt: float
    frequencies: Values
    response: Values


def transfer(pairs: Iterable[Pair], ppi: float, distance: float) -> Transfer:
    """Return the transfer from references to prints, read from `distance` mm.

    pairs: linear luminance of reference (height, width) at `ppi` and of print, (height * k,
    width * k) for a whole k; the parts of one picture count together.
    """
    # by ring and band, the last of each what is in none
    sums = np.zeros((5, _rings(ppi, distance) + 1, len(BANDS) + 1))
    for reference, shown in pairs:
        fine = shown.shape[0] // reference.shape[0]
        if shown.shape != tuple(fine * length for length in reference.shape):
            raise ValueError(f"a print of {shown.shape} does not fit {reference.shape}")
        given = _spectrum(reference, 1)
        of_print = _spectrum(shown, fine)
        known = _sorted(*reference.shape, ppi, distance)
        shared = given.real * of_print.real + given.imag * of_print.imag
        own, shown_own = (one.real**2 + one.imag**2 for one in (given, of_print))
        parts = (shared, own, own * shown_own, own * shared, own**2)
        for total, part in zip(sums, parts, strict=True):
            counted = part.ravel().take(known.order) * known.share
            total.ravel()[known.places] += np.add.reduceat(counted, known.starts, dtype=np.float64)
    bands, rings = sums[:2, :, :-1].sum(1).T, sums[:, :-1].sum(2).T
    with np.errstate(invalid="ignore", divide="ignore"):
        values = bands[:, 0] / bands[:, 1]
        response = np.nan_to_num(rings[:, 0] / rings[:, 1])
        # the spread of sum(|R|^2 |P - H R|^2), by which H itself errs
        stray = rings[:, 2] - 2 * response * rings[:, 3] + response**2 * rings[:, 4]
        error = _LINKED * np.sqrt(np.maximum(stray, 0)) / rings[:, 1]
    at = np.arange(1, len(rings) + 1, dtype=np.float64)
    weight = cpiq(at)
    doubt = float(np.sqrt((np.nan_to_num(error, nan=np.inf) ** 2 * weight**2).sum()) / weight.sum())
    return Transfer(tuple(values.tolist()), acutance(at, response, len(rings)), doubt, at, response)


def acutance(frequency: Values, response: Values, end: float) -> float:
    """Return the mean response up to `end` cycles/degree, weighted by the CPIQ sensitivity.

    frequency: ascending cycles/degree where `response` is known; it is 1 at 0.
    """
    step = 0.02
    f = np.arange(step / 2, end, step)
    contrast = np.interp(f, np.concatenate([[0], frequency]), np.concatenate([[1], response]))
    sensitivity = cpiq(f)
    return float((contrast * sensitivity).sum() / sensitivity.sum())


def _rings(ppi: float, distance: float) -> int:
    """Return how many rings of 1 cycle/degree there are up to the finest detail of the pixels."""
    return max(1, int(_finest(ppi, distance)))


def _finest(ppi: float, distance: float) -> float:
    return ppi / MM_PER_INCH / 2 * mm_per_degree(distance)


class _Sorted(NamedTuple):
    """The coefficients of rfft2 that count, sorted by their place among rings and bands.

    order: (n,), which they are; share: how many each is for; places: what they are, and starts:
    where each begins in the order.
    """

    order: NDArray[np.intp]
    share: NDArray[np.float32]
    places: NDArray[np.intp]
    starts: NDArray[np.intp]


@lru_cache(maxsize=8)
def _sorted(height: int, width: int, ppi: float, distance: float) -> _Sorted:
    """Return where the coefficients of rfft2 count.

    The place counts through rings and, within each, bands; the first ring is 1 cycle/degree, and
    what is in no ring, or in no band, has the number after the last.
    """
    step = MM_PER_INCH / ppi
    down = np.fft.fftfreq(height, step)[:, None]
    frequency = np.hypot(down, np.fft.rfftfreq(width, step)[None, :]) * mm_per_degree(distance)
    frequency = frequency.ravel()
    count = _rings(ppi, distance)
    ring = np.rint(frequency).astype(int) - 1
    ring[(ring < 0) | (ring >= count)] = count
    lows, highs = np.array(BANDS, np.float64).T
    band = np.searchsorted(lows, frequency, "right") - 1
    inside = (band >= 0) & (frequency < np.minimum(highs[band], _finest(ppi, distance)))
    band[~inside] = len(BANDS)
    # a real picture's other half is the mirror of this one
    share = np.full((height, width // 2 + 1), 2, np.float32)
    share[:, 0] = 1
    if width % 2 == 0:
        share[:, -1] = 1
    place = ring * (len(BANDS) + 1) + band
    # numpy sorts short numbers by counting them
    order = np.argsort(place.astype(np.min_scalar_type(place.max())), kind="stable")
    order = order[(ring[order] < count) | inside[order]]
    places, starts = np.unique(place[order], return_index=True)
    return _Sorted(order, share.ravel()[order], places, starts)


def _spectrum(luminance: NDArray[np.floating], fine: int) -> NDArray[np.complex64]:
    """Return rfft2 of the windowed contrast, cut to the frequencies of the pixels' grid."""
    height, width = luminance.shape
    window, total = _window(height, width, fine)
    mean = np.vdot(luminance, window) / total
    contrast = np.multiply(luminance, 1 / mean, dtype=np.float32)
    contrast -= 1
    contrast *= window
    # scaled by numpy's own whole number, float32 is computed forwards in float64
    lines = np.fft.rfft(contrast, norm="forward")[:, : width // fine // 2 + 1]
    columns = np.asarray(np.fft.fft(lines, axis=0, norm="forward"), np.complex64)
    if fine == 1:
        return columns
    rows = np.fft.fftfreq(height // fine, fine / height).astype(int)
    return np.asarray(columns[rows] * _turned(height, width, fine))


@lru_cache(maxsize=8)
def _window(height: int, width: int, fine: int) -> tuple[NDArray[np.float32], float]:
    """Return Hann's window, and its sum.

    It is multiplied by the number of pixels, which a transform "forward" divides by.
    """
    wide = np.outer(_hann(height), _hann(width)) * (height * width / fine**2)
    window = np.asarray(wide, np.float32)
    return window, float(window.sum(dtype=np.float64))


@lru_cache(maxsize=4)
def _turned(height: int, width: int, fine: int) -> NDArray[np.complex64]:
    """Return what turns a print's coefficients as if its samples lay at the pixels' centres."""
    rows = np.fft.fftfreq(height // fine, fine / height)
    columns = np.arange(width // fine // 2 + 1)
    # the first fine sample is (fine - 1) / 2 before the pixel's
    turns = np.add.outer(rows / height, columns / width) * (fine - 1) / 2
    return np.asarray(np.exp(2j * np.pi * turns), np.complex64)


def _hann(length: int) -> Values:
    return np.asarray(np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2)
