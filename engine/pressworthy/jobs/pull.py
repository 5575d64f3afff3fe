"""A pull: one picture as the marked proof shows it, in small pictures and figures.

The word is the trade's for a trial impression. A pull holds nothing but bytes and numbers, so that
a worker can make it and a page can be written from it: the views, overlays and close-ups as encoded
pictures, how lightness is spread in the print, how much contrast reaches the reader before and
after sharpening, and the verdict on the prepared copy.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import ceil
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

from pressworthy.colour.lightness import lightness
from pressworthy.colour.linear import Light, from_light, to_light
from pressworthy.files.opening import upright
from pressworthy.house import House
from pressworthy.judge import judge
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.metadata import words
from pressworthy.measure.pixels import TILE, busy_places, pixels
from pressworthy.measure.print_detail import FINE, MOST_TILES, print_detail
from pressworthy.measure.ticket import ticket
from pressworthy.prepare import Order, Refused, geometry, make, planned, render
from pressworthy.print import softproof
from pressworthy.print.eye import as_seen
from pressworthy.print.printlook import (
    Press,
    Window,
    dots_light,
    flat_luminance,
    press_of,
    printed_luminance,
    tones_of,
)
from pressworthy.print.transfer import Transfer, transfer
from pressworthy.values.finding import Unmeasured, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.placement import EDGES, Placement, pixels_for
from pressworthy.values.rule import Rule
from pressworthy.values.units import CSS_PX_MM, MM_PER_INCH

LONGEST = 1200
"""Most px of a view's longer edge."""

MOST_BYTES = 290_000
"""Of all pictures of a pull together: written as base64 they take a third more, under 400 kB."""

CLOSE_MM = (24.0, 18.0)
DOTS_MM = (6.0, 4.5)
BINS = 50

RED, BLUE = (179, 39, 30), (31, 79, 153)
"""The two pencils of the marked proof, sRGB."""

_QUALITIES = (64, 56, 48, 40, 32, 24, 16)
_HATCH_PX = 9
_READ_SAMPLES = 3
_PLAIN_TILES = 1


@dataclass(frozen=True)
class Pull:
    """One picture's proof.

    views: AVIF by name: ``supplied``, ``mono``, and ``soft``, ``print`` of the prepared copy, each
    with ``-before`` for the copy without its sharpening; overlays: PNG by ``gamut``, ``ink``.
    size: px of the views; mm: that the copy covers, bleed included, or None; bleed: mm at top,
    right, bottom, left. close: AVIF by ``read``, ``dots``, each with ``-before``; close_mm: of the
    first, None where there is none.
    tones: shares (0..1) of the picture by printed L*, in `BINS` steps from 0 to 100;
    supplied_tones: the same as a screen shows the master; median: printed L*.
    sharp, plain: contrast transfer of the copy as prepared and before its sharpening.
    colours_moved: share (0..1) of the picture that the output cannot reach; most_ink: %, or None.
    steps: what preparing did; copy: the verdict on what it made; why: the reason there is no copy.
    """

    views: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    overlays: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    size: tuple[int, int] = (0, 0)
    mm: tuple[float, float] | None = None
    bleed: tuple[float, float, float, float] = (0, 0, 0, 0)
    close: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    close_mm: tuple[float, float] | None = None
    tones: tuple[float, ...] = ()
    supplied_tones: tuple[float, ...] = ()
    median: float = 0.0
    sharp: Transfer | None = None
    plain: Transfer | None = None
    colours_moved: float | None = None
    most_ink: float | None = None
    steps: tuple[str, ...] = ()
    copy: Verdict | None = None
    why: str = ""
    caption: str = ""
    credit: str = ""

    def bytes_shown(self) -> int:
        """Return how many bytes its pictures take, before base64."""
        parts = (self.views, self.overlays, self.close)
        return sum(len(data) for part in parts for data in part.values())


@dataclass(frozen=True)
class _Stages:
    """What a pull is made from.

    light: the master, as cut for its place, at the views' size; after, before: the copy in the
    output's colours, with and without sharpening, `before` None where it cannot be had; ppi: of the
    copy, None where unknown.
    """

    light: Light
    after: Any
    before: Any
    ppi: float | None


