"""True resolution: was the picture enlarged, and by how much, or does its detail just end early?

Two witnesses. Interpolation repeats itself: the mean step between neighbours rises and falls with
the phase between old and new pixels, which gives a line in its spectrum at 1/F cycles a pixel
(A. C. Gallagher, Detection of linear and cubic interpolation in JPEG compressed images, 2005). Only
that is proof. The sharpest blocks of the picture tell how far its detail reaches; a soft lens ends
it early as well, so that alone is suspicion. Cells of 8 x 8 px, as JPEG cuts them, tell the same
without the edges that coding leaves between them. Pixels repeated two, three or four times have
sharp blocks, but no step inside a repeat: that is proof by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import exp

import numpy as np
from numpy.typing import NDArray

from pressworthy.measure.pixels import tiles
from pressworthy.measure.ranks import differences, mean_along, median, percentiles
from pressworthy.measure.weights import votes, weights
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

Floats = NDArray[np.float32]

PROVEN = 1.6
"""log10 of a spectral line over its surroundings from which interpolation counts as proven."""

NOISE_BY_TILES = 0.55
"""How much further below proof a line of mere noise stands for each unit of 1/sqrt(tiles) less.

The strongest of 200 frequencies of noise stands at 0.79 over one tile, at 0.42 over four, as most
pictures of the fit have, and at 0.25 over sixteen; by the native and soft wallpapers of the fit,
cut to one tile, lines below proof stand 1.27 times as far below it over four."""

LINE = 512
BLOCK = 64
CUTS = (0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45)
RANKS = (97, 50, 10)
CELL = 8
CELL_RANKS = (75, 97, 99.7)
ENERGY_FROM, SHARE_FROM, EMPTY_FROM = (1, 3, 5, 7), (3, 5, 7), (4, 5, 6, 7)
"""Distances from a cell's mean, in steps of 1/16 cycle a pixel, from which on its waves count."""

FEATURES = (
    "line1", "line2", "half1", "half2", "even odd",
    *(f"share {cut:.2f} p{rank}" for rank in RANKS for cut in CUTS), "spread",
    *(f"cell energy {start} p{rank:g}" for rank in CELL_RANKS for start in ENERGY_FROM),
    *(f"cell share {start} p{rank:g}" for rank in CELL_RANKS for start in SHARE_FROM),
    *(f"empty cells {start}" for start in EMPTY_FROM),
)  # fmt: skip
BEFORE_CELLS = FEATURES.index(f"cell energy {ENERGY_FROM[0]} p{CELL_RANKS[0]:g}")
"""Where the numbers of cells begin: they tell whether a picture was enlarged, but not how often."""

STANDS_OUT = 0.45
"""How far, log10, the line of one factor rises above all others: those of old blocks came within
0.4 of it on three scenes, saved at quality 20 to 90 and then enlarged; noise's stayed 0.5 below."""

TOLD_APART = 0.35
"""How far from even the chances of the two factors of one line must be; 1.5 was taken for 3 at
0.3."""

DOUBLED = 1.3
"""The same for the line at 1/2 over those that a JPEG's blocks make."""

FOURFOLD, TRIPLED, DOUBLED_EVEN, DOUBLED_ODD = 0.45, 0.25, 0.15, 0.5
"""How far, natural logarithm, the steps between repeated pixels must stand over all others; doubled
ones by whether they begin at even or odd px. A JPEG shrunk to its half keeps edges of its blocks
4 px apart and came to 0.44; at quality 75 soft pictures came to 0.49 at odd px, to 0.1 at even."""

LIKELY = 0.95
"""Probability that all the numbers together must give as well."""

STRIKING, NOT_UNLIKELY = 2.9, 0.3
"""A line as strong as the first needs no more probability than the second: what is sharpened after
its enlarging looks native to the other numbers. It added no proof on 320 native, soft and shrunken
wallpapers without loss."""

