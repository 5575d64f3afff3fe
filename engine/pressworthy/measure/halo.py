"""Sharpening as the pixels show it: how high the halo stands beside clean, isolated edges.

The height of the halo is a fact of the pixels; which process made it is not. A step edge of blur s
under an unsharp mask of radius sigma and amount a becomes q(t) = (1+a) P(t/s) - a P(t/S) with
S^2 = s^2 + sigma^2 and P the normal distribution: the height depends on the edge's own blur as much
as on the amount, the place of the extremum follows s, and only the halo's width carries sigma.

Strong sharpening shows in more than its highest halo: in the whole profile, in edges clipped beside
clean plateaus, in slopes that turn back a few px on, in lone pixels at the ends of the scale. A
fitted sum of all these (`numbers`) is the chance of it, also where few edges are clean.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import erf, exp, sqrt

import numpy as np
from numpy.typing import NDArray

from pressworthy.measure.pixels import tiles, turned
from pressworthy.measure.ranks import median
from pressworthy.measure.weights import votes, weights
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

Floats = NDArray[np.float32]

FEWEST_EDGES = 40
SOFTEST = 2.0
"""Blur in px (sigma) beyond which an edge hides what an unsharp mask of usual radius does."""
STEEPEST = 0.15
BARELY = 8
"""Edges that the chance needs at least."""
_REACH = 12
_PLATEAU = 5
_FLANK = np.arange(-_REACH, _REACH + 1, dtype=np.float32)
_BIN = 0.5
_BINS = 16
_PART = 8192


@dataclass(frozen=True)
class Halo:
    """The mean overshoot beside the picture's steepest clean edges.

    height: of the step, the smaller of the bright and the dark side; 0 where there is none.
    misfit: RMS distance, of the step, from the best edge without any halo.
    width: the halo's area over its height in px.
    blur: sigma in px of the best-fitting edge; edges: how many clean edges were found.
    clipped: share of the edges that are clipped on both sides beside plateaus that are not.
    chance: 0..1, that it was sharpened strongly (sigma 1.5 px and amount 1.5, or more).
    """

    height: float
    misfit: float
    width: float
    blur: float
    edges: int
    clipped: float = 0.0
    chance: float = 0.0

    def is_likely(self) -> bool:
        """Tell whether all numbers together show strong sharpening."""
        return self.chance > likely_from()


def likely_from() -> float:
    """Return the chance that one in a hundred photographs not sharpened comes to."""
    return float(weights("sharpening")["limit"])


@measurement(anywhere=True)
def halo(picture: Picture) -> Halo:
    """Return the halo at isolated edges of the full-resolution tiles. Raises Unmeasured.

    Unmeasured with fewer than 40 clean edges, or where even the steepest are blurred by more than
    2 px: foliage, fog and out-of-focus pictures, which need not be unsharpened for that. But not
    where strong sharpening is likely: it spoils edges itself.
    """
    seen = seen_in(tiles(picture))
    if seen.is_likely():
        return seen
    if seen.edges < FEWEST_EDGES:
        raise Unmeasured(
            f"{seen.edges} clean, isolated edges are too few to measure halos; "
            f"{FEWEST_EDGES} are needed"
        )
    if seen.blur > SOFTEST and seen.height < 0.05:
        raise Unmeasured(
            f"its sharpest edges are blurred by {seen.blur:.1f} px (sigma): out of focus, or "
            "enlarged; halos cannot be measured on them"
        )
    return seen


def seen_in(parts: tuple[Floats, ...]) -> Halo:
    """Return the halo of luma tiles, and the chance of strong sharpening, however few its edges."""
    distance, level = edges_in(parts)
    if len(distance) < BARELY:
        return Halo(0.0, 0.0, 0.0, 0.0, len(distance))
    seen = halo_of(distance, level)
    both = clipped_sides(distance, level).all(axis=0).mean()
    chance = exp(votes("sharpening", numbers(parts, distance, level, seen))[1])
    return replace(seen, clipped=float(both), chance=chance)


def edges_in(parts: tuple[Floats, ...]) -> tuple[Floats, Floats]:
    """Return the clean edges of luma tiles, across and down: two arrays (edges, 25).

    The first holds the distance in px from the half-way crossing along the edge's normal, the
    second the level, 0 on the dark plateau and 1 on the bright; clipped samples are NaN.
    """
    found = [_across(side) for part in parts for side in (part, turned(part))]
    # together: each step is for many edges or for few
    raw, slope = (np.concatenate([one[i] for one in found]) for i in range(2))
    return _clean(raw, slope)


def numbers(
    parts: tuple[Floats, ...], distance: Floats, level: Floats, seen: Halo
) -> NDArray[np.float64]:
    """Return what the chance is made of: numbers of the edges, and of lines through the tiles."""
    half = steepest(distance, level, 0.5)
    half = half[:: len(half) // _PLENTY + 1]
    profile = _profile(distance[half], level[half])[1:12]
    clipped = clipped_sides(distance, level)
    shares = [*clipped.mean(axis=1), clipped.all(axis=0).mean()]
    edges = [seen.height, seen.misfit, np.log(seen.blur), np.log(seen.edges), seen.width]
    drawn = [part[:: max(8, 2 * len(parts))] for part in parts]
    lines = median(np.stack([_line_numbers(one) for one in drawn]), axis=0)
    ends = np.log10(np.mean([_lone_ends(one) for one in drawn], axis=0) + 1e-5)
    return np.array([*edges, *np.nan_to_num(profile, nan=1.0), *shares, *lines, *ends])


def clipped_sides(distance: Floats, level: Floats) -> NDArray[np.bool_]:
    """Return (2, edges): clipped within 4 px on the dark side, and on the bright side."""
    near = np.isnan(level) & (np.abs(distance) <= 4)
    return np.stack([(near & (distance < 0)).any(axis=1), (near & (distance > 0)).any(axis=1)])


_PLENTY = 600
_FAR = (2, 3, 4, 6, 8, 12, 16)
_LAGS = (1, 2, 3, 4, 5, 6, 8)


def _line_numbers(lines: Floats) -> NDArray[np.float64]:
    """Return how differences grow with their distance, and how a slope goes with one further on.

    Beside a halo the slope turns back, a few px on, by the mask's radius.
    """
    slopes = np.diff(lines, axis=1)
    near = float(np.abs(slopes).mean()) + 0.1
    growth = [np.abs(lines[:, k:] - lines[:, :-k]).mean() / near + 1e-3 for k in _FAR]
    power = float(np.square(slopes).mean()) + 1e-3
    turns = [float((slopes[:, k:] * slopes[:, :-k]).mean()) / power for k in _LAGS]
    return np.array([*np.log(growth), np.log(near), *turns])


def _lone_ends(lines: Floats) -> list[float]:
    """Return the shares of near-black and near-white pixels, and of those that stand alone."""
    inner, beside = lines[:, 3:-3], (lines[:, :-6], lines[:, 6:])
    dark, bright = inner <= 3, inner >= 252
    lone_dark = dark & (np.maximum(*beside) > 20)
    lone_bright = bright & (np.minimum(*beside) < 235)
    return [float(one.mean()) for one in (lone_dark, lone_bright, dark, bright)]


def _across(luma: Floats) -> tuple[Floats, Floats]:
    """Return luma across isolated edges, (edges, 25) from dark to bright, and their slopes."""
    row, column, slope, steep = _candidates(luma)
    # backwards where it falls
    along = np.sign(steep).astype(np.intp)[:, None] * _FLANK.astype(np.intp)
    return _at(luma, row, column, along), slope


def _at(
    values: Floats, row: NDArray[np.intp], column: NDArray[np.intp], along: NDArray[np.intp]
) -> Floats:
    """Return what stands `along` so far beside places in their rows, (places, n)."""
    first = row * values.shape[1] + column
    # no index wraps, but numpy takes so without a look at each
    return np.asarray(values.ravel().take(first[:, None] + along, mode="wrap"))


def _clean(raw: Floats, slope: Floats) -> tuple[Floats, Floats]:
    """Return distance and level of the edges that stand clean between plateaus, see `edges_in`."""
    sides = np.stack([raw[:, :_PLATEAU], raw[:, -_PLATEAU:]])
    low, high = sides.mean(axis=2)
    step = high - low
    good = (step >= 24) & (low >= 6) & (high <= 249)
    good &= (sides.std(axis=2) <= 0.2 * step).all(axis=0)
    raw, low, step, slope = raw[good], low[good, None], step[good, None], slope[good]
    level = (raw - low) / step
    good = (level[:, : _REACH - 2] < 0.4).all(axis=1) & (level[:, _REACH + 3 :] > 0.6).all(axis=1)
    level, raw, slope = level[good], raw[good], slope[good]
    near = level[:, _REACH - 2 : _REACH + 4]
    rising = (near[:, :-1] < 0.5) & (near[:, 1:] >= 0.5)
    good = rising.sum(axis=1) == 1
    level, raw, slope, near, rising = (v[good] for v in (level, raw, slope, near, rising))
    at = rising.argmax(axis=1)
    each = np.arange(len(at))
    before, after = near[each, at], near[each, at + 1]
    crossing = at - 2 + (0.5 - before) / (after - before)
    distance = (_FLANK - crossing[:, None]) / np.sqrt(1 + slope[:, None] ** 2)
    two_sided = _two_sided(distance, level)
    level = np.where((raw <= 1) | (raw >= 254), np.nan, level)
    return distance[two_sided].astype(np.float32), level[two_sided].astype(np.float32)


def _two_sided(distance: Floats, level: Floats) -> NDArray[np.bool_]:
    """Tell which edges overshoot alike on both sides: an unsharp mask works on both.

    Cup rims, hair and slivers of a third tone are bright or dark on one side only.
    """
    bright = np.where((distance >= 0.75) & (distance <= 4), level - 1, -1).max(axis=1)
    dark = np.where((distance <= -0.75) & (distance >= -4), -level, -1).max(axis=1)
    more = np.maximum(np.maximum(bright, dark), 0)
    return np.asarray(np.abs(bright - dark) <= 0.1 + 0.35 * more)


def _candidates(luma: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats, Floats]:
    """Return row, column, slope (gy/gx) and gradient of isolated steep places along rows.

    Only every third row is looked at, so that the rows three up and three down, which must show
    the same edge, are there already.
    """
    half = _TAPS // 2
    if luma.shape[0] < 2 * half + 9 or luma.shape[1] < 2 * (half + _REACH) + 1:
        empty = np.zeros(0, np.intp)
        return empty, empty, np.zeros(0, np.float32), np.zeros(0, np.float32)
    lines = np.lib.stride_tricks.sliding_window_view(luma, _TAPS, axis=0)[::3].swapaxes(1, 2)
    smoothed, changes = np.ascontiguousarray(np.moveaxis(np.stack([_SMOOTH, _RISE]) @ lines, 1, 0))
    width = luma.shape[1] - _TAPS + 1
    # without regard to rows, which is quicker: the last columns, led into the next, do not count
    gx = _risen(smoothed)
    size = np.abs(gx).ravel()
    peaks = np.zeros(gx.shape, bool)
    inner = size[1:-1]
    peaks.ravel()[1:-1] = (inner > 4) & (inner >= size[:-2]) & (inner > size[2:])
    far = _REACH - half
    row, column = np.divmod(np.flatnonzero(peaks), gx.shape[1])
    inside = (row > 0) & (row < len(gx) - 1) & (column >= far) & (column < width - far)
    row, column = row[inside], column[inside]
    here = gx[row, column]
    gy = _smoothed_at(changes, row, column)
    upright = np.abs(here) > 1.5 * np.abs(gy)
    row, column, here, gy = row[upright], column[upright], here[upright], gy[upright]
    slope = gy / here
    # the edge runs aside by -gy/gx px a row
    aside = [
        np.clip(column - np.rint(3 * side * slope).astype(int), 0, width - 1) for side in (-1, 1)
    ]
    goes_on = np.ones(len(row), bool)
    for side, there in zip((-1, 1), aside, strict=True):
        goes_on &= gx[row + side, there] * np.sign(here) > 0.6 * np.abs(here)
    row, column, here, slope = row[goes_on], column[goes_on], here[goes_on], slope[goes_on]
    same = np.ones(len(row), bool)
    for side, there in zip((-1, 1), (one[goes_on] for one in aside), strict=True):
        turn = _smoothed_at(changes, row + side, there) / gx[row + side, there]
        same &= np.abs(np.arctan(turn) - np.arctan(slope)) < 0.3
    return row[same] * 3 + half, column[same] + half, slope[same], here[same]


def _risen(lines: Floats) -> Floats:
    """Return the sum of what stands from each place on along lines, weighted by `_RISE`.

    Its ends are opposite. Of the last places of a line it is of the next one too, and means
    nothing.
    """
    flat, total = lines.ravel(), np.zeros_like(lines)
    count = flat.size - _TAPS + 1
    parts = [flat[i : i + count] for i in range(_TAPS)]
    summed, step = total.ravel()[:count], np.empty(count, np.float32)
    for i in range(_TAPS // 2):
        np.subtract(parts[-1 - i], parts[i], out=step)
        step *= _RISE[-1 - i]
        summed += step
    return total


def _smoothed_at(
    values: Floats, row: NDArray[np.intp], column: NDArray[np.intp]
) -> NDArray[np.float32]:
    """Return the sum, weighted by `_SMOOTH`, of what stands along the rows from these places on."""
    return np.asarray(_at(values, row, column, np.arange(_TAPS)) @ _SMOOTH)


def steepest(distance: Floats, level: Floats, share: float) -> NDArray[np.intp]:
    """Return which edges are the steepest, this share of them and at least 15."""
    centre = slice(_REACH - 3, _REACH + 4)
    values = np.nan_to_num(level[:, centre], nan=0.5)
    rise, run = np.diff(values, axis=1), np.diff(distance[:, centre], axis=1)
    # steep by its own range: by the plateaus' an edge with a third tone beside it would be steepest
    steep = (rise / run).max(axis=1) / (values.max(axis=1) - values.min(axis=1) + 1e-6)
    return np.argsort(-steep)[: max(15, round(share * len(steep)))]


def halo_of(distance: Floats, level: Floats) -> Halo:
    """Return the halo of edge profiles as `edge_profiles` gives them, at least one."""
    keep = steepest(distance, level, STEEPEST)
    profile = _profile(distance[keep], level[keep])
    known = np.isfinite(profile)
    over = np.where(known, profile - 1, 0.0)
    height = max(0.0, float(over[(_CENTRES >= 0.75) & (_CENTRES <= 4)].max()))
    area = float(np.maximum(over[_first_above(over) :], 0)[: round(6 / _BIN)].sum() * _BIN)
    width = area / height if height > 0.02 else 0.0
    weight = np.where(known, np.clip(8 - _CENTRES, 0, 1), 0.0)
    blurs, plain = _plain_edges()
    errors = ((plain - np.where(known, profile, 1)) ** 2 * weight).sum(axis=1)
    best = int(errors.argmin())
    misfit = sqrt(float(errors[best]) / max(float(weight.sum()), 1e-9))
    return Halo(height, misfit, width, float(blurs[best]), len(distance))


_GAUSS = np.exp(-0.5 * (np.arange(-3, 4) / 0.8) ** 2)
_GAUSS = _GAUSS / _GAUSS.sum()
_SMOOTH = np.convolve(_GAUSS, [0.25, 0.5, 0.25]).astype(np.float32)
_RISE = np.convolve(_GAUSS, [-0.5, 0, 0.5]).astype(np.float32)
_TAPS = len(_RISE)
_CENTRES = (np.arange(_BINS) + 0.5) * _BIN


def _profile(distance: Floats, level: Floats) -> NDArray[np.float64]:
    """Return the mid-mean level by 0.5 px bins of distance; the smaller side in each bin.

    Cup rims and hair are bright on one side only, an unsharp mask works on both.
    """
    sides = []
    for place, value in ((distance, level), (-distance, 1 - level)):
        number = np.floor(place / _BIN).astype(int)
        good = (number >= 0) & (number < _BINS) & np.isfinite(value)
        number, found = number[good].astype(np.uint8), value[good]
        # numpy sorts bytes by counting them
        found = found[np.argsort(number, kind="stable")]
        ends = np.cumsum(np.bincount(number, minlength=_BINS))[:-1]
        sides.append([_mid_mean(one) for one in np.split(found, ends)])
    return np.asarray(np.minimum(*np.array(sides)))


def _mid_mean(values: Floats) -> float:
    if len(values) < 4:
        return float("nan")
    ordered = np.sort(values)
    quarter = len(ordered) // 4
    return float(ordered[quarter : len(ordered) - quarter].mean())


def _first_above(over: NDArray[np.float64]) -> int:
    above = np.nonzero(over > 0)[0]
    return int(above[0]) if len(above) else len(over)


@cache
def _plain_edges() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return blurs (n,) and the profiles (n, bins) of edges without a halo."""
    blurs = np.geomspace(0.2, 3, 40)
    return blurs, np.array([[(1 + erf(t / s / sqrt(2))) / 2 for t in _CENTRES] for s in blurs])
