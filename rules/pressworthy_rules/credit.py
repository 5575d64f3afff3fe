"""Who made the picture, whose it is, and what it shows.

A picture without a creator or a copyright notice may not be the house's to print; one without a
caption gets a wrong one. Fields are those of the IPTC Photo Metadata Standard, read from XMP, then
IPTC-IIM, then EXIF. Two entries that differ are reported unless the older one is only cut at the
length its standard allows.

Put it right: ask the supplier, and enter the words in the master's record, not on the page only.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.files.metadata.words import FIELDS, IIM_MOST_BYTES, Words
from pressworthy.files.metadata.xmp import is_unread
from pressworthy.measure.metadata import words
from pressworthy.measure.ticket import again, ticket
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule, some_of

OPTIONS = {"required": some_of(FIELDS, "the fields every picture must carry", fewest=0)}
CODES = {
    **{f"no-{name}": f"the {name} field is empty" for name in FIELDS},
    "fields-disagree": "two of the file's records give different words",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    found, made = words(picture), ticket(picture)
    # a copy has its master's words
    record = f"its master, {made.master}; then {again(picture)}" if made else "the file"
    empty = "empty; the file's XMP cannot be read" if is_unread(picture.header.xmp) else "empty"
    for name in options["required"]:
        if not found.get(name):
            yield Finding(
                f"no-{name}",
                empty,
                f"{name} filled in",
                remedy=f"Ask the supplier for the {name} and enter it in {record}.",
            )
    for name in FIELDS:
        if pair := disagreement(found, name):
            yield Finding(
                "fields-disagree",
                f"{name}: {pair[0]!r} and {pair[1]!r}",
                "the same words",
                remedy=f"Ask which is right, and write it into all records of {record}.",
            )


def disagreement(found: Words, name: str) -> tuple[str, str] | None:
    """Return two differing entries of one field, shortened, or None."""
    entries = [record[name] for record in (found.xmp, found.exif) if record.get(name)]
    iim = found.iim.get(name)
    if entries and iim and not _cut_copy(iim, entries[0], IIM_MOST_BYTES[name]):
        entries.append(iim)
    first = entries[0] if entries else ""
    other = next((e for e in entries if e.split() != first.split()), None)
    return (first[:40], other[:40]) if other else None


def _cut_copy(iim: str, whole: str, most: int) -> bool:
    size = len(iim.encode())
    return iim == whole or (size >= most - 4 and whole.startswith(iim[:-1]))


rule = Rule("credit", check, OPTIONS, CODES, __doc__ or "", files_only=True)
