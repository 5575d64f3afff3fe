"""Lightness as the paper will show it: dark, light, clipped or dull pictures.

The eye takes the paper for white and the print's black for black. So the median is judged by its
CIE L* between the two, 0 to 100; the house profile says under output, as `median`, where it is to
lie. What a paper takes from mid-tones `prepare` gives back: where that is all a picture wants there
is only a note. The spread (5th to 95th percentile) is judged as printed L*: no curve mends a small
one. Clipped means L* at the very end of the scale over whole areas: sparkles are none, nor is a
plain ground along three fifths of the outline; if it is light or narrows the spread, what stands on
it is judged. Copies outside that hold lights and darks are noted, as are light masters with darks.

Put it right: ask for a better exposure; or, if it is meant so, waive the finding, which keeps the
tones as supplied, or set them by the column `tone` of the picture list.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.lightness import lightness, printed_spread
from pressworthy.measure.ticket import again, mend
from pressworthy.measure.tones import lift_inside, mid_tone, supplied_span
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "least spread": quantity("L*", "least 5th to 95th percentile, printed L*", least=0, most=100),
    "blown": quantity("%", "largest share of the picture at full white", least=0, most=100),
    "blocked": quantity("%", "largest share of the picture at full black", least=0, most=100),
}
CODES = {
    "too-dark": "the middle tones will print too dark",
    "too-light": "the middle tones will print too light",
    "mended-on-copy": "outside as supplied; its prepared copy is brought inside",
    "dark-as-meant": "a copy is dark, yet holds lights: taken for meant so",
    "light-as-meant": "light, yet it holds darks: taken for meant so",
    "dull": "little lies between light and dark once it is printed",
    "blown-highlights": "whole areas are pure white, without drawing",
    "blocked-shadows": "whole areas are pure black, without drawing",
}
CLIPPED = "Ask for the unclipped original or another frame; nothing brings lost tones back."
INSIDE = 0.5  # L* that a copy's median must come inside: 8-bit inks and sharpening move it a bit


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.is_line_art:
        return
    yield from _median(picture)
    if (spread := printed_spread(picture)) < options["least spread"]:
        remedy = f"{supplied_span(picture)}; this paper leaves {spread:.0f}. "
        remedy += f"{mend('Raise its contrast', picture)}, or {accept('luminance/dull')}."
        yield Finding("dull", spread, options["least spread"], "L*", remedy, bound=Bound.LEAST)
    screen = lightness(picture)
    ends = ("blown-highlights", screen.white, "blown"), ("blocked-shadows", screen.black, "blocked")
    for code, share, most in ends:
        if share * 100 > options[most]:
            yield Finding(code, share * 100, options[most], "%", CLIPPED, bound=Bound.MOST)


def _median(picture: Picture) -> Iterator[Finding]:
    (low, high), seen = picture.output.median, mid_tone(picture)
    if seen.inside(low, high):
        return
    dark = seen.median < low
    shade, other, limit = ("dark", "lighter", low) if dark else ("light", "darker", high)
    code = f"{shade}-as-meant" if seen.meant else f"too-{shade}"
    remedy = f"Ask for a {other} picture, or {accept(f'luminance/{code}')}."
    if lift := lift_inside(picture, low + INSIDE, high - INSIDE):
        anew = f" and {anew}" if (anew := again(picture)) else ""
        remedy = f"Write {lift:+d} in the list's column tone{anew}. Or a{remedy[1:]}"
    if seen.on_copy is not None and low + INSIDE <= seen.on_copy <= high - INSIDE:
        code, copy = "mended-on-copy", f"L* {seen.on_copy:.0f} between black and paper"
        remedy = f"Nothing to do: prepare brings it to {copy}."
    bound = Bound.LEAST if dark else Bound.MOST
    yield Finding(code, seen.median, limit, "L*", f"{seen.told}. {remedy}", bound=bound)


rule = Rule("luminance", check, OPTIONS, CODES, __doc__ or "", version="6", mended=tuple(CODES)[:2])
