"""A CMYK file made for another printing condition than the page's.

Inks are not colours: the same numbers print lighter, darker or pinker on another paper and press.
The picture's own pixels are read through its own ICC profile and through the page's condition, each
relative to its paper, and the mean difference is measured.

Put it right: ask first whether its profile is true, for what is converted from a wrong one is wrong
for good; then prepare a copy for this condition, from the RGB master where there is one. Never just
assign the other profile.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.colour.convert import to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.measure.icc import embedded_profile, profile_for_pixels
from pressworthy.measure.press import sample
from pressworthy.measure.ticket import again
from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "difference": quantity("dE00", "largest mean difference of the picture's colours", least=0),
}
CODES = {"foreign-condition": "its inks were mixed for another press or paper"}
TRUE = (
    "Ask first whether its inks were mixed for that. If so, prepare a copy, best from the RGB "
    "master. If not, ask the supplier to save it again with the ICC profile it was made in."
)


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode != "CMYK" or picture.output.colour != "cmyk":
        return
    own = profile_for_pixels(picture)
    embedded = embedded_profile(picture)
    page = picture.output.condition.profiles.get("cmyk")
    if embedded is None or page is None or isinstance(own, str):
        raise Unmeasured("no ICC profile tells which condition its inks were mixed for")
    values, pages = sample(picture), page.read_bytes()
    if own == pages:
        return
    meant, printed = to_lab(values, "CMYK", own), to_lab(values, "CMYK", pages)
    difference = float(delta_e_2000(meant, printed).mean())
    if difference > options["difference"]:
        anew = again(picture)
        name = embedded.description() or "an unnamed condition"
        remedy = f"Its ICC profile is {name}; the page is {picture.output.condition.name}. " + (
            f"For this page {anew}." if anew else TRUE
        )
        most = options["difference"]
        yield Finding("foreign-condition", difference, most, "dE00", remedy, bound=Bound.MOST)


rule = Rule("foreign-condition", check, OPTIONS, CODES, __doc__ or "", mended=tuple(CODES))
