"""Light in paper and ink.

It passes the ink on its way in, is scattered sideways within the paper, and passes the ink once
more where it comes out (Yule and Nielsen's "penetration of light into paper", 1951). With T the
transmittance of the ink layer, P the paper's point spread and Rp its reflectance the print shows

    R(x) = T(x) . Rp . (P * T)(x)

The point spread exp(-r/d) / (2 pi d^2) has the transfer function 1 / (1 + (2 pi d f)^2)^1.5, the
form that Inoue, Tsumura and Miyake fitted to papers (J. Imaging Sci. Tech. 41, 1997; from memory).

How large d is: 0.08 mm is the design's working value and no measurement of these papers; all
figures that rest on it move with it (tests/benchmarks/printlook.py shows how far). Evidence for
less: the Yule-Nielsen n of the coated condition, 1.75 at 60 lines/cm, would by itself ask for 0.034
mm, and J. S. Arney's slides on the line spread of papers speak of half transfer at a period of 0.15
to 0.35 mm, which is d of 0.02 to 0.04 mm. Evidence for as much: an n of 2 or more, as uncoated
paper and newsprint have, is light all but mixed within a screen cell, which takes d of about 0.4
of the cell's width, 0.07 mm at 60 and 0.1 mm at 40 lines/cm. A printing condition that knows its
paper states its own `light spread`.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

SPREAD = 0.08
"""d in mm where a printing condition states no light spread of its own."""

REACH_MM = 2.7
"""How far light matters: 30 of the paper's d, and 8 periods of the finest detail the eye keeps."""


def spread_share(frequency: NDArray[np.floating], spread: float) -> NDArray[np.float64]:
    """Return M(f) of a paper, f in cycles/mm, `spread` d in mm."""
    return np.asarray(1 / (1 + (2 * np.pi * spread * np.asarray(frequency)) ** 2) ** 1.5)


def lit(transmittance: Floats, pitch: float, spread: float) -> Floats:
    """Return the reflectance, of the paper's own, of inked paper; periodic at its borders.

    transmittance: of the ink, one way, (..., height, width), samples `pitch` mm apart; spread: d in
    mm, 0 where light leaves by the sample that it came in by.
    """
    if not spread:
        return transmittance**2
    height, width = transmittance.shape[-2:]
    return transmittance * filtered(transmittance, _spread(height, width, pitch, spread))


def filtered(values: Floats, share: Floats) -> Floats:
    """Return (..., height, width) with every coefficient of its rfft2 multiplied by `share`."""
    spectrum = np.fft.rfft2(values)
    spectrum *= share
    return np.asarray(np.fft.irfft2(spectrum, s=values.shape[-2:]), np.float32)


def frequencies(height: int, width: int, pitch: float) -> NDArray[np.float64]:
    """Return the cycles/mm of every coefficient of rfft2, samples `pitch` mm apart."""
    down = np.fft.fftfreq(height, pitch)[:, None]
    return np.asarray(np.hypot(down, np.fft.rfftfreq(width, pitch)[None, :]))


def padded(light: Floats, pitch: float) -> Floats:
    """Return light (..., height, width) with its borders continued, for what is periodic.

    As far as paper and eye reach, and further to lengths that a Fourier transform is quick at.
    """
    margin = max(1, int(np.ceil(REACH_MM / pitch)))
    spare = [_quick(length + margin) - length for length in light.shape[-2:]]
    sides = [(more // 2, more - more // 2) for more in spare]
    return np.pad(light, [(0, 0)] * (light.ndim - 2) + sides, "edge")


def cropped(light: Floats, like: Floats) -> Floats:
    """Return the part of padded light that `padded` was given."""
    top, left = ((light.shape[-i] - like.shape[-i]) // 2 for i in (2, 1))
    return light[..., top : top + like.shape[-2], left : left + like.shape[-1]]


@lru_cache(maxsize=8)
def _spread(height: int, width: int, pitch: float, spread: float) -> Floats:
    return spread_share(frequencies(height, width, pitch), spread).astype(np.float32)


def _quick(length: int) -> int:
    """Return the least length from `length` on whose only prime factors are 2, 3 and 5."""
    while True:
        rest = length
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return length
        length += 1
