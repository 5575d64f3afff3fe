"""A PDF of pages that was dropped: every picture on it is placed as it stands there."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pressworthy.jobs.pages import listed_pages
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import seen_from
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.open_proof.page_desk import PageDesk
from pressworthy.report.marked_proof.environment import counted
from pressworthy.values.faults import SetupError

BY = "the page PDF"


def take_all(desk: Desk, page_desk: PageDesk) -> str:
    """Take the sizes of all pages that are shown, see `take_sizes`. Raises SetupError."""
    files = [pdf.path for pdf in page_desk.plan().shown]
    if not files:
        raise SetupError(["no page PDF is shown"])
    return "; ".join(take_sizes(desk, path, page_desk) for path in files)


def take_sizes(desk: Desk, pdf: Path, page_desk: PageDesk) -> str:
    """Write page, size, bleed and crop of each picture on the pages into the list.

    One that stands on several pages gets a line for each. Returns what was done, in words. Raises
    SetupError where the PDF cannot be read.
    """
    rows = listed_pages(pdf, (), desk.folder, known=page_desk.known())
    placed: dict[str, int] = {}
    strangers, faults = 0, []
    for row in rows:
        picture = row["picture"]
        where = _place(desk, picture)
        if where is None:
            strangers += 1
            continue
        try:
            if picture in placed:
                where = _once_more(desk, Place(picture, row["page"]))
            _as_on_page(desk, where, row)
        except SetupError as error:
            faults.append(str(error))
            continue
        placed[picture] = placed.get(picture, 0) + 1
    told = f"{counted(sum(placed.values()), 'picture')} placed as on the pages"
    if strangers:
        told += f"; {strangers} on them came from no master here"
    return "; ".join([told, *faults])


def _as_on_page(desk: Desk, where: Place, row: Mapping[str, str]) -> None:
    """Place a line as a row of the pages tells. Raises SetupError."""
    fields = {name: row.get(name, "") for name in ("page", "width", "height", "bleed", "edges")}
    desk.decide(Decision("place", (where,), fields, by=BY), desk.issue.stamp)
    # the same line, by what it is called now
    at = [place for place in desk.issue.places() if place.picture == where.picture]
    now = next((place for place in reversed(at) if place.page == row["page"]), None)
    if now and row.get("crop"):
        desk.decide(Decision("crop", (now,), {"crop": row["crop"]}, by=BY), desk.issue.stamp)


def _once_more(desk: Desk, place: Place) -> Place:
    """List a picture for another page too. Raises SetupError."""
    if place not in desk.issue.places():
        desk.decide(Decision("add", (place,), by=BY), desk.issue.stamp)
    return place


def _place(desk: Desk, picture: str) -> Place | None:
    """Return the first line of a picture, one of its own where it has none; None for a stranger."""
    listed = next((place for place in desk.issue.places() if place.picture == picture), None)
    if listed:
        return listed
    names = (seen_from(desk.folder, path) for path in desk.issue.unlisted)
    return Place(picture) if picture in names else None
