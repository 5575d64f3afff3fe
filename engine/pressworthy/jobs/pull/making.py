"""Making a pull: the copy is prepared, judged, and shown beside what it was made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pyvips

from pressworthy.colour.linear import averaged, from_light, to_light
from pressworthy.files.opening import upright
from pressworthy.house import House
from pressworthy.jobs.pull.close_ups import close_ups
from pressworthy.jobs.pull.contrast import transfers
from pressworthy.jobs.pull.encoded import MOST_PULL_BYTES, for_paper, small, within
from pressworthy.jobs.pull.overlays import (
    BLUE,
    RED,
    HouseMarks,
    hatching,
    house_marks,
    ink_sum,
    shown_of,
)
from pressworthy.jobs.pull.value import Pull
from pressworthy.jobs.pull.views import Stages, factor_for, lights, tones
from pressworthy.judge import judge
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.metadata import words
from pressworthy.measure.pixels import pixels
from pressworthy.measure.ticket import ticket
from pressworthy.prepare import Order, Refused, make_seen
from pressworthy.print import softproof
from pressworthy.print.printlook import Press, press_of
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import EDGES, Placement
from pressworthy.values.rule import Rule
from pressworthy.values.units import MM_PER_INCH


def pull(picture: Picture, order: Order, house: House, rules: Mapping[str, Rule]) -> Pull:
    """Return the pull of a picture, its copy made where `order` says and judged by the `rules`.

    picture: as checked; its pixels and what was measured of it are used again.
    Raises Unmeasured where the picture cannot be read.
    """
    texts = words(picture)
    try:
        done = _pull(picture, order, house, rules)
    except pyvips.Error as error:
        why = f"its pixels cannot be shown: {str(error.detail).strip()}"
        raise unmeasured(error, why) from None
    return replace(done, caption=texts.get("caption"), credit=texts.get("credit"))


def _pull(picture: Picture, order: Order, house: House, rules: Mapping[str, Rule]) -> Pull:
    try:
        if house.prepare is None:
            raise Refused(f"{house.name} does not say how copies are made")
        seen = make_seen(order, _uncompressed(house), picture)
    except (Refused, Unmeasured) as reason:
        return replace(_without_copy(picture, house, rules), why=str(reason))
    prepared, plan, rendered = seen.made, seen.plan, seen.rendered
    after = pixels(prepared.copy)
    factor = factor_for(after)
    view = pyvips.Image.new_from_array(averaged(rendered.light.image, factor))
    left, top, right, bottom = (round(px / factor) for px in plan.mirror)
    mirror = left, top, right, bottom
    whole, size = picture.header.upright(), (view.width, view.height)
    marks = house_marks(picture, house, rules)
    masks = tuple(shown_of(mask, plan.cut, whole, mirror, size) for mask in marks.masks)
    light = replace(rendered.light, image=view)
    stages = Stages(light, after, rendered.sharp, rendered.plain, plan.ppi)
    done = _shown(stages, prepared.copy, replace(marks, masks=masks), close=True)
    sharp, plain = transfers(prepared.copy, rendered.plain, plan.ppi)
    verdict = judge(prepared.copy, house, rules)
    return replace(done, sharp=sharp, plain=plain, steps=prepared.steps, copy=verdict)


def _without_copy(picture: Picture, house: House, rules: Mapping[str, Rule]) -> Pull:
    """Return what can be shown of a picture of which no copy is made, or that is one."""
    output = picture.output
    mode = picture.header.mode
    light = to_light(
        upright(pixels(picture), picture.header.orientation),
        mode,
        profile_for_pixels(picture),
        intent="relative",
        black_point=True,
    )
    across = light.image.width
    factor = factor_for(light.image)
    light = replace(light, image=pyvips.Image.new_from_array(averaged(light.image, factor)))
    is_copy = ticket(picture) is not None
    if is_copy and mode == output.mode:
        after = pixels(picture)
    else:
        profile = output.condition.profiles[output.colour]
        after = from_light(
            light.romm(), light.image.height, profile,
            intent="relative", black_point=True, most_ink=output.most_ink,
        )  # fmt: skip
    ppi = None
    if placement := picture.placement:
        # what shows of the whole, and so how wide the whole would be
        shown = placement.shown(*picture.header.upright())[0]
        ppi = after.width * shown / across / placement.covered()[0] * MM_PER_INCH
    # only a copy has the detail that goes to press
    marks = house_marks(picture, house, rules)
    return _shown(Stages(light, after, None, None, ppi), picture, marks, close=is_copy)


def _shown(stages: Stages, copy: Picture, marks: HouseMarks, *, close: bool) -> Pull:
    """Return the pull of a copy, or of what stands for one, as far as it can be seen.

    marks: their masks as the views show them; close: whether there are close-ups.
    """
    output, placement = copy.output, copy.placement
    press = press_for(output)
    views = lights(stages, output, press)
    closed, close_mm = close_ups(stages, output, press) if close else ({}, None)
    height, width = views["supplied"].shape[:2]
    overlays = {}
    if any(mask.any() for mask in marks.masks):
        overlays["gamut"] = hatching(marks.masks, (width, height), RED, 1)
    most_ink = None
    if output.colour == "cmyk":
        ink = ink_sum(stages.after, factor_for(stages.after))
        most_ink = float(ink.max())
        limit = output.most_ink
        if limit is not None and most_ink > limit:
            overlays["ink"] = hatching([ink > limit], (width, height), BLUE, -1)
    printed, median = tones(views["soft"])
    coded = {name: softproof.srgb(light) for name, light in views.items()}
    paper_view = "print" if "print" in coded else "soft"
    drawn = [small(coded["soft"]), for_paper(coded[paper_view])]
    spent = sum(map(len, [*drawn, *closed.values(), *overlays.values()]))
    return Pull(
        views=within(MOST_PULL_BYTES - spent, coded),
        overlays=overlays,
        small=drawn[0],
        paper=drawn[1],
        paper_view=paper_view,
        size=(width, height),
        mm=placement.covered() if placement else None,
        bleed=_bleed(placement),
        close=closed,
        close_mm=close_mm,
        tones=printed,
        supplied_tones=tones(views["supplied"])[0],
        median=median,
        marked=marks.shares,
        most_ink=most_ink,
    )


def _bleed(placement: Placement | None) -> tuple[float, float, float, float]:
    if placement is None:
        return 0.0, 0.0, 0.0, 0.0
    top, right, bottom, left = (placement.bleed * (edge in placement.edges) for edge in EDGES)
    return top, right, bottom, left


def _uncompressed(house: House) -> House:
    """Return the house with copies that are quickly written and read: these go at once."""
    section = house.prepare
    if section is None or section["format"] != "TIFF":
        return house
    return replace(house, prepare={**section, "compression": "none"})


def press_for(output: Output) -> Press | None:
    """Return the press of an output, None where nothing is known of its dots."""
    if output.medium != "print" or output.mode == "RGB":
        return None
    try:
        return press_of(output.condition)
    except (Unmeasured, OSError):
        return None
