"""How a picture's pixels fill the place it is given."""

from __future__ import annotations

from dataclasses import dataclass

from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.placement import pixels_for
from pressworthy.values.units import MM_PER_INCH

Pair = tuple[float, float]
"""Across and down."""

HALF_PIXEL = 0.5
"""What rounding to whole pixels may add to a side or take from it."""


@dataclass(frozen=True)
class Fit:
    """A picture's pixels in its place, across and down.

    shown: px that show; box: mm, with the bleed where a page places the pixels exactly.
    covered: mm of box and bleed; bleeds: whether the pixels suffice for those.
    """

    shown: Pair
    box: Pair
    covered: Pair
    bleeds: bool

    def ppi(self) -> Pair:
        """Return the resolution: over box and bleed where the pixels reach so far."""
        return self._ppi_over(self.covered if self.bleeds else self.box)

    def falls_short_of(self, ppi: float) -> bool:
        """Tell whether the box takes more whole pixels at `ppi` than show."""
        return any(
            round(px) < pixels_for(mm, ppi) for px, mm in zip(self.shown, self.box, strict=True)
        )

    def exceeds(self, ppi: float) -> bool:
        """Tell whether more pixels show than box and bleed take at `ppi`, both ways."""
        return all(
            round(px) > pixels_for(mm, ppi) for px, mm in zip(self.shown, self.covered, strict=True)
        )

    def needed(self, ppi: float) -> str:
        """Return the pixels that box and bleed take at `ppi`, in words."""
        return " x ".join(str(pixels_for(mm, ppi)) for mm in self.covered) + " px"

    def largest_box(self, ppi: float) -> Pair:
        """Return in mm the largest box of the same shape that the pixels fill at `ppi`."""
        scale = min(self._ppi_over(self.box)) / ppi
        return self.box[0] * scale, self.box[1] * scale

    def stretch(self) -> tuple[Pair, float]:
        """Return the ppi both ways, and by how many % they differ at the least."""
        # too few pixels may still be those of box and bleed, so either shape will do
        both = self._ppi_over(self.covered)
        ppi = self.ppi() if self.bleeds else min(self.ppi(), both, key=_stretch)
        return ppi, _stretch(ppi)

    def rounding(self) -> float:
        """Return the stretch in % that rounding each side to whole pixels may make."""
        return 100 * sum(HALF_PIXEL / px for px in self.shown)

    def _ppi_over(self, size: Pair) -> Pair:
        across, down = (px / mm * MM_PER_INCH for px, mm in zip(self.shown, size, strict=True))
        return across, down


@measurement
def fit(picture: Picture) -> Fit:
    """Return how the picture's pixels fill its place. Raises Unmeasured where it has none."""
    place = picture.placement
    if place is None:
        raise Unmeasured("no placed size is known: give --size, or a file that states its ppi")
    covered = place.covered()
    shown = place.shown(*picture.header.upright())
    ppi = picture.output.ppi
    bleeds = all(round(px) >= pixels_for(mm, ppi) for px, mm in zip(shown, covered, strict=True))
    return Fit(shown, covered if place.exact else (place.width, place.height), covered, bleeds)


def _stretch(ppi: Pair) -> float:
    return (max(ppi) / min(ppi) - 1) * 100