def pull(picture: Picture, order: Order, house: House, rules: Mapping[str, Rule]) -> Pull:
    """Return the pull of a picture, its copy made where `order` says and judged by the `rules`.

    picture: as checked; its pixels and what was measured of it are used again.
    Raises Unmeasured where the picture cannot be read.
    """
    texts = words(picture)
    try:
        done = _pull(picture, order, house, rules)
    except pyvips.Error as error:
        raise Unmeasured(f"its pixels cannot be shown: {str(error.detail).strip()}") from None
    return replace(done, caption=texts.get("caption"), credit=texts.get("credit"))


def _pull(picture: Picture, order: Order, house: House, rules: Mapping[str, Rule]) -> Pull:
    try:
        if house.prepare is None:
            raise Refused(f"{house.name} does not say how copies are made")
        made = make(order, _uncompressed(house))
        master, plan = planned(order, house)
    except (Refused, Unmeasured) as reason:
        return replace(_without_copy(picture), why=str(reason))
    section = house.prepare
    master = replace(master, memo={pixels: (pixels(picture), None)})
    light = to_light(
        geometry.cut(upright(pixels(master), master.header.orientation), plan.window),
        master.header.mode,
        profile_for_pixels(master),
        intent=section["intent"],
        black_point=section["black point compensation"],
    )
    unsharpened = replace(house, prepare={**section, "amount": 0})
    after = pixels(made.copy)
    before = render(master, plan, unsharpened)[0].copy_memory()
    factor = _factor(after)
    left, top, right, bottom = (round(px / factor) for px in plan.mirror)
    across = round(after.width / factor) - left - right
    down = round(after.height / factor) - top - bottom
    small = geometry.resample(light.image, across, down)
    placed = geometry.mirror_out(small, (left, top, right, bottom)).copy_memory()
    stages = _Stages(replace(light, image=placed), after, before, plan.ppi)
    done = _pulled(stages, made.copy)
    sharp, plain = _transfers(made.copy, before, plan.ppi)
    verdict = judge(made.copy, house, rules)
    return replace(done, sharp=sharp, plain=plain, steps=made.steps, copy=verdict)


def _without_copy(picture: Picture) -> Pull:
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
    factor = _factor(light.image)
    light = replace(light, image=light.image.shrink(factor, factor).copy_memory())
    if ticket(picture) and mode == output.mode:
        after = pixels(picture)
    else:
        profile = output.condition.profiles[output.colour]
        after = from_light(light.romm(), profile, intent="relative", black_point=True)
        after = after.copy_memory()
    ppi = None
    if place := picture.placement:
        # what shows of the whole, and so how wide the whole would be
        shown = place.shown(*picture.header.upright())[0]
        ppi = after.width * shown / across / place.covered()[0] * MM_PER_INCH
    return _pulled(_Stages(light, after, None, ppi), picture)


def _pulled(stages: _Stages, copy: Picture) -> Pull:
    output, place = copy.output, copy.placement
    condition = output.condition
    press = _press(output.medium, copy)
    factor = _factor(stages.after)
    given = softproof.relative_light(stages.light)
    shown = {"": softproof.copy_light(stages.after, output, factor)}
    if stages.before is not None:
        shown["-before"] = softproof.copy_light(stages.before, output, factor)
    light = {"supplied": given}
    for state, relative in shown.items():
        light[f"soft{state}"] = softproof.soft_proof(relative, condition)
        if press and stages.ppi:
            read = softproof.page_view(relative, stages.ppi / factor, press.spread, press.distance)
            light[f"print{state}"] = softproof.soft_proof(read, condition)
    if output.colour == "cmyk":
        light["mono"] = softproof.mono_proof(given, condition)
    close, close_mm = _close_ups(stages, copy, press)
    size = given.shape[1], given.shape[0]
    overlays = {}
    beyond = most = None
    if output.colour != "gray":
        coarse = min(3, *_size(stages.light.image))
        moved = softproof.colour_shift(stages.light, output, coarse) > softproof.NOTICED
        beyond = float(moved.mean())
        if moved.any():
            overlays["gamut"] = _overlay(moved, size, RED, 1)
    limit = condition.values.get("ink limit")
    if output.colour == "cmyk":
        ink = softproof.ink_sum(stages.after, factor)
        most = float(ink.max())
        if limit is not None and most > limit:
            overlays["ink"] = _overlay(ink > limit, size, BLUE, -1)
    left = MOST_BYTES - sum(len(data) for part in (close, overlays) for data in part.values())
    printed = lightness(light["soft"][..., 1].astype(np.float64))
    return Pull(
        views=_encoded({name: softproof.srgb(part) for name, part in light.items()}, left),
        overlays=overlays,
        size=size,
        mm=place.covered() if place else None,
        bleed=_bleed(place),
        close=close,
        close_mm=close_mm,
        tones=_shares(printed),
        supplied_tones=_shares(lightness(given[..., 1].astype(np.float64))),
        median=float(np.median(printed)),
        colours_moved=beyond,
        most_ink=most,
    )


