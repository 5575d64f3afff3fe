"""Which RGB space do a picture's numbers belong to, whatever its ICC profile says?

A wrong profile turns hues and stretches or shrinks chroma, leaves the numbers piled against walls
that are not its own, and turns how colour changes where light does. A small model weighs nearly
three hundred such numbers, read from the unconverted small copy, and gives ln p(space | pixels)
with equal priors and blind to the profile. Its weights are fitted on open photographs
(tests/benchmarks/detection.py), whose wide-gamut versions were all synthesised from sRGB.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.lab import D50
from pressworthy.colour.spaces import SPACES
from pressworthy.measure.icc import rgb_space
from pressworthy.measure.jpeg import jpeg_quality
from pressworthy.measure.pixels import survey
from pressworthy.measure.ranks import median, percentiles
from pressworthy.measure.skin import ENOUGH_PX, skin
from pressworthy.measure.weights import votes, weights
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

Floats = NDArray[np.float32]

CANDIDATES = ("sRGB", "opRGB", "Display P3", "ROMM RGB")
PRIOR = (0.90, 0.05, 0.03, 0.02)
"""Shares of the candidates among untagged pictures; an assumption, not a measurement."""

ALIKE = frozenset({"sRGB", "Display P3"})
"""Two spaces whose confusion shifts colours by about 2 dE and hardly shows in print."""

BEYOND_TOLD = 0.002
"""Share of pixels beyond real surfaces that a reader is told of; less is noise and sparkle."""

NAMED = 0.9
"""Odds from which one space alone is named; below, the second is told too."""

WIDE = frozenset(CANDIDATES) - {"sRGB"}

SURE = float(np.log(20))
"""Gain, negative, from which the pixels themselves vouch for their tag: twenty to one."""

MOST_CELLS, FEWEST_PX = 10_000, 5_000
FEWEST_CELLS = FEWEST_PX // 4
READ_CELLS = 2_500
GREY = 8.0
"""95th percentile of chroma under which a picture's colours tell nothing."""
TONED_CHROMA, TONED_SHARE = 30.0, 0.95
"""A toned picture: chroma below the first, and the second share of it in one 60-degree window."""

_DULLED = (0.5, 1.0)
"""What `Coding.dulled` may be; at both ends limits are fitted."""

_READINGS = ("sRGB", "ROMM RGB")
_WALLS = (
    ("Display P3", "sRGB"),
    ("opRGB", "sRGB"),
    ("ROMM RGB", "sRGB"),
    ("ROMM RGB", "opRGB"),
    ("ROMM RGB", "Display P3"),
)
_D50 = D50.astype(np.float32)
# CIE 1931 2-degree chromaticities of 380 to 700 nm (ISO/CIE 11664-1), every 10 to 60 nm
_LOCUS = np.array([
    [0.1741, 0.0050], [0.1733, 0.0048], [0.1714, 0.0051], [0.1644, 0.0109], [0.1566, 0.0177],
    [0.1440, 0.0297], [0.1241, 0.0578], [0.0913, 0.1327], [0.0454, 0.2950], [0.0082, 0.5384],
    [0.0139, 0.7502], [0.0743, 0.8338], [0.1547, 0.8059], [0.2296, 0.7543], [0.3016, 0.6923],
    [0.3731, 0.6245], [0.4441, 0.5547], [0.5125, 0.4866], [0.6270, 0.3725], [0.7347, 0.2653],
])  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """The picture's colours as one RGB space gives them, chroma and hue in CIELAB (D50).

    chroma: its 95th percentile; skin_hue, skin_chroma: median hue in degrees and chroma where the
        likeliest space shows skin, NaN where it shows none or there is no doubt; beyond: share of
        pixels outside the gamut of real surfaces; imaginary: share outside the spectral locus.
    """

    chroma: float
    skin_hue: float
    skin_chroma: float
    beyond: float
    imaginary: float


