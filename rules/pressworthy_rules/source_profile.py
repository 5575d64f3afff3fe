"""The source profile: do the pixels look as if they were made for the ICC profile they carry?

A profile assigned by mistake turns hues and stretches or dulls every colour, and nothing in the
file says so. The bare values are weighed for sRGB, opRGB, Display P3 and ROMM RGB; a finding rests
on how much better another space than the tagged explains them, in nats (natural logarithms of a
probability ratio). One picture is weak evidence, so a second witness is asked for: the metadata,
colours that do not exist, or the same doubt in the delivery. One odd profile among others is noted
sooner. At one wrong profile in a hundred, about three flags in four on single pictures are false.
Wide tags that nothing speaks for or against are counted at the report's foot.

Put it right: ask before it is converted, and name the true space in the list's column assume.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from pressworthy.measure.delivery import deliveries, odd_ones, testimony, undecided
from pressworthy.measure.metadata import stated_space
from pressworthy.measure.source_space import ALIKE, source_space
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Member, Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "imaginary": quantity("%", "share of pixels that may be no real colours", least=0, most=100),
    "smallest delivery": {
        "type": "integer", "minimum": 3, "maximum": 1000,
        "description": "pictures of one folder and profile from which they are judged together"},
}  # fmt: skip
CODES = {
    "wrong": "another profile explains the pixels better, and a second witness agrees",
    "unlikely": "another profile explains the pixels much better",
    "doubtful": "another profile explains the pixels better",
    "untagged": "no ICC profile; how likely each space is by the pixels",
    "delivery-wrong": "the whole delivery seems to carry a wrong profile",
    "delivery-doubtful": "the whole delivery may carry a wrong profile of nearly the same colours",
    "odd-one-out": "another profile than its neighbours', and its pixels speak against it",
}
UNTAGGED = "Read as sRGB. Ask which space it was made in, and name it in the list's column assume."
_doubt = partial(Finding, unit="nats", bound=Bound.MOST)


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode != "RGB" or picture.assumed:
        return  # no RGB space to be taken for another, or a person has decided
    space = source_space(picture)
    if not space.tag:
        yield Finding("untagged", space.chances(), "an embedded ICC profile", remedy=UNTAGGED)
        return
    gain, limits = space.gain(), space.limits()
    witness, limit = space.second_witness(stated_space(picture), options["imaginary"] / 100)
    if witness:
        yield _doubt("wrong", gain, limit, remedy=space.in_words(witness))
    elif gain > limits.query and "ROMM RGB" in (space.tag, space.best()):
        yield _doubt("unlikely", gain, limits.query, remedy=space.in_words())
    elif gain > limits.note:
        yield _doubt("doubtful", gain, limits.note, remedy=space.in_words())


def check_set(evidence: Mapping[Member, Any], options: Options) -> dict[Member, list[Finding]]:
    """Judge together a folder's pictures of one profile, and the few that carry another."""
    findings: dict[Member, list[Finding]] = {}
    for one in deliveries(evidence, options["smallest delivery"]):
        if one.gain > one.limit:
            code = "delivery-doubtful" if {one.tag, one.best} <= ALIKE else "delivery-wrong"
            doubt = _doubt(code, one.gain, one.limit, remedy=one.in_words())
            findings |= {member: [doubt] for member in one.members()}
    for odd in odd_ones(evidence, options["smallest delivery"]):
        if (gain := odd.space.gain()) > (limit := odd.space.limits().odd):
            doubt = _doubt("odd-one-out", gain, limit, remedy=odd.in_words())
            findings |= {member: [doubt] for member in odd.places if member not in findings}
    return findings


rule = Rule("source-profile", check, OPTIONS, CODES, __doc__ or "", version="6", masters_only=True,
            evidence=testimony, check_set=check_set, tell_once=undecided)  # fmt: skip
