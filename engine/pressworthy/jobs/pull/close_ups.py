"""Close-ups of the place where sharpening shows most: as read, at its true size, and dot by dot.

Enlarged, a close-up holds what is left behind the reader's eye. At its true size it holds the
page's own light, as far as a screen's pixels carry it: there the beholder's eye does its part.

The place is where the sharpening moves the lightness that reaches the reader furthest, paper and
eye having taken their share: not where most detail is, which sharpening may have left alone.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.computed import values_of
from pressworthy.colour.lightness import lightness, luminance
from pressworthy.colour.linear import TOP
from pressworthy.jobs.pull.encoded import jpeg
from pressworthy.jobs.pull.views import Stages
from pressworthy.print import softproof
from pressworthy.print.eye import as_seen, low_pass, reach
from pressworthy.print.optics import (
    blur_share,
    by_frequency,
    coarser,
    cropped,
    filtered,
    padded,
    quick,
)
from pressworthy.print.printlook import (
    Floats,
    Part,
    Press,
    Tones,
    dots_light,
    printed_light,
    tones_of,
)
from pressworthy.values.output import Output
from pressworthy.values.placement import pixels_for
from pressworthy.values.units import MM_PER_INCH

CLOSE_MM = (24.0, 18.0)
"""Across and down, of the close-up as read."""

DOTS_MM = (6.0, 4.5)
"""Across and down, of the close-up dot by dot."""

SCREEN_PPI = 110.0
"""Of the screen on which a close-up is seen at its true size: common on desks."""

_READ_QUALITY, _TRUE_QUALITY, _DOTS_QUALITY = 80, 90, 45
_SAMPLES = 2  # of the page to a pixel of the copy
_EDGE_PX = 8  # of the copy around a close-up, for its dots to be lit by
_LOOK_PX = 2  # the place is looked for by so many px at a time: what the eye keeps is no finer,
_LOOK_PPI = 150.0  # from this ppi of the copy on
_FINE_PX = 1.5  # sigma: what a blur of it takes is fine detail


def close_ups(
    stages: Stages, output: Output, press: Press | None
) -> tuple[dict[str, bytes], tuple[float, float] | None]:
    """Return JPEG by name, see `Pull`, and the mm of the close-ups as read.

    Nothing and None where the copy's ppi is unknown.
    """
    ppi = stages.ppi
    if ppi is None:
        return {}, None
    width, height = stages.after.width, stages.after.height
    step = _LOOK_PX if ppi >= _LOOK_PPI and min(width, height) > _EDGE_PX else 1
    shows = _sharpening(stages, output, press, ppi, step)
    if not shows.any():
        shows = _fine_detail(stages.after, step)
    part = _most(shows, step, Part(0, 0, width, height), CLOSE_MM, ppi)
    dotted = _most(shows, step, part, DOTS_MM, ppi)
    close = {}
    wide = part if press is None else _around(part, width, height)
    inner = replace(part, left=part.left - wide.left, top=part.top - wide.top)
    for state, cut in stages.parts(wide.left, wide.top, wide.width, wide.height).items():
        if press is None:
            light = softproof.soft_proof(softproof.copy_light(cut, output), output.condition)
            close[f"read{state}"] = jpeg(softproof.srgb(light), _READ_QUALITY)
            continue
        tones = tones_of(values_of(cut), output.mode)
        page = page_at_pixels(tones, inner, ppi, press)
        read = as_read(page, ppi, output.viewing_distance)
        shown = on_screen(page, part.width / ppi, part.height / ppi)
        left, top = inner.left - part.left, inner.top - part.top
        spot = replace(dotted, left=dotted.left + left, top=dotted.top + top)
        dots = dots_light(tones, ppi, press, spot)
        close[f"read{state}"] = jpeg(softproof.srgb(read), _READ_QUALITY)
        close[f"true{state}"] = jpeg(softproof.srgb(shown), _TRUE_QUALITY)
        close[f"dots{state}"] = jpeg(softproof.srgb(np.moveaxis(dots, 0, -1)), _DOTS_QUALITY)
    return close, (part.width / ppi * MM_PER_INCH, part.height / ppi * MM_PER_INCH)


def _around(part: Part, width: int, height: int) -> Part:
    """Return a part of a copy of that size and an edge around it."""
    left, top = max(part.left - _EDGE_PX, 0), max(part.top - _EDGE_PX, 0)
    right, bottom = part.left + part.width + _EDGE_PX, part.top + part.height + _EDGE_PX
    return Part(left, top, min(right, width) - left, min(bottom, height) - top)


def page_at_pixels(tones: Tones, part: Part, ppi: float, press: Press) -> Floats:
    """Return the light (3, height, width) of a part of the page, in pixels of a copy's tones.

    Of its dots is left what pixels hold: neither eye nor screen parts those of the device. Where
    the tones end within `_EDGE_PX` they are continued.
    """
    sides = []
    for start, length, there in (
        (part.top, part.height, tones.shape[0]),
        (part.left, part.width, tones.shape[1]),
    ):
        before = max(0, _EDGE_PX - start)
        sides.append((before, max(0, quick(length + 2 * _EDGE_PX) - before - there)))
    wide = np.pad(tones, (*sides, (0, 0)), "edge")
    light = coarser(printed_light(wide, ppi, press, fine=_SAMPLES), _SAMPLES)
    top, left = part.top + sides[0][0], part.left + sides[1][0]
    return light[:, top : top + part.height, left : left + part.width]


def as_read(page: Floats, ppi: float, distance: float) -> Floats:
    """Return light of a page (height, width, 3), of `ppi` both, as the reader gets it."""
    pitch = MM_PER_INCH / ppi
    at_the_eye = cropped(as_seen(padded(page, pitch, reach(distance)), pitch, distance), page)
    return np.maximum(np.moveaxis(at_the_eye, 0, -1), 0)


def on_screen(page: Floats, width: float, height: float, ppi: float = SCREEN_PPI) -> Floats:
    """Return light of a page (height, width, 3) in the pixels of a screen, no eye in it.

    width, height: of the part in inches; ppi: of the screen. What is finer than its pixels goes,
    and does not come back as a beat of dots and pixels; up to 0.33 cycles a pixel 95 % stays.
    """
    across, down = (max(1, round(side * ppi)) for side in (width, height))
    return _resized(np.moveaxis(page, 0, -1), across, down)


def _sharpening(
    stages: Stages, output: Output, press: Press | None, ppi: float, step: int
) -> NDArray[np.float32]:
    """Return by how many L* sharpening moves what the reader gets, at 1/`step` of the copy's size.

    Faint changes of light outlive a paper of transfer M to a share of (1 + M) / 2: light passes the
    ink twice and spreads between. All is 0 where there is no copy without sharpening.
    """
    if stages.sharp is None or stages.plain is None:
        return np.zeros((1, 1), np.float32)
    black, paper = map(luminance, output.condition.span(in_black=output.colour == "gray"))
    share = black / paper + (1 - black / paper) * np.linspace(0, 1, TOP + 1)
    levels = lightness(share).astype(np.float32)
    after, before = (
        levels.take(np.rint(stage.mean(step)[..., 0]).astype(np.intp), mode="clip")
        for stage in (stages.sharp, stages.plain)
    )
    moved = after - before
    if press:
        pitch, distance = MM_PER_INCH / ppi * step, output.viewing_distance
        wide = padded(moved, pitch, reach(distance))
        moved = cropped(filtered(wide, _reached(*wide.shape, pitch, press.blur, distance)), moved)
    return np.asarray(np.abs(moved), np.float32)


@lru_cache(maxsize=2)
def _reached(height: int, width: int, pitch: float, blur: float, distance: float) -> Floats:
    """Return what share of faint changes reaches the reader, for every coefficient of rfft2."""
    return by_frequency(
        lambda f: low_pass(f, distance) * (1 + blur_share(f, blur)) / 2, height, width, pitch
    )


def _fine_detail(image: Any, step: int) -> NDArray[np.float32]:
    """Return how much fine detail there is, at 1/`step` of the image's size."""
    tone = image.recomb([[1.0 / image.bands] * image.bands]).cast("float")
    detail = values_of(
        (tone - tone.gaussblur(_FINE_PX, precision="float")).abs().shrink(step, step)
    )
    return np.asarray(detail.reshape(detail.shape[:2]), np.float32)


