"""The copy of line art in 1 bit: its own pixels, cut to its box, and not one of them resampled.

Resampling would make shades of its edges, and the press a screen of the shades. It has no tones to
lift and no detail to sharpen, and prints in solid ink. How many pixels an inch it may have is for
the rule line-art to judge, on the copy as on the master.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pressworthy.files.metadata.ticket import Ticket
from pressworthy.prepare import geometry
from pressworthy.prepare.render import upright_of
from pressworthy.values.picture import Picture
from pressworthy.values.units import figure


def drawn(master: Picture, plan: geometry.Plan) -> tuple[Any, tuple[str, ...]]:
    """Return the copy's pixels, one band of 0 and 255, and what was done to them, in words.

    Raises Unmeasured where the master is damaged.
    """
    steps: list[str] = []
    image, _ = upright_of(master, steps)
    cut = plan.cut
    if (cut.width, cut.height) != (image.width, image.height):
        steps.append(f"cropped to {cut.width} x {cut.height} px")
    steps.append(f"kept {cut.width} x {cut.height} px at {figure(plan.ppi, 'ppi')}, in 1 bit")
    return geometry.cut(image, cut), tuple(steps)


def unrendered(ticket: Ticket) -> Ticket:
    """Return the ticket of a copy whose tones stayed as they were and that is not sharpened."""
    return replace(ticket, radius="0", amount="0", bend="1")
