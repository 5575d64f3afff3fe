"""What is hatched over the views: what the house's rules mark, and too much ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.linear import averaged
from pressworthy.files.opening import TOPS, upright
from pressworthy.house import House
from pressworthy.jobs.pull.encoded import drawing
from pressworthy.judge import ContractBroken, marks_of
from pressworthy.prepare.geometry import Cut, mirror_out
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import what_failed
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Rule

Mask = NDArray[np.bool_]
Mirror = tuple[int, int, int, int]

RED, BLUE = (179, 39, 30), (31, 79, 153)
"""The two pencils of the marked proof, sRGB."""

_HATCH_PX, _LINE_PX = 9, 2


@dataclass(frozen=True)
class HouseMarks:
    """What the house's rules mark in a picture, see `values.rule.Marks`.

    masks: (height, width) of the upright picture; shares: (0..1, what it is the share of), None
    in place of a share where a rule broke.
    """

    masks: tuple[Mask, ...] = ()
    shares: tuple[tuple[float | None, str], ...] = ()


def house_marks(picture: Picture, house: House, rules: Mapping[str, Rule]) -> HouseMarks:
    """Return what the house's rules mark in a picture; one that cannot measure it marks nothing."""
    masks: list[Mask] = []
    shares: list[tuple[float | None, str]] = []
    for name, setting in house.rules.items():
        try:
            marks = marks_of(rules[name], setting, picture)
        except Unmeasured:
            continue
        except (Exception, SystemExit) as error:
            why = str(error) if isinstance(error, ContractBroken) else what_failed(error)
            shares.append((None, f"is the share that {name} marks; it broke: {why}"))
            continue
        if marks is not None:
            masks.append(_turned(marks.mask, picture.header.orientation))
            shares.append((marks.share, marks.sentence))
    return HouseMarks(tuple(masks), tuple(shares))


def _turned(mask: Mask, orientation: int) -> Mask:
    flags = pyvips.Image.new_from_array(np.ascontiguousarray(mask, np.uint8))
    turned = upright(flags, orientation).numpy()
    return np.asarray(turned.reshape(turned.shape[:2]) > 0)


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
    """Return the sum of inks in %, (height, width) at 1/`factor`, of a CMYK image."""
    share = np.float32(100 / TOPS[image.format])
    return averaged(image, factor) @ np.full(image.bands, share)


def hatching(
    masks: Sequence[Mask], size: tuple[int, int], colour: tuple[int, int, int], slope: int
) -> bytes:
    """Return a PNG of a view's size, hatched in a pencil's colour where any mask is set."""
    mask = np.logical_or.reduce([_scaled(one, size) for one in masks])
    return drawing(hatched(mask, _HATCH_PX, slope, _LINE_PX), colour)


def _scaled(mask: Mask, size: tuple[int, int]) -> Mask:
    rows = np.arange(size[1]) * mask.shape[0] // size[1]
    columns = np.arange(size[0]) * mask.shape[1] // size[0]
    return np.asarray(mask[rows[:, None], columns])


def hatched(mask: Mask, pitch: int, slope: int, weight: int) -> Mask:
    """Return the part of a mask that a pencil's hatching covers, so that shape tells as well.

    pitch, weight: px from line to line and of a line; slope: 1 rising, -1 falling.
    """
    height, width = mask.shape
    at = np.add.outer(np.arange(pitch) * slope, np.arange(width)) % pitch
    return np.asarray(mask & (at < weight)[np.arange(height) % pitch])
