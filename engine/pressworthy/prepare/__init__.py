"""Makes prepared copies: one master, one house, one placement, one file.

The steps, in their fixed order: orient, crop, resample in linear light, bleed, tone, colour or
gray, sharpen at the final size, encode with ICC profile, resolution, words and ticket. Tone and
sharpening act on lightness alone: linear RGB is multiplied by the ratio of new to old luminance,
which leaves hue and the proportion of inks as they are. They come before the one conversion to
the output's colours, at the final size, because after it the pixels are 8-bit inks, and sharpening
those would shift the balance of the separation. Nothing is done after the conversion, so
sharpening is the last thing that shapes the picture; its transfer function, measured on the
finished copy, is in tests/reference/test_prepare_sharpening.py.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyvips

from pressworthy import __version__
from pressworthy.colour.gray import row_for_romm
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.lightness import lightness, luminance, printed
from pressworthy.colour.linear import TOP, from_light, limit_ink, most_ink, table, to_light
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import identify
from pressworthy.colour.tone import Curve, Tones, chosen_curve, curve
from pressworthy.files.intake import take_in
from pressworthy.files.opening import decode, opaque, read_header, stream, upright
from pressworthy.house import House
from pressworthy.measure.gray_mix import best_mix
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.metadata import MOST_XMP_BYTES, stated_space, words
from pressworthy.measure.pixels import pixels
from pressworthy.measure.ticket import Ticket, hash_file, pixel_hash, read_ticket, ticket
from pressworthy.prepare import geometry, sharpen, store
from pressworthy.prepare.encode import dress, encode, sealed, unhashed
from pressworthy.prepare.geometry import MOST_REDUCED
from pressworthy.prepare.metadata import MOST_BYTES, iim, largest, packet, short
from pressworthy.prepare.position import position
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import (
    HOUSE_TONE,
    Crop,
    Focus,
    Placement,
    PlacementRequest,
    lift_of,
)
from pressworthy.values.units import CSS_PX_MM, MM_PER_INCH, figure

MADE_BY = f"pressworthy {__version__} prepare 2"
DARKEST = 2e-3
"""Luminance below which, L* 1.8, shadows are no more multiplied up: their channels are noise."""


class Refused(Exception):  # noqa: N818 - an outcome, not an error
    """No copy is made of this master, with the reason."""


@dataclass(frozen=True)
class Order:
    """One copy to make.

    scale: device pixels to a CSS pixel on a screen, 0 in print; assume: the RGB space a person
    vouches for, or ""; force: make it even if an up-to-date copy is there.
    """

    master: Path
    target: Path
    request: PlacementRequest
    scale: float = 0.0
    assume: str = ""
    force: bool = False


@dataclass(frozen=True)
class Made:
    """What came of an order.

    copy: as rules see it; steps: that made it; fresh: whether now; edited: by hand since it was
    made, and so left as it is.
    """

    copy: Picture
    steps: tuple[str, ...]
    fresh: bool
    edited: bool = False


def make(order: Order, house: House) -> Made:
    """Make one prepared copy, unless it is there already and up to date.

    Raises Refused, Unmeasured where the master cannot be read, OSError where the copy cannot be
    written.
    """
    master, plan = planned(order, house)
    before = hash_file(order.master)
    blank = _ticket(order, house, master, plan, before)
    section = _section(house)
    standing = _standing(order, master, blank, section["name"])
    if isinstance(standing, Made):
        return standing
    finished, steps, done = render(master, plan, house)
    if order.assume:
        steps = (f"read as {order.assume}, which a person vouches for", *steps)
    xmp, steps = _packed(master, replace(blank, **done), steps, section)
    dressed = dress(
        finished, ppi=plan.ppi, xmp=xmp, iptc=iim(master.header.iptc, section["format"])
    )
    try:
        data, decoded, sha256 = sealed(encode(dressed, section), blank.pixels)
    except pyvips.Error as error:
        raise Unmeasured(f"the file is damaged or cut short: {str(error.detail).strip()}") from None
    if hash_file(order.master) != before:
        raise Refused("the master changed while its copy was being made; prepare it again")
    store.put(data, order.target)
    copy = _copy(order, master)
    # the pixels just read back from these very bytes; the rules need not decode them again
    copy.memo[pixels] = decoded, None
    copy.memo[pixel_hash] = sha256, None
    return Made(copy, (*standing, *steps), fresh=True)


def _packed(
    master: Picture, record: Ticket, steps: tuple[str, ...], section: Mapping[str, Any]
) -> tuple[bytes, tuple[str, ...]]:
    """Return the copy's XMP packet, as large as its format holds, and the steps it tells of."""
    place = position(master) if section["keep position"] else {}
    most = MOST_BYTES.get(section["format"], MOST_XMP_BYTES)
    left: list[str] = []
    while True:
        told = (f"no room in its XMP for {', '.join(map(short, left))}",) if left else ()
        ticket = replace(record, steps="; ".join((*steps, *told)))
        xmp = packet(master.header.xmp, words(master), ticket, place, left)
        if len(xmp) <= most:
            return xmp, (*steps, *told)
        if not (more := largest(master.header.xmp, left)):
            raise Refused(
                f"its caption and credits take {len(xmp)} bytes, and a {section['format']} holds "
                f"{most} of them; shorten them in the master"
            )
        left.append(more)


