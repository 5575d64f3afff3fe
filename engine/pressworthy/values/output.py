"""What the pictures are made for: the output a house profile describes."""

from __future__ import annotations

from dataclasses import dataclass

from pressworthy.values.condition import Condition

GrayMix = str | tuple[float, float, float]


@dataclass(frozen=True)
class Output:
    """An output type in figures.

    medium: ``print`` or ``screen``; colour: ``cmyk``, ``gray`` or ``rgb``.
    ppi: pixels per inch at the placed size; bleed: mm; viewing_distance: mm.
    median: L* between its black (0) and its paper (100) between which (darkest, lightest) a
        picture's median is to lie.
    steepest: the greatest slope of the tone curve that its copies get, 1 where they get none.
    gray_mix: of gray copies: shares of linear red, green and blue (sRGB); ``picture`` for the
        mildest that clears a picture's finding; "" where every colour keeps its lightness.
    ink_limit: of the house, %; None where it states none.
    gray_pictures: on CMYK outputs: ``one ink`` or ``four inks`` for pictures in gray mode.
    """

    medium: str
    colour: str
    ppi: float
    bleed: float
    viewing_distance: float
    median: tuple[float, float]
    condition: Condition
    steepest: float = 1.0
    gray_mix: GrayMix = ""
    gray_pictures: str = "four inks"
    ink_limit: float | None = None

    @property
    def mode(self) -> str:
        """The mode of its pixels, as a header and an ICC profile name it."""
        return {"cmyk": "CMYK", "rgb": "RGB"}.get(self.colour, self.colour)

    @property
    def most_ink(self) -> float | None:
        """The lower of the house's ink limit and its condition's, %.

        None where neither states one, and on outputs that are not in four inks.
        """
        stated = self.ink_limit, self.condition.values.get("ink limit")
        limits = [limit for limit in stated if limit is not None]
        return min(limits) if limits and self.colour == "cmyk" else None

    @property
    def span(self) -> tuple[float, float]:
        """L* of its darkest print in its own inks, and of its paper; on a screen 0 and 100."""
        return self.condition.span(in_black=self.colour == "gray")
