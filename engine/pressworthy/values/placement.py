"""Where a picture stands on its page: the box, the edges that bleed, the part that shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pressworthy.values.units import MM_PER_INCH, PLACED, figure, parse, parse_pair

EDGES = ("top", "right", "bottom", "left")
LEAST_MM, MOST_MM = 0.01, 1e5
"""What a placed width or height lies between: the thinnest that a list of pages writes, 100 m."""
GrayMix = str | tuple[float, float, float]
"""What gray is mixed from: see `PlacementRequest`."""
OF_PICTURE = "picture"
"""The gray mix that keeps most of a picture's own contrast."""
BY_FILE = "size stated by the file"
"""The source of a size that nobody gave."""
FILL, STRETCH = FITS = ("fill", "stretch")
"""How a picture comes to its box's shape: what is over is cropped off, or it is pulled to it."""
HOUSE_TONE, AS_SUPPLIED = "house", "as supplied"
MOST_LIFT = 40.0
"""L*: more is another picture."""


@dataclass(frozen=True)
class Crop:
    """The part of the picture that shows, as fractions of its width and height."""

    left: float = 0.0
    top: float = 0.0
    width: float = 1.0
    height: float = 1.0


@dataclass(frozen=True)
class Focus:
    """The point, as fractions of width and height, around which the box's shape is cut."""

    x: float = 0.5
    y: float = 0.5


@dataclass(frozen=True)
class Placement:
    """A box of width x height mm, `bleed` mm beyond it on the `edges` that bleed.

    The picture, or the part of it that a `Crop` names, fills box and bleed: the largest part of
    that shape shows, from the middle or around a `Focus`. fit: ``fill``; or ``stretch``, where all
    of it shows, pulled to the shape. `source` says who gave the size.
    exact: a page already places the pixels so, and what shows covers box and bleed.
    """

    width: float
    height: float
    bleed: float = 0.0
    edges: frozenset[str] = frozenset()
    crop: Crop | Focus | None = None
    page: str = ""
    source: str = "given"
    exact: bool = False
    fit: str = FILL

    @property
    def stretches(self) -> bool:
        """Whether width and height may come to different scales: as a page or a person said."""
        return self.exact or self.fit == STRETCH

    def covered(self) -> tuple[float, float]:
        """Return the mm the picture must cover: box and bleed."""
        across = self.bleed * len(self.edges & {"left", "right"})
        down = self.bleed * len(self.edges & {"top", "bottom"})
        return self.width + across, self.height + down

    def part(self, width: int, height: int) -> tuple[float, float]:
        """Return the px of the part of a picture of width x height px that may show."""
        if isinstance(self.crop, Crop):
            return width * self.crop.width, height * self.crop.height
        return float(width), float(height)

    def shown(self, width: int, height: int) -> tuple[float, float]:
        """Return how many of a picture's width x height px show in box and bleed."""
        part = self.part(width, height)
        if self.stretches:
            return part
        across, down = self.covered()
        scale = min(part[0] / across, part[1] / down)
        return across * scale, down * scale

    def size_and_bleed(self) -> str:
        """Return the size, the bleed and who gave the size, in one line for a reader."""
        text = f"{figure(self.width)} x {figure(self.height, 'mm')}"
        if self.edges:
            sides = (
                "all edges"
                if len(self.edges) == 4
                else ", ".join(edge for edge in EDGES if edge in self.edges)
            )
            text += f", bleed {figure(self.bleed, 'mm')} {sides}"
        return text if self.source == "given" else f"{text}, {self.source}"


@dataclass(frozen=True)
class PlacementRequest:
    """What is known of a placement before the file is read: `size` in mm, or None.

    And what a person asks for its copy: sharpen: whether it is sharpened; gray_mix: shares of
    linear red, green and blue (sRGB), ``picture`` for what separates it best, "" for the house's.
    tone: what a person asks of the tone curve, see `parse_tone`; "" where nobody said anything.
    """

    size: tuple[float, float] | None = None
    bleed: float = 0.0
    edges: frozenset[str] = frozenset()
    crop: Crop | Focus | None = None
    page: str = ""
    fit: str = FILL
    sharpen: bool = True
    gray_mix: GrayMix = ""
    tone: str = ""