def _most(
    amount: NDArray[np.float32], step: int, within: Part, mm: tuple[float, float], ppi: float
) -> Part:
    """Return the part of so many mm within another, or all of that, which holds most.

    amount: at 1/`step` of the copy's size.
    """
    across, down = (
        min(pixels_for(side, ppi), length)
        for side, length in zip(mm, (within.width, within.height), strict=True)
    )
    first, top = within.left // step, within.top // step
    field = amount[top : top + within.height // step, first : first + within.width // step]
    sums = np.pad(field.astype(np.float64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    rows, columns = (max(1, px // step) for px in (down, across))
    bands = sums[rows:] - sums[:-rows]
    held = bands[:, columns:] - bands[:, :-columns]
    down_to, left_to = np.unravel_index(int(held.argmax()), held.shape)
    left = within.left + min(int(left_to) * step, within.width - across)
    return Part(left, within.top + min(int(down_to) * step, within.height - down), across, down)


def _resized(light: NDArray[np.floating], width: int, height: int) -> Floats:
    image = pyvips.Image.new_from_array(np.ascontiguousarray(light, np.float32))
    across, down = width / image.width, height / image.height
    scaled = image.resize(across, vscale=down, kernel="lanczos3", gap=0)
    return np.maximum(np.asarray(values_of(scaled), np.float32), 0)
