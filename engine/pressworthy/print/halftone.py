"""Halftone dots: thresholds that make a tone into ink or no ink, and how much they cover.

A screen is a lattice of square cells, turned by its angle. Every point of a cell has a threshold,
its rank, so a tone of coverage g inks exactly the share g of the cell. The order of the ranks is
the shape of the dots:

- `euclidean`, by cos u + cos v: round in the highlights, they meet as a checkerboard at half
  coverage and leave round holes in the shadows;
- `round`, by the distance from the cell's centre: round until they touch at 79 %, with the gaps
  between four of them left in the shadows;
- `stochastic`: many small dots of one size, spread evenly and without order (blue noise). Their
  cell is the pattern's own, so large that no eye sees it return.
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
SHAPES = ("euclidean", "round", "stochastic")
SPOT_MM = 0.02
"""Side of a stochastic screen's dots; common practice, 0.01 to 0.036 mm are in use."""

_GRID = 64
_AREAS = np.linspace(0, 1, 65)
_LARGEST_TILE = 512


@dataclass(frozen=True)
class Screen:
    """A halftone screen: ruling in lines/mm, angle in degrees, shape of its dots.

    Of a stochastic one they are those of its pattern, see `stochastic`.
    """

    ruling: float
    angle: float
    shape: str = "euclidean"

    @property
    def phases(self) -> int:
        """Into how many places a side of its cell is told apart."""
        return _GRID if self.shape == "stochastic" else 32

    def vector(self) -> tuple[float, float]:
        """Return the cycles/mm across and down of one of its two directions."""
        turn = np.radians(self.angle)
        return float(self.ruling * np.cos(turn)), float(self.ruling * np.sin(turn))


def stochastic(ink: int, device: float) -> Screen:
    """Return the stochastic screen of an ink, whose dots are whole pixels of `device` dpi.

    Each ink has the pattern turned by another quarter, so that they meet by chance.
    """
    side = _spot_px(device) * MM_PER_INCH / device
    return Screen(1 / (_GRID * side), 90.0 * ink, "stochastic")


def _spot_px(device: float) -> int:
    return max(1, round(SPOT_MM / MM_PER_INCH * device))


@lru_cache(maxsize=32)
def threshold_tile(screen: Screen, device: float) -> Floats:
    """Return thresholds 0..1 of a square that repeats, in pixels of `device` dpi.

    The square holds many cells, so that ruling and angle are met nearly exactly; its thresholds
    are the ranks (i + 0.5) / N, so the flat tone g inks exactly the share #{threshold < g} / N.
    """
    across, down = (part * MM_PER_INCH / device for part in screen.vector())
    if screen.shape == "stochastic":
        side = _GRID * _spot_px(device)
        y, x = np.mgrid[0:side, 0:side] + 0.5
        u, v = (across * x + down * y, across * y - down * x)
        u, v = (np.floor(part % 1 * _GRID).astype(np.intp) % _GRID for part in (u, v))
        return np.asarray(_cell(screen.shape)[v, u])
    sides = np.arange(32, _LARGEST_TILE + 1)
    misses = np.hypot(
        across - np.round(across * sides) / sides, down - np.round(down * sides) / sides
    )
    side = int(sides[np.argmin(misses)])
    m, n = round(across * side), round(down * side)
    y, x = np.ogrid[0:side, 0:side]
    one = _along(np.arange(side) / side, screen.shape)
    return _ranks(one[(m * x + n * y) % side] + one[(m * y - n * x) % side])


def _along(u: Values, shape: str) -> Values:
    """Return what one direction adds to the order of the dots, u in cells."""
    if shape == "round":
        return np.asarray((u - np.round(u)) ** 2)
    return -np.cos(2 * np.pi * u)


def _ranks(spot: Values) -> Floats:
    # equal values in raster order would join into lines: their order is drawn, in the bits below
    drawn = (np.random.default_rng(0).random(spot.size) * 2**30).astype(np.int64)
    order = np.argsort((np.rint(spot.ravel() * 1e9).astype(np.int64) << 30) + drawn)
    ranks = np.empty(spot.size, np.float32)
    ranks[order] = (np.arange(spot.size) + 0.5) / spot.size
    return ranks.reshape(spot.shape)


