"""What one black ink leaves of a picture's colours.

Red cloth on green cloth can be one and the same gray: what the reader should tell apart merges.
Measured is the share of the contrast between neighbouring colours that the house's conversion
keeps (CCPR of Lu, Xu and Jia, ICCP 2012), and the two neighbouring areas of plainly different
colour that come closest in printed gray.

Judged is the mix the copy will be made with: the house's `gray mix` under prepare, and where it
says `picture`, the mildest that clears the finding.

Put it right: mix the gray from other shares of red, green and blue. The remedy names the mix
nearest to plain lightness in which nothing merges, contrast is kept and flat places stay free of
grain, or says that there is none.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.gray_mix import (
    Mix,
    contrast_in,
    limits_of,
    merging,
    mildest_mix,
    mix_for,
    parted_by_light,
)
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "least contrast": quantity("%", "least share of colour contrast kept", least=0, most=100),
    "closest": quantity("L*", "areas nearer than this in printed gray merge", least=0),
    "grain": quantity("L*", "by how much a mix may raise the noise of flat places", least=0),
}
CODES = {
    "merging-areas": "two areas of different colour become the same gray",
    "weak-separation": "little of the colour contrast survives",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode == "gray":
        return
    limits = limits_of(options)
    mix = mix_for(picture, limits)
    pair, kept = merging(picture, mix, limits.closest), contrast_in(picture, mix)
    if not pair and kept >= limits.least:
        return
    better = mildest_mix(picture, limits)
    if pair:
        remedy = (
            f"{pair.first.name} ({pair.first.place}) and {pair.second.name} "
            f"({pair.second.place}) differ by {pair.colour:.0f} dE00 in colour. "
        )
        if better:
            remedy += f"{_advice(better)}: then no such areas merge."
        elif lightened := parted_by_light(picture, mix, pair, limits.closest):
            remedy += (
                f"No mix parts all that merges. Lighten the {lightened.area.name} "
                f"({lightened.area.place}) by {lightened.by} L* on a copy."
            )
        else:
            remedy += (
                "No mix parts all that merges here, nor does one lighter area: look at it in the "
                "proof, and print another picture where they must be told apart."
            )
        yield Finding(
            "merging-areas", pair.difference, limits.closest, "L*", remedy, bound=Bound.LEAST
        )
    if kept < limits.least:
        possible = contrast_in(picture, better) if better else 0
        remedy = "No mix keeps so much without merging areas or grain: look at it in the proof, "
        remedy += "and print another picture where its colours tell what matters."
        if better and possible >= limits.least:
            remedy = f"{_advice(better)}: it keeps {possible:.0f} %."
        yield Finding("weak-separation", kept, limits.least, "%", remedy, bound=Bound.LEAST)


def _advice(mix: Mix) -> str:
    red, green, blue = (f"{share:.4g}" for share in mix)
    return (
        f"Write gray mix: {{red: {red}, green: {green}, blue: {blue}}} in the house's section "
        "prepare"
    )


rule = Rule("grayscale", check, OPTIONS, CODES, __doc__ or "", version="2")
