"""Pixels of prepared copies against the tone curve, read by LittleCMS's own command."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import need

from pressworthy.colour.lightness import lightness, printed
from pressworthy.colour.spaces import SPACES
from pressworthy.colour.tone import curve
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.house import House
from pressworthy.measure.pixels import pixels
from pressworthy.prepare import Order, make
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.condition import Profile
from pressworthy.values.placement import PlacementRequest

STEPS = np.arange(8, 252, 12)


def between(inks: np.ndarray, profile: Profile, tmp_path: Path) -> np.ndarray:
    """Return L* between black and paper: relative colorimetric, black point compensation."""
    done = subprocess.run(
        [need("transicc"), "-t1", "-b", "-n", "-i", str(profile), "-o", "*Lab4"],
        input="\n".join(f"{value:.6f}" for value in inks.ravel()) + "\n",
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    rows = [line.split() for line in done.stdout.splitlines() if line.strip()]
    return np.array([row for row in rows if len(row) == 3], np.float64)[:, 0]


@pytest.mark.parametrize("tone", ["as supplied", "house", "+5 L*"])
@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono"])
def test_the_copy_shows_the_curve(
    house: str, tone: str, houses: dict[str, House], tmp_path: Path
) -> None:
    """Twenty-one greys, each within 0.8 printed L* of the curve, by `transicc -t1 -b` on the inks.

    Plain relative colorimetric with black point compensation would be the greys themselves.
    """
    values = np.repeat(STEPS, 24).astype(np.uint8)[None, :, None].repeat(96, 0).repeat(3, 2)
    path = write_picture(tmp_path / "ramp.png", values, words=CREDITED)
    loaded = houses[house]
    assert loaded.prepare
    plain = replace(loaded, prepare={**loaded.prepare, "amount": 0})
    mm = 25.4 / loaded.output.ppi
    size = values.shape[1] * mm, 96 * mm
    made = make(Order(path, tmp_path / "c.tif", PlacementRequest(size, tone=tone)), plain)
    slip = read_ticket(made.copy.header.xmp)
    assert slip
    sent = lightness(SPACES["sRGB"].decode(STEPS / 255))
    inks = np.asarray(pixels(made.copy).numpy(), float).reshape(96, values.shape[1], -1)[48, 12::24]
    inks = inks if house == "mono" else inks / 2.55
    profile = made.copy.output.condition.profiles[made.copy.output.colour]
    shown = between(inks, profile, tmp_path)
    # as printed: next to a black of L* 34 a step of 2 L* between black and paper is 0.3
    on_paper = [
        printed(tones, *loaded.output.span) for tones in (shown, curve(sent, float(slip.bend)))
    ]
    assert np.abs(on_paper[0] - on_paper[1]).max() < 0.8
    assert (np.diff(shown) > 0).all()
    # never darker than the plain rendering, which leaves the greys where they are
    assert (shown > sent - 0.7).all()
    lift = float(np.interp(50, sent, shown)) - 50
    assert (abs(lift) < 0.7) if tone == "as supplied" else lift > 2.5
