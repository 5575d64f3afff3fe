"""One picture on two pages of an issue.

A reader who meets a picture again wonders which page has the wrong one, and often one has: a file
was placed in another's stead. Two files are one picture where they are the same file, hold the same
pixels, or are prepared copies of one master. Only pictures whose pages are known are compared, and
only within one house profile: two titles may well print the same. A picture that stands twice on
one page is not meant, nor is one that was cropped, toned or saved anew by lossy compression.

Put it right: give one of the pages another picture; where both are meant, accept it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pressworthy.measure.provenance import marks
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.report import reading
from pressworthy.values.rule import Member, Options, Rule
from pressworthy.values.waiver import accept

CODES = {"on-two-pages": "the same picture stands on another page too"}
REMEDY = f"Give one of the pages another picture, or {accept('printed-twice/on-two-pages')}."


def check(picture: Picture, options: Options) -> Sequence[Finding]:
    """Find nothing: alone, a picture is printed once."""
    return ()


def evidence(picture: Picture) -> Sequence[str] | None:
    """Return what tells the picture from others, unless it stands on no page. Raises Unmeasured."""
    place = picture.placement
    # without a size there is no placement to name the page, which the list may know all the same
    return marks(picture) if place is None or place.page else None


def check_set(evidence: Mapping[Member, Any], options: Options) -> dict[Member, list[Finding]]:
    """Compare all pictures whose page is known."""
    bearers: dict[str, list[Member]] = {}
    for member, own in evidence.items():
        for mark in own if member.page else ():
            bearers.setdefault(mark, []).append(member)
    findings: dict[Member, list[Finding]] = {}
    for member, own in evidence.items():
        bearing = (other for mark in own for other in bearers.get(mark, ()))
        alike = {other for other in bearing if member.page and other.page != member.page}
        if alike:
            told = f"also on {_pages(alike, member)}"
            findings[member] = [Finding("on-two-pages", told, "one page", remedy=REMEDY)]
    return findings


def _pages(alike: set[Member], member: Member) -> str:
    """Return the other pages in reading order, with the picture's name where it has another."""
    places = {(reading(one.page), one.page, one.name or one.path) for one in alike}
    own = member.name or member.path
    return ", ".join(
        f"page {page}" + (f" as {name}" if name != own else "") for _, page, name in sorted(places)
    )


rule = Rule(
    "printed-twice", check, {}, CODES, __doc__ or "", evidence=evidence, check_set=check_set
)
