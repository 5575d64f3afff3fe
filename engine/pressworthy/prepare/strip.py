"""A test strip: one detail as a house's copies hold it, unsharpened and at five amounts.

Where the press blurs by more or less than the model takes for granted, another amount is right than
the derived one. Printed on the paper and press in question, the strip shows which.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pyvips

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.house import House
from pressworthy.prepare.amount import derived_amount
from pressworthy.prepare.detail import detail
from pressworthy.prepare.order import Order, Refused, planned, section_of
from pressworthy.prepare.render import render
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.placement import PlacementRequest, pixels_for
from pressworthy.values.units import MM_PER_INCH, figure

PATCH_MM = (56.0, 78.0)
"""Across and down: three beside each other fill an A4 page, and a hand's breadth shows texture."""

SHARES = (1 / 3, 2 / 3, 1.0, 4 / 3, 2.0)
"""Of the amount in the middle: they reach as far as press blurs from 0.02 to 0.12 mm would ask."""

LEAST_MIDDLE = 0.15
"""Below this five amounts could not be told apart on any paper."""


@dataclass(frozen=True)
class Patch:
    """The detail at one amount; image: libvips, in the output's inks; told: of its amount."""

    amount: float
    image: Any
    told: str = ""


@dataclass(frozen=True)
class Strip:
    """ppi: of all patches; radius: sigma in px; patches: the unsharpened one first."""

    ppi: float
    radius: float
    patches: tuple[Patch, ...]


def strip(house: House, picture: Path | None = None) -> Strip:
    """Return the strip of a house's output, of a picture or else of a detail drawn by code.

    The amounts lie about the derived one, or about the house's own where none can be derived.
    Raises SetupError where the output is no print, the house does not say how copies are made, or
    no copy that large can be made of the picture.
    """
    if house.output.medium != "print":
        raise SetupError([f"{house.name}: a screen has no ink; its amount is the house's choice"])
    if house.prepare is None:
        raise SetupError([f"{house.name}: the house profile has no section 'prepare'"])
    with _master(house, picture) as master:
        order = Order(master, master, PlacementRequest(_size(house.output.ppi)))
        try:
            return _strip(house, order)
        except (Refused, Unmeasured) as reason:
            raise SetupError([f"{master}: {reason}"]) from None


def _strip(house: House, order: Order) -> Strip:
    master, plan = planned(order, house)
    if plan.short:
        raise Refused(
            f"it holds {plan.ppi:.0f} ppi at {figure(PATCH_MM[0])} x {figure(PATCH_MM[1])} mm, and "
            f"the strip is to show {figure(plan.short, 'ppi')}; give a picture of more pixels"
        )
    patches, radius = [], 0.0
    for amount, told in [(0.0, ""), *_amounts(house)]:
        sharpened = replace(house, prepare={**section_of(house), "amount": amount})
        rendered = render(master, plan, sharpened)
        radius = rendered.sharpening.radius
        patches.append(Patch(amount, rendered.image.copy_memory(), told))
    return Strip(plan.ppi, radius, tuple(patches))


def _amounts(house: House) -> list[tuple[float, str]]:
    try:
        middle, told = derived_amount(house), "derived"
    except (Unmeasured, OSError):
        middle, told = float(section_of(house)["amount"]), "the house profile's"
    if middle < LEAST_MIDDLE:
        middle, told = LEAST_MIDDLE, ""
    return [(round(middle * share, 2), told if share == 1 else "") for share in SHARES]


def _size(ppi: float) -> tuple[float, float]:
    """Return the mm of a patch of whole pixels."""
    across, down = (pixels_for(side, ppi) / ppi * MM_PER_INCH for side in PATCH_MM)
    return across, down


@contextmanager
def _master(house: House, picture: Path | None) -> Iterator[Path]:
    """Yield the file that the strip is made of; what is drawn goes again."""
    if picture is not None:
        yield picture
        return
    ppi = house.output.ppi
    image = pyvips.Image.new_from_array(detail(*PATCH_MM, ppi))
    image = image.copy(interpretation="srgb", xres=ppi / MM_PER_INCH, yres=ppi / MM_PER_INCH)
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", rgb_profile("sRGB"))
    with TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "detail.tif"
        image.write_to_file(str(path))
        yield path
