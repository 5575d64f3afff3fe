"""The ticket of a copy: written from its order, packed with its master's words, and sealed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pressworthy import __version__
from pressworthy.files.metadata import exif, xmp
from pressworthy.files.metadata.packet import largest, packet
from pressworthy.files.metadata.ticket import Ticket
from pressworthy.house import House
from pressworthy.measure.metadata import words
from pressworthy.measure.provenance import ink_limit_told
from pressworthy.measure.resolution import fit
from pressworthy.prepare.geometry import Plan
from pressworthy.prepare.order import Order, Refused
from pressworthy.prepare.render import Rendered
from pressworthy.values.picture import Picture
from pressworthy.values.placement import HOUSE_TONE, Crop, Focus, GrayMix, Placement

MADE_BY = f"pressworthy {__version__} prepare 3"


def ticket_for(
    order: Order, house: House, master: Picture, plan: Plan, master_sha256: str
) -> Ticket:
    """Return the ticket of the copy that is ordered, as far as it is known before it is made.

    pixels: what stands for their hash until `sealed`: as long as that, the same for a master every
    time, and found nowhere else in its copy.
    """
    placement, output = master.placement, master.output
    assert placement is not None
    return Ticket(
        made_by=MADE_BY,
        master=order.master.name,
        master_sha256=master_sha256,
        house=house.name,
        house_sha256=house.fingerprint(),
        condition=output.condition.name,
        condition_sha256=output.condition.fingerprint([output.colour]),
        colour=output.colour,
        width=f"{placement.width:.4f}",
        height=f"{placement.height:.4f}",
        bleed=f"{placement.bleed:g}",
        edges=" ".join(sorted(placement.edges)),
        crop=_crop_text(placement),
        assumed=order.assume,
        tone=order.request.tone or HOUSE_TONE,
        ppi=f"{plan.ppi:.4f}",
        radius="",
        amount="",
        bend="",
        steps="",
        pixels=hashlib.sha256(f"the pixels made of {master_sha256}".encode()).hexdigest(),
        master_place=_master_place(order),
        sharpen="" if master.sharpen else "no",
        gray_mix=_mix_text(master.gray_mix),
        ink_limit=ink_limit_told(output),
        stretch=f"{fit(master).stretch():.2f}" if placement.stretches else "",
    )


def filled(ticket: Ticket, rendered: Rendered) -> Ticket:
    """Return the ticket with what rendering told: sharpening, tones and tone curve."""
    supplied, curve = rendered.supplied, rendered.curve
    lift = round(curve.moved(supplied.median) - supplied.median, 1)
    return replace(
        ticket,
        radius=f"{rendered.sharpening.radius:.4f}",
        amount=f"{rendered.sharpening.amount:g}",
        bend=f"{curve.bend:.4f}",
        # no -0.0
        lift=f"{lift + 0.0:.1f}",
        kind=curve.kind,
        supplied=f"{supplied.dark:.1f} {supplied.median:.1f} {supplied.light:.1f}",
        bare=f"{rendered.bare:.4f}" if rendered.bare else "",
    )


def packed(
    master: Picture, ticket: Ticket, steps: tuple[str, ...], section: Mapping[str, Any]
) -> tuple[bytes, tuple[str, ...]]:
    """Return the copy's XMP packet, as large as its format holds, and the steps it tells of.

    section: the house's, on copies. Raises Refused where caption and credits alone are too long.
    """
    position = exif.position(master.header.exif) if section["keep position"] else {}
    room = xmp.room(section["format"])
    left_out: list[str] = []
    if xmp.is_unread(master.header.xmp):
        steps = (*steps, "its XMP cannot be read and is left out")
    while True:
        names = ", ".join(map(xmp.short, left_out))
        listed = (*steps, f"no room in its XMP for {names}") if left_out else steps
        whole = replace(ticket, steps="; ".join(listed))
        data = packet(master.header.xmp, words(master), whole, position, left_out)
        if len(data) <= room:
            return data, listed
        if not (more := largest(master.header.xmp, left_out)):
            raise Refused(
                f"its caption and credits take {len(data)} bytes, and a {section['format']} holds "
                f"{room} of them; shorten them in the master"
            )
        left_out.append(more)


def sealed(data: bytes, ticket: Ticket, sha256: str) -> bytes:
    """Return the file's bytes with the hash of its pixels in the ticket.

    ticket: as in the file, with what stands for the hash.
    """
    blank = ticket.pixels.encode()
    if data.count(blank) != 1:
        raise AssertionError("the ticket's place for the hash is not found once in the file")
    return data.replace(blank, sha256.encode())


def _master_place(order: Order) -> str:
    master, folder = order.master.resolve(), order.target.parent.resolve()
    # seen from the copy, so that a folder with masters and copies may be moved as a whole
    way = os.path.relpath(master, folder) if master.drive == folder.drive else master
    return hashlib.sha256(os.fsencode(Path(way).as_posix())).hexdigest()


def _mix_text(mix: GrayMix) -> str:
    return mix if isinstance(mix, str) else " ".join(f"{share:g}" for share in mix)


def _crop_text(placement: Placement) -> str:
    crop = placement.crop
    if isinstance(crop, Focus):
        return f"focus {crop.x:g} {crop.y:g}"
    if isinstance(crop, Crop):
        return f"crop {crop.left:g} {crop.top:g} {crop.width:g} {crop.height:g}"
    return ""
