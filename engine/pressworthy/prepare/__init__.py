"""Makes prepared copies: one master, one house, one placement, one file.

The steps, in their fixed order: orient, crop, resample in linear light, bleed, tone, colour or
gray, sharpen at the final size, encode with ICC profile, resolution, words and ticket.
"""

from pressworthy.prepare.making import Made, make, make_seen, tried
from pressworthy.prepare.order import Order, Refused, planned
from pressworthy.prepare.render import Rendered, Stage, render

__all__ = [
    "Made",
    "Order",
    "Refused",
    "Rendered",
    "Stage",
    "make",
    "make_seen",
    "planned",
    "render",
    "tried",
]
