"""What is hatched over the views: colours beyond the press, and too much ink."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.files.opening import upright
from pressworthy.house import House
from pressworthy.jobs.pull.encoded import drawing
from pressworthy.measure.press import colour_shift, prints_as_it_stands
from pressworthy.prepare.geometry import Cut, mirror_out
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture

Mask = NDArray[np.bool_]
Mirror = tuple[int, int, int, int]

RED, BLUE = (179, 39, 30), (31, 79, 153)
"""The two pencils of the marked proof, sRGB."""

GAMUT, VISIBLE = "gamut", "visible"
"""The house's rule and option that say from how many dE00 on a shift is seen."""

_HATCH_PX, _LINE_PX = 9, 2


@dataclass(frozen=True)
class ColourShift:
    """Where a picture's colours leave the output's reach.

    share: of the picture as supplied (0..1), as the rule has it; bound: dE00, the house's.
    mask: (height, width) of the upright picture.
    """

    share: float
    bound: float
    mask: Mask


def shifted(picture: Picture, house: House) -> ColourShift | None:
    """Return what the house's gamut rule measures and its bound; None where it judges nothing."""
    setting = house.rules.get(GAMUT)
    bound = setting.options.get(VISIBLE) if setting else None
    if bound is None or prints_as_it_stands(picture):
        return None
    try:
        moved = colour_shift(picture) > bound
    except Unmeasured:
        return None
    flags = pyvips.Image.new_from_array(np.ascontiguousarray(moved, np.uint8))
    turned = upright(flags, picture.header.orientation).numpy()
    return ColourShift(float(moved.mean()), bound, turned.reshape(turned.shape[:2]) > 0)


def shown_of(
    mask: Mask, cut: Cut, whole: tuple[int, int], mirror: Mirror, size: tuple[int, int]
) -> Mask:
    """Return the part of an upright picture's mask that a view of `size` px shows.

    cut: what the view shows of the `whole` px of the picture; mirror: px of the view at left,
    top, right and bottom that are mirrored.
    """
    left, top, right, bottom = mirror
    rows, columns = (
        ((start + (np.arange(count) + 0.5) / count * length) * cells / px).astype(int)
        for start, length, count, cells, px in (
            (cut.top, cut.height, size[1] - top - bottom, mask.shape[0], whole[1]),
            (cut.left, cut.width, size[0] - left - right, mask.shape[1], whole[0]),
        )
    )
    shown = np.ascontiguousarray(mask[rows[:, None], columns], np.uint8)
    image = mirror_out(pyvips.Image.new_from_array(shown), mirror)
    return np.asarray(image.numpy().reshape(size[1], size[0]) > 0)


def ink_sum(image: Any, factor: int) -> NDArray[np.float32]:
    """Return the sum of inks in %, (height, width) at 1/`factor`, of an 8-bit CMYK image."""
    total = image.recomb([[1, 1, 1, 1]]).shrink(factor, factor)
    return np.asarray(total.numpy().reshape(total.height, total.width) / 2.55, np.float32)


def hatching(mask: Mask, size: tuple[int, int], colour: tuple[int, int, int], slope: int) -> bytes:
    """Return a PNG of a view's size, hatched in a pencil's colour, clear elsewhere."""
    rows = np.arange(size[1]) * mask.shape[0] // size[1]
    columns = np.arange(size[0]) * mask.shape[1] // size[0]
    return drawing(hatched(mask[rows[:, None], columns], _HATCH_PX, slope, _LINE_PX), colour)


def hatched(mask: Mask, pitch: int, slope: int, weight: int) -> Mask:
    """Return the part of a mask that a pencil's hatching covers, so that shape tells as well.

    pitch, weight: px from line to line and of a line; slope: 1 rising, -1 falling.
    """
    y, x = np.ogrid[: mask.shape[0], : mask.shape[1]]
    at = x + y if slope > 0 else x - y
    return np.asarray(mask & (at % pitch < weight))
