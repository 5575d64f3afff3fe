"""Lightness as the paper will show it: dark, light, clipped or dull pictures.

Ink on paper spans less than a screen: the paper is no lamp and black ink is no darkness. The
picture's CIE L* is laid between this condition's black and its paper, and its median and its
spread (5th to 95th percentile) are judged as printed L*. Between which two the median is to lie
stands in the house profile under output, as `median`: `prepare` brings it there. Clipped means L*
at the very end of the scale over whole areas: sparkles on water are no blown highlights.

Put it right: lift the mid-tones on a copy (prepare does), ask for a better exposure, or tell the
editor that the picture is meant to be dark.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.lightness import lightness, printed_lightness
from pressworthy.measure.ticket import mend
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
    "dull": "little lies between light and dark once it is printed",
    "blown-highlights": "whole areas are pure white, without drawing",
    "blocked-shadows": "whole areas are pure black, without drawing",
}
CLIPPED = "Ask for the unclipped original or another frame; nothing brings lost tones back."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    screen, paper = lightness(picture), printed_lightness(picture)
    low, high = picture.output.median
    seen = f"Its median prints at that L*; on screen it is L* {screen.median:.0f}. "
    if paper.median < low:
        remedy = f"{seen}{mend('Lift the mid-tones', picture)}, or {accept('luminance/too-dark')}."
        yield Finding("too-dark", paper.median, low, "L*", remedy, bound=Bound.LEAST)
    if paper.median > high:
        lower = mend("Bring the mid-tones down", picture)
        remedy = f"{seen}{lower}, or {accept('luminance/too-light')}."
        yield Finding("too-light", paper.median, high, "L*", remedy, bound=Bound.MOST)
    spread = paper.p95 - paper.p5
    if spread < options["least spread"]:
        remedy = (
            f"On screen it spans L* {screen.p95 - screen.p5:.0f}; this paper leaves {spread:.0f}. "
            f"{mend('Raise its contrast', picture)}, or {accept('luminance/dull')}."
        )
        yield Finding("dull", spread, options["least spread"], "L*", remedy, bound=Bound.LEAST)
    for code, share, most in (
        ("blown-highlights", screen.white * 100, options["blown"]),
        ("blocked-shadows", screen.black * 100, options["blocked"]),
    ):
        if share > most:
            yield Finding(code, share, most, "%", CLIPPED, bound=Bound.MOST)


rule = Rule("luminance", check, OPTIONS, CODES, __doc__ or "", version="2")
