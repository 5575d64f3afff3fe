"""Prepared copies that are soft or harsh in print, and those of which nothing can be said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dead_leaves import as_bytes, dead_leaves

from pressworthy.house import House
from pressworthy.judge import judge
from pressworthy.plugins import Registry
from pressworthy.prepare import Made
from pressworthy.testing import a_picture, found
from pressworthy.values.finding import State, Unmeasured
from pressworthy.values.placement import PlacementRequest

SIZE = {"coated-magazine": (65.0, 48.8), "newsprint": (97.5, 73.2), "mono": (65.0, 48.8)}


@pytest.fixture
def codes(
    registry: Registry,
    houses: dict[str, House],
    master: Callable[..., Path],
    prepared: Callable[..., Made],
) -> Callable[..., set[str]]:
    def ask(name: str, amount: float | None = None, values: Any = None) -> set[str]:
        house = houses[name]
        assert house.prepare is not None
        if amount is not None:
            house = replace(house, prepare={**house.prepare, "amount": amount})
        scene = as_bytes(dead_leaves(seed=3, smallest=4)) if values is None else values
        made = prepared(master("leaves.tif", scene), house, SIZE[name], f"copy-{amount}.tif")
        return set(found(registry.rules["acutance"], made.copy, house.rules["acutance"].options))

    return ask


@pytest.mark.parametrize("name", list(SIZE))
def test_a_copy_as_shipped_passes(name: str, codes: Callable[..., set[str]]) -> None:
    assert codes(name) == set()


@pytest.mark.parametrize("name", list(SIZE))
def test_soft_and_harsh(name: str, codes: Callable[..., set[str]]) -> None:
    assert codes(name, 0) == {"soft-in-print"}
    assert codes(name, 2) == {"harsh-in-print"}


def test_an_unsharpened_copy_is_found_by_acutance_and_not_by_its_halos(
    registry: Registry, coated: House, master: Callable[..., Path], prepared: Callable[..., Made]
) -> None:
    assert coated.prepare is not None
    plain = replace(coated, prepare={**coated.prepare, "amount": 0})
    scene = as_bytes(dead_leaves(seed=3, smallest=4))
    copy = prepared(master("leaves.tif", scene), plain, SIZE["coated-magazine"]).copy
    verdict = judge(copy, coated, registry.rules)
    assert "soft-in-print" in {finding.code for _, finding in verdict.findings()}
    states = {outcome.rule: outcome.state for outcome in verdict.outcomes}
    assert states["sharpening"] is State.WAIVED


def test_a_picture_without_detail_is_unmeasured(codes: Callable[..., set[str]]) -> None:
    with pytest.raises(Unmeasured, match="too little detail"):
        codes("mono", values=np.full((576, 768, 3), 140, np.uint8))


def test_masters_are_judged_on_their_copies(
    registry: Registry, coated: House, master: Callable[..., Path]
) -> None:
    picture = a_picture(master(), output=coated.output)
    outcome = {o.rule: o for o in judge(picture, coated, registry.rules).outcomes}["acutance"]
    assert outcome.state is State.WAIVED
    assert "copy" in outcome.reason


def test_what_a_person_wants_unsharpened_is_not_called_soft(
    registry: Registry, coated: House, master: Callable[..., Path], prepared: Callable[..., Made]
) -> None:
    scene = as_bytes(dead_leaves(seed=3, smallest=4))
    request = PlacementRequest(SIZE["coated-magazine"], sharpen=False)
    made = prepared(master("leaves.tif", scene), request=request)
    assert "not sharpened, as a person asked" in made.steps
    assert found(registry.rules["acutance"], made.copy, coated.rules["acutance"].options) == {}