@cache
def _cell(shape: str) -> Floats:
    if shape == "stochastic":
        return _blue_noise()
    one = _along((np.arange(_GRID) + 0.5) / _GRID, shape)
    return _ranks(one[None, :] + one[:, None])


def _blue_noise() -> Floats:
    """Return ranks in which each next dot falls into the largest gap, as void-and-cluster has it.

    After Ulichney, SPIE 1913, 1993: a first tenth of the dots is spread until its tightest cluster
    is its largest gap as well; they are ranked by taking clusters away, all others by filling gaps.
    """
    step = np.fft.fftfreq(_GRID, 1 / _GRID)
    near = np.exp(-(step[:, None] ** 2 + step[None, :] ** 2) / (2 * 1.5**2))
    dots = np.zeros((_GRID, _GRID), bool)
    first = _GRID**2 // 10
    dots.flat[np.random.default_rng(0).permutation(_GRID**2)[:first]] = True
    crowd = np.asarray(np.fft.ifft2(np.fft.fft2(dots) * np.fft.fft2(near)).real)

    def put(place: int, sign: int) -> None:
        dots.flat[place] = sign > 0
        crowd[...] += sign * np.roll(near, np.unravel_index(place, dots.shape), (0, 1))

    def cluster() -> int:
        return int(np.where(dots, crowd, -np.inf).argmax())

    def gap() -> int:
        return int(np.where(dots, np.inf, crowd).argmin())

    while True:
        tightest = cluster()
        put(tightest, -1)
        widest = gap()
        put(widest, 1)
        if widest == tightest:
            break
    ranks = np.empty(_GRID**2, np.float32)
    start = dots.copy(), crowd.copy()
    for rank in range(first - 1, -1, -1):
        place = cluster()
        ranks[place] = rank
        put(place, -1)
    dots[...], crowd[...] = start
    for rank in range(first, _GRID**2):
        place = gap()
        ranks[place] = rank
        put(place, 1)
    return np.asarray(((ranks + 0.5) / _GRID**2).reshape(_GRID, _GRID), np.float32)


def _dots(shape: str, areas: Values) -> Floats:
    """Return where ink lies in a cell of which it covers `areas` (n,): (n, 64, 64), 0 or 1."""
    return (_cell(shape) < np.asarray(areas, np.float32)[:, None, None]).astype(np.float32)


@cache
def _power(shape: str) -> Floats:
    """Return the power of the dots' coefficients, of rfft2, for each coverage of `_AREAS`.

    That of a coefficient's mirror is in it too.
    """
    spectra = np.fft.rfft2(_dots(shape, _AREAS), norm=SINGLE) / _GRID
    power = np.asarray(np.abs(spectra) ** 2, np.float32)
    power[..., 1:-1] *= 2
    return power


def _squares(screen: Screen, areas: Values, pitch: float) -> Floats:
    """Return the mean of a stochastic screen's square dots over squares of `pitch` mm.

    (n, 64, 64): the squares' centres are those of the dots.
    """
    width = max(pitch * screen.ruling * _GRID, 1e-9)
    centres = np.arange(_GRID) + 0.5
    apart = (centres[None, :] - centres[:, None] + _GRID / 2) % _GRID - _GRID / 2
    wide = min(width, _GRID)
    low = np.maximum(apart - 0.5, -wide / 2)
    over = np.clip(np.minimum(apart + 0.5, wide / 2) - low, 0, None) / wide
    share = over.astype(np.float32)
    return np.asarray(share @ _dots(screen.shape, areas) @ share.T)


def _harmonics(screen: Screen, pitch: float) -> tuple[Values, Values]:
    """Return cycles/mm of the coefficients, and what a box of `pitch` mm leaves of each."""
    order = np.fft.fftfreq(_GRID, 1 / _GRID)
    p, q = screen.vector()
    # u runs along (p, q), v at right angles to it
    across = order[None, :] * p - order[:, None] * q
    down = order[None, :] * q + order[:, None] * p
    return np.hypot(across, down), np.sinc(across * pitch) * np.sinc(down * pitch)


