"""The soft proof: what colours a copy will have on its paper, shown on a screen.

Colours are handled as light: linear XYZ (height, width, 3), either *relative*, where the paper or
the screen's white is 1, or absolute, where a perfect white is 1. A copy's relative light comes from
its pixels through the condition's own ICC profile; the paper's colour is laid over it, and what
results is coded as sRGB for showing. `paper_off` takes the paper's colour off again: the paper is
then the screen's white, and only the inks are judged.

`page_view` adds what the paper and the eye take from fine detail, for views so small that the
screen's dots run together; the dots themselves are `printlook`'s. None of it is a contract proof.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.computed import values_of
from pressworthy.colour.lab import D50, to_xyz
from pressworthy.colour.linear import ROMM, TOP, Light, averaged, to_light
from pressworthy.colour.spaces import SPACES, srgb_codes
from pressworthy.print.eye import as_seen, reach
from pressworthy.print.optics import cropped, lit, padded
from pressworthy.values.condition import Condition
from pressworthy.values.output import Output
from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]

_ROWS = 16
"""Rows that are coded at a time: the processor's cache holds what is made of them."""

_FEW = 2_000_000
"""Pixels of which memory holds the light at once."""


def relative_light(light: Light, factor: int = 1) -> Floats:
    """Return a picture's relative light, brought to 1/`factor` of its size by averaging light."""
    matrix = (light.matrix.T @ ROMM.colorants / TOP).astype(np.float32)
    image = light.image
    if factor > 1:
        return averaged(image, factor) @ matrix
    return np.asarray(values_of(image), np.float32) @ matrix


def copy_light(image: Any, output: Output, factor: int = 1) -> Floats:
    """Return the relative light of a copy's pixels in the output's colours, its black as printed.

    image: a libvips image in the condition's own CMYK, gray or RGB. Raises Unmeasured.
    """
    profile = output.condition.profiles[output.colour].read_bytes()
    few = image.width * image.height < _FEW
    light = to_light(image, output.mode, profile, intent="relative", black_point=False, at_once=few)
    return relative_light(light, factor)


def white_of(condition: Condition) -> NDArray[np.float64]:
    """Return the absolute XYZ of a condition's paper, or of its screen's white."""
    return to_xyz(condition.paper)


def soft_proof(relative: Floats, condition: Condition) -> Floats:
    """Return absolute light: relative light on the condition's paper, or its screen's white."""
    return relative @ np.diag(white_of(condition) / D50).astype(np.float32)


def mono_proof(relative: Floats, condition: Condition) -> Floats:
    """Return absolute light: the picture's lightness in the condition's black ink on its paper.

    White is laid on the paper and black on the solid ink, as black point compensation does
    (ISO 18619).
    """
    black, paper = to_xyz(condition.black), white_of(condition)
    share = np.clip(relative[..., 1], 0, 1)
    light = np.empty((*share.shape, 3), np.float32)
    for channel, (least, most) in enumerate(zip(black, paper, strict=True)):
        np.multiply(share, np.float32(most - least), out=light[..., channel])
        light[..., channel] += np.float32(least)
    return light


def page_view(light: Floats, ppi: float, blur: float, distance: float) -> Floats:
    """Return light as read from `distance` mm, where the dots run together; relative or absolute.

    ppi: of the view; blur: d of the press in mm; distance: the reader's. Light spreads among the
    pixels' own inks and the eye takes its share of the finest detail; the means are those of
    `light`.
    """
    pitch = MM_PER_INCH / ppi
    done = np.empty_like(light, np.float32)
    # one channel after the other: they are quicker where the processor's cache holds them
    for channel in range(light.shape[2]):
        # in proportion to what passes once; as much as what passes twice is in proportion to
        passed = np.maximum(light[..., channel], 0)
        passed = padded(np.sqrt(passed, out=passed), pitch, reach(distance))
        at_the_eye = as_seen(lit(passed, pitch, blur), pitch, distance)
        done[..., channel] = cropped(at_the_eye, light[..., channel])
    return done


def srgb(light: Floats) -> NDArray[np.uint8]:
    """Return light as sRGB for showing, (height, width, 3); D50 white is the screen's white."""
    matrix = (np.linalg.inv(SPACES["sRGB"].colorants) * TOP).astype(np.float32)
    codes, done = srgb_codes(), np.empty(light.shape, np.uint8)
    for top in range(0, len(light), _ROWS):
        steps = light[top : top + _ROWS] @ matrix
        steps += 0.5
        index = np.clip(steps, 0, TOP, out=steps).astype(np.intp)
        codes.take(index, out=done[top : top + _ROWS], mode="clip")
    return done


def paper_off(condition: Condition) -> NDArray[np.float64]:
    """Return the 3 x 3 matrix of linear sRGB that takes the paper's white off a soft proof.

    A column vector of linear sRGB multiplied by it is as the relative light before `soft_proof`.
    """
    to_xyz = SPACES["sRGB"].colorants.T
    scale = np.diag(D50 / white_of(condition))
    return np.asarray(np.linalg.inv(to_xyz) @ scale @ to_xyz, np.float64)