@dataclass(frozen=True)
class SourceSpace:
    """What the pixels say of the RGB space: ln p for each of CANDIDATES, equal priors.

    tag: the embedded profile's space, "" where there is none.
    readings: how the picture looks when read as each of the candidates.
    dulled: how much JPEG's coarser chroma dulls what its pixels say; see `Coding`.
    """

    tag: str
    log_p: Mapping[str, float]
    readings: Mapping[str, Reading]
    dulled: float = 0.0

    def gain(self) -> float:
        """Return ln p of the best other space less that of the tagged one, in nats."""
        return self.log_p[self.best()] - self.log_p[self.tag]

    def limits(self) -> Thresholds:
        """Return the gains from which the picture deserves to be told of."""
        return thresholds(self.tag, self.dulled)

    def told(self, stated: str) -> bool:
        """Return whether a finding tells of the picture alone. stated: as `second_witness` has it.

        Of pixels that may be no real colours none is told that does not deserve a note anyway.
        """
        return self.gain() > self.limits().note or bool(self.second_witness(stated, 1)[0])

    def undecided(self, stated: str) -> bool:
        """Return whether neither pixels nor metadata tell if a wide tag is right or wrong.

        stated: the space that metadata names, or "".
        """
        return self.tag in WIDE and not stated and -SURE < self.gain() <= self.limits().note

    def best(self) -> str:
        """Return the likeliest space that the picture is not tagged as."""
        return max((h for h in CANDIDATES if h != self.tag), key=self.log_p.__getitem__)

    def ranking(self) -> list[tuple[str, float]]:
        """Return space and probability under PRIOR, likeliest first."""
        raw = {h: self.log_p[h] + np.log(p) for h, p in zip(CANDIDATES, PRIOR, strict=True)}
        top = max(raw.values())
        total = sum(np.exp(v - top) for v in raw.values())
        chances = [(h, float(np.exp(v - top) / total)) for h, v in raw.items()]
        return sorted(chances, key=lambda pair: -pair[1])

    def likely(self) -> list[tuple[str, float]]:
        """Return the spaces to compare the tag with, and their odds by the pixels, likeliest first.

        Odds among the spaces it is not tagged as, equal priors; sRGB stands for Display P3 too
        where neither is the tag. The second is told where the first is not sure.
        """
        others = {h: float(np.exp(p)) for h, p in self.log_p.items() if h != self.tag}
        if self.tag not in ALIKE:
            others["sRGB"] += others.pop("Display P3")
        total = sum(others.values())
        ranked = sorted(((h, p / total) for h, p in others.items()), key=lambda pair: -pair[1])
        return ranked[: 1 if ranked[0][1] >= NAMED else 2]

    def looks_like(self) -> str:
        """Return the likely spaces and their odds in words."""
        both = "" if self.tag in ALIKE else " or Display P3"
        return ", else ".join(
            f"{name}{both if name == 'sRGB' else ''} ({chance:.0%})"
            for name, chance in self.likely()
        )

    def compare(self) -> str:
        """Return what to do where the tag is in doubt."""
        tried = " and with ".join(f"--assume 'NAME={name}'" for name, _ in self.likely())
        return (
            f"Ask the supplier before it is converted; to compare, prepare with {tried}, and name "
            "the true space in the list's column assume."
        )

    def chances(self) -> str:
        """Return the ranking in words."""
        return ", ".join(f"{name} {chance:.0%}" for name, chance in self.ranking())

    def second_witness(self, stated: str, most_imaginary: float) -> tuple[str, float]:
        """Return what else speaks against the tag, and the gain from which it counts, or "" and 0.

        stated: the space that metadata names; most_imaginary: share (0..1) of pixels that may be no
        real colours.
        """
        gain, note = self.gain(), self.limits().note
        # only the camera says opRGB; who tags anew, or nothing, leaves sRGB (common practice)
        doubt = 0.0 if self.best() == "opRGB" else note / 2
        imaginary = self.readings[self.tag].imaginary
        witnesses = []
        if stated == self.best() and gain > doubt:
            witnesses.append(f"the metadata says {stated}")
        if imaginary > most_imaginary and gain > note:
            witnesses.append(f"{imaginary * 100:.1f} % of its pixels would be no real colours")
        limit = note if gain > note else doubt
        return "; ".join(witnesses), limit if witnesses else 0.0

    def in_words(self, witness: str = "") -> str:
        """Return how the picture looks as tagged and as the best other space, and what to ask.

        witness: what else speaks for that space.
        """
        first = self.likely()[0][0]
        now, then = self.readings[self.tag], self.readings[first]
        words = [f"Tagged {self.tag}, it looks more like {self.looks_like()}"]
        if witness:
            words[0] += f"; {witness}"
        words.append(
            f"Read as {first}, vivid colours have chroma {then.chroma:.0f} instead of "
            f"{now.chroma:.0f}"
        )
        if now.skin_hue == now.skin_hue and then.skin_hue == then.skin_hue:
            words.append(
                f"What may be skin has hue {then.skin_hue:.0f} and chroma {then.skin_chroma:.0f} "
                f"instead of {now.skin_hue:.0f} and {now.skin_chroma:.0f} (skin is near 46 and 23)"
            )
        if now.beyond > BEYOND_TOLD:
            words.append(
                f"{then.beyond:.1%} lie beyond what real surfaces show instead of {now.beyond:.1%}"
            )
        words.append(self.compare())
        return ". ".join(words)


