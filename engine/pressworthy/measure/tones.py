"""A picture's tones as an eye takes them that has grown used to the page, and those of its copy."""

from __future__ import annotations

from dataclasses import dataclass

from pressworthy.colour.tone import HIGH_KEY, Tones, chosen_curve, holds_both
from pressworthy.measure.lightness import (
    before_ground,
    is_ink,
    lightness,
    printed_lightness,
    seen_lightness,
)
from pressworthy.measure.ranks import percentiles
from pressworthy.measure.ticket import ticket
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.placement import HOUSE_TONE, MOST_LIFT, lift_of


@measurement(anywhere=True)
def tones(picture: Picture) -> Tones:
    """Return L* between the print's black and its paper, at percentiles 5, 50 and 95.

    As `seen_lightness` has them. Raises Unmeasured.
    """
    seen = lightness(picture)
    if not is_ink(picture):
        return Tones(seen.p5, seen.median, seen.p95)
    return Tones(*percentiles(seen_lightness(picture).ravel(), [5, 50, 95]).tolist())


@dataclass(frozen=True)
class MidTone:
    """A picture's median, L* between black and paper.

    told: what it prints at, in words, and of a copy what was done to it.
    on_copy: the median of the copy that `prepare` will make, None where that is not known.
    meant: whether it is a copy that the house's curve left so, since its master holds both darks
    and lights, or such a master that is light: a dark one prints darker still. before: the median
    of what stands before a plain ground, None without one.
    """

    median: float
    told: str
    on_copy: float | None = None
    meant: bool = False
    before: float | None = None

    def inside(self, low: float, high: float) -> bool:
        """Tell whether it lies between the two, or only a light plain ground takes it above them.

        A dark ground is left to a person: a night that wants light is as plain.
        """
        light = self.before is not None and self.median > high >= self.before
        return light or low <= self.median <= high


@measurement(anywhere=True)
def mid_tone(picture: Picture) -> MidTone:
    """Return the picture's median and what becomes of it. Raises Unmeasured."""
    seen, made, stands = tones(picture), ticket(picture), before_ground(picture)
    before = stands.median if stands else None
    told = f"Its median prints at L* {printed_lightness(picture).median:.0f}"
    if made is None:
        on_copy = None if is_ink(picture) else _on_copy(picture)
        light = seen.median > HIGH_KEY[0] and picture.tone in ("", HOUSE_TONE)
        return MidTone(seen.median, told, on_copy, light and holds_both(seen), before)
    if (master := made.tones()) is None:
        return MidTone(seen.median, told, before=before)
    told += f"; its master is at L* {master.median:.0f}, {_done(float(made.lift))}"
    return MidTone(
        seen.median, told, meant=made.tone == HOUSE_TONE and holds_both(master), before=before
    )


def lift_inside(picture: Picture, low: float, high: float) -> int | None:
    """Return the least lift, whole L*, that brings the median of its copy between `low` and `high`.

    None where no curve does that the house's steepest slope allows, or the master's tones are not
    known. Raises Unmeasured.
    """
    made, output = ticket(picture), picture.output
    if made is None and is_ink(picture):
        return None
    if (master := made.tones() if made else tones(picture)) is None:
        return None
    sign = 1 if master.median < high else -1
    lifts = (sign * size for size in range(1, round(MOST_LIFT) + 1))

    def reached(lift: int) -> float:
        return chosen_curve(master, lift, *picture.span, output.steepest).moved(master.median)

    return next((lift for lift in lifts if low <= reached(lift) <= high), None)


def supplied_span(picture: Picture) -> str:
    """Return in words what L* the picture spans as supplied, of a copy by its ticket.

    Raises Unmeasured.
    """
    made = ticket(picture)
    if (supplied := made.tones() if made else tones(picture)) is None:
        return "Its ticket does not tell what its master spans"
    whose = "Its master" if made else "On screen it"
    return f"{whose} spans L* {supplied.light - supplied.dark:.0f}"


def _on_copy(picture: Picture) -> float:
    seen, output = tones(picture), picture.output
    curve = chosen_curve(seen, lift_of(picture.tone), *picture.span, output.steepest)
    return curve.moved(seen.median)


def _done(lift: float) -> str:
    if abs(lift) < 0.05:
        return "left as supplied"
    verb = "lifted" if lift > 0 else "lowered"
    return f"{verb} by {abs(lift):.0f}" if abs(lift) >= 0.5 else f"hardly {verb}"