def _bleed(place: Placement | None) -> tuple[float, float, float, float]:
    if place is None:
        return 0.0, 0.0, 0.0, 0.0
    top, right, bottom, left = (place.bleed * (edge in place.edges) for edge in EDGES)
    return top, right, bottom, left


def _uncompressed(house: House) -> House:
    """Return the house with copies that are quickly written and read: these go at once."""
    section = house.prepare
    if section is None or section["format"] != "TIFF":
        return house
    return replace(house, prepare={**section, "compression": "none"})


def _press(medium: str, copy: Picture) -> Press | None:
    if medium != "print" or copy.output.mode == "RGB":
        return None
    try:
        return press_of(copy.output.condition)
    except (Unmeasured, OSError):
        # a printer's own profile says nothing of dots
        return None


def _transfers(copy: Picture, before: Any, ppi: float) -> tuple[Transfer | None, Transfer | None]:
    """Return the contrast transfer with and without sharpening, at the places the rule looks at."""
    try:
        sharp = print_detail(copy)
        press = press_of(copy.output.condition)
    except (Unmeasured, OSError):
        return None, None
    pairs = []
    for left, top in busy_places(copy, MOST_TILES)[:_PLAIN_TILES]:
        part = before.crop(
            left, top, min(TILE, before.width - left), min(TILE, before.height - top)
        )
        tones = tones_of(part.numpy(), copy.output.mode)
        pairs.append(
            (flat_luminance(tones, press), printed_luminance(tones, ppi, press, fine=FINE))
        )
    return sharp, transfer(pairs, ppi, copy.output.viewing_distance)


def _close_ups(
    stages: _Stages, copy: Picture, press: Press | None
) -> tuple[dict[str, bytes], tuple[float, float] | None]:
    """Return the sharpest detail as read at its true size, and the dots in its middle."""
    ppi = stages.ppi
    if ppi is None or (stages.before is None and not ticket(copy)):
        return {}, None
    across, down = (
        min(pixels_for(mm, ppi), length)
        for mm, length in zip(_close_mm(press), _size(stages.after), strict=True)
    )
    left, top = _sharpest(stages.after if stages.before is None else stages.before, across, down)
    window = Window(left, top, across, down)
    images = {"": stages.after, "-before": stages.before}
    close = {}
    for state, image in images.items():
        if image is None:
            continue
        if press is None:
            part = image.crop(left, top, across, down)
            light = softproof.copy_light(part, copy.output)
            light = softproof.soft_proof(light, copy.output.condition)
            close[f"read{state}"] = _avif(softproof.srgb(light), 60)
            continue
        read, dots = _printed(image, window, ppi, copy, press)
        close[f"read{state}"] = _avif(softproof.srgb(read), 60)
        close[f"dots{state}"] = _avif(softproof.srgb(dots), 40)
    return close, (across / ppi * MM_PER_INCH, down / ppi * MM_PER_INCH)


def _close_mm(press: Press | None) -> tuple[float, float]:
    # on a screen the close-up has as many CSS pixels as it has mm on paper
    return CLOSE_MM if press else (200 * CSS_PX_MM, 150 * CSS_PX_MM)