def pixels_for(mm: float, ppi: float) -> int:
    """Return the whole pixels that `mm` take at `ppi`: never half a pixel short or over."""
    return round(mm * ppi / MM_PER_INCH)


def parse_size(text: str) -> tuple[float, float]:
    """Return width and height in mm from ``210x148mm``, ``8x10in`` or ``1200x675px`` (CSS px).

    Raises ValueError.
    """
    try:
        size = parse_pair(text, PLACED)
    except ValueError:
        raise ValueError(
            f"{text!r} is not a size such as 210x148mm, 8x10in or 1200x675px"
        ) from None
    if not all(LEAST_MM <= mm <= MOST_MM for mm in size):
        raise ValueError(f"{text!r}: width and height must lie between 0.01 mm and 100 m")
    return size


def parse_bleed(text: str) -> tuple[float, frozenset[str]]:
    """Return mm and edges from ``3mm`` (all four), ``3mm:top,left`` or ``0mm``.

    Raises ValueError.
    """
    amount, _, sides = text.partition(":")
    edges = frozenset(side.strip() for side in sides.split(",")) if sides else frozenset(EDGES)
    try:
        mm = parse(amount, PLACED)
    except ValueError:
        raise ValueError(f"{text!r} is not a bleed such as 3mm or 3mm:top,left") from None
    if not 0 <= mm < MOST_MM:
        raise ValueError(f"{text!r}: a bleed must lie between 0 and 100 m")
    if unknown := edges - set(EDGES):
        raise ValueError(f"{text!r}: no such edge: {', '.join(sorted(unknown))}; {_list(EDGES)}")
    return mm, edges if mm else frozenset()


def parse_focus(text: str) -> Focus:
    """Return the focal point from ``0.5,0.33``. Raises ValueError."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise ValueError(f"{text!r} is not a focal point such as 0.5,0.33") from None
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise ValueError(f"{text!r}: both parts of a focal point lie between 0 and 1")
    return Focus(x, y)


def parse_crop(text: str) -> Crop:
    """Return the part that shows from ``0.1,0,0.8,1``: left, top, width, height as fractions.

    Raises ValueError.
    """
    try:
        left, top, width, height = (float(part) for part in text.split(","))
    except ValueError:
        raise ValueError(f"{text!r} is not a crop such as 0.1,0,0.8,1") from None
    inside = min(left, top) >= 0 and left + width <= 1 and top + height <= 1
    if not (inside and min(width, height) > 0):
        raise ValueError(f"{text!r}: the crop must lie within the picture, 0,0,1,1")
    return Crop(left, top, width, height)


def parse_tone(text: str) -> str:
    """Return ``house``, ``as supplied`` or a lift of the median in L*, such as ``+6``.

    Raises ValueError.
    """
    if (word := " ".join(text.lower().split())) in (HOUSE_TONE, AS_SUPPLIED):
        return word
    try:
        lift = parse(text, "L*", bare="L*")
    except ValueError:
        lift = None
    if lift is None or abs(lift) > MOST_LIFT:
        raise ValueError(
            f"{text!r} is not {HOUSE_TONE!r}, {AS_SUPPLIED!r} or a lift of the mid-tone by at most "
            f"{MOST_LIFT:g} L*, such as +6"
        )
    return f"{lift:+g} L*" if lift else AS_SUPPLIED


def lift_of(tone: str) -> float | None:
    """Return the L* by which a person wants the median lifted; None leaves it to the house."""
    if tone in ("", HOUSE_TONE):
        return None
    return 0.0 if tone == AS_SUPPLIED else float(tone.removesuffix(" L*"))


def _list(names: Iterable[str]) -> str:
    return "edges are " + ", ".join(names)
