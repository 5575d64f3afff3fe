"""Close-ups: the sharpest detail as read at its true size, and the dots in its middle."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.jobs.pull.encoded import avif
from pressworthy.jobs.pull.views import Stages
from pressworthy.print import softproof
from pressworthy.print.eye import as_seen
from pressworthy.print.optics import cropped, padded
from pressworthy.print.printlook import Floats, Part, Press, Tones, dots_light, tones_of
from pressworthy.values.output import Output
from pressworthy.values.placement import pixels_for
from pressworthy.values.units import CSS_PX_MM, MM_PER_INCH

CLOSE_MM = (24.0, 18.0)
"""Across and down, of the close-up as read."""

SCREEN_CLOSE_PX = (200, 150)
"""CSS px of the close-up where the output is a screen: as many as it would have on a screen."""

DOTS_MM = (6.0, 4.5)
"""Across and down, of the close-up dot by dot."""

_READ_QUALITY, _DOTS_QUALITY = 60, 40
_READ_SAMPLES = 3
_EDGE_PX = 8  # of the copy around a close-up, for its dots to be lit by
_FINE_PX = 1.5  # sigma: what a blur of it takes is fine detail
_CELL_PX = 8


def close_ups(
    stages: Stages, output: Output, press: Press | None
) -> tuple[dict[str, bytes], tuple[float, float] | None]:
    """Return AVIF by name, see `Pull`, and the mm of the close-ups as read.

    Nothing and None where the copy's ppi is unknown.
    """
    ppi = stages.ppi
    if ppi is None:
        return {}, None
    wanted = CLOSE_MM if press else tuple(px * CSS_PX_MM for px in SCREEN_CLOSE_PX)
    part = _sharpest(stages.after if stages.before is None else stages.before, wanted, ppi)
    close = {}
    for state, image in stages.states().items():
        if press is None:
            cut = image.crop(part.left, part.top, part.width, part.height)
            light = softproof.soft_proof(softproof.copy_light(cut, output), output.condition)
            close[f"read{state}"] = avif(softproof.srgb(light), _READ_QUALITY)
            continue
        tones, inner = _tones_around(image, part, output)
        read = _read(tones, inner, ppi, press)
        dots = dots_light(tones, ppi, press, _middle(inner, ppi))
        close[f"read{state}"] = avif(softproof.srgb(read), _READ_QUALITY)
        close[f"dots{state}"] = avif(softproof.srgb(np.moveaxis(dots, 0, -1)), _DOTS_QUALITY)
    return close, (part.width / ppi * MM_PER_INCH, part.height / ppi * MM_PER_INCH)


def _tones_around(image: Any, part: Part, output: Output) -> tuple[Tones, Part]:
    """Return the tones of a part and of an edge around it, and where in them the part lies."""
    left, top = max(part.left - _EDGE_PX, 0), max(part.top - _EDGE_PX, 0)
    cut = image.crop(
        left,
        top,
        min(part.width + 2 * _EDGE_PX, image.width - left),
        min(part.height + 2 * _EDGE_PX, image.height - top),
    )
    tones = tones_of(cut.numpy(), output.mode)
    return tones, Part(part.left - left, part.top - top, part.width, part.height)


def _read(tones: Tones, part: Part, ppi: float, press: Press) -> Floats:
    """Return absolute light of a part, as the reader gets it, at the copy's own pixels."""
    # the eye parts no device pixels; and it comes before the copy's own, so that no dot beats
    # with them
    coarse = replace(press, device=ppi * _READ_SAMPLES)
    light = dots_light(tones, ppi, coarse, part)
    pitch = MM_PER_INCH / ppi / _READ_SAMPLES
    seen = cropped(as_seen(padded(light, pitch), pitch, press.distance), light)
    return _resized(np.moveaxis(seen, 0, -1), part.width, part.height)


def _middle(part: Part, ppi: float) -> Part:
    across, down = (
        min(pixels_for(mm, ppi), length)
        for mm, length in zip(DOTS_MM, (part.width, part.height), strict=True)
    )
    left, top = part.left + (part.width - across) // 2, part.top + (part.height - down) // 2
    return Part(left, top, across, down)


def _sharpest(image: Any, mm: tuple[float, ...], ppi: float) -> Part:
    """Return the part of so many mm, or all there is, that holds most fine detail."""
    across, down = (
        min(pixels_for(side, ppi), length)
        for side, length in zip(mm, (image.width, image.height), strict=True)
    )
    tone = image.recomb([[1.0 / image.bands] * image.bands]).cast("float")
    detail = (tone - tone.gaussblur(_FINE_PX, precision="float")).abs()
    busy = detail.shrink(min(_CELL_PX, image.width), min(_CELL_PX, image.height)).numpy()
    sums = np.pad(busy.reshape(busy.shape[:2]).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    wide, tall = min(across // _CELL_PX, busy.shape[1]), min(down // _CELL_PX, busy.shape[0])
    if min(wide, tall) < 1:
        return Part(0, 0, across, down)
    held = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide] + sums[:-tall, :-wide]
    top, left = (int(at) * _CELL_PX for at in np.unravel_index(int(held.argmax()), held.shape))
    return Part(min(left, image.width - across), min(top, image.height - down), across, down)


def _resized(light: NDArray[np.floating], width: int, height: int) -> Floats:
    image = pyvips.Image.new_from_array(np.ascontiguousarray(light, np.float32))
    scaled = image.resize(width / image.width, vscale=height / image.height, kernel="linear")
    return np.asarray(scaled.numpy(), np.float32)
