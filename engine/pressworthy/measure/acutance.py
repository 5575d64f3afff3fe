"""Acutance: how much of a prepared copy's contrast its print will carry to the reader."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lightness import lightness, luminance
from pressworthy.measure.pixels import busy_places, survey
from pressworthy.measure.ticket import ticket
from pressworthy.print.optics import filtered, frequencies
from pressworthy.print.printlook import (
    Floats,
    Press,
    flat_luminance,
    press_of,
    printed_luminance,
    tones_of,
)
from pressworthy.print.transfer import Transfer, transfer
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.units import MM_PER_INCH

MOST_DOUBT = 0.03
"""Standard error of an acutance that still tells soft from harsh: the window that house.yaml sets
is five times as wide below 100 %, and seven times above."""

MOST_TILES = 2
"""Within 0.03 of the acutance of all of a picture's tiles, in a third of the time (measured on the
demo's masters, prepared for 150 x 105 mm on coated paper)."""

FINE = 2
"""Samples to a pixel: within 0.01 of the acutance that every dot of the device gives."""


@measurement
def print_transfer(picture: Picture) -> Transfer:
    """Return the contrast transfer from the copy before its sharpening to its print.

    Measured on the busiest tiles, at the size where the copy is placed. The copy before sharpening
    is the copy with the unsharp mask that its ticket states taken back, on the same paper without
    dots or spread; so 1 means that sharpening gave back just what screen and paper take. The mask
    is taken back in full, as texture got it: strong edges, which the halo limit held, got less.
    Raises Unmeasured for a picture without a ticket, and where the condition cannot be simulated.
    """
    made, output = ticket(picture), picture.output
    if made is None:
        raise Unmeasured("it has no ticket: how it was sharpened is not known")
    if output.medium != "print":
        raise Unmeasured("a screen has no ink")
    press = press_of(output.condition)
    tiles, ppi = survey(picture).tiles, placed_ppi(picture, float(made.ppi))
    busiest = [tiles[place] for place in busy_places(picture, MOST_TILES)]
    pairs = (
        (_unsharpened(flat, float(made.radius), float(made.amount)), printed)
        for flat, printed in printed_tiles(busiest, picture.header.mode, ppi, press)
    )
    return transfer(pairs, ppi, output.viewing_distance)


def placed_ppi(copy: Picture, made: float) -> float:
    """Return the ppi of a copy where it is placed, what it was `made` for where it is nowhere."""
    if copy.placement is None:
        return made
    return survey(copy).width / copy.placement.covered()[0] * MM_PER_INCH


def printed_tiles(
    tiles: Iterable[NDArray[Any]], mode: str, ppi: float, press: Press
) -> Iterator[tuple[Floats, Floats]]:
    """Yield the luminance of a copy's tiles: without dots or spread, and as printed.

    tiles: (height, width, channels) of the copy's own values, of `mode`.
    """
    for tile in tiles:
        tones = tones_of(tile, mode)
        yield flat_luminance(tones, press), printed_luminance(tones, ppi, press, fine=FINE)


def _unsharpened(shown: Floats, radius: float, amount: float) -> Floats:
    """Return luminance as it was before an unsharp mask on its lightness.

    Opposite borders meet: a transfer's window lets nothing of them through.
    """
    level = lightness(shown.astype(np.float64)).astype(np.float32)
    plain = filtered(level, _back(*level.shape, radius, amount))
    return luminance(np.maximum(plain, 0).astype(np.float64)).astype(np.float32)


@lru_cache(maxsize=4)
def _back(height: int, width: int, radius: float, amount: float) -> NDArray[np.float32]:
    """Return what takes an unsharp mask back, by the coefficients of rfft2."""
    f = frequencies(height, width, 1.0)
    mask = 1 + amount * (1 - np.exp(-2 * np.pi**2 * radius**2 * f**2))
    return np.asarray(1 / mask, np.float32)
