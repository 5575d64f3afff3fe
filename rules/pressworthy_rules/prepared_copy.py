"""A prepared copy is for one size, one output and one state of its master.

Its pixels were resampled and sharpened for the placed size and the printing condition its ticket
names. Used larger it is soft, used smaller its halos show, and on another paper its tones are
wrong; edited later it is sharpened no more as it was meant to be. Its master is looked for by name
in the house's folders and among the files given with the pages; where it is not found, nothing
tells whether it changed. Pictures without a ticket are masters and pass.

Put it right: prepare it again from its master for the size and output where it is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from glob import glob
from pathlib import Path

from pressworthy.files.metadata.ticket import NAMESPACE, Ticket
from pressworthy.files.opening import hash_file
from pressworthy.measure.ticket import pixel_hash, ticket
from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Placement
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import MM_PER_INCH, figure

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
    misused = list(_misused(picture, made))
    yield from misused
    masters = _namesakes(picture, Path(made.master).name, options["masters"])
    if not masters and not misused:
        raise Unmeasured(f"its master, {made.master}, is not where the house looks for masters")
    if masters and all(hash_file(master) != made.master_sha256 for master in masters):
        remedy = AGAIN.format(made.master)
        yield Finding("master-changed", str(masters[0]), "as it was prepared", remedy=remedy)


def _misused(picture: Picture, made: Ticket) -> Iterator[Finding]:
    again = AGAIN.format(made.master)
    if picture.placement and (size := _other_size(picture.placement, made)):
        meant = f"{figure(float(made.width))} x {figure(float(made.height), 'mm')}"
        yield Finding("other-size", size, meant, remedy=again)
    output = picture.output
    profile = output.condition.profiles.get(output.colour)
    same = profile and (
        made.condition_sha256 == output.condition.fingerprint([output.colour])
        or made.condition_sha256 == hash_file(profile)  # all that tickets of old tell
    )
    if not same:
        wanted = f"{output.condition.name} {output.colour}"
        yield Finding("other-output", f"{made.condition} {made.colour}", wanted, remedy=again)
    if pixel_hash(picture) != made.pixels:
        remedy = f"Prepare it again from its master, {made.master}, with --force: without it an "
        remedy += "edited copy is left as it is."
        yield Finding("edited-after-sharpening", "other pixels", "as prepared", remedy=remedy)


def _namesakes(picture: Picture, name: str, folders: list[str]) -> list[Path]:
    """Return the files that bear the master's name, those the run knows of first."""
    known = [path for path in picture.masters if path.name == name]
    if not picture.page_object:
        home = picture.path.parent
        for folder in folders:
            # not Path.glob, which takes neither "." nor a folder from the root
            known += [home / place / name for place in glob(folder, root_dir=home)]  # noqa: PTH207
    return [path for path in known if path.is_file() and not path.samefile(picture.path)]


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
