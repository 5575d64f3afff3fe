"""A PDF of pages that was dropped: every picture on it is placed as it stands there."""

from __future__ import annotations

from pathlib import Path

from pressworthy.jobs import listed_pages
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import seen_from
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.report.marked_proof.environment import counted
from pressworthy.values.faults import SetupError

BY = "the page PDF"


def take_sizes(desk: Desk, pdf: Path) -> str:
    """Write page, size, bleed and crop of each picture on the pages into the list.

    One that stands on several pages is placed as on the first. Returns what was done, in words.
    Raises SetupError where the PDF cannot be read.
    """
    masters = [entry.path for entry in desk.issue.entries] + list(desk.issue.unlisted)
    rows = listed_pages(pdf, list(dict.fromkeys(masters)), desk.folder)
    placed, left, faults = set(), 0, []
    for row in rows:
        picture = row["picture"]
        where = _place(desk, picture)
        if where is None or picture in placed:
            left += 1
            continue
        fields = {name: row.get(name, "") for name in ("page", "width", "height", "bleed", "edges")}
        try:
            desk.decide(Decision("place", (where,), fields, by=BY), desk.issue.stamp)
            crop, now = row.get("crop", ""), _place(desk, picture)
            if crop and now:
                desk.decide(Decision("crop", (now,), {"crop": crop}, by=BY), desk.issue.stamp)
        except SetupError as error:
            faults.append(str(error))
            continue
        placed.add(picture)
    told = f"{counted(len(placed), 'picture')} placed as on the pages"
    if left:
        told += f"; {left} more there are none of these, or stand on a second page"
    return "; ".join([told, *faults])


def _place(desk: Desk, picture: str) -> Place | None:
    """Return the first line of a picture, one of its own where it has none; None for a stranger."""
    listed = next((place for place in desk.issue.places() if place.picture == picture), None)
    if listed:
        return listed
    names = (seen_from(desk.folder, path) for path in desk.issue.unlisted)
    return Place(picture) if picture in names else None
