"""The soft proof: what colours a copy will have on its paper, shown on a screen.

Colours are handled as light: linear XYZ (height, width, 3), either *relative*, where the paper or
the screen's white is 1, or absolute, where a perfect white is 1. A copy's relative light comes from
its pixels through the condition's own ICC profile; the paper's colour is laid over it, and what
results is coded as sRGB for showing. With the paper's white off, the paper is the screen's white
and only the inks are judged.

`page_view` adds what the paper and the eye take from fine detail, for views so small that the
screen's dots run together; the dots themselves are `printlook`'s. None of it is a contract proof.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import D50, from_xyz, to_xyz
from pressworthy.colour.linear import ROMM, TOP, Light, from_light, to_light
from pressworthy.colour.spaces import SPACES, srgb_codes
from pressworthy.print.eye import as_seen
from pressworthy.print.optics import lit
from pressworthy.values.condition import Condition
from pressworthy.values.output import Output
from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]

NOTICED = 3.5
"""dE00 from which the gamut overlay marks a colour: as far as a press's own solids may stray
(ISO 12647-2:2013, from its abstract)."""

_MARGIN_MM = 2.7


def relative_light(light: Light, factor: int = 1) -> Floats:
    """Return a picture's relative light, brought to 1/`factor` of its size by averaging light."""
    image = light.romm()
    if factor > 1:
        image = image.shrink(factor, factor)
    return np.asarray(image.numpy() @ (ROMM.colorants / TOP).astype(np.float32), np.float32)


def copy_light(image: Any, output: Output, factor: int = 1) -> Floats:
    """Return the relative light of a copy's pixels in the output's colours, its black as printed.

    image: a libvips image in the condition's own CMYK, gray or RGB. Raises Unmeasured.
    """
    profile = output.condition.profiles[output.colour].read_bytes()
    light = to_light(image, output.mode, profile, intent="relative", black_point=False)
    return relative_light(light, factor)


def white_of(condition: Condition) -> NDArray[np.float64]:
    """Return the absolute XYZ of a condition's paper, or of its screen's white."""
    return to_xyz(condition.paper)


def soft_proof(relative: Floats, condition: Condition, *, paper_white: bool = True) -> Floats:
    """Return absolute light: relative light on the condition's paper, or on the screen's white."""
    if not paper_white:
        return relative
    return np.asarray(relative * (white_of(condition) / D50), np.float32)


def mono_proof(relative: Floats, condition: Condition) -> Floats:
    """Return absolute light: the picture's lightness in the condition's black ink on its paper.

    White is laid on the paper and black on the solid ink, as black point compensation does
    (ISO 18619).
    """
    black, paper = to_xyz(condition.black), white_of(condition)
    share = np.clip(relative[..., 1:2], 0, 1)
    return np.asarray(black + (paper - black) * share, np.float32)


def page_view(relative: Floats, ppi: float, spread: float, distance: float) -> Floats:
    """Return relative light as read from `distance` mm, where the dots run together.

    ppi: of the view; spread: d of the paper in mm. Light spreads among the pixels' own inks and the
    eye takes its share of the finest detail; the means are those of `relative`.
    """
    pitch = MM_PER_INCH / ppi
    share = np.sqrt(np.maximum(np.moveaxis(relative / D50, -1, 0), 0)).astype(np.float32)
    seen = as_seen(lit(padded(share, pitch), pitch, spread), pitch, distance)
    return np.asarray(np.moveaxis(cropped(seen, share), 0, -1) * D50, np.float32)


def colour_shift(light: Light, output: Output, factor: int) -> NDArray[np.float32]:
    """Return by how many dE00 each colour moves when printed, (height, width) at 1/`factor`.

    Relative to paper and black, so that only what the output cannot reach counts: there and back
    through the condition's ICC profile.
    """
    small = light.romm().shrink(factor, factor)
    profile = output.condition.profiles[output.colour]
    inks = from_light(small, profile, intent="relative", black_point=True, depth=16).numpy()
    inks = inks.reshape(*inks.shape[:2], -1)
    back = to_lab(inks, output.mode, profile.read_bytes(), black_point=True)
    there = from_xyz(small.numpy() @ (ROMM.colorants / TOP))
    return np.asarray(delta_e_2000(there, back), np.float32)


def ink_sum(image: Any, factor: int) -> NDArray[np.float32]:
    """Return the sum of inks in %, (height, width) at 1/`factor`, of an 8-bit CMYK image."""
    total = image.recomb([[1, 1, 1, 1]]).shrink(factor, factor)
    return np.asarray(total.numpy().reshape(total.height, total.width) / 2.55, np.float32)


def srgb(light: Floats) -> NDArray[np.uint8]:
    """Return light as sRGB for showing, (height, width, 3); D50 white is the screen's white."""
    matrix = np.linalg.inv(SPACES["sRGB"].colorants).astype(np.float32)
    index = np.clip(light @ matrix * TOP + 0.5, 0, TOP).astype(np.uint16)
    return np.ascontiguousarray(srgb_codes()[index])


def paper_off(condition: Condition) -> NDArray[np.float64]:
    """Return the 3 x 3 matrix of linear sRGB that takes the paper's white off a soft proof.

    A column vector of linear sRGB multiplied by it is as `soft_proof` with the paper's white off.
    """
    to_xyz = SPACES["sRGB"].colorants.T
    scale = np.diag(D50 / white_of(condition))
    return np.asarray(np.linalg.inv(to_xyz) @ scale @ to_xyz, np.float64)


def padded(light: Floats, pitch: float) -> Floats:
    """Return light (..., height, width) with its borders continued, for what is periodic.

    As far as paper and eye reach, and further to lengths that a Fourier transform is quick at.
    """
    margin = max(1, int(np.ceil(_MARGIN_MM / pitch)))
    spare = [_quick(length + margin) - length for length in light.shape[-2:]]
    sides = [(more // 2, more - more // 2) for more in spare]
    return np.pad(light, [(0, 0)] * (light.ndim - 2) + sides, "edge")


def cropped(light: Floats, like: Floats) -> Floats:
    """Return the part of padded light that `padded` was given."""
    top, left = ((light.shape[-i] - like.shape[-i]) // 2 for i in (2, 1))
    return light[..., top : top + like.shape[-2], left : left + like.shape[-1]]


def hatched(mask: NDArray[np.bool_], pitch: int, slope: int, weight: int) -> NDArray[np.bool_]:
    """Return the part of a mask that a pencil's hatching covers, so that shape tells as well.

    pitch, weight: px from line to line and of a line; slope: 1 rising, -1 falling, 0 both.
    """
    y, x = np.ogrid[: mask.shape[0], : mask.shape[1]]
    rising, falling = (x + y) % pitch < weight, (x - y) % pitch < weight
    lines = rising if slope > 0 else falling if slope < 0 else rising | falling
    return np.asarray(mask & lines)


def _quick(length: int) -> int:
    """Return the least length from `length` on whose only prime factors are 2, 3 and 5."""
    while True:
        rest = length
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return length
        length += 1
