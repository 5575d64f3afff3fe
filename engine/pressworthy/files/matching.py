"""Finds the file a picture on a page came from, by what it shows and not by its name.

Pictures are compared as small squares of luma: once for their tones, once for their detail alone,
since two skies have like tones and unlike detail. Resampling, sharpening, recompression, gray and
ink conversions and tone curves leave both nearly as they are. Page makers may export only the part
of a file that shows; where no whole file fits, such a part is sought at every size and place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import decode, hash_pixels, reduced, upright
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Header
from pressworthy.values.placement import Crop

SIDE = 64
FINE = 2 * SIDE
LEAST_PART = 0.3
"""Shares of width and height below which a cut-out holds too little of the file to be known."""

MOST_SHAPE = 0.03
"""How far, as a ratio, two shapes of one picture may differ: rounding of small pictures."""

EVEN = 0.03
"""How far below the likest a file's likeness may lie and say nothing: see LEAST_TONES."""

LEAST_TONES, LEAST_DETAIL = 0.85, 0.6
"""Correlations from which on two pictures are one.

On sixteen photographs, each made small, gray, inks, lighter or sharpened, the lesser of the two was
0.97 or more with itself and 0.12 or less with any other: tests/reference/test_pdf_matching.py.
"""

_LUMA = (0.299, 0.587, 0.114)


@dataclass(frozen=True, eq=False)
class Fingerprint:
    """What a picture shows, (FINE, FINE) luma.

    pixels: the SHA-256 of its decoded values, "" where they were not at hand; mode: see `Header`.
    """

    width: int
    height: int
    luma: NDArray[np.float32] = field(repr=False)
    pixels: str = ""
    mode: str = ""


@dataclass(frozen=True)
class Known:
    """A file that may be on a page.

    sha256: of its bytes; icc: its ICC profile in a few words, "" where it has none.
    """

    path: Path
    header: Header
    print: Fingerprint
    sha256: str = ""
    icc: str = ""

    @property
    def ticket(self) -> Ticket | None:
        """The ticket of a prepared copy, None on a master."""
        return read_ticket(self.header.xmp)


@dataclass(frozen=True)
class Match:
    """A file found again. likeness: 0 to 1, the lesser of the two correlations; `same` pixels.

    part: what of the file shows, where it is not the whole.
    """

    known: Known
    likeness: float
    same: bool
    part: Crop | None = None


def fingerprint(path: Path, header: Header, image: Any = None) -> Fingerprint:
    """Return the fingerprint of the picture at `path`, upright. Raises Unmeasured.

    image: its pixels, where they are at hand; without them no more is decoded than shows.
    """
    pixels = "" if image is None else hash_pixels(image)
    image = reduced(path, 2 * FINE) if image is None else image
    across, down = FINE / image.width, FINE / image.height
    try:
        small = image.resize(across, vscale=down, kernel="linear").copy_memory()
    except (pyvips.Error, UnicodeDecodeError):
        # read whole, it tells what is wrong with it
        small = decode(path).resize(across, vscale=down, kernel="linear").copy_memory()
    small = upright(small, header.orientation)
    luma = _luma(small.numpy().astype(np.float32).reshape(FINE, FINE, -1), header)
    width, height = header.upright()
    return Fingerprint(width, height, luma, pixels, header.mode)


def matches(shown: Fingerprint, known: Iterable[Known]) -> list[Match]:
    """Return the files that show the same picture, the likest first: the same pixels, then among
    those about as like the same colour mode, then the same size, then masters before their copies.
    A copy with its master's very pixels, as of line art, comes before it.

    A copy's pixels are known by its ticket, so that what only looks like one is no edited copy. A
    picture without tones or detail, such as a plain ground, is known by its very pixels only.
    """
    files = tuple(known)
    candidates = []
    for one in files:
        same = _same(shown, one)
        likeness = 1.0 if same else _likeness(shown, one.print)
        if likeness:
            candidates.append(Match(one, likeness, same))
    if not candidates:
        for one in files:
            likeness, part = _part_of(shown, one.print)
            if likeness:
                candidates.append(Match(one, likeness, False, part))
    best = max((match.likeness for match in candidates), default=0.0)

    def order(match: Match) -> tuple[bool | float | str, ...]:
        known = match.known
        return (
            not match.same,
            match.likeness < best - EVEN,
            known.print.mode != shown.mode,
            (known.print.width, known.print.height) != (shown.width, shown.height),
            (known.ticket is not None) is not match.same,
            -round(match.likeness, 3),
            str(known.path),
        )

    return sorted(candidates, key=order)


def _same(shown: Fingerprint, one: Known) -> bool:
    """Tell whether a file has the very pixels that are shown; asked only where it may."""
    header = one.header
    stored = (header.width, header.height, header.mode)
    if not shown.pixels or stored != (shown.width, shown.height, shown.mode):
        return False
    # the luma of a file that its flag turns is turned, and that of a plain ground tells nothing
    telling = header.orientation == 1 and not _is_plain(shown.luma)
    if telling and _correlation(shown.luma, one.print.luma) < LEAST_TONES:
        return False
    return (one.print.pixels or _pixels_of(one.path)) == shown.pixels


@lru_cache(maxsize=256)
def _pixels_of(path: Path) -> str:
    try:
        return hash_pixels(decode(path))
    except Unmeasured:
        return ""


