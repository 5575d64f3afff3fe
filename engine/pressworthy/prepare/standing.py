"""The copy that stands already where one is ordered: kept, made anew, or not ours to write over."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import read_header
from pressworthy.measure.ticket import pixel_hash
from pressworthy.prepare.order import Order, Refused
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture


@dataclass(frozen=True)
class Standing:
    """What becomes of the copy that stands where one is ordered.

    copy: that copy where it is what was ordered, and stays; None where one is to be made.
    steps: that made it, by its ticket; edited: by hand since then.
    remark: what is to be told of one that is made anew, or "".
    """

    copy: Picture | None = None
    steps: tuple[str, ...] = ()
    edited: bool = False
    remark: str = ""


def standing_at(order: Order, master: Picture, wanted: Ticket, pattern: str) -> Standing:
    """Return what becomes of the copy at the order's target.

    wanted: the ticket of the copy that is ordered; pattern: the house's, that names its copies.
    Raises Refused where what is there is not ours to write over.
    """
    if not order.target.exists() and not order.target.is_symlink():
        return Standing()
    try:
        ticket = read_ticket(read_header(order.target).xmp)
    except Unmeasured:
        ticket = None
    if ticket is None:
        raise Refused(
            f"{order.target} is there and is no prepared copy; it is left alone: move it away, or "
            "choose another --into"
        )
    if order.force:
        return Standing()
    if ticket.of_another_master(wanted):
        whose = f"another {ticket.master}" if ticket.master == wanted.master else ticket.master
        named = "" if "{folder}" in pattern else "put {folder} in the house's naming pattern, "
        raise Refused(
            f"{order.target} is the copy of {whose}; choose another --into, {named}or give "
            "--force to write over it"
        )
    copy = copy_at(order, master)
    try:
        edited = pixel_hash(copy) != ticket.pixels
    except Unmeasured:
        return Standing(remark="the copy that was there is damaged and was made anew")
    if ticket.same_order(wanted):
        return Standing(copy, tuple(ticket.steps.split("; ")), edited)
    if edited:
        raise Refused(
            f"{order.target} was edited after it was prepared; move it away, or give --force"
        )
    return Standing()


def copy_at(order: Order, master: Picture) -> Picture:
    """Return the copy at the order's target as rules see it. Raises Unmeasured."""
    assert master.placement is not None
    placement = replace(master.placement, crop=None, source="given")
    header = read_header(order.target)
    return Picture(order.target, header, master.output, placement, masters=(order.master,))
