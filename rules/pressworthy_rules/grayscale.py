"""What one black ink leaves of a picture's colours.

Red cloth on green cloth can be one and the same gray: what is to be told apart merges. Measured is
the share of the contrast between neighbouring colours that the house's conversion keeps (CCPR of
Lu, Xu and Jia, ICCP 2012), and the two areas of plainly different colour that merge in printed gray
along a border. Rims, lines and specks are no areas, and in the dark only what a print shows counts.

Judged is the mix the copy will be made with: the picture list's `gray mix`, or else the house's
under prepare; where that says `picture`, the mildest that clears the finding.

Put it right: mix the gray from other shares of red, green and blue. The remedy names the mix
nearest to plain lightness in which nothing merges, contrast is kept and flat places stay free of
grain, or says that there is none.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.gray_mix import (
    as_written,
    contrast_in,
    limits_of,
    merging,
    mildest_mix,
    mix_for,
    parted_by_light,
)
from pressworthy.measure.ticket import mend
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "least contrast": quantity("%", "least share of colour contrast kept", least=0, most=100),
    "closest": quantity("L*", "areas nearer than this in printed gray merge", least=0),
    "grain": quantity("L*", "by how much a mix may raise the noise of flat places", least=0),
}
CODES = {
    "merging-areas": "two areas of different colour become the same gray",
    "weak-separation": "little of the colour contrast survives",
}

UNPARTED = (
    "No mix parts all that merges here, nor does one lighter area: look at it in the proof, and "
    "print another picture where they must be told apart."
)
UNKEPT = (
    "No mix keeps so much without merging areas or grain: look at it in the proof, and print "
    "another picture where its colours tell what matters."
)


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode == "gray":
        return
    mix = mix_for(picture, limits := limits_of(options))
    pair, kept = merging(picture, mix, limits.closest), contrast_in(picture, mix)
    if not pair and kept >= limits.least:
        return
    better = mildest_mix(picture, limits)
    advice = f"Write {as_written(better or mix)} in the list's column gray mix"
    if pair:
        remedy = UNPARTED
        if better:
            remedy = f"{advice}: then no such areas merge."
        elif lighter := parted_by_light(picture, mix, pair, limits.closest):
            way = mend(f"Lighten the {lighter.area} by {lighter.by} L*", picture)
            remedy = f"No mix parts all that merges. {way}, or {accept('grayscale/merging-areas')}."
        told, closest = f"{pair.in_words()} {remedy}", limits.closest
        yield Finding("merging-areas", pair.difference, closest, "L*", told, bound=Bound.LEAST)
    if kept < limits.least:
        possible = contrast_in(picture, better) if better else 0
        remedy = f"{advice}: it keeps {possible:.0f} %." if possible >= limits.least else UNKEPT
        yield Finding("weak-separation", kept, limits.least, "%", remedy, bound=Bound.LEAST)


rule = Rule("grayscale", check, OPTIONS, CODES, __doc__ or "", version="4")
