"""The share of a photograph's contrast that reaches the reader, against the design's own table.

The table comes from a prototype of the model: 300 ppi, 2400 dpi, 150 lines/inch at 45 degrees, a
coated paper, read from 12.5 in, means of crops of three photographs. Here the photographs are open
(scikit-image, public domain or CC0), their middle 256 x 256 px, and the same in all rows.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import pyvips
import skimage.data
from numpy.typing import NDArray

from pressworthy.colour.condition import read_condition
from pressworthy.colour.lightness import lightness, luminance
from pressworthy.colour.spaces import SPACES
from pressworthy.print.halftone import Screen
from pressworthy.print.printlook import Press, Tones, press_of, printed_luminance
from pressworthy.print.transfer import transfer
from pressworthy.values.units import MM_PER_INCH

CONDITIONS = Path(__file__).parents[2] / "profiles" / "pressworthy_profiles" / "conditions"
TABLE = {
    (0.0, 0.0): (0.85, 0.76, 0.62, 0.55, 0.41),
    (1.5, 0.5): (0.87, 0.86, 0.80, 0.76, 0.59),
    (1.5, 1.0): (0.90, 0.95, 0.96, 0.95, 0.76),
    (1.5, 2.0): (0.93, 1.10, 1.23, 1.29, 1.08),
    (3.0, 1.0): (1.03, 1.21, 1.11, 0.99, 0.76),
}
COLOUR = ("astronaut", "coffee", "chelsea")
MORE = (*COLOUR, "camera", "rocket")


@pytest.fixture(scope="module")
def press() -> Press:
    stated = press_of(read_condition(CONDITIONS / "coated"))
    return replace(stated, screens=(Screen(150 / MM_PER_INCH, 45),) * 4)


def photograph(name: str) -> NDArray[np.float64]:
    """Return L* of the middle 256 x 256 px."""
    values = getattr(skimage.data, name)() / 255
    if values.ndim == 2:
        values = np.repeat(values[..., None], 3, axis=2)
    top, left = (size // 2 - 128 for size in values.shape[:2])
    part = SPACES["sRGB"].decode(values[top : top + 256, left : left + 256, :3])
    return np.asarray(lightness(part @ np.array([0.2126, 0.7152, 0.0722])))


def shares(name: str, radius: float, amount: float, press: Press) -> NDArray[np.float64]:
    before = photograph(name)
    after = before
    if amount:
        image = pyvips.Image.new_from_array(before)
        blurred = image.gaussblur(radius, precision="float", min_ampl=0.001).numpy()
        after = np.clip(before + amount * (before - blurred), 0, 100)
    shown = printed_luminance(_in_black(after, press), 300, press, fine=4)
    return np.array(transfer([(luminance(before), shown)], 300, 317.5).values)


def _in_black(level: NDArray[np.float64], press: Press) -> Tones:
    """Return the black ink whose measured tints show L* between this black and this paper."""
    tones, xyz = press.inks.ramps[3]
    wanted = xyz[-1, 1] + (xyz[0, 1] - xyz[-1, 1]) * luminance(level)
    return np.asarray(np.rint(np.interp(-wanted, -xyz[:, 1], tones) * 255), np.uint8)[..., None]


@pytest.mark.parametrize(("radius", "amount"), list(TABLE))
def test_every_cell_within_a_tenth(radius: float, amount: float, press: Press) -> None:
    got = np.mean([shares(name, radius, amount, press) for name in COLOUR], axis=0)
    assert got == pytest.approx(TABLE[radius, amount], abs=0.1)


@pytest.mark.parametrize(("radius", "amount"), [key for key in TABLE if key[1] <= 1])
def test_on_more_photographs_up_to_amount_1(radius: float, amount: float, press: Press) -> None:
    """Amount 2 is left out: it depends on how much of a picture it drives into black and white."""
    got = np.mean([shares(name, radius, amount, press) for name in MORE], axis=0)
    assert got == pytest.approx(TABLE[radius, amount], abs=0.1)