def planned(order: Order, house: House) -> tuple[Picture, geometry.Plan]:
    """Return the master as taken in, and the geometry of its copy. Raises Refused, Unmeasured."""
    section = _section(house)
    output = output_for(house, order.scale)
    master = _taken_in(order, output, section)
    if (made := ticket(master)) is not None:
        raise Refused(
            f"it is a prepared copy for {made.house}, sharpened for that output; "
            f"prepare from its master, {made.master}"
        )
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
    window = plan.window
    if plan.width * MOST_REDUCED < window.width or plan.height * MOST_REDUCED < window.height:
        raise Refused(
            f"{master.placement.describe()} is {plan.width} x {plan.height} px at "
            f"{figure(plan.ppi, 'ppi')}, too few to bring {window.width} x {window.height} px "
            "down to; mend the size"
        )
    return _with_profile(master, order.assume), plan


def render(
    master: Picture, plan: geometry.Plan, house: House
) -> tuple[Any, tuple[str, ...], dict[str, str]]:
    """Return the finished pixels, the steps in words, and what the ticket says of them."""
    section, output = _section(house), master.output
    steps: list[str] = []
    intent, black_point = section["intent"], section["black point compensation"]

    image = _upright(master, steps)
    light = to_light(
        geometry.cut(image, plan.window),
        master.header.mode,
        profile_for_pixels(master),
        intent=intent,
        black_point=black_point,
    )
    cut = plan.window.width, plan.window.height
    if cut != (image.width, image.height):
        steps.append(f"cropped to {cut[0]} x {cut[1]} px")
    small = geometry.mirror_out(
        _computed(geometry.resample(light.image, plan.width, plan.height)), plan.mirror
    )
    steps += _resampled(plan)
    light = replace(light, image=small)

    gray = output.colour == "gray"
    before = light.luminance().cast("ushort")
    if gray and "gray mix" in section and master.header.mode != "gray":
        mix = _gray_mix(master, section["gray mix"])
        before = light.romm().recomb([row_for_romm(mix).tolist()]).cast("ushort")
        steps.append("gray of " + ", ".join(figure(part) for part in mix))
    tones = _tones(before)
    toned = _toned(tones, master, steps)
    how = sharpen.Sharpening(
        radius=sharpen.radius_for(output.viewing_distance, plan.ppi, section["radius"]),
        amount=section["amount"],
        threshold=section["threshold"],
        halo=section["halo"],
    )
    after = _relit(before, toned.bend, how)
    if gray:
        lit = after.bandjoin([after, after])
    else:
        least = np.maximum(np.arange(TOP + 1), DARKEST * TOP)
        lit = light.romm() * (after * before.maplut(table((1 / least).astype(np.float32))))
    profile = output.condition.profiles[output.colour]
    finished = from_light(lit, profile, intent=intent, black_point=black_point)
    compensated = "with" if black_point else "without"
    steps.append(
        f"converted to {output.condition.name} {output.colour}, {intent} intent, {compensated} "
        "black point compensation"
    )
    limit = output.condition.values.get("ink limit")
    if output.colour == "cmyk" and limit is not None:
        most = most_ink(profile, intent=intent, black_point=black_point)
        # half a level of 8 bits in each of four inks
        if most > limit + 0.8:
            finished = limit_ink(finished, limit)
            steps.append(f"ink limited to {figure(limit, '%')}")
    if how.amount and how.radius >= sharpen.LEAST_RADIUS:
        steps.append(f"sharpened, radius {how.radius:.2f} px, amount {how.amount:g}")
    done = {
        "radius": f"{how.radius:.4f}",
        "amount": f"{how.amount:g}",
        "bend": f"{toned.bend:.4f}",
        "lift": f"{round(toned.moved(tones.median) - tones.median, 1) + 0.0:.1f}",
        "kind": toned.kind,
        "supplied": f"{tones.dark:.1f} {tones.median:.1f} {tones.light:.1f}",
    }
    return finished, tuple(steps), done


