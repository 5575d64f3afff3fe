"""What `gamut` counts against the true boundary of what each condition prints, by ArgyllCMS.

``xicclu -fif`` inverts a profile's table from inks to colour by search, without its table from
colour to inks, and gives the nearest colour that the inks reach. Nearest is meant in CIECAM02
(``-b``): the nearest in CIELAB may lie 2 dE00 farther off, in blue above all, than a colour that
the press does print. No colour is left out, however near it lies to the tolerance.

Pictures: skimage.data astronaut (public domain), coffee and chelsea (CC0).
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest
from conftest import need

from pressworthy.colour.condition import find_condition
from pressworthy.colour.convert import convert, to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lightness import luminance
from pressworthy.colour.spaces import SPACES
from pressworthy.house import House
from pressworthy.measure.press import colour_shift
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, write_picture
from pressworthy.values.output import Output

D50 = np.array([0.9642, 1.0, 0.8249])
WHITE = colour.XYZ_to_xy(D50)
PICTURES = ("astronaut", "coffee", "chelsea")
CONDITIONS = ("coated", "uncoated", "newsprint", "srgb", "display-p3")


def in_romm(xyz: Any) -> Any:
    """Return XYZ (D50) as 16-bit ROMM RGB; a negative share becomes 0."""
    linear = np.clip(xyz @ np.linalg.inv(SPACES["ROMM RGB"].colorants), 0, 1)
    coded = np.where(linear < 1 / 512, 16 * linear, linear ** (1 / 1.8))
    return np.round(coded * 65535).astype(np.uint16)


def lattice() -> Any:
    """Return the points of a lattice in CIELAB that opRGB or Display P3 holds, as ROMM RGB."""
    steps = np.arange(-120, 121, 24.0)
    lab = np.stack(np.meshgrid(np.arange(8, 100, 18.0), steps, steps), axis=-1).reshape(-1, 3)
    xyz = colour.Lab_to_XYZ(lab, WHITE)
    held = [
        np.all(np.abs(xyz @ np.linalg.inv(SPACES[name].colorants) - 0.5) <= 0.5, axis=1)
        for name in ("opRGB", "Display P3")
    ]
    return in_romm(xyz[np.logical_or.reduce(held)])


def anywhere(each: int) -> Any:
    """Return so many random colours of each standard RGB space, as ROMM RGB."""
    rng = np.random.default_rng(10)
    light = [space.decode(rng.random((each, 3))) @ space.colorants for space in SPACES.values()]
    return in_romm(np.concatenate(light))


def colours() -> Iterator[tuple[str, str, Any]]:
    """Yield (what it is, its RGB space, values): colours in order, at random, and of pictures."""
    yield "lattice", "ROMM RGB", lattice()
    yield "random", "ROMM RGB", anywhere(25)
    data = pytest.importorskip("skimage.data")
    for name in PICTURES:
        yield name, "sRGB", getattr(data, name)()[7::43, 7::43].reshape(-1, 3)


def meant(values: Any, space: str, output: Output) -> Any:
    """Return the absolute CIELAB (D50) meant on the output's paper, between it and its black."""
    condition, mode = output.condition, output.mode
    profile = condition.profiles[output.colour]
    inks = convert(np.zeros((1, 1, 3), np.uint8), "RGB", "srgb", profile)
    black = luminance(float(to_lab(inks, mode, profile.read_bytes())[0, 0, 0]))
    one = SPACES[space]
    light = one.decode(values / np.iinfo(values.dtype).max) @ one.colorants
    paper = colour.Lab_to_XYZ(np.array(condition.paper), WHITE)
    return colour.XYZ_to_Lab((black + (1 - black) * light / D50) * paper, WHITE)


def nearest(lab: Any, output: Output) -> Any:
    """Return the nearest CIELAB that the condition prints, of each: xicclu's inverse search."""
    profile, call = (
        output.condition.profiles[output.colour],
        [need("xicclu"), "-fif", "-b", "-a", "-pl"],
    )
    if output.colour == "cmyk":
        dark = np.stack(np.meshgrid(*[np.arange(0, 256, 15)] * 3), axis=-1).reshape(1, -1, 3)
        inks = convert(dark.astype(np.uint8), "RGB", "srgb", profile)
        call += ["-ia", f"-l{inks.sum(axis=-1).max() / 65535 * 100:.0f}"]
    else:
        call += ["-ir"]
    lines = "".join(" ".join(map(str, row)) + "\n" for row in lab.tolist())
    told = subprocess.run(
        [*call, str(profile)], input=lines, capture_output=True, text=True, check=True
    ).stdout
    # a colour that is out of reach is followed by the one that was found
    rows = re.findall(r"^[^[\n]+ \[Lab\] -> .*(?:\n\[Actual ([^,]+),)?", told, re.MULTILINE)
    assert len(rows) == len(lab)
    found = [text.split() or row for text, row in zip(rows, lab.tolist(), strict=True)]
    return np.array(found, np.float64)


@pytest.mark.parametrize("name", CONDITIONS)
def test_what_counts_lies_beyond_the_boundary(
    name: str, houses: dict[str, House], registry: Registry, tmp_path: Path
) -> None:
    """At least 99 % of the colours are judged as by the boundary, all that lie 0.5 dE00 off it."""
    condition = find_condition(name, registry.condition_folders, Path())
    house = houses["screen" if condition.medium == "screen" else "coated-magazine"]
    tolerance = house.rules["gamut"].options["visible"]
    output = replace(house.output, condition=condition)
    shifts, wanted = [], []
    for kind, space, values in colours():
        # the measure reads every other row and column
        doubled = values[None].repeat(2, axis=0).repeat(2, axis=1)
        path = write_picture(tmp_path / f"{kind}.tif", doubled, icc=space)
        shifts.append(colour_shift(a_picture(path, output=output)).ravel())
        wanted.append(meant(values, space, output))
    counted, lab = np.concatenate(shifts) > tolerance, np.concatenate(wanted)
    distance = delta_e_2000(lab, nearest(lab, output))
    assert len(counted) == len(distance) > 600
    assert 20 < (distance > tolerance).sum() < 400
    assert np.mean(counted == (distance > tolerance)) >= 0.99
    assert counted[distance > tolerance + 0.5].all()
    assert not counted[distance < tolerance - 0.5].any()
