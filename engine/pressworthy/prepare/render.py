"""The stages from master to finished pixels.

Tone and sharpening look at lightness alone: linear RGB is multiplied by the ratio of new to old
luminance, which leaves hue as it is and takes chroma along, in proportion to L* + 16 (where L*
falls from 50 to 40, a chroma of 60 falls by 9). They come before the one
conversion to the output's colours, at the final size, because after it the pixels are inks,
and sharpening those would shift the balance of the separation. Nothing is done after the
conversion, so sharpening is the last thing that shapes the picture; its transfer function,
measured on the finished copy, is in tests/reference/test_prepare_sharpening.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.computed import in_memory, strips
from pressworthy.colour.gray import row_for_romm
from pressworthy.colour.lightness import lightness, luminance, printed
from pressworthy.colour.linear import (
    ROMM,
    TOP,
    Light,
    averaged,
    from_light,
    in_black,
    table,
    to_light,
)
from pressworthy.colour.separation import darkest, separated
from pressworthy.colour.shown import shown
from pressworthy.colour.tone import Curve, Tones, chosen_curve, curve
from pressworthy.files.opening import decode, is_inked, opaque, stream, upright
from pressworthy.house import House
from pressworthy.measure.gray_mix import Mix, limits_of, luminance_mix, mix_for
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.pixels import decoded
from pressworthy.measure.press import separated_to
from pressworthy.measure.ranks import percentiles
from pressworthy.prepare import geometry, sharpen
from pressworthy.prepare.amount import amount_for
from pressworthy.prepare.order import section_of
from pressworthy.print.softproof import copy_light
from pressworthy.values.machine import unmeasured
from pressworthy.values.picture import Picture, is_known
from pressworthy.values.placement import lift_of
from pressworthy.values.units import figure

Floats = NDArray[np.float32]

_SHARPENED_ROWS = 128  # at a time, so that little beside the copy itself is in memory

DARKEST = 2e-3
"""Luminance below which, L* 1.8, shadows are no more multiplied up: their channels are noise."""


@dataclass(frozen=True)
class Stage:
    """A copy before its conversion to the output's colours.

    Nothing of its colours is computed until it is looked at, and no more than that.
    luminance: a libvips image of 1 band of float, 0..65535.
    """

    luminance: Any
    _inked: Callable[..., Any]
    _shown: Callable[[Floats, Floats], Floats]
    _means: dict[int, Floats] = field(default_factory=dict, compare=False, repr=False)

    def image(self) -> Any:
        """Return the copy's pixels as a libvips image in memory."""
        return self._inked(self.luminance, lambda image: image)

    def part(self, left: int, top: int, width: int, height: int) -> Any:
        """Return a part of the copy's pixels as a libvips image in memory."""

        def cut(image: Any) -> Any:
            return image.crop(left, top, width, height)

        return self._inked(cut(self.luminance), cut)

    def small(self, supplied: Floats, factor: int) -> Floats:
        """Return the relative light, XYZ (height, width, 3), of the copy at 1/`factor` of its size.

        supplied: the master's, averaged so. Luminance is averaged, and colour on its own: it hardly
        changes within so few pixels.
        """
        return self._shown(self.mean(factor), supplied)

    def mean(self, factor: int) -> Floats:
        """Return the luminance at 1/`factor` of its size, (height, width, 1), computed once."""
        if factor not in self._means:
            self._means[factor] = averaged(self.luminance, factor)
        return self._means[factor]


class Rendered(NamedTuple):
    """A copy's finished pixels, as a libvips image, and what was done to them.

    steps: in words; supplied: the master's tones, as cut; curve: the tone curve they got.
    bare: share (0..1) of paper behind transparent parts. light: the master's, at the copy's size,
    in memory; sharp, plain: the copy as it is sharpened, and without.
    """

    image: Any
    steps: tuple[str, ...]
    sharpening: sharpen.Sharpening
    supplied: Tones
    curve: Curve
    bare: float
    light: Light
    sharp: Stage
    plain: Stage