def _gray_mix(master: Picture, asked: str | Mapping[str, float]) -> tuple[float, ...]:
    if isinstance(asked, str):
        return best_mix(master)
    return tuple(asked[name] for name in ("red", "green", "blue"))


def output_for(house: House, scale: float) -> Output:
    """Return the house's output, at `scale` device pixels to a CSS pixel where that is given."""
    if not scale:
        return house.output
    return replace(house.output, ppi=scale * MM_PER_INCH / CSS_PX_MM)


def _section(house: House) -> Mapping[str, Any]:
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
        return replace(master, header=replace(header, icc=rgb_profile(assume)), memo={})
    if header.mode == "Lab":
        return master
    if header.mode == "RGB":
        ask = (
            f"ask which space it was made in, then give --assume '{master.path.name}=SPACE', or "
            "name it in the list's column assume"
        )
    if header.icc is None:
        stated = stated_space(master)
        told = f", though its metadata says {stated}" if stated else ""
        raise Refused(f"it has no ICC profile{told}; {ask}")
    try:
        profile = parse(header.icc)
    except DamagedProfile as error:
        raise Refused(f"its ICC profile cannot be used: {error}; {ask}") from None
    if profile.space != header.mode:
        raise Refused(
            f"its ICC profile is for {profile.space}, its pixels are {header.mode}; {ask}"
        )
    stated, space = stated_space(master), identify(profile)
    if stated and space and stated != space:
        raise Refused(f"its ICC profile says {space}, its metadata {stated}; {ask}")
    return master


def _upright(master: Picture, steps: list[str]) -> Any:
    """Return the master's pixels turned upright and opaque, read once from top to bottom."""
    header = master.header
    turned = header.orientation != 1
    image = decode(master.path) if turned else stream(master.path)
    if header.alpha:
        image = opaque(image, header.mode)
        steps.append("flattened on white")
    if turned:
        steps.append("turned upright")
        image = upright(image, header.orientation)
    return image


def _computed(image: Any) -> Any:
    try:
        return image.copy_memory()
    except pyvips.Error as error:
        raise Unmeasured(f"the file is damaged or cut short: {str(error.detail).strip()}") from None


def _resampled(plan: geometry.Plan) -> list[str]:
    across, down = plan.size()
    as_cut = (plan.width, plan.height) == (plan.window.width, plan.window.height)
    verb = "kept" if as_cut else "brought to"
    steps = [f"{verb} {across} x {down} px at {figure(plan.ppi, 'ppi')}"]
    if plan.short:
        steps[0] += f", its own: no pixels are invented to reach {figure(plan.short, 'ppi')}"
    if any(plan.mirror):
        steps.append("bleed mirrored from the picture's edge: look at it")
    return steps


def _tones(before: Any) -> Tones:
    """Return the L* of a picture of luminance `before`, between black and paper."""
    factor = max(1, int((before.width * before.height / 250_000) ** 0.5))
    factor = min(factor, before.width, before.height)
    values = lightness(before.shrink(factor, factor).numpy() / TOP)
    return Tones(*np.percentile(values, [5, 50, 95]).tolist())


def _toned(tones: Tones, master: Picture, steps: list[str]) -> Curve:
    """Return the tone curve, by a person's word or the house's."""
    output, asked = master.output, lift_of(master.tone)
    black, paper = output.span
    told = f"mid-tone at L* {tones.median:.1f}"
    done = chosen_curve(tones, asked, black, paper, output.steepest)
    why = f" of a {done.kind} picture" if done.kind else ""
    if asked is not None:
        why = f", as a person asked ({master.tone})"
        if done.held:
            why += f", as far as a slope of {output.steepest:g} lets"
    moved = done.moved(tones.median)
    if abs(moved - tones.median) < 0.05:
        if why:
            steps.append(f"{told}{why}, left as supplied")
        return done
    verb = "lifted" if moved > tones.median else "lowered"
    steps.append(
        f"{told}{why}, {verb} to {moved:.1f} between black and paper, so that it prints at "
        f"{printed(moved, black, paper):.1f}"
    )
    return done