def ripple(screen: Screen, pitch: float, blur: float) -> Values:
    """Return how much the dots raise the mean of T . (P * T), of (1 - t)^2, by `_AREAS` of them.

    With ink of transmittance t on a share a of the paper that mean is (1 - (1 - t) a)^2 +
    (1 - t)^2 ripple: the first part is Yule and Nielsen's n = 2, and with no blur at all the
    ripple is a (1 - a), which makes it n = 1. Samples are boxes of `pitch` mm.
    """
    frequency, box = _harmonics(screen, pitch)
    weight = blur_share(frequency, blur)
    weight[0, 0] = 0
    if screen.shape == "stochastic":
        squares = _squares(screen, _AREAS, pitch)
        power = np.abs(np.fft.fft2(squares, norm=SINGLE) / _GRID) ** 2
    else:
        power = _power(screen.shape)
        weight = (weight * box**2)[:, : _GRID // 2 + 1]
    return np.asarray(np.einsum("nyx,yx->n", power, weight))


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
    black = 1 - roots[-1]
    means = (1 - black * _AREAS) ** 2 + black**2 * ripple(screen, pitch, blur)
    return np.asarray(np.interp(-wanted, -means, _AREAS))


def shares(screen: Screen, areas: Values, pitch: float) -> Floats:
    """Return the inked share of a square of `pitch` mm, by tone and place.

    areas: (n,) coverages. (n, kinds): where the square's centre is in the screen's cell, told apart
    as far as `kinds` does. Nothing but coverage and place determines the share, so this is the
    exact mean of the dots over every pixel of a copy.
    """
    if screen.shape == "stochastic":
        return np.asarray(_squares(screen, areas, pitch).reshape(len(areas), -1), np.float32)
    _, box = _harmonics(screen, pitch)
    # phases are counted from the cell's corner, samples from half a step within it
    shift = np.exp(-1j * np.pi * np.fft.fftfreq(_GRID, 1 / _GRID) / _GRID)
    samples = (box * shift[None, :] * shift[:, None]).astype(np.complex64)
    half, places = _GRID // 2, screen.phases
    spectra = np.fft.rfft2(_dots(screen.shape, areas), norm=SINGLE) * samples[:, : half + 1]
    # of every other place: the coefficients beyond their half are laid onto the others, across by
    # those of the other half, which is the mirror of this one
    mirror = spectra[:, -np.arange(_GRID), half : half // 2 - 1 : -1].conj()
    spectra = spectra[..., : half // 2 + 1] + mirror
    spectra = spectra[:, :half] + spectra[:, half:]
    dots = np.fft.irfft2(spectra, s=(places, places), norm=SINGLE).reshape(len(areas), -1)
    # thresholds that are equal but for chance lie unlike in the four turns
    mean = np.add.reduce([dots.take(turn, 1) for turn in _turns(places)])
    mean *= np.float32(places / _GRID / 4)
    return np.asarray(np.clip(mean, 0, 1, out=mean))


def kinds(screen: Screen) -> NDArray[np.uint16]:
    """Return which kind of place each of the cell is, down and across, (phases, phases).

    Dots in order look the same from four sides, and so does a square: of places that a quarter turn
    lays onto one another there is one kind. Tables by kinds are small enough for a processor's
    cache.
    """
    known = np.arange(screen.phases**2, dtype=np.uint16)
    if screen.shape != "stochastic":
        turns = _turns(screen.phases)
        known[turns] = np.arange(turns.shape[1])
    return known.reshape(screen.phases, -1)


@cache
def _turns(side: int) -> NDArray[np.intp]:
    """Return (4, kinds): the places in a cell, `side` a side, which are of one kind.

    Those that quarter turns about the cell's corner lay onto one another.
    """
    turns = [np.arange(side**2).reshape(side, side)]
    for _ in range(3):
        turns.append(turns[-1][:, -np.arange(side)].T)
    flat = np.stack(turns).reshape(4, -1)
    return flat[:, flat[0] == flat.min(0)]


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