def _printed(
    image: Any, window: Window, ppi: float, copy: Picture, press: Press
) -> tuple[Any, Any]:
    """Return absolute light of a window, as read and, of its middle, dot by dot."""
    # enough around the window for the dots to be lit by
    margin = 8
    left, top = max(window.left - margin, 0), max(window.top - margin, 0)
    part = image.crop(
        left,
        top,
        min(window.width + 2 * margin, image.width - left),
        min(window.height + 2 * margin, image.height - top),
    )
    tones = tones_of(part.numpy(), copy.output.mode)
    condition = copy.output.condition
    # the eye parts no device pixels; and it comes before the copy's own, so that no dot beats
    # with them
    coarse = replace(
        condition, values={**condition.values, "device resolution": ppi * _READ_SAMPLES}
    )
    inner = Window(window.left - left, window.top - top, window.width, window.height)
    light = dots_light(tones, ppi, coarse, inner)
    pitch = MM_PER_INCH / ppi / _READ_SAMPLES
    seen = as_seen(softproof.padded(light, pitch), pitch, press.distance)
    seen = softproof.cropped(seen, light)
    read = _resized(np.moveaxis(seen, 0, -1), window.width, window.height)
    across, down = (
        min(pixels_for(mm, ppi), length)
        for mm, length in zip(DOTS_MM, (window.width, window.height), strict=True)
    )
    middle = Window(
        inner.left + (window.width - across) // 2,
        inner.top + (window.height - down) // 2,
        across,
        down,
    )
    return read, np.moveaxis(dots_light(tones, ppi, condition, middle), 0, -1)


def _sharpest(image: Any, across: int, down: int) -> tuple[int, int]:
    """Return left and top of the window that holds most fine detail."""
    tone = image.recomb([[1.0 / image.bands] * image.bands]).cast("float")
    detail = (tone - tone.gaussblur(1.5, precision="float")).abs()
    cell = 8
    busy = detail.shrink(min(cell, image.width), min(cell, image.height)).numpy()
    sums = np.pad(busy.reshape(busy.shape[:2]).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    wide, tall = min(across // cell, busy.shape[1]), min(down // cell, busy.shape[0])
    if min(wide, tall) < 1:
        return 0, 0
    held = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide] + sums[:-tall, :-wide]
    top, left = np.unravel_index(int(held.argmax()), held.shape)
    return min(int(left) * cell, image.width - across), min(int(top) * cell, image.height - down)


def _factor(image: Any) -> int:
    return max(1, ceil(max(_size(image)) / LONGEST))


def _size(image: Any) -> tuple[int, int]:
    return image.width, image.height


def _resized(light: NDArray[np.floating], width: int, height: int) -> NDArray[np.float32]:
    image = pyvips.Image.new_from_array(np.ascontiguousarray(light, np.float32))
    scaled = image.resize(width / image.width, vscale=height / image.height, kernel="linear")
    return np.asarray(scaled.numpy(), np.float32)


def _shares(values: NDArray[np.float64]) -> tuple[float, ...]:
    counts = np.histogram(values, BINS, (0, 100))[0]
    return tuple((counts / max(1, counts.sum())).tolist())


def _overlay(
    mask: NDArray[np.bool_], size: tuple[int, int], colour: tuple[int, int, int], slope: int
) -> bytes:
    """Return a PNG of a view's size, hatched in a pencil's colour, clear elsewhere."""
    rows = np.arange(size[1]) * mask.shape[0] // size[1]
    columns = np.arange(size[0]) * mask.shape[1] // size[0]
    drawn = softproof.hatched(mask[rows[:, None], columns], _HATCH_PX, slope, 2)
    image = Image.fromarray(drawn.astype(np.uint8), "P")
    image.putpalette([255, 255, 255, *colour])
    stream = io.BytesIO()
    image.save(stream, "PNG", transparency=0, bits=1, optimize=True)
    return stream.getvalue()


def _encoded(views: Mapping[str, NDArray[np.uint8]], budget: int) -> dict[str, bytes]:
    """Return the views at about the best quality at which all of them keep within the budget."""
    at = _QUALITIES.index(48)
    made = _at_quality(views, _QUALITIES[at])
    # a step down the qualities leaves about five sixths of the bytes
    size = sum(map(len, made.values()))
    steps = ceil(np.log(size / max(budget, 1)) / np.log(6 / 5))
    wanted = min(max(at + steps, 0), len(_QUALITIES) - 1)
    while wanted != at:
        at = wanted
        made = _at_quality(views, _QUALITIES[at])
        if sum(map(len, made.values())) > budget:
            wanted = min(at + 1, len(_QUALITIES) - 1)
    return made


def _at_quality(views: Mapping[str, NDArray[np.uint8]], quality: int) -> dict[str, bytes]:
    return {name: _avif(view, quality) for name, view in views.items()}


def _avif(view: NDArray[np.uint8], quality: int) -> bytes:
    image = pyvips.Image.new_from_array(view)
    # the least effort takes a tenth of the time for a tenth more bytes
    return bytes(image.heifsave_buffer(compression="av1", Q=quality, effort=0))
