"""Lightness as the paper will show it: dark, light, clipped or dull pictures.

Ink on paper spans less than a screen: the paper is no lamp and black ink is no darkness. The
picture's CIE L* is laid between this condition's black and its paper, and its median and its
spread (5th to 95th percentile) are judged as printed L*. Clipped means L* at the very end of the
scale over whole areas: sparkles on water are no blown highlights.

Put it right: lift the mid-tones on a copy (prepare does), ask for a better exposure, or tell the
editor that the picture is meant to be dark.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.lightness import lightness, printed_lightness
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "darkest median": quantity("L*", "lowest median of printed L*", least=0, most=100),
    "lightest median": quantity("L*", "highest median of printed L*", least=0, most=100),
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


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    seen, print_ = lightness(picture), printed_lightness(picture)
    low, high = options["darkest median"], options["lightest median"]
    if print_.median < low:
        yield Finding(
            "too-dark",
            print_.median,
            low,
            "L*",
            f"Its median prints at that L*; on screen it is L* {seen.median:.0f}. "
            "Lift the mid-tones on a copy, or "
            "confirm that it is meant to be dark.",
        )
    if print_.median > high:
        yield Finding(
            "too-light",
            print_.median,
            high,
            "L*",
            f"Its median prints at that L*; on screen it is L* {seen.median:.0f}. "
            "Bring the mid-tones down on a copy, "
            "or confirm that it is meant to be light.",
        )
    spread = print_.p95 - print_.p5
    if spread < options["least spread"]:
        yield Finding(
            "dull",
            spread,
            options["least spread"],
            "L*",
            f"On screen it spans L* {seen.p95 - seen.p5:.0f}; this paper leaves {spread:.0f}. "
            "Raise its contrast on a copy, or print it on better paper.",
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


rule = Rule("luminance", check, OPTIONS, CODES, __doc__ or "")
