"""Colour of a picture as CIELAB, and how its lightness is spread."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab, to_lightness
from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.lightness import lightness as star
from pressworthy.colour.lightness import luminance, printed
from pressworthy.colour.linear import luminance_table
from pressworthy.measure.icc import assumed_space, embedded_profile, profile_for_pixels
from pressworthy.measure.pixels import is_drawn, small_copy
from pressworthy.measure.ranks import median, percentiles
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

LIGHTEST, DARKEST = 99.5, 0.5
GROUND = 0.6
"""Share of a picture's outline that a plain white or black ground fills: that of a cut-out.

A sky that is burnt out as far down as the middle fills about half of it.
"""
PLAIN = 3.0
"""L* that grain and coding take: by so much 3 x 3 px differ at most where nothing is drawn, and so
far a white or black ground lies off the end of the scale."""
_TRIES = 3
LEAST_OBJECT = 0.02  # of the picture; the house's choice: with less it is a picture of its ground


@dataclass(frozen=True)
class Lightness:
    """L* of the small copy at percentiles 5, 25, 50, 75, 95, and the shares clipped (0..1).

    The paper behind transparent parts is no part of the picture. A plain ground, see `GROUND`, is,
    but nothing is lost in it: what of it reaches the edge does not count as clipped.
    """

    p5: float
    p25: float
    median: float
    p75: float
    p95: float
    white: float
    black: float


@dataclass(frozen=True)
class Before:
    """Tones of what stands before a plain ground.

    median: L* between the print's black and its paper; spread: printed L*, 5th to 95th percentile.
    """

    median: float
    spread: float


@measurement(anywhere=True)
def lab(picture: Picture) -> NDArray[np.float32]:
    """Return the small copy as CIELAB (D50), (height, width, 3), relative to its own white.

    Read through `profile_for_pixels`. Raises Unmeasured.
    """
    return to_lab(small_copy(picture), picture.header.mode, profile_for_pixels(picture))


@measurement(anywhere=True)
def lightness(picture: Picture) -> Lightness:
    """Return how L* is spread over the small copy. Raises Unmeasured."""
    values = _drawn(picture)
    p5, p25, median, p75, p95 = percentiles(values, [5, 25, 50, 75, 95]).tolist()
    return Lightness(
        p5,
        p25,
        median,
        p75,
        p95,
        white=_clipped(picture, values >= LIGHTEST, values >= LIGHTEST - PLAIN),
        black=_clipped(picture, values <= DARKEST, values <= DARKEST + PLAIN),
    )


def _clipped(picture: Picture, clipped: NDArray[np.bool_], nearly: NDArray[np.bool_]) -> float:
    """Return the share that is clipped, without a plain ground.

    clipped, nearly: as `_drawn` has them; nearly is what lies within `PLAIN` of it, too.
    """
    drawn, share = is_drawn(picture), float(clipped.mean())
    if not share or clipped.size != drawn.sum():
        return share
    where, pale = np.zeros((2, *drawn.shape), bool)
    where[drawn], pale[drawn] = clipped, nearly
    return float((where & ~_from_the_edge(pale)).sum() / clipped.size)


def _from_the_edge(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return what of a mask hangs together with the edge; nothing where it fills too little of it.

    Too little is less than `GROUND`.
    """
    if _rim(mask).mean() < GROUND:
        return np.zeros_like(mask)
    # bordered by one more row and column of ground, all that reaches the edge is one area
    areas = pyvips.Image.new_from_array(np.pad(mask, 1, constant_values=True).astype(np.uint8))
    numbers = np.asarray(areas.labelregions().numpy())
    return np.asarray((numbers == numbers[0, 0])[1:-1, 1:-1] & mask)


@measurement(anywhere=True)
def ground(picture: Picture) -> NDArray[np.bool_]:
    """Return where the small copy shows a plain ground: of any tone, but with nothing drawn on it.

    (height, width). What is `PLAIN`, in one piece, along `GROUND` of the outline: the paper of
    a cut-out, a studio's backdrop, a clear sky all round. Raises Unmeasured.
    """
    values, drawn = seen_lightness(picture), is_drawn(picture)
    # most pictures have none, and their outline tells so in a moment
    ends = (values[:2], 0), (values[-2:], -1), (values.T[:2], 0), (values.T[-2:], -1)
    outline = np.concatenate([_spread(lines)[at] for lines, at in ends])
    if ((outline <= PLAIN) & _rim(drawn)).mean() < GROUND:
        return np.zeros_like(drawn)
    return _most_of_the_rim((_spread(values) <= PLAIN) & drawn)