# the orthonormal cosine transform of ITU-T T.81, rows by frequency
_COSINES = (
    np.sqrt(np.where(np.arange(CELL) == 0, 1, 2) / CELL)[:, None]
    * np.cos(np.pi / CELL * np.arange(CELL)[:, None] * (np.arange(CELL) + 0.5))
).astype(np.float32)
_LOWEST = 0.08
_FREQUENCY = np.arange(LINE // 2 + 1) / LINE
# a JPEG's 8-px blocks make lines at multiples of 1/8
_OFF_COMB = (_FREQUENCY >= _LOWEST) & (np.abs(8 * _FREQUENCY - np.rint(8 * _FREQUENCY)) >= 0.05)


@dataclass(frozen=True)
class TrueResolution:
    """What the pixels tell of an enlargement.

    factor: how often the picture was enlarged, where that is `sure`; else 1 over the share of the
        grid that its detail fills, at least 1 and good to about a fifth.
    proven: the interpolation's own period, or repeated pixels, were found; sure: they stand for one
        factor only.
    probability: 0..1, that it was enlarged 1.5 times or more rather than taken at this size.
    """

    factor: float
    proven: bool
    sure: bool
    probability: float


@measurement(anywhere=True)
def true_resolution(picture: Picture) -> TrueResolution:
    """Return what the full-resolution tiles tell. Raises Unmeasured where they hold no detail."""
    return resolution_of(tiles(picture))


def resolution_of(parts: tuple[Floats, ...]) -> TrueResolution:
    """Return what luma tiles of one picture tell, origins on multiples of 8. Raises Unmeasured."""
    if times := times_repeated(parts):
        return TrueResolution(float(times), proven=True, sure=True, probability=1.0)
    numbers, lines = features(parts)
    probability = float(np.exp(votes("true-resolution", numbers)[1]))
    reach = _reach(numbers)
    chances = votes("more than doubled", numbers[:BEFORE_CELLS])
    more_than_doubled = float(np.exp(chances[1]))
    factor = factor_from(lines, probability, more_than_doubled > 0.5)
    sure = factor is not None and is_sure(lines, more_than_doubled)
    return TrueResolution(
        factor if factor and sure else reach, factor is not None, sure, probability
    )


def _reach(numbers: NDArray[np.float64]) -> float:
    """Return 1 over the share of the grid that the detail of the sharpest blocks fills."""
    known = weights("true-resolution")
    shares = numbers[[FEATURES.index(f"share {cut:.2f} p97") for cut in CUTS]]
    log = float(known["reach bias"]) + float(np.array(known["reach"]) @ shares)
    return exp(min(max(log, 0.0), 2.0))


def times_repeated(parts: tuple[Floats, ...]) -> int | None:
    """Return how often each pixel stands side by side, across and down: 2 to 4 times, or None."""
    every = max(4, len(parts) // 2)
    across = np.stack([_strong_steps(part[::every]) for part in parts])
    down = np.stack([_strong_steps(part[:, ::every].T) for part in parts])
    cells = [np.log(_by_place(steps, CELL)).mean(axis=0) for steps in (across, down)]
    if _least(cells, lambda cell: max(_over_others(cell, first) for first in range(4))) > FOURFOLD:
        return 4
    if min(_third(across), _third(down)) > TRIPLED:
        return 3
    return 2 if _least(cells, _doubled) > 1 else None


def _doubled(cell: NDArray[np.float64]) -> float:
    """Return how far doubled steps stand out, over their limit; one way they may begin odd."""
    even, odd = _over_neighbours(cell, [1, 3, 5]), _over_neighbours(cell, [2, 4])
    return max(even / DOUBLED_EVEN, odd / DOUBLED_ODD)


def _least(
    cells: list[NDArray[np.float64]], contrast: Callable[[NDArray[np.float64]], float]
) -> float:
    return min(contrast(cell) for cell in cells)


def _strong_steps(values: Floats) -> NDArray[np.float64]:
    """Return the root of the mean square step from column to column, the largest capped.

    What coding adds is small everywhere, and repeats show at strong edges: hence the squares.
    """
    steps = np.abs(np.diff(values, axis=1))
    np.minimum(steps, 6 * steps.mean() + 1, out=steps)
    squares = np.einsum("ij,ij->j", steps, steps)
    return np.asarray(np.sqrt(squares / len(steps)), np.float64)


def _by_place(steps: NDArray[np.float64], period: int) -> NDArray[np.float64]:
    """Return the mean of steps (tiles, px) at each place of the period, a little added."""
    whole = steps[:, : steps.shape[1] // period * period].reshape(len(steps), -1, period)
    return np.asarray(whole.mean(axis=1) + 0.05)


def _over_others(cell: NDArray[np.float64], first: int) -> float:
    """Return how far every fourth step from `first` on stands over all others inside a cell.

    The eighth, from one cell to the next, is that of a JPEG's blocks and does not count.
    """
    own = np.arange(CELL - 1) % 4 == first
    inside = cell[: CELL - 1]
    return float(inside[own].min() - inside[~own].max())


def _over_neighbours(cell: NDArray[np.float64], at: list[int]) -> float:
    return float(min(cell[i] - max(cell[i - 1], cell[i + 1]) for i in at))


def _third(steps: NDArray[np.float64]) -> float:
    """Return how far every third step of (tiles, px) stands over the next two, those alike.

    Enlarged by 1.5, every third stands below two that are alike.
    """
    place = np.arange(steps.shape[1])
    inside = place % CELL != CELL - 1
    thirds = (steps[:, inside & (place % 3 == phase)] for phase in range(3))
    means = np.stack([some.mean(axis=1) + 0.05 for some in thirds])
    low, middle, high = np.sort(np.log(means), axis=0)
    return float((high - middle - (middle - low)).mean())


def features(parts: tuple[Floats, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the numbers named in FEATURES, and the line spectra of both differences, log10.

    Raises Unmeasured.
    """
    shares = block_shares(parts)
    lines, contrast = line_spectra(parts)
    strongest = as_over_four(lines[:, _OFF_COMB].max(axis=1), len(parts))
    numbers = [*strongest, *_half(lines), contrast, *shares, *cell_numbers(parts)]
    return np.array(numbers, np.float64), lines


def as_over_four(strongest: NDArray[np.float64], tiles: int) -> NDArray[np.float64]:
    """Return the strongest lines, log10, as high as four tiles would show them.

    The fewer tiles are averaged, the higher the strongest line of mere noise. One that is proof
    stands as it is.
    """
    below = PROVEN - strongest
    stretch = 1 + NOISE_BY_TILES * (tiles**-0.5 - 4**-0.5)
    return np.asarray(PROVEN - np.where(below > 0, below * stretch, below))


def line_spectra(parts: tuple[Floats, ...]) -> tuple[NDArray[np.float64], float]:
    """Return (2, 257) log10 line spectra of first and second differences, and a contrast.

    The contrast is that between even and odd steps inside 8-px blocks, across and down agreeing:
    a doubling has mirrored phases and shows there, not in the second difference.
    """
    powers = np.zeros((2, 2, LINE // 2 + 1))
    steps = np.zeros((2, 8))
    for axis in range(2):
        # tile by tile: what is computed of one stays in the processor's cache
        pairs = [_profiles(part, axis) for part in parts]
        for order, profiles in enumerate(np.stack(one) for one in zip(*pairs, strict=True)):
            powers[order, axis] = _line_power(profiles).sum(axis=0)
            if order == 0:
                whole = profiles[:, : profiles.shape[1] // 8 * 8]
                phase = whole.reshape(len(parts), -1, 8).astype(np.float64)
                steps[axis] = np.log(phase.mean(axis=1) + 0.05).sum(axis=0)
    lines = np.sqrt(powers[:, 0] * powers[:, 1])
    ratio = np.log10((lines + 1e-12) / (_running_median(lines) + 1e-12))
    # steps between pixels 1-2, 3-4, 5-6 of a block against 0-1 .. : those at the border left out
    contrasts = steps[:, [2, 4]].mean(axis=1) - steps[:, [1, 3, 5]].mean(axis=1)
    contrasts /= len(parts)
    agreed = contrasts[0] * contrasts[1] > 0
    contrast = float(np.abs(contrasts).min()) if agreed else 0.0
    ratio[:, _FREQUENCY < _LOWEST] = 0
    return ratio, contrast


def _profiles(part: Floats, along: int) -> list[Floats]:
    """Return the mean size of a tile's first and second differences along an axis.

    Every second line is plenty for it.
    """
    values = np.ascontiguousarray(part[:, ::2] if along else part[::2])
    profiles = []
    for left in (1, 2):
        values = differences(values, 1 - along)
        valid = values.shape[1 - along] - left
        profiles.append(_capped_mean(np.abs(values), along, valid))
    return profiles


def _capped_mean(sizes: Floats, along: int, valid: int) -> Floats:
    """Return the mean of sizes along an axis, the largest capped; they are used up.

    valid: how many there are across the axis, the first ones.
    """
    some = sizes[:valid:2, ::4] if along else sizes[::4, :valid:2]
    cap = percentiles(some.ravel(), [90]) + 1
    # between two bounds numpy clips several times as fast as by one
    np.clip(sizes, 0, cap.astype(np.float32), out=sizes)
    return mean_along(sizes, along)[:valid]


def _line_power(profiles: Floats) -> NDArray[np.float64]:
    """Return the power spectra of lines' logarithms (n, px), their slow changes taken off."""
    logs = np.log(profiles.astype(np.float64) + 0.05)
    padded = np.pad(logs, ((0, 0), (7, 7)), "edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 15, axis=1).mean(axis=2)
    window = np.hanning(logs.shape[1])
    spectra: NDArray[np.float64] = np.abs(np.fft.rfft((logs - around) * window, LINE)) ** 2
    return spectra


def _running_median(lines: NDArray[np.float64]) -> NDArray[np.float64]:
    padded = np.pad(lines, ((0, 0), (24, 24)), "reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 49, axis=1)
    return median(windows)


def block_shares(parts: tuple[Floats, ...]) -> NDArray[np.float64]:
    """Return log10 of the energy share above each of CUTS in 64-px blocks, and their contrast.

    First in the sharpest blocks (97th percentile), then in the middle and in the softest, where
    noise has the say, which an enlargement smooths as well: 3 x 7 numbers, and log10 of the
    middle standard deviation in levels.
    Raises Unmeasured where the picture is flat, or smaller than a block.
    """
    split = [_centred(_blocks(part)) for part in parts]
    spreads = [np.sqrt(np.einsum("nij,nij->n", own, own)) / BLOCK for own in split]
    spread = np.concatenate(spreads)
    if len(spread) == 0 or spread.max() < 2:
        raise Unmeasured("the picture holds no detail to measure")
    least = percentiles(spread, [30])
    # tile by tile, for what is computed of one stays in the processor's own memory
    energy = np.concatenate(
        [_ring_energy(blocks[own >= least]) for blocks, own in zip(split, spreads, strict=True)]
    )
    share = np.log10((energy[:, 1:] + 1e-6) / (energy[:, :1] + 1e-3))
    ranked = percentiles(share.T, RANKS).T.ravel()
    return np.asarray([*ranked, np.log10(max(float(median(spread)), 1e-3))], np.float64)


def _centred(blocks: Floats) -> Floats:
    return np.asarray(blocks - blocks.mean(axis=(1, 2), keepdims=True))


def _ring_energy(blocks: Floats) -> Floats:
    """Return the energy of centred blocks above 0.05 and each of CUTS, (n, 8)."""
    window, rings = _rings()
    # numpy computes float32 in float64 unless the scale is one of its own floats
    waves = np.fft.rfft2(blocks * window, norm="ortho").reshape(-1, len(rings))
    power = np.square(waves.real)
    power += np.square(waves.imag)
    return np.asarray(power @ rings)


@cache
def _rings() -> tuple[Floats, Floats]:
    """Return the window of a block, and which of its half spectrum counts for which energy."""
    window = np.hanning(BLOCK).astype(np.float32)
    across = np.fft.rfftfreq(BLOCK)
    radius = np.hypot(across, np.fft.fftfreq(BLOCK)[:, None])
    # the half spectrum holds each pair once, but the columns 0 and 1/2 hold both of a pair
    double = np.where((across == 0) | (across == 0.5), 1, 2)
    # the transform is the orthonormal one, 1/64 of the plain one that the numbers were fitted to
    rings = [(radius > cut) * double * BLOCK**2 for cut in (0.05, *CUTS)]
    return window * window[:, None], np.stack(rings, -1).reshape(-1, len(rings)).astype(np.float32)


def cell_numbers(parts: tuple[Floats, ...]) -> NDArray[np.float64]:
    """Return what the cosine transforms of 8 x 8 px cells, in JPEG's own places, hold.

    log10 of the energy, in squared levels, of the waves from each of ENERGY_FROM on, in cells of
    each of CELL_RANKS; log10 of its share of the cell's, in the busier cells; and log10 of the
    share of cells with next to nothing there, which coding empties where there is little.
    """
    energy = np.concatenate([_cell_energy(part) for part in parts], axis=1)
    busy = np.flatnonzero(energy[1] >= percentiles(energy[1], [60]))
    whole = energy[1][busy] + 1
    strength = percentiles(energy[ENERGY_FROM, :], CELL_RANKS).T
    share = np.stack([(energy[start][busy] + 1) / whole for start in SHARE_FROM])
    empty = (energy[EMPTY_FROM, :] < 1).mean(axis=1)
    found = (strength + 1, percentiles(share, CELL_RANKS).T, empty + 1e-3)
    return np.asarray(np.log10(np.concatenate([part.ravel() for part in found])), np.float64)


def _cell_energy(part: Floats) -> Floats:
    """Return the energy of a tile's cells in the waves from each distance on, (8, n)."""
    rows, columns = part.shape[0] // CELL, part.shape[1] // CELL
    cut = part[: rows * CELL, : columns * CELL].reshape(rows, CELL, columns * CELL)
    # down, then across: no cell is copied out of its tile
    waves = (_COSINES @ cut).reshape(-1, CELL) @ _COSINES.T
    power = np.square(waves, out=waves).reshape(rows, CELL, columns, CELL)
    energy = np.zeros((rows, columns, CELL), np.float32)
    for down, counts in enumerate(_counted()):
        energy += power[:, down] @ counts
    return energy.reshape(-1, CELL).T


@cache
def _counted() -> Floats:
    """Return which wave of a cell, down and across, counts from which distance on, (8, 8, 8).

    From distance 1 on it is all but the mean.
    """
    distance = np.hypot(*np.meshgrid(range(CELL), range(CELL)))
    return np.asarray(distance[..., None] >= np.arange(CELL), np.float32)


def _blocks(part: Floats) -> Floats:
    rows, columns = part.shape[0] // BLOCK, part.shape[1] // BLOCK
    cut = part[: rows * BLOCK, : columns * BLOCK]
    split = cut.reshape(rows, BLOCK, columns, BLOCK).swapaxes(1, 2)
    return split.reshape(-1, BLOCK, BLOCK)


def factor_from(
    lines: NDArray[np.float64], probability: float, more_than_doubled: bool
) -> float | None:
    """Return the factor that the interpolation's period stands for, or None without proof.

    A line at f belongs to 1/f or, folded, to 1/(1-f): one above 2, one below, and the spectrum of
    the blocks decides. Doubling and its like show at 1/2 and 1/4 only, where a JPEG's own lines
    stand, and must rise above those. Shrunken pictures show lines too, so the other numbers must
    say as well that the picture was enlarged.
    """
    strongest = lines.max(axis=0)
    at = int(np.where(_OFF_COMB, strongest, 0.0).argmax())
    striking = strongest[at] > STRIKING and probability >= NOT_UNLIKELY
    if striking or (strongest[at] > PROVEN and probability >= LIKELY):
        frequency = _refined(lines[int(lines[:, at].argmax())], at)
        return 1 / frequency if more_than_doubled else 1 / (1 - frequency)
    comb = max(strongest[LINE // 8], strongest[3 * LINE // 8])
    if _half(lines).max() > DOUBLED and probability >= LIKELY:
        return 4.0 if strongest[LINE // 4] - comb > 1 else 2.0
    return None


def is_sure(lines: NDArray[np.float64], more_than_doubled: float) -> bool:
    """Tell whether the lines stand for one factor only.

    A JPEG that was enlarged carries its old blocks' lines beside the interpolation's own, at parts
    of its frequency, and which is which is not to be known. And of the two factors of one line the
    detail decides, where it does: more_than_doubled is its probability.
    """
    strongest = np.where(_OFF_COMB, lines.max(axis=0), 0.0)
    at = int(strongest.argmax())
    if strongest[at] <= PROVEN:
        return True
    own = np.outer([1, 2, 3], [_FREQUENCY[at]])
    folded = np.abs(own - np.rint(own))
    near = (np.abs(folded - _FREQUENCY) * LINE <= 3).any(axis=0)
    alone = strongest[at] - strongest[~near].max() > STANDS_OUT
    return bool(alone and abs(more_than_doubled - 0.5) > TOLD_APART)


def _half(lines: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far the line at 1/2 of each difference rises above a JPEG's at 1/8 and 3/8."""
    return np.asarray(lines[:, -1] - np.maximum(lines[:, LINE // 8], lines[:, 3 * LINE // 8]))


def _refined(line: NDArray[np.float64], at: int) -> float:
    """Return the frequency of a line to a part of a bin, by the parabola through three."""
    if not 0 < at < len(line) - 1:
        return at / LINE
    left, here, right = line[at - 1 : at + 2]
    bend = left - 2 * here + right
    return float((at + (0.5 * (left - right) / bend if bend < 0 else 0.0)) / LINE)
