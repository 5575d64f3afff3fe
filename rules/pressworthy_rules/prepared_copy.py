"""A prepared copy is for one size, one output and one state of its master.

Its pixels were resampled and sharpened for the placed size and the printing condition its ticket
names. Used larger it is soft, used smaller its halos show, on another paper its tones are wrong,
and where the house's ink limit changed its inks are mixed for the old one; edited later it is
sharpened no more as it was meant to be. Its master is looked for by name in the house's folders and
among the files given with the pages; where it is not found, nothing tells whether it changed.
Pictures without a ticket are masters and pass.

Put it right: prepare it again from its master for the size and output where it is used.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.files.metadata.ticket import NAMESPACE, Ticket
from pressworthy.measure import provenance
from pressworthy.measure.ticket import pixel_hash, ticket
from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

OPTIONS = {
    "masters": {
        "type": "array",
        "items": {"type": "string"},
        "description": "folders, seen from the copy's own, where its master is looked for; "
        "* stands for any name",
    },
}
CODES = {
    "other-size": "placed at another size than it was prepared for",
    "other-output": "prepared for another printing condition, for other colours or ink limit",
    "master-changed": "its master is no longer the file it was prepared from",
    "edited-after-sharpening": "its pixels are not those that were prepared",
    "damaged-ticket": "it has a ticket that cannot be read, so nothing tells what it is for",
}
AGAIN = "Use it for what it was made for, or prepare it again from its master, {}."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    made = ticket(picture)
    if made is None:
        if NAMESPACE.encode() in (picture.header.xmp or b""):
            yield Finding(
                "damaged-ticket",
                "unreadable",
                "whole",
                remedy="Move it away and prepare another copy from its master.",
            )
        return
    misused = list(_misused(picture, made))
    yield from misused
    folders = options["masters"]
    masters = provenance.masters_of(picture, made, folders)
    if not masters and not misused:
        raise Unmeasured(f"its master, {made.master}, is not {provenance.sought(picture, folders)}")
    if masters and not any(provenance.is_master(path, picture, made) for path in masters):
        remedy = AGAIN.format(made.master)
        yield Finding("master-changed", str(masters[0]), "as it was prepared", remedy=remedy)


def _misused(picture: Picture, made: Ticket) -> Iterator[Finding]:
    again = AGAIN.format(made.master)
    place = picture.placement
    if place and not provenance.is_of_size(place, made):
        # a pixel is less than a tenth of a millimetre, and both have to read differently
        placed = f"{round(place.width, 2):g} x {round(place.height, 2):g} mm"
        meant = f"{round(float(made.width), 2):g} x {round(float(made.height), 2):g} mm"
        yield Finding("other-size", placed, meant, remedy=again)
    if not provenance.is_of_output(picture, made):
        yield Finding("other-output", *provenance.outputs_told(picture, made), remedy=again)
    if pixel_hash(picture) != made.pixels:
        remedy = f"Prepare it again from its master, {made.master}, with --force: without it an "
        remedy += "edited copy is left as it is."
        yield Finding("edited-after-sharpening", "other pixels", "as prepared", remedy=remedy)


rule = Rule("prepared-copy", check, OPTIONS, CODES, __doc__ or "", version="2")
