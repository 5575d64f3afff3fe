"""What a print shows of light, by one table: the same as by the two transforms it stands for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import from_xyz
from pressworthy.colour.linear import TOP, from_light
from pressworthy.colour.shown import shown
from pressworthy.house import House
from pressworthy.print.softproof import copy_light


def lights() -> np.ndarray:
    """Return linear ROMM RGB: colours of all lightness, and grays."""
    rng = np.random.default_rng(4)
    grays = np.repeat(np.linspace(0, 1, 4000)[:, None], 3, axis=1) ** 2.2
    # colours of things: around a gray
    colours = rng.random((16000, 1)) ** 2.2 * (1 + rng.normal(0, 0.3, (16000, 3)))
    both = np.concatenate([grays, np.clip(colours, 0, 1)])
    return (both.reshape(100, 200, 3) * TOP).astype(np.float32)


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint"])
@pytest.mark.parametrize(("intent", "black_point"), [("relative", True), ("perceptual", False)])
def test_it_is_what_there_and_back_shows(
    house: str, intent: str, black_point: bool, houses: dict[str, House]
) -> None:
    output, romm = houses[house].output, lights()
    profile, most = output.condition.profiles["cmyk"], output.most_ink
    how: Any = {"intent": intent, "black_point": black_point, "most_ink": most}
    inks = from_light([romm.copy()], len(romm), profile, **how, depth=16)
    wanted = copy_light(inks, output)
    found = shown(romm, profile, intent=intent, black_point=black_point, most_ink=most)
    apart = delta_e_2000(from_xyz(wanted), from_xyz(found))
    assert apart.mean() < 0.15
    assert np.percentile(apart, 99) < 1
    grays = delta_e_2000(from_xyz(wanted[:20]), from_xyz(found[:20]))
    assert np.percentile(grays, 99) < 0.8
    assert np.ptp(wanted[..., 1]) > 0.5