def render(master: Picture, plan: geometry.Plan, house: House) -> Rendered:
    """Return the copy's finished pixels. Raises Unmeasured where the master is damaged.

    The master is decoded for it unless its pixels are known.
    """
    section, output = section_of(house), master.output
    steps: list[str] = []
    intent, black_point = section["intent"], section["black point compensation"]

    image, drawn = upright_of(master, steps)
    bare = 1 - geometry.cut(drawn, plan.cut).avg() / 255 if drawn is not None else 0.0
    light = to_light(
        geometry.cut(image, plan.cut),
        master.header.mode,
        profile_for_pixels(master),
        intent=intent,
        black_point=black_point,
    )
    cut = plan.cut
    if (cut.width, cut.height) != (image.width, image.height):
        steps.append(f"cropped to {cut.width} x {cut.height} px")
    small = geometry.mirror_out(_resampled(light.image, plan), plan.mirror)
    steps += _told(plan)
    light = replace(light, image=small)

    gray = output.colour == "gray"
    weights = ROMM.colorants[:, 1]
    if gray and master.header.mode != "gray" and (mix := _gray_mix(master, house)):
        weights = row_for_romm(mix)
        asked = ", as a person asked" if master.gray_mix else ""
        steps.append("gray of " + ", ".join(figure(part) for part in mix) + asked)
    before = light.mixed(weights)
    supplied = _tones(before)
    toned = _toned(supplied, master, steps)
    how = sharpen.Sharpening(
        radius=sharpen.radius_for(output.viewing_distance, plan.ppi, section["radius"]),
        amount=amount_for(house) if master.sharpen else 0.0,
        threshold=section["threshold"],
        halo=section["halo"],
    )
    profile = output.condition.profiles[output.colour]
    black_alone = master.in_black_alone and output.colour == "cmyk"
    depth = section["depth"]

    def in_inks(after: Any, before: Any, light: Light, depth: int = depth) -> Any:
        if black_alone:
            return in_memory(in_black(after, profile, black_point=black_point, depth=depth))
        return from_light(
            _gray(after) if gray else _relit_colours(after, before, light),
            after.height,
            profile,
            intent=intent,
            black_point=black_point,
            depth=depth,
            most_ink=output.most_ink,
        )

    def shown_small(after: Floats, supplied: Floats) -> Floats:
        if gray or black_alone:
            # of which luminance is all that counts
            lit = pyvips.Image.new_from_array(after)
            return copy_light(in_inks(lit, lit, light, 16), output)
        romm = supplied @ np.linalg.inv(ROMM.colorants).astype(np.float32)
        romm *= after / np.maximum(supplied[..., 1:2], np.float32(DARKEST))
        return shown(
            romm, profile, intent=intent, black_point=black_point, most_ink=output.most_ink
        )

    def inked(after: Any, cut: Callable[[Any], Any]) -> Any:
        return in_inks(after, cut(before), replace(light, image=cut(light.image)))

    relit = _relit(before, toned.bend, how)
    sharp = Stage(relit, inked, shown_small)
    plain = Stage(before.maplut(table(_bent(toned.bend))), inked, shown_small)
    compensated = "with" if black_point else "without"
    inks = ""
    if master.header.mode == "gray" and output.colour == "cmyk":
        inks = "in black ink alone, " if black_alone else "in four inks, "
    steps.append(
        f"converted to {output.condition.name} {output.colour}, {inks}{intent} intent, "
        f"{compensated} black point compensation"
        + (f", at {depth} bits a channel" if depth > 8 else "")
    )
    if not black_alone and (limit := separated_to(output)) is not None:
        steps.append(_separated(profile.read_bytes(), limit))
    if not master.sharpen:
        steps.append("not sharpened, as a person asked")
    elif how.amount and how.radius >= sharpen.LEAST_RADIUS:
        steps.append(f"sharpened, radius {how.radius:.2f} px, amount {how.amount:g}")
    done = tuple(steps)
    return Rendered(sharp.image(), done, how, supplied, toned, bare, light, sharp, plain)


def _separated(profile: bytes, limit: float) -> str:
    """Return in words what keeping to an ink limit, %, took."""
    before, after = darkest(profile), darkest(separated(profile, limit))
    step = f"separated anew within {figure(limit, '%')} of ink: more black for less colour"
    if after - before >= 0.05:
        step += f"; its black prints at L* {after:.1f}, {before:.1f} without the limit"
    return step


