"""The contrast that reaches the reader, with the copy's sharpening and without it."""

from __future__ import annotations

from pressworthy.colour.computed import values_of
from pressworthy.measure.acutance import MOST_TILES, placed_ppi, print_transfer, printed_tiles
from pressworthy.measure.pixels import busy_places, survey
from pressworthy.prepare import Stage
from pressworthy.print.printlook import press_of
from pressworthy.print.transfer import Transfer, transfer
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture

_PLAIN_TILES = 1  # a curve to compare with: the busiest tile shows it in half the time


def transfers(copy: Picture, before: Stage, ppi: float) -> tuple[Transfer | None, Transfer | None]:
    """Return the transfer of a copy as sharpened and of `before`, at places the rule looks at.

    before: the copy without sharpening; ppi: that both were made for.
    """
    try:
        sharp = print_transfer(copy)
        press = press_of(copy.output.condition)
    except (Unmeasured, OSError):
        return None, None
    places = busy_places(copy, MOST_TILES)[:_PLAIN_TILES]
    sizes = {place: survey(copy).tiles[place].shape for place in places}
    tiles = (values_of(before.part(*place, sizes[place][1], sizes[place][0])) for place in places)
    ppi = placed_ppi(copy, ppi)
    pairs = printed_tiles(tiles, copy.output.mode, ppi, press)
    return sharp, transfer(pairs, ppi, copy.output.viewing_distance)
