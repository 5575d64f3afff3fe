"""The stages of a copy that may be looked at: the same pixels, and those without sharpening."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.files import opening
from pressworthy.files.intake import take_in
from pressworthy.house import House
from pressworthy.measure import pixels as measured
from pressworthy.prepare import Order, make, make_seen, planned, render
from pressworthy.prepare.order import output_for
from pressworthy.values.placement import PlacementRequest

PLACED = PlacementRequest((40, 30))


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono", "screen"])
def test_a_copy_that_is_looked_at_is_the_same_copy(
    house: str, houses: dict[str, House], master: Callable[..., Path], tmp_path: Path
) -> None:
    chosen = houses[house]
    asked = PLACED if chosen.output.medium == "print" else PlacementRequest()
    scale = 1.0 if chosen.output.medium == "screen" else 0.0
    order = Order(master(), tmp_path / "copy.bin", asked, scale)
    taken, plan = planned(order, chosen)
    alone = render(taken, plan, chosen)
    seen = render(taken, plan, chosen)
    assert (alone.image.numpy() == seen.image.numpy()).all()
    assert (seen.sharp.image().numpy() == seen.image.numpy()).all()
    assert chosen.prepare
    off = replace(chosen, prepare={**chosen.prepare, "amount": 0})
    plain, wanted = seen.plain.image().numpy(), render(taken, plan, off).image.numpy()
    assert np.abs(plain.astype(int) - wanted).max() <= 1
    assert (plain != seen.image.numpy()).mean() > 0.1
    assert (seen.plain.part(30, 20, 100, 80).numpy() == plain[20:100, 30:130]).all()
    assert seen.light.image.width == seen.image.width


def test_a_picture_is_decoded_once_for_all_that_is_shown_of_it(
    houses: dict[str, House],
    master: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    house = houses["coated-magazine"]
    path = master()
    made = make(Order(path, tmp_path / "alone.tif", PLACED), house).copy.path.read_bytes()
    opened: list[Path] = []

    def watched(once: Callable[..., Any]) -> Callable[..., Any]:
        def read(at: Path, **how: Any) -> Any:
            found = once(at, **how)
            if found is not None:
                opened.append(at)
            return found

        return read

    monkeypatch.setattr(measured, "decode", watched(opening.decode))
    monkeypatch.setattr(measured, "in_step", watched(opening.in_step))
    rendering = sys.modules["pressworthy.prepare.render"]  # its package has a function of that name
    monkeypatch.setattr(rendering, "stream", lambda at: opened.append(at))
    picture = take_in(path, output_for(house, 0), PLACED)
    measured.decode_now(picture)
    order = Order(path, tmp_path / "seen.tif", PLACED)
    first = make_seen(order, house, picture)
    again = make_seen(order, house, picture)
    assert opened == [path]
    assert first.made.fresh and not again.made.fresh
    assert first.made.copy.path.read_bytes() == made
    assert (first.rendered.image.numpy() == again.rendered.image.numpy()).all()
