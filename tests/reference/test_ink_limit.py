"""Copies held to the house's ink limit, their colours told by LittleCMS's own command.

Open photographs of scikit-image: astronaut (public domain), coffee and chelsea (CC0), each as the
profile itself separates it and as separated anew, on the condition's paper.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import colour
import numpy as np
import pytest
from conftest import need

from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.house import House
from pressworthy.measure.pixels import pixels
from pressworthy.plugins import Registry
from pressworthy.prepare import Made
from pressworthy.testing import found
from pressworthy.values.condition import Profile

Prepared = Callable[..., Made]
LIMITS = {"coated-magazine": 260.0, "newsprint": 190.0}


def limited(house: House, limit: float) -> House:
    """Return the house with another ink limit, as its YAML would set it."""
    options = {**house.rules["ink"].options, "limit": limit}
    rules = {**house.rules, "ink": replace(house.rules["ink"], options=options)}
    return replace(house, rules=rules, output=replace(house.output, ink_limit=limit))


def on_paper(inks: Any, profile: Profile) -> Any:
    """Return absolute CIELAB of inks, (n, 4) of 0..255, by transicc."""
    rows = "\n".join("\n".join(f"{ink / 2.55:.4f}" for ink in row) for row in inks.tolist())
    call = [need("transicc"), "-t3", "-n", "-i", str(profile), "-o", "*Lab2"]
    done = subprocess.run(call, input=rows + "\n", capture_output=True, text=True, check=True)
    rows_told = [line.split() for line in done.stdout.splitlines() if line.strip()]
    labs = np.array([row for row in rows_told if len(row) == 3], np.float64)
    assert len(labs) == len(inks)
    return labs


@pytest.mark.parametrize("house", LIMITS)
@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea"])
def test_photographs_keep_their_colours(
    house: str,
    name: str,
    master: Any,
    prepared: Prepared,
    houses: dict[str, House],
    registry: Registry,
) -> None:
    values = getattr(pytest.importorskip("skimage.data"), name)()
    path, limit = master("photo.png", values), LIMITS[house]
    size = tuple(side / 300 * 25.4 for side in values.shape[1::-1])
    held = limited(houses[house], limit)
    made = {
        "free": prepared(path, house, size=size, name="free.tif"),
        "held": prepared(path, held, size=size, name="held.tif"),
    }
    inks = {key: pixels(one.copy).numpy().reshape(-1, 4) for key, one in made.items()}
    sums = {key: values.sum(axis=1, dtype=int) / 2.55 for key, values in inks.items()}
    # there is something to do, and it is done, to the level
    assert sums["free"].max() > limit + 10
    assert (sums["free"] > limit).mean() > 0.01
    assert sums["held"].max() <= limit
    profile = held.output.condition.profiles["cmyk"]
    some = np.random.default_rng(1).choice(len(inks["free"]), 4000, replace=False)
    free, held_back = (on_paper(inks[key][some], profile) for key in ("free", "held"))
    off = colour.delta_E(free, held_back, method="CIE 2000")
    assert off.mean() <= 0.5
    assert off.max() < 2
    # what was within the limit moves by no more than its black gives, and by 8 bits
    assert off[sums["free"][some] <= limit].mean() <= 0.3
    slip = read_ticket(made["held"].copy.header.xmp)
    assert slip is not None and slip.ink_limit == f"{limit:g}"
    rule, options = registry.rules["ink"], held.rules["ink"].options
    assert found(rule, replace(made["held"].copy), options) == {}
    assert found(rule, replace(made["free"].copy, output=held.output), options)
