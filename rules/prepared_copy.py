"""A prepared copy is for one size, one output and one state of its master.

Its pixels were resampled and sharpened for the placed size and the printing condition its ticket
names. Used larger it is soft, used smaller its halos show, and on another paper its tones are
wrong; edited later it is sharpened no more as it was meant to be. Pictures without a ticket are
masters and pass.

Put it right: prepare it again from its master for the size and output where it is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pressworthy.finding import Finding
from pressworthy.measure.ticket import NAMESPACE, Ticket, hash_file, pixel_hash, ticket
from pressworthy.picture import Picture
from pressworthy.placement import Placement
from pressworthy.rule import Options, Rule
from pressworthy.units import MM_PER_INCH, figure

OPTIONS = {
    "masters": {
        "type": "array",
        "items": {"type": "string"},
        "description": "folders, seen from the copy's own, where its master is looked for",
    },
}
CODES = {
    "other-size": "placed at another size than it was prepared for",
    "other-output": "prepared for another printing condition, or for other colours",
    "master-changed": "its master is no longer the file it was prepared from",
    "edited-after-sharpening": "its pixels are not those that were prepared",
    "damaged-ticket": "it has a ticket that cannot be read, so nothing tells what it is for",
}
AGAIN = "Use it for what it was made for, or prepare it again from its master, {}."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    made = ticket(picture)
    if made is None:
        if NAMESPACE.encode() in (picture.header.xmp or b""):
            yield Finding("damaged-ticket", "unreadable", "whole", remedy="Use another copy.")
        return
    again = AGAIN.format(made.master)
    if picture.placement and (size := _other_size(picture.placement, made)):
        meant = f"{figure(float(made.width))} x {figure(float(made.height), 'mm')}"
        yield Finding("other-size", size, meant, remedy=again)
    output = picture.output
    profile = output.condition.profiles.get(output.colour)
    same = profile and made.condition_sha256 in (
        output.condition.fingerprint([output.colour]),
        hash_file(profile),  # all that tickets of old tell
    )
    if not same:
        wanted = f"{output.condition.name} {output.colour}"
        yield Finding("other-output", f"{made.condition} {made.colour}", wanted, remedy=again)
    for folder in options["masters"]:
        master = picture.path.parent / folder / Path(made.master).name
        if master.is_file() and not master.samefile(picture.path):
            if hash_file(master) != made.master_sha256:
                yield Finding("master-changed", str(master), "as it was prepared", remedy=again)
            break
    if pixel_hash(picture) != made.pixels:
        remedy = f"Prepare it again from its master, {made.master}, with --force: without it an "
        remedy += "edited copy is left as it is."
        yield Finding("edited-after-sharpening", "other pixels", "as prepared", remedy=remedy)


def _other_size(place: Placement, made: Ticket) -> str:
    """Return the size it is placed at, or "" where that is the one it was prepared for."""
    sides = {"left", "right"}, {"top", "bottom"}
    edges = set(made.edges.split())
    meant = [
        float(mm) + float(made.bleed) * len(edges & both)
        for mm, both in zip((made.width, made.height), sides, strict=True)
    ]
    pixel = MM_PER_INCH / float(made.ppi)
    # by covered size: a file that states its ppi does not tell the bleed from the box
    if all(abs(a - b) <= pixel for a, b in zip(place.covered(), meant, strict=True)):
        return ""
    return f"{figure(place.width)} x {figure(place.height, 'mm')}"


rule = Rule("prepared-copy", check, OPTIONS, CODES, __doc__ or "")
