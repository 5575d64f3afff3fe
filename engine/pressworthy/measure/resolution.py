"""How a picture's pixels fill the place it is given."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor, inf, prod

from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.placement import BY_FILE, LEAST_MM, Crop, Focus, pixels_for
from pressworthy.values.units import MM_PER_INCH, figure

Pair = tuple[float, float]
"""Across and down."""

HALF_PIXEL = 0.5
"""What rounding to whole pixels may add to a side or take from it."""

SPARE_PX = 0.4
"""How much of it a size that is told makes use of, so that 1772 px are 150 mm at 300 ppi."""

LEAST_STRETCHED_MM = 5.0
"""Below it, rounding a side to a hundredth of a mm would stretch a picture by more than 0.2 %."""


@dataclass(frozen=True)
class Fit:
    """A picture's pixels in its place, across and down.

    part: px that may show; box: mm, with the bleed where a page places the pixels exactly.
    covered: mm of box and bleed; bleeds: whether the pixels suffice for those.
    exact: whether a page places the pixels so. stretches: whether the part is pulled to the place's
    shape, not cropped to it; pulled: by how many % a prepared copy was, when it was made.
    lost: share (0..1) of the part that is cropped off unasked; trimmed: the crop that is left then,
        where one was given, as a list writes it.
    """

    part: Pair
    box: Pair
    covered: Pair
    bleeds: bool
    exact: bool
    stretches: bool
    pulled: float
    lost: float
    trimmed: str

    def ppi(self) -> float:
        """Return the lower resolution: over box and bleed where the pixels reach so far."""
        return min(self._ppi_over(self.covered if self.bleeds else self.box))

    def falls_short_of(self, ppi: float) -> bool:
        """Tell whether the box takes more whole pixels at `ppi` than there are."""
        return any(
            round(px) < pixels_for(mm, ppi) for px, mm in zip(self.part, self.box, strict=True)
        )

    def exceeds(self, ppi: float) -> bool:
        """Tell whether there are more pixels than box and bleed take at `ppi`, both ways."""
        return all(
            round(px) > pixels_for(mm, ppi) for px, mm in zip(self.part, self.covered, strict=True)
        )

    def needed(self, ppi: float) -> str:
        """Return the pixels that box and bleed take at `ppi`, in words."""
        return " x ".join(str(pixels_for(mm, ppi)) for mm in self.covered) + " px"

    def largest_box(
        self, ppi: float, spare: float = SPARE_PX, most_stretch: float = inf
    ) -> tuple[str, str] | None:
        """Return the largest box of the same shape that the pixels fill at `ppi`, with its bleed.

        Where the picture is pulled to its place, box and bleed together get its shape. In mm as
        they are written, rounded down; None where the bleed leaves nothing that could be written,
        or where rounding would pull the picture by more than `most_stretch` %, as it is not now.
        spare: px that a side may be short by, as it is rounded to whole ones.
        """
        spare = min(spare, *(spare + round(px) - px for px in self.part)) if spare else 0.0
        bleed = [both - box for both, box in zip(self.covered, self.box, strict=True)]
        if self.stretches:
            shape = self._shape()
            sides = zip(self.part, shape, strict=True)
            scale = min((px + spare) * MM_PER_INCH / mm for px, mm in sides) / ppi
            largest = [side * scale - mm for side, mm in zip(shape, bleed, strict=True)]
        else:
            most = [
                (px + spare) * MM_PER_INCH / ppi - mm
                for px, mm in zip(self.part, bleed, strict=True)
            ]
            scale = min(mm / box for mm, box in zip(most, self.box, strict=True))
            largest = [box * scale for box in self.box]
        if min(largest) < (LEAST_STRETCHED_MM if self.stretches else LEAST_MM):
            return None
        across, down = (_rounded_down(mm) for mm in largest)
        box = float(across), float(down)
        covered = box[0] + bleed[0], box[1] + bleed[1]
        there = replace(self, box=box, covered=covered, bleeds=True)
        if self.stretch() <= most_stretch < there.stretch():
            return None
        return across, down

    def stretch(self) -> float:
        """Return by how many % width and height were pulled apart, at the least."""
        if not self.stretches:
            return self.pulled
        rounding = 100 * sum(HALF_PIXEL / px for px in self.part)
        return max(self.pulled, _stretch(self._both()) - rounding)

    def both_ways(self) -> str:
        """Return the resolution across and down, in words."""
        across, down = self._both()
        return f"{figure(across)} ppi across, {figure(down)} ppi down"

    def _both(self) -> Pair:
        return self._ppi_over(self._shape())

    def _shape(self) -> Pair:
        # too few pixels may still be those of box and bleed, so either shape will do
        over = [self.covered] if self.bleeds else [self.box, self.covered]
        return min(over, key=lambda size: _stretch(self._ppi_over(size)))

    def _ppi_over(self, size: Pair) -> Pair:
        across, down = (px / mm * MM_PER_INCH for px, mm in zip(self.part, size, strict=True))
        return across, down


@measurement
def fit(picture: Picture) -> Fit:
    """Return how the picture's pixels fill its place. Raises Unmeasured where it has none."""
    place = picture.placement
    if place is None:
        raise Unmeasured("no placed size is known: give --size, or a file that states its ppi")
    covered, size = place.covered(), picture.header.upright()
    part, shown = place.part(*size), place.shown(*size)
    ppi = picture.output.ppi
    bleeds = all(round(px) >= pixels_for(mm, ppi) for px, mm in zip(part, covered, strict=True))
    made = ticket(picture)
    return Fit(
        part,
        box=covered if place.exact else (place.width, place.height),
        covered=covered,
        bleeds=bleeds,
        exact=place.exact,
        stretches=place.stretches,
        pulled=float(made.stretch or 0) if made else 0.0,
        # who gives a focal point wants the rest cropped
        lost=0.0 if isinstance(place.crop, Focus) else 1 - prod(shown) / prod(part),
        trimmed=_trimmed(place.crop, part, shown) if isinstance(place.crop, Crop) else "",
    )


