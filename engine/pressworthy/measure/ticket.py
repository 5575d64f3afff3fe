"""The ticket of a prepared copy, and the hash of its pixels that the ticket should tell."""

from __future__ import annotations

from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import hash_pixels
from pressworthy.measure.pixels import pixels
from pressworthy.values.picture import Picture, measurement


@measurement
def ticket(picture: Picture) -> Ticket | None:
    """Return the ticket of a prepared copy, None on any other picture."""
    return read_ticket(picture.header.xmp)


@measurement
def pixel_hash(picture: Picture) -> str:
    """Return the SHA-256 of the picture's decoded pixels, size and depth. Raises Unmeasured."""
    return hash_pixels(pixels(picture))
