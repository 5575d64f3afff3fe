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
    bands = np.zeros((len(BANDS), 2))
    finest = ppi / MM_PER_INCH / 2 * mm_per_degree(distance)
    rings = np.zeros((max(1, int(finest)), 5))
    for reference, shown in pairs:
        fine = shown.shape[0] // reference.shape[0]
        if shown.shape != tuple(fine * length for length in reference.shape):
            raise ValueError(f"a print of {shown.shape} does not fit {reference.shape}")
        given = _spectrum(reference, 1)
        of_print = _spectrum(shown, fine)
        across, down = (np.fft.fftfreq(n, MM_PER_INCH / ppi) for n in reversed(reference.shape))
        frequency = np.hypot(down[:, None], across[None, :]) * mm_per_degree(distance)
        shared, own = (given.conj() * of_print).real, np.abs(given) ** 2
        for row, (low, high) in zip(bands, BANDS, strict=True):
            inside = (frequency >= low) & (frequency < min(high, finest))
            row += shared[inside].sum(), own[inside].sum()
        ring = np.rint(frequency).astype(int)
        inside = (ring >= 1) & (ring <= len(rings))
        parts = (shared, own, own * np.abs(of_print) ** 2, own * shared, own**2)
        for column, part in enumerate(parts):
            rings[:, column] += np.bincount(ring[inside] - 1, part[inside], minlength=len(rings))
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


def _spectrum(luminance: NDArray[np.floating], fine: int) -> NDArray[np.complex128]:
    """Return the DFT of the windowed contrast, cut to the frequencies of the pixels' grid."""
    height, width = luminance.shape
    window = np.outer(_hann(height), _hann(width))
    mean = (luminance * window).sum() / window.sum()
    spectrum = np.fft.fft2((luminance / mean - 1) * window) / fine**2
    if fine == 1:
        return spectrum
    rows, columns = (np.fft.fftfreq(n // fine, fine / n).astype(int) for n in (height, width))
    # samples lie at pixel centres: the first fine one is (fine - 1) / 2 before the pixel's
    turns = np.add.outer(rows / height, columns / width) * (fine - 1) / 2
    return np.asarray(spectrum[rows[:, None], columns] * np.exp(2j * np.pi * turns))


def _hann(length: int) -> Values:
    return np.asarray(np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2)
