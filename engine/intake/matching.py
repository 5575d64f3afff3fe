"""Finds the file a picture on a page came from, by what it shows and not by its name.

Pictures are compared as small squares of luma: once for their tones, once for their detail alone,
since two skies have like tones and unlike detail. Resampling, sharpening, recompression, gray and
ink conversions and tone curves leave both nearly as they are. A file of which only a cut-out was
exported is not found again.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.intake.opening import decode
from pressworthy.picture import Header

SIDE = 64
MOST_SHAPE = 0.03
"""How far, as a ratio, two shapes of one picture may differ: rounding of small pictures."""

LEAST_TONES, LEAST_DETAIL = 0.85, 0.6
"""Correlations from which on two pictures are one, see tests/reference/test_pdf_matching.py."""

_LUMA = (0.299, 0.587, 0.114)


@dataclass(frozen=True)
class Fingerprint:
    """What a picture shows, (SIDE, SIDE) luma; `pixels` is the SHA-256 of its decoded values."""

    width: int
    height: int
    luma: NDArray[np.float32] = field(repr=False)
    pixels: str = ""


@dataclass(frozen=True)
class Known:
    """A file that may be on a page."""

    path: Path
    header: Header
    print: Fingerprint


@dataclass(frozen=True)
class Match:
    """A file found again. likeness: 0 to 1, the lesser of the two correlations; `same` pixels."""

    known: Known
    likeness: float
    same: bool


def fingerprint(path: Path, header: Header) -> Fingerprint:
    """Return the fingerprint of the picture at `path`, upright. Raises Unmeasured."""
    image = decode(path)
    digest = hashlib.sha256(f"{image.width} {image.height} {image.bands} {image.format}".encode())
    digest.update(image.write_to_memory())
    across, down = SIDE / image.width, SIDE / image.height
    small = image.resize(across, vscale=down, kernel="linear").numpy().astype(np.float32)
    luma = _luma(small.reshape(SIDE, SIDE, -1), header)
    width, height = header.upright()
    return Fingerprint(width, height, _upright(luma, header.orientation), digest.hexdigest())


def matches(seen: Fingerprint, known: Iterable[Known]) -> list[Match]:
    """Return the files that show the same picture, the likest first: same pixels, then same size.

    A picture without tones or detail, such as a plain ground, is known by its very pixels only.
    """
    found = []
    for one in known:
        same = one.print.pixels == seen.pixels
        likeness = 1.0 if same else _likeness(seen, one.print)
        if likeness:
            found.append(Match(one, likeness, same))
    size = (seen.width, seen.height)

    def order(match: Match) -> tuple[bool, bool, float, str]:
        other = (match.known.print.width, match.known.print.height)
        return not match.same, other != size, -round(match.likeness, 3), str(match.known.path)

    return sorted(found, key=order)


def _likeness(one: Fingerprint, other: Fingerprint) -> float:
    """Return the lesser of the correlations of tones and of detail, 0 where they are no match."""
    shapes = math.log(one.width / one.height), math.log(other.width / other.height)
    if abs(shapes[0] - shapes[1]) > MOST_SHAPE:
        return 0.0
    tones = _correlation(one.luma, other.luma)
    if tones < LEAST_TONES:
        return 0.0
    detail = _correlation(_detail(one.luma), _detail(other.luma))
    return min(tones, detail) if detail >= LEAST_DETAIL else 0.0


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    a, b = one - one.mean(), other - other.mean()
    size = float(np.sqrt((a * a).sum() * (b * b).sum()))
    # less than a quarter of a level of 255 is nothing to recognise
    flat = min(float(a.std()), float(b.std())) < 0.25
    return 0.0 if flat else float((a * b).sum()) / size


def _detail(luma: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the luma less its mean over the 5 x 5 around each place."""
    padded = np.pad(luma, 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, (5, 5))
    return np.asarray(luma - windows.mean(axis=(2, 3)), np.float32)


def _luma(values: NDArray[np.float32], header: Header) -> NDArray[np.float32]:
    top = {8: 255.0, 16: 65535.0}.get(header.depth) or float(np.abs(values).max()) or 1.0
    if header.mode == "Lab":
        return values[..., 0]
    values = np.asarray(values * np.float32(255 / top), np.float32)
    if header.mode == "CMYK":
        values = np.asarray((255 - values[..., :3]) * (255 - values[..., 3:4]) / 255, np.float32)
    if values.shape[2] < 3:
        return values[..., 0]
    return np.asarray(values[..., :3] @ np.array(_LUMA, np.float32))


def _upright(luma: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Return the square turned as the EXIF orientation says."""
    if orientation in (2, 4, 5, 7):
        luma = luma[:, ::-1]
    turns = {3: 2, 4: 2, 5: 1, 6: 3, 7: 3, 8: 1}.get(orientation, 0)
    return np.ascontiguousarray(np.rot90(luma, turns))
