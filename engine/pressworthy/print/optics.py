"""Light in paper and ink.

It passes the ink on its way in, is scattered sideways within the paper, and passes the ink once
more where it comes out (Yule and Nielsen's "penetration of light into paper", 1951). With T the
transmittance of the ink layer, P the point spread and Rp the paper's reflectance the print shows

    R(x) = T(x) . Rp . (P * T)(x)

The point spread exp(-r/d) / (2 pi d^2) has the transfer function 1 / (1 + (2 pi d f)^2)^1.5, the
form that Inoue, Tsumura and Miyake fitted to papers (J. Imaging Sci. Tech. 41, 1997; from memory).

d is not the paper's light spread alone. It stands for all that a press blurs, the light in the
paper, dots that grow unevenly, slur, inks out of register, and is called the press blur. 0.08 mm is
a working value and no measurement; 0.02 to 0.12 mm can be argued for, and the sharpening that a
print is found to need goes with it, from a third to nearly twice as much (docs/print-look.md).
Evidence of the paper's own part: the Yule-Nielsen n of the coated condition, 1.75 at 60 lines/cm,
would by itself ask for 0.034 mm, and J. S. Arney's slides on the line spread of papers speak of
half transfer at a period of 0.15 to 0.35 mm, which is d of 0.02 to 0.04 mm. An n of 2 or more, as
uncoated paper and newsprint have, is light all but mixed within a screen cell, which takes d of
about 0.4 of the cell's width, 0.07 mm at 60 and 0.1 mm at 40 lines/cm. What it is on one press, a
test strip tells (`pressworthy sharpening --strip`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

BLUR = 0.08
"""d in mm where a printing condition states no `press blur` of its own."""

SINGLE: Literal["ortho"] = "ortho"
"""Scale of transforms: by numpy's own, a whole number, it computes float32 forwards in float64 and
takes four times as long."""

_STEPS = 1 << 13

_LEAST = 1e-3  # of a coefficient of light in paper, that it is worked out for

REACH_MM = 2.7
"""How far light matters in paper: 30 of d. The eye's is `eye.reach`."""


def blur_share(frequency: NDArray[np.floating], blur: float) -> NDArray[np.float64]:
    """Return M(f) of a print, f in cycles/mm, `blur` d in mm."""
    return np.asarray(1 / (1 + (2 * np.pi * blur * np.asarray(frequency)) ** 2) ** 1.5)


def lit(transmittance: Floats, pitch: float, blur: float) -> Floats:
    """Return the reflectance, of the paper's own, of inked paper; periodic at its borders.

    transmittance: of the ink, one way, (..., height, width), samples `pitch` mm apart; blur: d in
    mm, 0 where light leaves by the sample that it came in by.
    """
    if not blur:
        return transmittance**2
    height, width = transmittance.shape[-2:]
    return transmittance * filtered(transmittance, _blur(height, width, pitch, blur))


def filtered(values: Floats, share: Floats) -> Floats:
    """Return (..., height, width) with every coefficient of its rfft2 multiplied by `share`.

    Of the columns that `share` has fewer of nothing is left.
    """
    if values.ndim > 2:
        # one after the other: they are quicker where the processor's cache holds them
        return np.stack([filtered(plane, share) for plane in values])
    lines = np.fft.rfft(values, norm=SINGLE)[:, : share.shape[1]]
    spectrum = np.fft.fft(lines, axis=0, norm=SINGLE)
    spectrum *= share
    lines = np.fft.ifft(spectrum, axis=0, norm=SINGLE, out=spectrum)
    return np.asarray(np.fft.irfft(lines, values.shape[1], norm=SINGLE), np.float32)


def frequencies(height: int, width: int, pitch: float) -> NDArray[np.float64]:
    """Return the cycles/mm of every coefficient of rfft2, samples `pitch` mm apart."""
    down = np.fft.fftfreq(height, pitch)[:, None]
    return np.asarray(np.hypot(down, np.fft.rfftfreq(width, pitch)[None, :]))


def padded(light: Floats, pitch: float, reach: float) -> Floats:
    """Return light (..., height, width) with its borders continued, for what is periodic.

    As far as paper and an eye of `reach` mm do, though by no more than its length again, and
    further to lengths that a Fourier transform is quick at.
    """
    margin = max(1, int(np.ceil(max(REACH_MM, reach) / pitch)))
    margin = min(margin, max(light.shape[-2:]))
    spare = [quick(length + margin) - length for length in light.shape[-2:]]
    sides = [(more // 2, more - more // 2) for more in spare]
    return np.pad(light, [(0, 0)] * (light.ndim - 2) + sides, "edge")


def cropped(light: Floats, like: Floats) -> Floats:
    """Return the part of padded light that `padded` was given."""
    top, left = ((light.shape[-i] - like.shape[-i]) // 2 for i in (2, 1))
    return light[..., top : top + like.shape[-2], left : left + like.shape[-1]]


def coarser(light: Floats, times: int) -> Floats:
    """Return light (..., height, width) at 1/`times` of its size, rid of what is too fine for it.

    Its height and width are whole times that, and it is periodic at its borders. A sample is where
    the middle of so many was.
    """
    height, width = (length // times for length in light.shape[-2:])
    rows = np.r_[: -(-height // 2), -(height // 2) : 0]
    turn = _turned(height, width, times) / np.float32(times)

    def plane(values: Floats) -> Floats:
        lines = np.fft.rfft(values, norm=SINGLE)[:, : width // 2 + 1]
        spectrum = np.fft.fft(lines, axis=0, norm=SINGLE)[rows]
        spectrum *= turn
        return np.asarray(np.fft.irfft2(spectrum, s=(height, width), norm=SINGLE), np.float32)

    # one after the other: they are quicker where the processor's cache holds them
    planes = [plane(values) for values in light.reshape(-1, *light.shape[-2:])]
    return np.asarray(planes, np.float32).reshape(*light.shape[:-2], height, width)


@lru_cache(maxsize=4)
def _turned(height: int, width: int, times: int) -> NDArray[np.complex64]:
    """Return what turns coefficients of rfft2 as if the samples lay in the middle of `times`."""
    down = np.fft.fftfreq(height)[:, None]
    # the first of them is (times - 1) / 2 before it
    shift = 2j * np.pi * (times - 1) / 2 / times
    return np.asarray(np.exp(shift * (down + np.fft.rfftfreq(width)[None, :])), np.complex64)


def by_frequency(
    share: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    height: int,
    width: int,
    pitch: float,
) -> Floats:
    """Return share(cycles/mm) for every coefficient of rfft2, samples `pitch` mm apart.

    It is worked out for `_STEPS` frequencies; the nearest one counts.
    """
    down = np.fft.fftfreq(height, pitch).astype(np.float32)[:, None]
    across = np.fft.rfftfreq(width, pitch).astype(np.float32)
    most = float(np.hypot(down.min(), across.max()))
    at = np.hypot(down, across)
    at *= np.float32((_STEPS - 1) / most)
    at += np.float32(0.5)
    table = share(np.linspace(0, most, _STEPS)).astype(np.float32)
    return table.take(at.astype(np.intp), mode="clip")


@lru_cache(maxsize=8)
def _blur(height: int, width: int, pitch: float, blur: float) -> Floats:
    share = by_frequency(lambda f: blur_share(f, blur), height, width, pitch)
    # the first row has the most of every column
    return share[:, : np.count_nonzero(share[0] >= _LEAST)]


def quick(length: int) -> int:
    """Return the least length from `length` on whose only prime factors are 2, 3 and 5."""
    while True:
        rest = length
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return length
        length += 1
