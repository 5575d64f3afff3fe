"""Acutance: prepared copies that will look soft or harsh in print.

A print takes detail away: its dots are coarser than the pixels, and light spreads in the paper
before it comes back. Sharpening is there to give back just that. Measured is how much of the
copy's contrast before sharpening its simulated print shows to a reader at the house's viewing
distance, weighted by the contrast sensitivity of the eye: 100 % is all of it, less looks soft, more
looks harsh. Masters are not judged by it, since they are sharpened for no print yet. The press is
simulated, an average one: this is no contract proof. A copy that a person wanted unsharpened (the
list's column sharpen) is not called soft.

Put it right: prepare the copy anew, for the size, paper and distance where it is used, with the
amount that `pressworthy sharpening` derives for them.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.acutance import MOST_DOUBT, print_transfer
from pressworthy.measure.ticket import again, ticket
from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "least": quantity("%", "lowest acutance of the print, of the unsharpened copy's", least=0),
    "most": quantity("%", "highest acutance of the print, of the unsharpened copy's", least=0),
}
CODES = {
    "soft-in-print": "screen and paper take more detail than its sharpening gives back",
    "harsh-in-print": "its sharpening gives more than screen and paper take away",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.is_line_art:
        return  # it prints in solid ink, without a screen
    seen = print_transfer(picture)
    if seen.doubt > MOST_DOUBT:
        raise Unmeasured("it holds too little detail for its sharpness in print to be measured")
    acutance, made = seen.acutance * 100, ticket(picture)
    remedy = (
        "Set the amount in the house profile that `pressworthy sharpening` derives, and for this "
        f"size {again(picture)}."
    )
    if acutance < options["least"]:
        if made and made.sharpen:
            return  # a person wants it as it is
        yield Finding("soft-in-print", acutance, options["least"], "%", remedy, bound=Bound.LEAST)
    elif acutance > options["most"]:
        yield Finding("harsh-in-print", acutance, options["most"], "%", remedy, bound=Bound.MOST)


rule = Rule("acutance", check, OPTIONS, CODES, __doc__ or "", version="3",
            copies_only=True)  # fmt: skip
