"""Makes one copy: planned, rendered, dressed in words and ticket, encoded, put in place."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import pyvips

from pressworthy.files.metadata import iim
from pressworthy.files.opening import hash_file
from pressworthy.house import House
from pressworthy.measure.pixels import decoded, pixels, survey
from pressworthy.measure.provenance import file_hash, made_from
from pressworthy.measure.survey import look_through
from pressworthy.measure.ticket import pixel_hash
from pressworthy.prepare import store
from pressworthy.prepare.encode import dress, encode, encode_line_art
from pressworthy.prepare.geometry import Plan
from pressworthy.prepare.line_art import drawn, unrendered
from pressworthy.prepare.order import Order, Refused, planned, section_of, stays_line_art
from pressworthy.prepare.render import Rendered, render
from pressworthy.prepare.standing import Standing, copy_at, standing_at
from pressworthy.prepare.ticket import filled, packed, sealed, ticket_for
from pressworthy.values.machine import unmeasured
from pressworthy.values.picture import Picture, preset


@dataclass(frozen=True)
class Made:
    """What came of an order.

    copy: as rules see it; steps: that made it; fresh: whether now; edited: by hand since it was
    made, and so left as it is. written: SHA-256 of the bytes of a fresh one that is to stay.
    """

    copy: Picture
    steps: tuple[str, ...]
    fresh: bool
    edited: bool = False
    written: bytes = b""


def tried(order: Order, house: House) -> tuple[Plan, Standing]:
    """Return the plan of a copy, and what becomes of one that stands there; nothing is written.

    The master's pixels are read. Raises Refused and Unmeasured as `make` would.
    """
    master, plan = planned(order, house)
    ticket = ticket_for(order, house, master, plan, hash_file(order.master))
    standing = standing_at(order, master, ticket, section_of(house)["name"])
    if standing.copy is None:
        pixels(master)
    return plan, standing


@dataclass(frozen=True)
class Seen:
    """A copy that was made to be looked at: with its plan, and the stages on its way."""

    made: Made
    plan: Plan
    rendered: Rendered


def make(order: Order, house: House, master_sha256: str = "") -> Made:
    """Make one prepared copy, unless it is there already and up to date.

    master_sha256: of its master's bytes, where they were hashed just now. Raises Refused,
    Unmeasured where the master cannot be read, OSError where the copy cannot be written.
    """
    return _made(order, house, *planned(order, house), master_sha256)[0]


def make_seen(order: Order, house: House, picture: Picture) -> Seen:
    """Make a copy as `make` does, of a picture whose pixels are decoded once and used again.

    The copy is to go again at once. Raises Refused of line art too: its copy holds the pixels that
    are seen already.
    """
    master, plan = planned(order, house)
    if stays_line_art(master):
        raise Refused("it is line art in 1 bit: its copy has the same pixels")
    preset(master, decoded, decoded(picture))
    made, rendered = _made(order, house, master, plan, file_hash(picture), looked_at=True)
    return Seen(made, plan, rendered or render(master, plan, house))


def _made(
    order: Order,
    house: House,
    master: Picture,
    plan: Plan,
    master_sha256: str = "",
    *,
    looked_at: bool = False,
) -> tuple[Made, Rendered | None]:
    """Return what came of an order, and the stages on its way where it was made now."""
    before = master_sha256 or hash_file(order.master)
    ticket = ticket_for(order, house, master, plan, before)
    section = section_of(house)
    standing = standing_at(order, master, ticket, section["name"])
    if standing.copy is not None:
        return Made(standing.copy, standing.steps, fresh=False, edited=standing.edited), None
    rendered: Rendered | None = None
    as_lines = stays_line_art(master)
    if as_lines:
        finished, steps = drawn(master, plan)
        made_so = unrendered(ticket)
    else:
        rendered = render(master, plan, house)
        finished, steps = rendered.image, rendered.steps
        made_so = filled(ticket, rendered)
    if order.assume:
        steps = (f"read as {order.assume}, which a person vouches for", *steps)
    xmp, steps = packed(master, made_so, steps, section)
    iptc = iim.for_copy(master.header.iptc, section["format"])
    stages = rendered if looked_at else None
    # what it was made of need not lie beside the file
    del rendered
    try:
        dressed = dress(finished, ppi=plan.ppi, xmp=xmp, iptc=iptc)
        data = encode_line_art(dressed) if as_lines else encode(dressed, section)
        # nor those pixels beside what is read back from it
        del dressed, finished
        # as a reader gets them, after the format has done its worst
        source = pyvips.Source.new_from_memory(data)
        image = pyvips.Image.new_from_source(source, "", access="sequential")
        image = image.copy_memory() if looked_at else image
        seen = look_through(image, "gray" if as_lines else master.output.mode, hashed=True)
    except pyvips.Error as error:
        why = f"the file is damaged or cut short: {str(error.detail).strip()}"
        raise unmeasured(error, why) from None
    data = sealed(data, ticket, seen.digest)
    # one that is only looked at goes at once
    if not looked_at and hash_file(order.master) != before:
        raise Refused("the master changed while its copy was being made; prepare it again")
    store.put(data, order.target, flushed=not looked_at)
    copy = copy_at(order, master)
    # read back from these very bytes; the rules need not decode them again
    preset(copy, survey, seen)
    preset(copy, pixel_hash, seen.digest)
    preset(copy, made_from, str(order.master))
    if looked_at:
        preset(copy, pixels, image)
    remarks = (standing.remark,) if standing.remark else ()
    written = b"" if looked_at else hashlib.sha256(data).digest()
    return Made(copy, (*remarks, *steps), fresh=True, written=written), stages
