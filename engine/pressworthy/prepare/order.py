"""What is ordered: the master taken in, what stands against making its copy, and its geometry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import identify
from pressworthy.files.intake import take_in
from pressworthy.files.opening import read_header
from pressworthy.house import House
from pressworthy.measure.icc import describes_pictures
from pressworthy.measure.metadata import stated_space
from pressworthy.measure.ticket import ticket
from pressworthy.prepare import geometry
from pressworthy.prepare.geometry import MOST_REDUCED
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.units import CSS_PX_MM, MM_PER_INCH, figure


class Refused(Exception):  # noqa: N818 - an outcome, not an error
    """No copy is made of this master, with the reason."""


@dataclass(frozen=True)
class Order:
    """One copy to make.

    scale: device pixels to a CSS pixel on a screen, 0 in print; assume: the RGB space a person
    vouches for, or ""; force: make it even if an up-to-date copy is there; unnamed: why no copy can
    be called so, or "".
    """

    master: Path
    target: Path
    request: PlacementRequest
    scale: float = 0.0
    assume: str = ""
    force: bool = False
    unnamed: str = ""


def planned(order: Order, house: House) -> tuple[Picture, geometry.Plan]:
    """Return the master as taken in, and the geometry of its copy. Raises Refused, Unmeasured."""
    if order.unnamed:
        raise Refused(order.unnamed)
    section = section_of(house)
    output = output_for(house, order.scale)
    master = _taken_in(order, output, section)
    if (own := ticket(master)) is not None:
        raise Refused(
            f"it is a prepared copy for {own.house}, sharpened for that output; "
            f"prepare from its master, {own.master}"
        )
    if stays_line_art(master):
        return master, _in_its_own_px(master, section)
    if output.colour not in output.condition.profiles:
        raise Refused(f"the condition {output.condition.name} has no {output.colour} ICC profile")
    assert master.placement is not None
    plan = geometry.plan(
        *master.header.upright(),
        master.placement,
        output.ppi,
        enlarge=1 + section["upsampling"] / 100,
        mirror=section["mirrored bleed"],
    )
    cut = plan.cut
    most_wide, most_high = plan.width * MOST_REDUCED, plan.height * MOST_REDUCED
    if cut.width > most_wide or cut.height > most_high:
        raise Refused(
            f"{master.placement.size_and_bleed()} is {plan.width} x {plan.height} px at "
            f"{figure(plan.ppi, 'ppi')}, too few to bring {cut.width} x {cut.height} px "
            "down to; mend the size"
        )
    return _with_profile(master, order.assume), plan


def stays_line_art(master: Picture) -> bool:
    """Tell whether the copy of a master is line art in 1 bit, as in print; screens get grays."""
    return master.header.is_line_art and master.output.medium == "print"


def _in_its_own_px(master: Picture, section: Mapping[str, Any]) -> geometry.Plan:
    """Return the geometry of a copy that is not resampled. Raises Refused."""
    if section["format"] != "TIFF":
        raise Refused(
            f"it is line art in 1 bit, which a {section['format']} does not hold: place it as it "
            "is, or have the house profile write TIFF"
        )
    assert master.placement is not None
    plan = geometry.as_it_is(*master.header.upright(), master.placement)
    if plan is None:
        raise Refused(
            "it is line art in 1 bit and would be pulled to fill its box, which blurs its edges: "
            "give it a box of its own shape, or take `fit` stretch away"
        )
    return plan


def output_for(house: House, scale: float) -> Output:
    """Return the house's output, at `scale` device pixels to a CSS pixel where that is given."""
    if not scale:
        return house.output
    return replace(house.output, ppi=scale * MM_PER_INCH / CSS_PX_MM)


def section_of(house: House) -> Mapping[str, Any]:
    """Return the house's section on copies, which an order stands on."""
    assert house.prepare is not None
    return house.prepare


def _taken_in(order: Order, output: Output, section: Mapping[str, Any]) -> Picture:
    request = order.request
    if request.size is None and output.medium == "screen":
        width, height = read_header(order.master).upright()
        # as wide as the column, but no wider than the pixels allow at the largest scale
        across = min(section["column"], width / max(section["scales"]))
        request = replace(request, size=(across * CSS_PX_MM, across * CSS_PX_MM * height / width))
    master = take_in(order.master, output, request)
    if master.placement is None:
        raise Refused("no placed size is known: give --size, or a file that states its ppi")
    return master


def _with_profile(master: Picture, assume: str) -> Picture:
    """Return the master with the profile its colours are read by. Raises Refused on any doubt."""
    header = master.header
    ask = "ask the supplier to save it again with its ICC profile"
    if assume:
        if header.mode != "RGB":
            raise Refused(
                f"{assume}, which a person vouches for, is an RGB space, its pixels are "
                f"{header.mode}: take that out; if it has no ICC profile, {ask}"
            )
        return replace(master, header=replace(header, icc=rgb_profile(assume)))
    if header.mode == "Lab" or header.is_line_art:
        return master
    if header.mode == "RGB":
        ask = (
            f"ask which space it was made in, then give --assume '{master.path.name}=SPACE', or "
            "name it in the list's column assume"
        )
    if header.icc is None:
        stated = stated_space(master)
        contradicted = f", though its metadata says {stated}" if stated else ""
        raise Refused(f"it has no ICC profile{contradicted}; {ask}")
    try:
        profile = parse(header.icc)
    except DamagedProfile as error:
        raise Refused(f"its ICC profile cannot be used: {error}; {ask}") from None
    if not describes_pictures(profile):
        raise Refused(f"its ICC profile is a {profile.kind} profile, which reads no picture; {ask}")
    if profile.space != header.mode:
        raise Refused(
            f"its ICC profile is for {profile.space}, its pixels are {header.mode}; {ask}"
        )
    stated, space = stated_space(master), identify(profile)
    if stated and space and stated != space:
        raise Refused(f"its ICC profile says {space}, its metadata {stated}; {ask}")
    return master
