"""What one black ink leaves of a picture's colours.

Red cloth on green cloth can be one and the same gray: what the reader should tell apart merges.
Measured is the share of the contrast between neighbouring colours that the house's conversion
keeps (CCPR of Lu, Xu and Jia, ICCP 2012), and the two neighbouring areas of plainly different
colour that come closest in printed gray.

Put it right: mix the gray from other shares of red, green and blue; the remedy names the mix that
separates this picture best.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.gray_mix import (
    as_written,
    best_mix,
    contrast_kept,
    linear_srgb,
    merging,
    mix_of,
    mixed,
    printed_difference,
)
from pressworthy.measure.press import sample_lab
from pressworthy.measure.ticket import mend
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "mix": {
        "type": "array",
        "items": {"type": "number", "minimum": -1, "maximum": 2},
        "minItems": 3,
        "maxItems": 3,
        "description": "shares of linear red, green and blue (sRGB) the house mixes its gray from",
    },
    "least contrast": quantity("%", "least share of colour contrast kept", least=0, most=100),
    "closest": quantity("L*", "areas nearer than this in printed gray merge", least=0),
}
CODES = {
    "merging-areas": "two areas of different colour become the same gray",
    "weak-separation": "little of the colour contrast survives, and another mix keeps more",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode == "gray":
        return
    closest, least = options["closest"], options["least contrast"]
    mix, better = mix_of(picture, tuple(options["mix"])), as_written(best_mix(picture))
    advice = f"Write {' '.join(f'{share:g}' for share in better)} in the list's column gray mix"
    pair = merging(picture, mix, closest)
    if pair:
        apart = printed_difference(picture, pair.first, pair.second, better)
        remedy = (
            f"{pair.first.name} ({pair.first.place}) and {pair.second.name} "
            f"({pair.second.place}) differ by {pair.colour:.0f} dE00 in colour. "
        )
        if merging(picture, better, closest):
            remedy += f"No mix parts all its colours: {mend('lighten one of them', picture)}, or "
            remedy += f"{accept('grayscale/merging-areas')}."
        else:
            remedy += f"{advice}: then by {apart:.0f} L*."
        yield Finding("merging-areas", pair.difference, closest, "L*", remedy, bound=Bound.LEAST)
    lab = sample_lab(picture)
    linear = linear_srgb(lab)
    kept = contrast_kept(lab, mixed(linear, mix)) * 100
    possible = contrast_kept(lab, mixed(linear, better)) * 100
    if kept < least and possible > kept:
        remedy = f"{advice}: it keeps {possible:.0f} %."
        yield Finding("weak-separation", kept, least, "%", remedy, bound=Bound.LEAST)


rule = Rule("grayscale", check, OPTIONS, CODES, __doc__ or "", version="2")