def edge_for(picture: Picture, ppi: float) -> int:
    """Return how many px the picture's longer edge needs at its place for `ppi`.

    Those that it has, where they suffice. Raises Unmeasured where it has no place.
    """
    placed, edge = fit(picture), max(picture.header.width, picture.header.height)
    return round(edge * ppi / placed.ppi()) if placed.falls_short_of(ppi) else edge


def _trimmed(crop: Crop, part: Pair, shown: Pair) -> str:
    """Return the middle of a crop that has the shape of what shows, as a list writes it."""
    # rounded up, so that no pixel is missing
    width = min(crop.width, ceil(crop.width * shown[0] / part[0] * 1e4) / 1e4)
    height = min(crop.height, ceil(crop.height * shown[1] / part[1] * 1e4) / 1e4)
    left, top = crop.left + (crop.width - width) / 2, crop.top + (crop.height - height) / 2
    return f"{left:.4f} {top:.4f} {width:.4f} {height:.4f}"


def _stretch(ppi: Pair) -> float:
    return (max(ppi) / min(ppi) - 1) * 100


def _rounded_down(mm: float) -> str:
    """Return mm as written, to a tenth or, below 100, to a hundredth: never more than it was."""
    step = 10 if mm >= 100 else 100
    return f"{floor(mm * step) / step:g}"


def two_resolutions(picture: Picture) -> str:
    """Return in words which two resolutions the file states, where its size goes by one, or ""."""
    own, other, place = picture.header.ppi, picture.header.other_ppi, picture.placement
    if not own or not other or not place or place.source != BY_FILE:
        return ""
    return f"{own[0]:.0f} ppi, by which it is placed, and {other[0]:.0f} ppi"