def _most_of_the_rim(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the piece of a mask that fills `GROUND` of its outline; nothing where none does."""
    left = mask.astype(np.uint8)
    at = _rim(np.arange(mask.size).reshape(mask.shape))
    # most of the outline is in it, so that it is soon hit; all pieces at once take longer
    for _ in range(_TRIES):
        there = at[left.ravel()[at] == 1]
        if len(there) < GROUND * len(at):
            return np.zeros_like(mask)
        row, column = divmod(int(there[len(there) // 2]), mask.shape[1])
        image = pyvips.Image.new_from_array(left)
        piece = image.draw_flood(2, column, row, equal=True).numpy() == 2
        if np.count_nonzero(_rim(piece)) >= GROUND * len(at):
            return np.asarray(piece)
        left *= ~piece
    numbers = np.where(left == 1, pyvips.Image.new_from_array(left).labelregions().numpy(), -1)
    counts = np.bincount(_rim(numbers) + 1, minlength=2)[1:]
    if counts.max() < GROUND * len(at):
        return np.zeros_like(mask)
    return np.asarray(numbers == counts.argmax())


def _rim(values: NDArray[Any]) -> NDArray[Any]:
    return np.concatenate([values[0], values[-1], values[:, 0], values[:, -1]])


def _spread(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return by how much the 3 x 3 px around each differ at most."""
    around = np.pad(values, 1, "edge")
    most, least = (_of_nine(around, pick) for pick in (np.maximum, np.minimum))
    return most - least


def _of_nine(around: NDArray[np.float32], pick: Any) -> NDArray[np.float32]:
    column = pick(pick(around[:-2], around[1:-1]), around[2:])
    return np.asarray(pick(pick(column[:, :-2], column[:, 1:-1]), column[:, 2:]))


@measurement(anywhere=True)
def before_ground(picture: Picture) -> Before | None:
    """Return the tones of what stands before a plain ground. Raises Unmeasured.

    None where there is no such ground, or less than `LEAST_OBJECT` of the picture before it.
    """
    behind = ground(picture)
    before = is_drawn(picture) & ~behind
    if not behind.any() or before.mean() < LEAST_OBJECT:
        return None
    p5, median, p95 = percentiles(seen_lightness(picture)[before], [5, 50, 95]).tolist()
    return Before(median, printed(p95, *picture.span) - printed(p5, *picture.span))


@measurement(anywhere=True)
def own_lightness(picture: Picture) -> NDArray[np.float32]:
    """Return the small copy's L* relative to its own white. Raises Unmeasured.

    A profile of colorants and tone curves is applied exactly, any other as `lab` has it.
    """
    values, mode, profile = small_copy(picture), picture.header.mode, profile_for_pixels(picture)
    if values.dtype in (np.uint8, np.uint16) and not is_ink(picture):
        table = luminance_table(mode, profile, values.dtype)
        if table is not None:
            return _tabled(values, table)
    return to_lightness(values, mode, profile)


_ROWS = 64  # at a time: what is made of them stays in the processor's cache
_STEPS = 1 << 16


def _tabled(values: NDArray[Any], table: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the L* (height, width) of values whose channels add luminance by a table each."""
    done = np.empty(values.shape[:2], np.float32)
    for top in range(0, len(values), _ROWS):
        rows = values[top : top + _ROWS]
        light = table[0].take(rows[..., 0])
        for band in range(1, len(table)):
            light += table[band].take(rows[..., band])
        # no less than 0, as channels of a space wider than all light may add; L* is steep over dark
        # luminance, and far less so over its root
        np.sqrt(np.maximum(light, 0, out=light), out=light)
        light *= np.float32(_STEPS - 1)
        light += np.float32(0.5)
        _levels().take(light.astype(np.intp), mode="clip", out=done[top : top + _ROWS])
    return done


@cache
def _levels() -> NDArray[np.float32]:
    """Return the L* of the roots of luminance 0..1, (65536,)."""
    return star(np.linspace(0, 1, _STEPS) ** 2).astype(np.float32)


@measurement(anywhere=True)
def seen_lightness(picture: Picture) -> NDArray[np.float32]:
    """Return the small copy's L* as an eye takes it that has grown used to the page.

    RGB and gray have it as they are; of ink, black point compensation (ISO 18619) lays the darkest
    at 0. Raises Unmeasured.
    """
    own = own_lightness(picture)
    if not is_ink(picture):
        return own
    table, done = _laid(picture.header.mode, profile_for_pixels(picture)), np.empty_like(own)
    for top in range(0, len(own), _ROWS):
        codes = own[top : top + _ROWS] * np.float32((_STEPS - 1) / 100)
        codes += np.float32(0.5)
        table.take(codes.astype(np.intp), mode="clip", out=done[top : top + _ROWS])
    return done


@lru_cache(maxsize=8)
def _laid(mode: str, profile: bytes | str) -> NDArray[np.float32]:
    """Return the L* that steps of L* 0..100 become where the darkest is laid at 0, (65536,)."""
    black = _black(mode, profile)
    light = luminance(np.linspace(0, 100, _STEPS))
    return star((light - black) / (1 - black)).astype(np.float32)


def _black(mode: str, profile: bytes | str) -> float:
    """Return the luminance that black point compensation takes for the profile's darkest.

    Found where LittleCMS shifts the tints of its black, or of its gray: it does not tell the point
    itself. Raises Unmeasured.
    """
    tints = np.arange(256, dtype=np.uint8)[None, :, None]
    if mode == "CMYK":
        tints = tints * np.array([0, 0, 0, 1], np.uint8)
    elif mode == "RGB":
        tints = np.repeat(tints, 3, axis=2)
    own, laid = (
        luminance(to_lightness(tints, mode, profile, black_point=shifted).astype(np.float64))
        for shifted in (False, True)
    )
    # the darker, the more it shifts; what lies under the black is laid at 0 as well
    dark = (laid > 0.002) & (laid < 0.25)
    if not dark.any():
        return 0.0
    return float(median((own - laid)[dark] / (1 - laid[dark])))


def _drawn(picture: Picture) -> NDArray[np.float32]:
    """Return L* of the small copy where it is picture: not of the paper behind transparent parts.

    On a prepared copy that paper is pixels as any other, the lightest; its ticket tells how many.
    """
    values, made = own_lightness(picture), ticket(picture)
    if made and made.bare:
        values = np.sort(values, axis=None)
        bare = min(float(made.bare), float((values >= LIGHTEST).mean()))
        values = values[: round(values.size * (1 - bare))]
    else:
        drawn = is_drawn(picture)
        values = values.ravel() if drawn.all() else values[drawn]
    if not values.size:
        raise Unmeasured("all of it is transparent")
    return values


@measurement(anywhere=True)
def printed_lightness(picture: Picture) -> Lightness:
    """Return how L* will be spread on the output's paper. Raises Unmeasured.

    RGB and gray are laid between the condition's black and its paper; what has an output profile
    is ink already, as CMYK always is, and only the paper's own tone is added to it.
    """
    darkest, paper = picture.span
    black = 0.0 if is_ink(picture) else darkest
    seen = lightness(picture)

    def laid(value: float) -> float:
        return printed(value, black, paper)

    return replace(
        seen,
        p5=laid(seen.p5),
        p25=laid(seen.p25),
        median=laid(seen.median),
        p75=laid(seen.p75),
        p95=laid(seen.p95),
    )


def printed_spread(picture: Picture) -> float:
    """Return the printed L* from the 5th to the 95th percentile; before a plain ground if wider.

    Raises Unmeasured.
    """
    paper, before = printed_lightness(picture), before_ground(picture)
    return max(paper.p95 - paper.p5, before.spread if before else 0.0)


def is_ink(picture: Picture) -> bool:
    """Tell whether the pixels are ink already: CMYK, or what has an output profile.

    Raises Unmeasured where that is damaged.
    """
    if picture.header.mode == "CMYK":
        return True
    try:
        profile = None if assumed_space(picture) else embedded_profile(picture)
    except DamagedProfile as error:
        raise Unmeasured(f"its ICC profile is damaged: {error}") from None
    return profile is not None and profile.kind == "output"
