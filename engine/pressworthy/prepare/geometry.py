"""The part of the master that shows, the pixels it becomes, and the way from one to the other."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Any

from pressworthy.colour.computed import in_memory
from pressworthy.prepare.lanczos import reduced
from pressworthy.values.placement import Crop, Focus, Placement, pixels_for
from pressworthy.values.units import MM_PER_INCH

KERNEL = "lanczos3"
MOST_REDUCED = 300
"""How many px may become one: libvips resamples by no more than 333 (measured)."""


@dataclass(frozen=True)
class Cut:
    """What is cut from the upright master: a rectangle, px."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Plan:
    """What of the master is shown and what it becomes.

    width, height: px of the copy, mirrored bleed left out; ppi: of the copy.
    mirror: px made up by mirroring at left, top, right, bottom.
    short: the ppi asked for, where the master has too few pixels for it, else 0.
    """

    cut: Cut
    width: int
    height: int
    ppi: float
    mirror: tuple[int, int, int, int] = (0, 0, 0, 0)
    short: float = 0.0

    def size(self) -> tuple[int, int]:
        """Return the px of the whole copy."""
        left, top, right, bottom = self.mirror
        return self.width + left + right, self.height + top + bottom


def plan(
    width: int, height: int, place: Placement, ppi: float, *, enlarge: float, mirror: bool
) -> Plan:
    """Return how a master of width x height px, upright, fills its box and bleed at `ppi`.

    enlarge: by how much pixels may be stretched, as a factor of 1 or more. A master with too few
    keeps its own: the copy then has the ppi that gives, and none is invented. mirror: whether a
    master that fills the box but not the bleed may be mirrored into it.
    """
    shown = _shown(width, height, place, place.covered())
    across, down = (pixels_for(mm, ppi) for mm in place.covered())
    if not _stretched(shown, across, down, enlarge):
        return Plan(shown, across, down, ppi)
    if mirror and place.edges:
        inner = _shown(width, height, place, (place.width, place.height))
        box = pixels_for(place.width, ppi), pixels_for(place.height, ppi)
        if not _stretched(inner, *box, enlarge):
            left, right = _shares(across - box[0], "left" in place.edges, "right" in place.edges)
            top, bottom = _shares(down - box[1], "top" in place.edges, "bottom" in place.edges)
            return Plan(inner, *box, ppi, (left, top, right, bottom))
    own = min(px / mm for px, mm in zip((shown.width, shown.height), place.covered(), strict=True))
    own *= MM_PER_INCH
    across, down = (max(1, pixels_for(mm, own)) for mm in place.covered())
    return Plan(shown, across, down, own, short=ppi)


def as_it_is(width: int, height: int, place: Placement) -> Plan | None:
    """Return how a master of width x height px, upright, fills its box and bleed with its own px.

    None where they would have to be pulled apart.
    """
    shown = _shown(width, height, place, place.covered())
    across, down = place.covered()
    ppi = shown.width / across * MM_PER_INCH
    if abs(shown.height - down / MM_PER_INCH * ppi) > 1:
        return None
    return Plan(shown, shown.width, shown.height, ppi)


def cut(image: Any, shown: Cut) -> Any:
    """Return what is cut from an upright libvips image."""
    if (shown.width, shown.height) == (image.width, image.height):
        return image
    return image.crop(shown.left, shown.top, shown.width, shown.height)


def resample(image: Any, width: int, height: int) -> Any:
    """Return the image at exactly width x height px, in memory; values must be linear in light.

    Lanczos with three lobes, widened in proportion when reducing, so that detail finer than the
    target's pixels is filtered out and not folded back. libvips' shortcut for large reductions,
    averaging whole blocks first, is off: it lets detail alias at -18 dB (measured). What is of 16
    bits and brought down is computed more exactly than by libvips, and in half the time. Raises
    pyvips.Error where the image cannot be read.
    """
    if (image.width, image.height) == (width, height):
        return in_memory(image)
    if image.format == "ushort" and width <= image.width and height <= image.height:
        return reduced(image, width, height)
    across, down = width / image.width, height / image.height
    return in_memory(image.resize(across, vscale=down, kernel=KERNEL, gap=0))


def mirror_out(image: Any, mirror: tuple[int, int, int, int]) -> Any:
    """Return the image with its edges mirrored outwards by left, top, right, bottom px."""
    left, top, right, bottom = mirror
    if not any(mirror):
        return image
    return image.embed(
        left, top, image.width + left + right, image.height + top + bottom, extend="mirror"
    )


def _shown(width: int, height: int, place: Placement, mm: tuple[float, float]) -> Cut:
    """Return the largest part of the placement's crop that has the shape of `mm`, or is pulled."""
    part = place.crop if isinstance(place.crop, Crop) else Crop()
    if place.stretches:
        left, across = _span(width, part.left, part.width, 0.5, width * part.width)
        top, down = _span(height, part.top, part.height, 0.5, height * part.height)
        return Cut(left, top, across, down)
    focus = place.crop if isinstance(place.crop, Focus) else Focus()
    scale = min(width * part.width / mm[0], height * part.height / mm[1])
    left, across = _span(width, part.left, part.width, focus.x, mm[0] * scale)
    top, down = _span(height, part.top, part.height, focus.y, mm[1] * scale)
    return Cut(left, top, across, down)


def _span(whole: int, start: float, share: float, focus: float, wanted: float) -> tuple[int, int]:
    """Return first px and length of the `wanted` px nearest the focus, inside start and share."""
    # up to a pixel more than the shape asks for is kept, so that no whole picture is cut
    length = min(whole, max(1, ceil(wanted - 1e-6)))
    low, high = start * whole, (start + share) * whole - length
    middle = (start + focus * share) * whole - length / 2
    return min(max(round(min(max(middle, low), high)), 0), whole - length), length


def _stretched(shown: Cut, across: int, down: int, enlarge: float) -> bool:
    # a pixel of rounding on either side stretches nothing
    return across > shown.width * enlarge + 1 or down > shown.height * enlarge + 1


def _shares(px: int, first: bool, second: bool) -> tuple[int, int]:
    if first and second:
        return px // 2, px - px // 2
    return (px, 0) if first else (0, px)