@measurement(anywhere=True)
def source_space(picture: Picture) -> SourceSpace:
    """Return what the pixels say of their RGB space. Raises Unmeasured.

    Unmeasured: no RGB, a profile that is none of the candidates, too few pixels, grey or toned
    pictures: these hold no evidence.
    """
    if picture.header.mode != "RGB":
        raise Unmeasured(f"{picture.header.mode} pixels: only RGB spaces are told apart")
    try:
        tag = rgb_space(picture)
    except DamagedProfile as error:
        raise Unmeasured(f"its ICC profile is damaged: {error}") from None
    if picture.header.icc and tag not in CANDIDATES:
        raise Unmeasured(f"its ICC profile is none of {', '.join(CANDIDATES)}")
    seen = survey(picture)
    factor = round(seen.width / seen.small.shape[1])
    coding = _coding(picture, factor)
    grid = cells(seen.small, factor, subsampled=coding.subsampled)
    values = sample(grid)
    reading = lab_of(values, tag or "sRGB")
    if why := uninformative(reading):
        raise Unmeasured(why)
    chances = log_p(features(values, steps(grid), coding)).tolist()
    told = SourceSpace(tag, dict(zip(CANDIDATES, chances, strict=True)), {}, coding.dulled)
    # skin is looked for only where there is a doubt to argue with
    flesh = _flesh(seen.small, told.likely()[0][0]) if tag and told.gain() > 0 else values[:0]
    # told to a reader in whole numbers
    few = values[:: max(1, len(values) // READ_CELLS)]
    return replace(told, readings={h: _read(lab_of(few, h), few, flesh, h) for h in CANDIDATES})


def cells(small: NDArray[Any], factor: int, *, subsampled: bool) -> NDArray[Any]:
    """Return the averages of a small copy that are judged, (height, width, 3).

    One of 2 x 2 px of the file or more; of 4 x 4, where enough remain, if JPEG kept one chroma for
    2 x 2 (4:2:0). As 0..255, or as the small copy has them where its own averages do. factor: how
    many px wide those are. Raises Unmeasured.
    """
    if small.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"pixels of type {small.dtype} are not compared")
    height, width = small.shape[:2]
    if height * width < FEWEST_PX:
        raise Unmeasured(f"{height * width} px are too few to compare colours")
    side = 1
    for wanted in (2, 4) if subsampled else (2,):
        if factor < wanted and height * width >= 4 * side**2 * FEWEST_CELLS:
            side *= 2
    # a single row or column has none beside it
    down, across = (1 if length < side else side for length in (height, width))
    even = small[: height // down * down, : width // across * across, :3]
    parts = [even[y::down, x::across] for y in range(down) for x in range(across)]
    if len(parts) == 1:
        return even
    total = np.zeros(parts[0].shape, np.float32)
    for part in parts:
        total += part
    return total / np.float32(len(parts) * (257 if small.dtype == np.uint16 else 1))


def _as_bytes(values: NDArray[Any]) -> Floats:
    return values.astype(np.float32) / np.float32(257 if values.dtype == np.uint16 else 1)


def sample(grid: NDArray[Any]) -> Floats:
    """Return evenly picked colours of `cells` as (n, 3) of 0..255."""
    step = max(1, -(-grid.shape[0] * grid.shape[1] // MOST_CELLS))
    # an even step that divides the width would pick columns
    if step > 1 and grid.shape[1] % step == 0:
        step += 1
    return _as_bytes(grid.reshape(-1, 3)[::step])


def steps(grid: NDArray[Any]) -> Floats:
    """Return differences of neighbours among `cells`, beside and below, as (n, 3)."""
    every = max(1, -(-grid.shape[0] * grid.shape[1] // MOST_CELLS))
    rows, columns = _as_bytes(grid[::every]), _as_bytes(grid[:, ::every])
    beside, below = np.diff(rows, axis=1), np.diff(columns, axis=0)
    return np.concatenate([beside.reshape(-1, 3), below.reshape(-1, 3)])


def uninformative(lab: Floats) -> str:
    """Return why the colours (n, 3) of CIELAB tell nothing, or "" where they do."""
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    most = float(percentiles(chroma, [95])[0])
    if most < GREY:
        return f"nearly grey: 95 % of its pixels stay under chroma {most:.0f}"
    if most < TONED_CHROMA:
        hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
        shares = np.histogram(hue, 36, (0, 360), weights=chroma)[0]
        windows = np.convolve(np.r_[shares, shares[:5]], np.ones(6), "valid")
        if windows.max() > TONED_SHARE * shares.sum():
            return "toned: all its colour is of one hue"
    return ""


def log_p(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return ln p of each of CANDIDATES for the numbers `features` gives."""
    return votes("source-profile", numbers)


@dataclass(frozen=True)
class Coding:
    """What compression left of fine colour in a small copy: it eats at the signs of a space.

    coarse: 0 for none to 1 for JPEG of quality 80 or less; subsampled: chroma of 2 x 2 px as one;
    averaged: the small copy's pixels are averages of so many that neither shows.
    """

    coarse: float = 0.0
    subsampled: bool = False
    averaged: bool = False

    @property
    def dulled(self) -> float:
        """Return 0 where chroma is fine, else 0.5 for quality 90 and more to 1 for 80 and less."""
        return max(self.coarse, _DULLED[0]) if self.subsampled else 0.0

    @classmethod
    def of_jpeg(cls, quality: int, *, subsampled: bool) -> Coding:
        return cls(min((100 - quality) / 20, 1.0), subsampled)


def _coding(picture: Picture, factor: int) -> Coding:
    """Return how a picture is coded, seen in a small copy of 1/`factor` its width."""
    # averages of 2 x 2 px are what a small picture is judged by too
    if factor > 2:
        return Coding(averaged=True)
    quality = jpeg_quality(picture)
    if quality is None:
        return Coding()
    return Coding.of_jpeg(quality, subsampled=picture.header.subsampled)


def features(values: Floats, steps: Floats, coding: Coding) -> NDArray[np.float64]:
    """Return the model's numbers for colours (n, 3) of 0..255 and differences of neighbours."""
    high, low = _most(values), _least(values)
    spread = high - low
    saturation = spread / np.maximum(high, 1)
    numbers = [
        _log_share((low <= 2) & (high > 40)),
        _log_share((high >= 253) & (low < 200)),
        *(percentiles(spread, _HIGH) / 255),
        *percentiles(saturation, _HIGH),
        *(percentiles(high, [5, 25, 50, 75, 95]) / 255),
        *(percentiles(values.T, [1, 5, 25, 50, 75, 95, 99]).ravel() / 255),
    ]
    linear = {name: _linear(values, name) for name in CANDIDATES}
    for name in _READINGS:
        numbers += _reading_numbers(linear[name], name)
    in_srgb = {name: linear[name] @ _into(name, "sRGB") for name in CANDIDATES}
    for outer, inner in _WALLS:
        narrow = in_srgb[outer] if inner == "sRGB" else linear[outer] @ _into(outer, inner)
        numbers += _wall_numbers(narrow)
    for name in CANDIDATES:
        numbers += _floor_numbers(in_srgb[name])
    numbers += _edge_numbers(steps)
    numbers += [coding.coarse, float(coding.subsampled), float(coding.averaged)]
    return np.array(numbers, np.float64)


_HIGH = [50, 75, 90, 95, 98, 99.5, 99.8]


def _reading_numbers(linear: Floats, name: str) -> list[float]:
    lab = _lab(linear, name)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    hues = np.bincount((hue / 30).astype(np.int32) % 12, chroma, 12)
    return [
        float(np.log(chroma.mean() + 1)),
        *np.log(percentiles(chroma, [50, 75, 90, 95, 99]) + 1),
        _log_share(chroma > surface_chroma(lab[:, 0], hue) + 6),
        _log_share(_imaginary(linear)) if name == "ROMM RGB" else 0.0,
        *(percentiles(lab[:, 0], [5, 25, 50, 75, 95]) / 100),
        *(np.sqrt(hues / (hues.sum() + 1))),
    ]


def _wall_numbers(turned: Floats) -> list[float]:
    """Count pixels on a narrower gamut's floor against those beside it, and those beyond it."""
    top = _most(turned)
    floor = _least(turned) / np.maximum(top, 0.02)
    vivid = top > 0.02
    on = int((vivid & (np.abs(floor) < 0.006)).sum())
    near = int((vivid & (np.abs(floor) < 0.04)).sum()) - on
    return [
        float(np.log((on + 3) / (near / 5.7 + 3))),
        _log_share(vivid & (floor < -0.006)),
        _log_share(top > 1.01),
    ]


def _floor_numbers(turned: Floats) -> list[float]:
    """Count how far each channel is from sRGB's floor: its walls, blurred by coding or not."""
    top = _most(turned)
    share = turned.T / np.maximum(top, 0.02)
    rung = _FLOOR[np.clip((share + 0.302) * 500, 0, len(_FLOOR) - 1).astype(np.int32)]
    # dark pixels are counted nowhere
    rung[:, top <= 0.02] = _RUNGS
    of_channel = np.arange(3, dtype=np.int32)[:, None] * (_RUNGS + 1)
    counts = np.bincount((rung + of_channel).ravel(), minlength=3 * (_RUNGS + 1))
    shares = counts.reshape(3, -1)[:, :_RUNGS] / len(turned)
    return list(np.log(shares + 3e-4).ravel())


_RUNGS = 13
_FLOOR = np.searchsorted(
    [-0.3, -0.15, -0.08, -0.04, -0.02, -0.006, 0.006, 0.02, 0.04, 0.08, 0.15, 0.3],
    np.arange(-0.301, 0.304, 0.002),
).astype(np.int32)
"""Which rung of the ladder beside a floor a share lies on, by steps of 0.002 from -0.302 on."""


def _edge_numbers(steps: Floats) -> list[float]:
    """Return how colour changes where light does: by size of the step in luma, its own spreads.

    A wider space mixes its channels more, so their steps are more alike, and mixes them otherwise.
    """
    red, green, blue = steps.T
    luma = np.float32(0.299) * red + np.float32(0.587) * green + np.float32(0.114) * blue
    change = np.stack([luma, blue - luma, red - luma])
    size = np.abs(luma)
    order = np.argsort(size)
    change = change[:, order]
    ends = np.searchsorted(size[order], [1, 4, 12, 40, 256])
    numbers: list[float] = []
    for first, last in pairwise(ends.tolist()):
        if last - first < 50:
            first, last = len(size) * 4 // 5, len(size)
        part = change[:, first:last]
        part = part - part.mean(axis=1, keepdims=True)
        spread = part @ part.T / (part.shape[1] - 1) + np.eye(3) * 1e-3
        y, u, v = np.sqrt(np.diag(spread))
        numbers += [
            np.log(u / y),
            np.log(v / y),
            spread[0, 1] / y / u,
            spread[0, 2] / y / v,
            spread[1, 2] / u / v,
        ]
    return numbers


@cache
def _into(outer: str, inner: str) -> Floats:
    """Return the matrix from linear values of one space to those of another."""
    return (SPACES[outer].colorants @ np.linalg.inv(SPACES[inner].colorants)).astype(np.float32)


def _most(values: Floats) -> Floats:
    """Return the largest of each row of three: numpy itself is slow along so short an axis."""
    return np.maximum(np.maximum(values[:, 0], values[:, 1]), values[:, 2])


def _least(values: Floats) -> Floats:
    return np.minimum(np.minimum(values[:, 0], values[:, 1]), values[:, 2])


def _log_share(where: NDArray[np.bool_]) -> float:
    return float(np.log(where.mean() + 1e-4))


@cache
def _decoding(name: str) -> Floats:
    return SPACES[name].decode(np.linspace(0, 1, 1021)).astype(np.float32)


def _linear(values: Floats, name: str) -> Floats:
    # quarter steps of a code value; the small copy's averages are no finer
    return _decoding(name)[np.rint(values * 4).astype(np.int32)]


def lab_of(values: Floats, name: str) -> Floats:
    """Return CIELAB (D50), (n, 3), of values 0..255 read as the space called `name`."""
    return _lab(_linear(values, name), name)


def _lab(linear: Floats, name: str) -> Floats:
    xyz = linear @ (SPACES[name].colorants / _D50).astype(np.float32)
    f = np.where(xyz > 216 / 24389, np.cbrt(np.maximum(xyz, 0)), xyz * (24389 / 3132) + 16 / 116)
    x, y, z = f.T
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=1)


def imaginary(values: Floats) -> NDArray[np.bool_]:
    """Tell which pixels lie outside the spectral locus when read as ROMM RGB.

    Of the candidates only ROMM RGB has primaries that no light can have.
    """
    return _imaginary(_linear(values, "ROMM RGB"))


def _imaginary(linear: Floats) -> NDArray[np.bool_]:
    xyz = linear @ SPACES["ROMM RGB"].colorants.astype(np.float32)
    total = np.maximum(xyz.sum(axis=1), 1e-6)
    x, y = xyz[:, 0] / total, xyz[:, 1] / total
    # bright enough for its chromaticity to mean something
    visible = xyz[:, 1] > 0.002
    outward, reach = _sides()
    outside: NDArray[np.bool_] = (outward @ np.stack([x, y]) > reach).any(axis=0)
    return outside & visible


@cache
def _sides() -> tuple[Floats, Floats]:
    """Return the locus's sides: outward normals (n, 2), and how far out the locus reaches.

    A thousandth more: its corners are read from a coarse table.
    """
    x, y = (np.roll(_LOCUS, -1, axis=0) - _LOCUS).T
    outward = np.stack([y, -x], axis=1) / np.hypot(x, y)[:, None]
    reach = (outward * _LOCUS).sum(axis=1)
    turned = np.sign(outward @ _LOCUS.mean(axis=0) - reach)
    return (-turned[:, None] * outward).astype(np.float32), (
        (-turned * reach + 1e-3)[:, None].astype(np.float32)
    )


def surface_chroma(lightness: Floats, hue: Floats) -> Floats:
    """Return the highest chroma of real surfaces (M. R. Pointer, 1980) at L* and hue in degrees."""
    table = _surfaces()
    row = np.clip((lightness - 15) / 5, 0, 15)
    column = hue / 10
    r0, c0 = row.astype(int), column.astype(int)
    r1, c1 = np.minimum(r0 + 1, 15), (c0 + 1) % 36
    u, v = row - r0, column - c0
    c0 = c0 % 36
    upper = table[r0, c0] * (1 - v) + table[r0, c1] * v
    lower = table[r1, c0] * (1 - v) + table[r1, c1] * v
    return np.asarray(upper * (1 - u) + lower * u, np.float32)


@cache
def _surfaces() -> Floats:
    return np.array(weights("real surfaces")["chroma"], np.float32)


def _flesh(small: NDArray[Any], name: str) -> Floats:
    """Return colours (n, 3) of 0..255 where a small copy, read as `name`, may show skin."""
    step = max(1, int(np.sqrt(small.shape[0] * small.shape[1] / ENOUGH_PX)))
    seen = small[::step, ::step, :3].astype(np.float32)
    if small.dtype == np.uint16:
        seen /= np.float32(257)
    return seen[skin(lab_of(seen.reshape(-1, 3), name).reshape(seen.shape))]


def _read(lab: Floats, values: Floats, flesh: Floats, name: str) -> Reading:
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    skin_hue = skin_chroma = float("nan")
    if len(flesh):
        _, a, b = lab_of(flesh, name).T
        skin_hue = float(median(np.degrees(np.arctan2(b, a)) % 360))
        skin_chroma = float(median(np.hypot(a, b)))
    return Reading(
        chroma=float(percentiles(chroma, [95])[0]),
        skin_hue=skin_hue,
        skin_chroma=skin_chroma,
        beyond=float((chroma > surface_chroma(lab[:, 0], hue) + 6).mean()),
        imaginary=float(imaginary(values).mean()) if name == "ROMM RGB" else 0.0,
    )


@dataclass(frozen=True)
class Thresholds:
    """Gains in nats from which a single picture deserves a note, and a query.

    odd: from which one does whose neighbours carry another tag.
    """

    odd: float
    note: float
    query: float


def thresholds(tag: str, dulled: float = 0.0) -> Thresholds:
    """Return the thresholds for pictures tagged `tag`, one of CANDIDATES.

    Set for false alarms of about 8, 2 and 1 % on sources never used in fitting. dulled: see
    `Coding`.
    """
    known = weights("source-profile")

    def limit(key: str) -> float:
        fine, *coarse = known[key][tag]
        return float(np.interp(dulled, _DULLED, coarse)) if dulled else float(fine)

    return Thresholds(*map(limit, ("odd", "note", "query")))


def pooled(tag: str, log_p: Sequence[Mapping[str, float]]) -> tuple[str, float, float]:
    """Return the space that speaks loudest against the tag, its mean gain, and its limit.

    log_p: for each picture tagged alike, space -> ln p. Each space has its limit, which falls with
    the number of pictures; the one that is furthest above or least below it is returned.
    """
    known = weights("source-profile")["delivery"][tag]
    found = []
    for space in (h for h in CANDIDATES if h != tag):
        mean = float(np.mean([one[space] - one[tag] for one in log_p]))
        limit = next(at for fewest, at in reversed(known[space]) if len(log_p) >= fewest)
        found.append((space, mean, float(limit)))
    return max(found, key=lambda one: one[1] - one[2])
