"""Pixels at the placed size: neither too few nor needlessly many, and the same on both axes.

Too few pixels print soft or jagged; far more than the output needs are thrown away by the
ripping software, unsharpened, and slow every step before it. Pixels are compared with
round(mm x ppi / 25.4) for the box, so that a correct picture never fails by a rounding; where the
picture reaches into the bleed, box and bleed together count. A picture whose two axes come to
different ppi is stretched out of shape.

Put it right: supply more pixels or place it smaller; prepare a copy at the output's ppi; crop it
to the shape of its box.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.resolution import fit
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import figure, quantity

OPTIONS = {
    "below": quantity("%", "how far under the output's ppi a picture may fall", least=0, most=90),
    "above": quantity("%", "how far over the output's ppi before it is reported", least=0),
    "distortion": quantity("%", "largest difference between the two axes", least=0),
}
CODES = {
    "too-few-pixels": "fewer pixels than the output needs at this size",
    "too-many-pixels": "more pixels than the output can use at this size",
    "distorted": "stretched: width and height come to different ppi",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    placed, wanted = fit(picture), picture.output.ppi
    lowest = min(placed.ppi())
    if placed.falls_short_of(wanted * (1 - options["below"] / 100)):
        across, down = placed.largest_box(wanted)
        remedy = (
            f"Supply at least {placed.needed(wanted)}, or place it no larger than "
            f"{figure(across)} x {figure(down)} mm."
        )
        yield Finding("too-few-pixels", lowest, wanted, "ppi", remedy, bound=Bound.LEAST)
    most = wanted * (1 + options["above"] / 100)
    if placed.exceeds(most):
        remedy = f"Prepare a copy at {figure(wanted)} ppi: {placed.needed(wanted)}."
        yield Finding("too-many-pixels", lowest, most, "ppi", remedy, bound=Bound.MOST)
    (across, down), stretch = placed.stretch()
    if stretch - placed.rounding() > options["distortion"]:
        remedy = (
            f"{figure(across)} ppi across, {figure(down)} ppi down: crop the picture to the "
            "shape of its box (--focus X,Y) instead of stretching it."
        )
        yield Finding("distorted", stretch, options["distortion"], "%", remedy, bound=Bound.MOST)


rule = Rule("resolution", check, OPTIONS, CODES, __doc__ or "")
