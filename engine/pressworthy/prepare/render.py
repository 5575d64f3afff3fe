"""The stages from master to finished pixels.

Tone and sharpening act on lightness alone: linear RGB is multiplied by the ratio of new to old
luminance, which leaves hue and the proportion of inks as they are. They come before the one
conversion to the output's colours, at the final size, because after it the pixels are 8-bit inks,
and sharpening those would shift the balance of the separation. Nothing is done after the
conversion, so sharpening is the last thing that shapes the picture; its transfer function,
measured on the finished copy, is in tests/reference/test_prepare_sharpening.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pyvips

from pressworthy.colour.gray import row_for_romm
from pressworthy.colour.lightness import lightness, luminance, printed
from pressworthy.colour.linear import TOP, from_light, limit_ink, most_ink, table, to_light
from pressworthy.files.opening import decode, is_inked, opaque, stream, upright
from pressworthy.house import House
from pressworthy.measure.gray_mix import best_mix
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.prepare import geometry, sharpen, tone
from pressworthy.prepare.order import section_of
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import GrayMix
from pressworthy.values.units import figure

DARKEST = 2e-3
"""Luminance below which, L* 1.8, shadows are no more multiplied up: their channels are noise."""


class Rendered(NamedTuple):
    """A copy's finished pixels, as a libvips image, and what was done to them.

    steps: in words; bend: of the tone curve; bare: share (0..1) of paper behind transparent parts.
    """

    image: Any
    steps: tuple[str, ...]
    sharpening: sharpen.Sharpening
    bend: float
    bare: float = 0.0


def render(master: Picture, plan: geometry.Plan, house: House) -> Rendered:
    """Return the copy's finished pixels. Raises Unmeasured where the master is damaged."""
    section, output = section_of(house), master.output
    steps: list[str] = []
    intent, black_point = section["intent"], section["black point compensation"]

    image, inked = _upright(master, steps)
    bare = 1 - geometry.cut(inked, plan.window).avg() / 255 if inked is not None else 0.0
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
    asked = master.gray_mix or section.get("gray mix")
    if gray and asked and master.header.mode != "gray":
        mix = _gray_mix(master, asked)
        before = light.romm().recomb([row_for_romm(mix).tolist()]).cast("ushort")
        told = ", as a person asked" if master.gray_mix else ""
        steps.append("gray of " + ", ".join(figure(part) for part in mix) + told)
    bend = _bend(before, output, section, steps)
    how = sharpen.Sharpening(
        radius=sharpen.radius_for(output.viewing_distance, plan.ppi, section["radius"]),
        amount=section["amount"] if master.sharpen else 0.0,
        threshold=section["threshold"],
        halo=section["halo"],
    )
    after = _relit(before, bend, how)
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
    if not master.sharpen:
        steps.append("not sharpened, as a person asked")
    elif how.amount and how.radius >= sharpen.LEAST_RADIUS:
        steps.append(f"sharpened, radius {how.radius:.2f} px, amount {how.amount:g}")
    return Rendered(finished, tuple(steps), how, bend, bare)


def _gray_mix(master: Picture, asked: GrayMix | Mapping[str, float]) -> tuple[float, ...]:
    if isinstance(asked, str):
        return best_mix(master)
    if isinstance(asked, tuple):
        return asked
    return tuple(asked[name] for name in ("red", "green", "blue"))


def _upright(master: Picture, steps: list[str]) -> tuple[Any, Any]:
    """Return the master's pixels turned upright and opaque, and where they are picture, or None.

    An opaque one that stands upright is read once, from top to bottom.
    """
    header, inked = master.header, None
    turned = header.orientation != 1
    image = decode(master.path) if turned or header.alpha else stream(master.path)
    if header.alpha:
        laid = opaque(image, header.mode)
        image, inked = laid, is_inked(image, laid.bands)
        steps.append("flattened on white")
    if turned:
        steps.append("turned upright")
        image = upright(image, header.orientation)
        inked = None if inked is None else upright(inked, header.orientation)
    return image, inked


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


def _bend(before: Any, output: Output, section: Mapping[str, Any], steps: list[str]) -> float:
    """Return the bend of the tone curve for a picture of luminance `before`."""
    factor = max(1, int((before.width * before.height / 250_000) ** 0.5))
    factor = min(factor, before.width, before.height)
    median = float(np.median(lightness(before.shrink(factor, factor).numpy() / TOP)))
    condition = output.condition
    black = (condition.black if output.colour == "gray" else condition.darkest)[0]
    paper = condition.paper[0]
    window = tone.Window(*output.median, section["largest lift"])
    bend = tone.bend(median, black, paper, window)
    moved = float(tone.curve(np.array(median), bend))
    if abs(moved - median) >= 0.05:
        verb = "lifted" if moved > median else "lowered"
        steps.append(
            f"mid-tone {verb} from L* {median:.1f} to {moved:.1f}, so that it prints at "
            f"{printed(moved, black, paper):.1f}"
        )
    return bend


def _relit(before: Any, bend: float, how: sharpen.Sharpening) -> Any:
    """Return luminance through the tone curve and sharpened, both done on L*.

    before: ushort, 0..65535; the result is float on the same scale.
    """
    steps = np.linspace(0, 1, TOP + 1)
    toned = before.maplut(table(tone.curve(lightness(steps), bend).astype(np.float32)))
    sharpened = sharpen.sharpen(toned, how).linear(TOP / 100, 0.5).cast("ushort")
    return sharpened.maplut(table((luminance(steps * 100) * TOP).astype(np.float32)))
