"""Colours the press cannot print on this paper.

A saturated red or blue of the screen lies outside what ink on this paper reaches; the press prints
its nearest, duller neighbour. Each colour as meant is compared with what its inks print by the
condition's ICC profile, both as seen on the paper: meant is white on the bare paper, black in the
condition's own black, and all between in proportion (black point compensated). It counts when the
two differ by more than the house's dE00. That a press's black is lighter than a screen's counts
nothing. What remains small is no matter; what moves far, over an area, changes the picture.

Put it right: look at the soft proof; calm those colours on a copy, choose better paper, or accept.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.place import where
from pressworthy.measure.press import colour_shift, prints_as_it_stands
from pressworthy.measure.ranks import percentiles
from pressworthy.measure.ticket import mend
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Marks, Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "visible": quantity("dE00", "a colour that moves by less counts as printed", least=0),
    "area": quantity("%", "largest share of the picture that may move visibly", least=0, most=100),
    "furthest": quantity("dE00", "largest 95th percentile of the shift", least=0),
}
CODES = {
    "out-of-gamut": "a large part of the picture changes colour in print",
    "far-out-of-gamut": "some colours change strongly in print",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if prints_as_it_stands(picture):
        # foreign-condition judges what that does
        return
    shift = colour_shift(picture)
    moved = shift > options["visible"]
    share = float(moved.mean() * 100)
    p95 = float(percentiles(shift.ravel(), [95])[0])
    if share <= options["area"] and p95 <= options["furthest"]:
        return
    told = (
        f"{share:.0f} % moves visibly, by more than {options['visible']:g} dE00, "
        f"mostly {where(moved)}; "
        f"the 95th percentile is {p95:.1f} dE00. Look at the soft proof, and "
    )
    told += mend("calm those colours", picture)
    if share > options["area"]:
        remedy = f"{told}, or {accept('gamut/out-of-gamut')}."
        yield Finding("out-of-gamut", share, options["area"], "%", remedy, bound=Bound.MOST)
    if p95 > options["furthest"]:
        most = options["furthest"]
        remedy = f"{told}, or {accept('gamut/far-out-of-gamut')}."
        yield Finding("far-out-of-gamut", p95, most, "dE00", remedy, bound=Bound.MOST)


def marks(picture: Picture, options: Options) -> Marks | None:
    if prints_as_it_stands(picture):
        return None
    moved = colour_shift(picture) > options["visible"]
    sentence = (
        f"of the picture is beyond the output's colours, by more than {options['visible']:g} dE00"
    )
    return Marks(moved, float(moved.mean()), sentence)


rule = Rule("gamut", check, OPTIONS, CODES, __doc__ or "", version="2", marks=marks)
