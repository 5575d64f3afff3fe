"""The ticket of a prepared copy, and the hash of its pixels that the ticket should tell."""

from __future__ import annotations

from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.measure.pixels import looked_through, survey
from pressworthy.values.picture import Picture, measurement, preset


@measurement(anywhere=True)
def ticket(picture: Picture) -> Ticket | None:
    """Return the ticket of a prepared copy, None on any other picture."""
    return read_ticket(picture.header.xmp)


def again(picture: Picture) -> str:
    """Return for a remedy how a prepared copy is made anew, "" for any other picture.

    A copy is the end of the road: what is wrong in it is mended in its master or in the standard.
    """
    record = ticket(picture)
    return f"prepare it again from its master, {record.master}" if record else ""


def mend(what: str, picture: Picture) -> str:
    """Return the remedy for what a person does to a picture: on a copy of the master, always."""
    record = ticket(picture)
    if record is None:
        return f"{what} on a copy"
    return f"{what} on a copy of its master, {record.master}, and prepare that"


@measurement(anywhere=True)
def pixel_hash(picture: Picture) -> str:
    """Return the SHA-256 of the picture's decoded pixels, size and depth. Raises Unmeasured.

    Asked before anything else is measured, it costs no second look at them.
    """
    seen = looked_through(picture, hashed=True)
    preset(picture, survey, seen)
    return seen.digest
