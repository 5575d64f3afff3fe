"""Lightness as the paper will show it: dark, light, clipped or dull pictures.

The eye grows used to the page: it takes the paper for white and the print's black for black. So the
median is judged by its CIE L* between the two, 0 to 100, the same on every paper; what a poor paper
takes from mid-tones `prepare` gives back, and where that is all a picture wants there is only a
note. The spread (5th to 95th percentile) is judged as printed L*: a small one no curve can mend.
Clipped means L* at the very end of the scale over whole areas: sparkles on water are no blown
highlights.

A picture can be meant to be dark, or light. A master outside the window is queried in any case. Its
prepared copy gets a note only where it holds both lights and darks, as a face by candlelight or a
black cat in snow does, and is queried again where it is dark or light all over.

Put it right: ask for a better exposure; or, if it is meant so, waive the finding, which keeps the
tones as supplied, or set them by the column `tone` of the picture list.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.colour.tone import Tones, chosen_curve, holds_both
from pressworthy.measure.lightness import is_ink, lightness, printed_lightness, tones
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.placement import HOUSE_TONE, lift_of
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "darkest median": quantity("L*", "lowest median between paper and black", least=0, most=100),
    "lightest median": quantity("L*", "highest median between paper and black", least=0, most=100),
    "least spread": quantity("L*", "least 5th to 95th percentile, printed L*", least=0, most=100),
    "blown": quantity("%", "largest share of the picture at full white", least=0, most=100),
    "blocked": quantity("%", "largest share of the picture at full black", least=0, most=100),
}
CODES = {
    "too-dark": "the middle tones will print too dark",
    "too-light": "the middle tones will print too light",
    "mended-on-copy": "outside as supplied; its prepared copy is brought inside",
    "dark-as-meant": "a copy is dark, yet holds lights: taken for meant so",
    "light-as-meant": "a copy is light, yet holds darks: taken for meant so",
    "dull": "little lies between light and dark once it is printed",
    "blown-highlights": "whole areas are pure white, without drawing",
    "blocked-shadows": "whole areas are pure black, without drawing",
}
INSIDE = 0.5
"""How far, L*, a copy's median must come inside: 8-bit inks and sharpening move it a bit."""


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    seen, print_ = lightness(picture), printed_lightness(picture)
    yield from _median(picture, options["darkest median"], options["lightest median"])
    spread = print_.p95 - print_.p5
    if spread < options["least spread"]:
        master = _of_master(picture)
        whose = "Its master" if ticket(picture) else "On screen it"
        told = f"{whose} spans L* {master.light - master.dark:.0f}; " if master else ""
        yield Finding(
            "dull",
            spread,
            options["least spread"],
            "L*",
            f"{told}this paper leaves {spread:.0f}. ".capitalize()
            + "Raise its contrast on a copy, or print it on better paper.",
        )
    for code, share, limit in (
        ("blown-highlights", seen.white * 100, options["blown"]),
        ("blocked-shadows", seen.black * 100, options["blocked"]),
    ):
        if share > limit:
            yield Finding(
                code,
                share,
                limit,
                "%",
                "Ask for the unclipped original or another frame; nothing brings lost tones back.",
            )


def _median(picture: Picture, low: float, high: float) -> Iterator[Finding]:
    median = tones(picture).median
    if low <= median <= high:
        return
    dark = median < low
    code, limit = ("too-dark", low) if dark else ("too-light", high)
    shade = "dark" if dark else "light"
    told = f"Its median prints at L* {printed_lightness(picture).median:.0f}"
    made, master = ticket(picture), _of_master(picture)
    if made and master:
        told += f"; its master is at L* {master.median:.0f}, {_done(float(made.lift))}"
        if made.tone == HOUSE_TONE and holds_both(master):
            code = f"{shade}-as-meant"
    elif not is_ink(picture) and low + INSIDE <= (moved := _on_copy(picture)) <= high - INSIDE:
        told = (
            f"{told}. Nothing to do: prepare brings it to L* {moved:.0f} between black and paper."
        )
        yield Finding("mended-on-copy", median, limit, "L*", told)
        return
    yield Finding(
        code,
        median,
        limit,
        "L*",
        f"{told}. Ask for a {'lighter' if dark else 'darker'} picture, give it a lift in the "
        f"list's column tone, or waive this if it is meant to be {shade}: it stays as supplied.",
    )


def _of_master(picture: Picture) -> Tones | None:
    """Return the tones of a copy's master by its ticket, None on tickets of old; else its own."""
    made = ticket(picture)
    return made.tones() if made else tones(picture)


def _done(lift: float) -> str:
    if abs(lift) < 0.05:
        return "left as supplied"
    return f"{'lifted' if lift > 0 else 'lowered'} by {abs(lift):.0f}"


def _on_copy(picture: Picture) -> float:
    """Return the L* between black and paper of the median of the copy that `prepare` makes."""
    seen, output = tones(picture), picture.output
    curve = chosen_curve(seen, lift_of(picture.tone), *output.span, output.steepest)
    return curve.moved(seen.median)


rule = Rule("luminance", check, OPTIONS, CODES, __doc__ or "", version="2")
