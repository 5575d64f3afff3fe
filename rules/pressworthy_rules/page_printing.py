"""What a page says of its own printing: output intent, PDF/X, boxes (ISO 32000-2, 14.11).

The output intent tells the printer which press and paper the page was made for, and what its
device colours mean; the TrimBox tells where the paper is cut. Mixtures of inks are read through the
intent's ICC profile and through the house's condition, each relative to its paper, and their mean
difference is measured. Each fault is told once of all pages, with the first picture that stands on
one of them, be it one that no reader sees.

Put it right: export the PDF anew for the house's printing condition, with a TrimBox.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pressworthy.measure.intent import intent_difference, once
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Member, Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "difference": quantity("dE00", "largest mean difference of mixed inks", least=0),
}
CODES = {
    "other-intent": "the page is meant for another press or paper",
    "named-intent": "the page names its printing condition and holds no ICC profile of it",
    "no-intent": "the page does not say which printing it is meant for",
    "no-trim-box": "nothing tells where the paper is cut",
    "boxes-astray": "the page's boxes do not lie within each other",
}
TRIM = "Export the PDF with a TrimBox, or say where it is cut by --trim."
BOXES = "Export the PDF with its TrimBox inside its BleedBox, and both inside its MediaBox."


def check(picture: Picture, options: Options) -> Sequence[Finding]:
    """Find nothing: what is said of pages is said once."""
    return ()


def evidence(picture: Picture) -> dict[str, Any]:
    """Return what the picture's page says of its printing."""
    there, condition = picture.on_page, picture.output.condition
    assert there is not None
    return {
        "intent": there.intent, "difference": intent_difference(picture), "PDF/X": there.pdfx,
        "trim": there.trim, "astray": there.astray, "condition": condition.name,
    }  # fmt: skip


def check_set(evidence: Mapping[Member, Any], options: Options) -> dict[Member, list[Finding]]:
    """Tell each fault once, of all the pages that have it."""
    most = options["difference"]
    return once({member: _faults(said, most) for member, said in evidence.items()})


def _faults(said: Mapping[str, Any], most: float) -> Iterator[Finding]:
    wanted, intent, difference = said["condition"], said["intent"], said["difference"]
    anew = f"Export the PDF anew with the ICC profile of {wanted} as its output intent."
    none = f"none, though it claims {said['PDF/X']}" if said["PDF/X"] else "no output intent"
    if intent is None:
        yield Finding("no-intent", none, wanted, remedy=anew)
    elif difference is None:
        yield Finding("named-intent", intent, wanted, remedy=anew)
    elif isinstance(difference, str):
        yield Finding("other-intent", f"{intent}, {difference}", wanted, remedy=anew)
    elif difference > most:
        named = f"Its output intent is {intent}. {anew}"
        yield Finding("other-intent", difference, most, "dE00", named, bound=Bound.MOST)
    if said["trim"] == "assumed":
        yield Finding("no-trim-box", "no TrimBox, so cut to its CropBox", "TrimBox", remedy=TRIM)
    if said["astray"]:
        yield Finding("boxes-astray", said["astray"], "within each other", remedy=BOXES)


rule = Rule(
    "page-printing", check, OPTIONS, CODES, __doc__ or "", version="2", pages_only=True,
    evidence=evidence, check_set=check_set,
)  # fmt: skip