def _gray_mix(master: Picture, house: House) -> Mix | None:
    """Return the mix of the master's gray copy, None where every colour keeps its lightness."""
    setting = house.rules.get("grayscale")
    mix = mix_for(master, limits_of(setting.options) if setting else None)
    return mix if mix != luminance_mix() else None


def upright_of(master: Picture, steps: list[str]) -> tuple[Any, Any]:
    """Return the master's pixels turned upright and opaque, and where they are picture, or None.

    An opaque one that stands upright is read once, from top to bottom.
    """
    header, inked = master.header, None
    turned = header.orientation != 1
    if is_known(master, decoded):
        image = decoded(master)
    else:
        image = decode(master.path) if turned or header.alpha else stream(master.path)
    if header.extra_channels:
        one = header.extra_channels == 1
        beyond = "a channel" if one else f"{header.extra_channels} channels"
        steps.append(f"{beyond} beyond its colours left out")
    if header.alpha:
        laid = opaque(image, header.mode)
        image, inked = laid, is_inked(image, laid.bands)
        steps.append("flattened on white")
    if turned:
        steps.append("turned upright")
        image = upright(image, header.orientation)
        inked = None if inked is None else upright(inked, header.orientation)
    return image, inked


def _resampled(image: Any, plan: geometry.Plan) -> Any:
    try:
        return geometry.resample(image, plan.width, plan.height)
    except pyvips.Error as error:
        why = f"the file is damaged or cut short: {str(error.detail).strip()}"
        raise unmeasured(error, why) from None


def _told(plan: geometry.Plan) -> list[str]:
    across, down = plan.size()
    as_cut = (plan.width, plan.height) == (plan.cut.width, plan.cut.height)
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
    # few tones for many pixels
    levels = lightness(np.arange(TOP + 1) / TOP)
    values = levels.take(averaged(before, factor).astype(np.intp))
    return Tones(*percentiles(values.ravel(), [5, 50, 95]).tolist())


def _toned(tones: Tones, master: Picture, steps: list[str]) -> Curve:
    """Return the tone curve, by a person's word or the house's."""
    output, asked = master.output, lift_of(master.tone)
    black, paper = master.span
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

    before: ushort, 0..65535; the result, a libvips image that waits, is float on the same scale.
    """
    steps = np.linspace(0, 1, TOP + 1)
    levels = curve(lightness(steps), bend).astype(np.float32)
    width, height, around = before.width, before.height, sharpen.reach(how)
    done, region = np.empty((height, width), np.uint16), pyvips.Region.new(before)
    for top in range(0, height, _SHARPENED_ROWS):
        first, end = max(top - around, 0), min(top + _SHARPENED_ROWS, height)
        rows = min(end + around, height) - first
        values = np.frombuffer(region.fetch(0, first, width, rows), np.uint16)
        sharpened = sharpen.sharpen(levels.take(values.reshape(rows, width)), how)
        coded = sharpened[top - first : end - first] * np.float32(TOP / 100) + np.float32(0.5)
        done[top:end] = np.clip(coded, 0, TOP, out=coded)
    lit = table((luminance(steps * 100) * TOP).astype(np.float32))
    return pyvips.Image.new_from_array(done).maplut(lit)


def _gray(after: Any) -> Iterator[Floats]:
    """Yield luminance, 1 band, as linear ROMM RGB, a few rows at a time."""
    for rows in strips(after):
        yield np.repeat(rows, 3, axis=2)


def _relit_colours(after: Any, before: Any, light: Light) -> Iterator[Floats]:
    """Yield a master's linear ROMM RGB, its luminance brought from `before` to `after`.

    A few rows at a time. before: ushort; after: float, both 1 band, 0..65535.
    """
    least = np.maximum(np.arange(TOP + 1), DARKEST * TOP)
    shares = before.maplut(table((1 / least).astype(np.float32)))
    for romm, *ratio in zip(light.romm(), strips(after), strips(shares), strict=True):
        romm *= ratio[0] * ratio[1]
        yield romm


def _bent(bend: float) -> NDArray[np.float32]:
    """Return the luminance, 0..65535, that the tone curve alone makes of each luminance."""
    steps = np.linspace(0, 1, TOP + 1)
    return np.asarray(luminance(curve(lightness(steps), bend)) * TOP, np.float32)