def _relit(before: Any, bend: float, how: sharpen.Sharpening) -> Any:
    """Return luminance through the tone curve and sharpened, both done on L*.

    before: ushort, 0..65535; the result is float on the same scale.
    """
    steps = np.linspace(0, 1, TOP + 1)
    toned = before.maplut(table(curve(lightness(steps), bend).astype(np.float32)))
    sharpened = sharpen.sharpen(toned, how).linear(TOP / 100, 0.5).cast("ushort")
    return sharpened.maplut(table((luminance(steps * 100) * TOP).astype(np.float32)))


def _ticket(
    order: Order, house: House, master: Picture, plan: geometry.Plan, sha256: str
) -> Ticket:
    place, output = master.placement, master.output
    assert place is not None
    return Ticket(
        made_by=MADE_BY,
        master=order.master.name,
        master_sha256=sha256,
        house=house.name,
        house_sha256=house.fingerprint(),
        condition=output.condition.name,
        condition_sha256=output.condition.fingerprint([output.colour]),
        colour=output.colour,
        width=f"{place.width:.4f}",
        height=f"{place.height:.4f}",
        bleed=f"{place.bleed:g}",
        edges=" ".join(sorted(place.edges)),
        crop=_crop_text(place),
        assumed=order.assume,
        tone=order.request.tone or HOUSE_TONE,
        ppi=f"{plan.ppi:.4f}",
        radius="",
        amount="",
        bend="",
        lift="",
        kind="",
        supplied="",
        steps="",
        pixels=unhashed(sha256),
        master_place=_place(order),
    )


def _place(order: Order) -> str:
    master, folder = order.master.resolve(), order.target.parent.resolve()
    # seen from the copy, so that a folder with masters and copies may be moved as a whole
    seen = os.path.relpath(master, folder) if master.drive == folder.drive else master
    return hashlib.sha256(os.fsencode(Path(seen).as_posix())).hexdigest()


def _crop_text(place: Placement) -> str:
    crop = place.crop
    if isinstance(crop, Focus):
        return f"focus {crop.x:g} {crop.y:g}"
    if isinstance(crop, Crop):
        return f"crop {crop.left:g} {crop.top:g} {crop.width:g} {crop.height:g}"
    return ""


def _standing(
    order: Order, master: Picture, wanted: Ticket, pattern: str
) -> Made | tuple[str, ...]:
    """Return the copy that is there already if it is what was ordered.

    Else one must be made, and what is to be said of the one that is there is returned. Raises
    Refused where what is there is not ours to write over.
    """
    if not order.target.exists() and not order.target.is_symlink():
        return ()
    try:
        there = read_ticket(read_header(order.target).xmp)
    except Unmeasured:
        there = None
    if there is None:
        raise Refused(
            f"{order.target} is there and is no prepared copy; it is left alone: move it away, or "
            "choose another --into"
        )
    if order.force:
        return ()
    if there.of_another_master(wanted):
        whose = f"another {there.master}" if there.master == wanted.master else there.master
        named = "" if "{folder}" in pattern else "put {folder} in the house's naming pattern, "
        raise Refused(
            f"{order.target} is the copy of {whose}; choose another --into, {named}or give "
            "--force to write over it"
        )
    copy = _copy(order, master)
    try:
        edited = pixel_hash(copy) != there.pixels
    except Unmeasured:
        return ("the copy that was there is damaged and was made anew",)
    if there.same_order(wanted):
        return Made(copy, tuple(there.steps.split("; ")), fresh=False, edited=edited)
    if edited:
        raise Refused(
            f"{order.target} was edited after it was prepared; move it away, or give --force"
        )
    return ()


def _copy(order: Order, master: Picture) -> Picture:
    assert master.placement is not None
    place = replace(master.placement, crop=None, source="given")
    header = read_header(order.target)
    return Picture(order.target, header, master.output, place, masters=(order.master,))