def _likeness(one: Fingerprint, other: Fingerprint) -> float:
    """Return the lesser of the correlations of tones and of detail, 0 where they are no match."""
    shapes = math.log(one.width / one.height), math.log(other.width / other.height)
    if abs(shapes[0] - shapes[1]) > MOST_SHAPE:
        return 0.0
    return _alike(_sized(one.luma, SIDE, SIDE), _sized(other.luma, SIDE, SIDE))


def _alike(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    tones = _correlation(one, other)
    if tones < LEAST_TONES:
        return 0.0
    detail = _correlation(_detail(one), _detail(other))
    return min(tones, detail) if detail >= LEAST_DETAIL else 0.0


def _part_of(shown: Fingerprint, whole: Fingerprint) -> tuple[float, Crop]:
    """Return how like the part of `whole` most like `seen` is, 0 where it is no match, and where.

    The part has the shape of what is shown: sizes are tried coarsely on tones, then finely.
    """
    stretch = (whole.width / whole.height) / (shown.width / shown.height)
    largest = min(1.0, 1 / stretch)
    field = _field(whole, SIDE)
    if largest <= LEAST_PART:
        return 0.0, Crop()
    best = max(
        (*_best_place(shown, field, share, share * stretch), float(share))
        for share in np.geomspace(LEAST_PART, largest, 24)
    )
    if best[0] < LEAST_TONES - 0.1:
        return 0.0, Crop()
    nearest = (0.0, Crop())
    for share in np.unique(np.minimum(best[3] * np.linspace(0.95, 1.05, 11), largest)):
        _, top, left = _best_place(shown, _field(whole, FINE), share, share * stretch)
        width, height = round(FINE * share), round(FINE * share * stretch)
        part = whole.luma[top : top + height, left : left + width]
        likeness = _alike(_sized(shown.luma, width, height), part)
        crop = Crop(left / FINE, top / FINE, width / FINE, height / FINE)
        nearest = max(nearest, (likeness, crop), key=lambda pair: pair[0])
    return nearest


@dataclass(frozen=True)
class _Field:
    """A luma square to seek in: its spectrum, and running sums of its values and their squares."""

    side: int
    spectrum: NDArray[np.complex128]
    sums: tuple[NDArray[np.float64], NDArray[np.float64]]


@lru_cache(maxsize=512)
def _field(whole: Fingerprint, side: int) -> _Field:
    luma = _sized(whole.luma, side, side).astype(np.float64)
    first, second = (
        np.pad(luma**power, ((1, 0), (1, 0))).cumsum(axis=0).cumsum(axis=1) for power in (1, 2)
    )
    return _Field(side, np.fft.rfft2(luma), (first, second))


def _best_place(
    shown: Fingerprint, field: _Field, across: float, down: float
) -> tuple[float, int, int]:
    """Return the highest correlation of `seen`, sized to these shares of `field`, top and left."""
    side = field.side
    width, height = max(2, round(side * across)), max(2, round(side * down))
    if width > side or height > side or min(width, height) < LEAST_PART * side / 2:
        return 0.0, 0, 0
    patch = _sized(shown.luma, width, height)
    patch = patch - patch.mean()
    spectrum = field.spectrum * np.conj(np.fft.rfft2(patch, (side, side)))
    products = np.fft.irfft2(spectrum, (side, side))[: side - height + 1, : side - width + 1]
    sums, squares = (_window_sums(total, height, width) for total in field.sums)
    energy = np.maximum(squares - sums**2 / (height * width), 1e-3 * height * width)
    likeness = products / np.sqrt(energy * max(float((patch**2).sum()), 1e-6))
    top, left = np.unravel_index(int(likeness.argmax()), likeness.shape)
    return float(likeness[top, left]), int(top), int(left)


def _window_sums(total: NDArray[np.float64], height: int, width: int) -> NDArray[np.float64]:
    lower, upper = total[height:], total[:-height]
    sums = lower[:, width:] - lower[:, :-width] - upper[:, width:] + upper[:, :-width]
    return np.asarray(sums)


def _sized(luma: NDArray[np.float32], width: int, height: int) -> NDArray[np.float32]:
    resized = Image.fromarray(luma).resize((width, height), Image.Resampling.BOX)
    return np.asarray(resized, np.float32)


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    a, b = one - one.mean(), other - other.mean()
    size = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return 0.0 if _is_plain(one) or _is_plain(other) else float((a * b).sum()) / size


def _is_plain(luma: NDArray[np.float32]) -> bool:
    # less than a quarter of a level of 255 is nothing to recognise
    return float(luma.std()) < 0.25


def _detail(luma: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the luma less its mean over the 5 x 5 around each place."""
    padded = np.pad(luma, 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, (5, 5))
    return np.asarray(luma - windows.mean(axis=(2, 3)), np.float32)


def _luma(values: NDArray[np.float32], header: Header) -> NDArray[np.float32]:
    top = {8: 255.0, 16: 65535.0}.get(max(header.depth, 8)) or float(np.abs(values).max()) or 1.0
    if header.mode == "Lab":
        return values[..., 0]
    values = np.asarray(values * np.float32(255 / top), np.float32)
    if header.mode == "CMYK":
        values = np.asarray((255 - values[..., :3]) * (255 - values[..., 3:4]) / 255, np.float32)
    if values.shape[2] < 3:
        return values[..., 0]
    return np.asarray(values[..., :3] @ np.array(_LUMA, np.float32))
