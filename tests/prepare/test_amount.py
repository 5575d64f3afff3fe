"""The amounts that the shipped house profiles carry are those the model derives."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from pressworthy.commands.main import main
from pressworthy.house import House
from pressworthy.prepare.amount import Curve, curve_table, derive, misfit
from pressworthy.print.eye import cpiq
from pressworthy.print.printlook import press_of
from pressworthy.print.transfer import Transfer
from pressworthy.values.faults import SetupError


@pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "mono"])
def test_shipped_amounts_are_derived(name: str, houses: dict[str, House]) -> None:
    house = houses[name]
    assert house.prepare is not None
    shipped = house.prepare["amount"]
    curve = derive(house, amounts=(0.75, 1.0))
    assert curve.amount == pytest.approx(shipped, abs=0.005)
    # within a tenth of 1 up to 16 cycles/degree, where unsharpened copies keep 0.5 to 0.9
    assert all(abs(share - 1) < 0.125 for one in curve.transfers for share in one.values[:4])


def test_more_spread_asks_for_more(houses: dict[str, House]) -> None:
    amounts = (0.25, 0.75, 1.25)
    less, more = (derive(houses["mono"], spread=d, amounts=amounts).amount for d in (0.04, 0.08))
    assert 0.3 < less < more - 0.2


def test_without_sharpening_detail_is_lost_in_order(houses: dict[str, House]) -> None:
    plain = derive(houses["mono"], amounts=(0.0, 0.1)).transfers[0]
    assert list(plain.values) == sorted(plain.values, reverse=True)
    assert 0.9 < plain.values[0] < 1
    assert plain.values[-1] < 0.6


def test_the_misfit_is_weighted_and_either_side_counts() -> None:
    weights = np.array([1.0, 3.0])
    off = misfit(np.array([[1.0, 1.0], [0.8, 1.0], [1.0, 0.8], [1.0, 1.2]]), weights)
    assert off == pytest.approx([0, 0.1, 0.2 * 0.75**0.5, 0.2 * 0.75**0.5])


def test_a_curve_tells_what_it_was_made_with_and_the_least_misfit(
    houses: dict[str, House],
) -> None:
    house = houses["mono"]
    # no even steps: hundredths, whatever was tried
    amounts = (0.0, 0.5, 1.0, 1.37)
    curve = derive(house, spread=0.05, amounts=amounts)
    output = house.output
    assert curve.radius == pytest.approx(output.viewing_distance * output.ppi * 0.0004 / 25.4)
    assert curve.spread == 0.05 and curve.amounts == amounts
    rings = [one.response for one in curve.transfers]
    assert all((low < high).all() for low, high in pairwise(ring[3:15] for ring in rings))
    weights = cpiq(curve.transfers[0].frequencies)
    assert curve.misfits == pytest.approx([float(misfit(ring, weights)) for ring in rings])
    # the best in hundredths, each amount's response drawn straight between its neighbours
    steps = np.arange(0, 1.375, 0.01)
    between = np.array([[np.interp(step, amounts, ring) for ring in np.transpose(rings)]
                        for step in steps])  # fmt: skip
    assert curve.amount == pytest.approx(steps[np.argmin(misfit(between, weights))])
    assert curve.amount * 100 == pytest.approx(round(curve.amount * 100))
    # the condition's own spread where none is given
    own = derive(house, amounts=(0.0, 1.0))
    assert own.spread == press_of(output.condition).spread


def test_a_curve_in_words(houses: dict[str, House]) -> None:
    house = houses["mono"]
    seen = [
        Transfer((0.9, 0.8, 0.654, 0.5, float("nan")), acutance, 0.01, np.ones(1), np.ones(1))
        for acutance in (0.71, 1.03)
    ]
    curve = Curve(1.25, 0.085, (0.0, 1.5), tuple(seen), (0.25, 0.05), 0.876)
    lines = curve_table(curve, house, "a command").splitlines()
    output, values = house.output, house.output.condition.values
    assert lines[0] == "mono: gray at 300 ppi, read from 318 mm"
    assert lines[1] == (
        f"{output.condition.name}: {values['ruling']:g} lines/cm, "
        f"{values['device resolution']:g} dpi, light spreads 0.085 mm in the paper"
    )
    assert lines[2].startswith("Radius 1.25 px.")
    head = next(line for line in lines if line.startswith("amount"))
    assert head.split() == ["amount", "2-4", "4-8", "8-12", "12-16", "16-24", "acutance", "misfit"]
    rows = [line.split() for line in lines[lines.index(head) + 1 :][:2]]
    assert rows[0] == ["0.00", "0.90", "0.80", "0.65", "0.50", "-", "0.71", "0.250", "#" * 15]
    assert rows[1] == ["1.50", "0.90", "0.80", "0.65", "0.50", "-", "1.03", "0.050", "#" * 3]
    assert lines[-1] == "  amount: 0.88  # a command"


def test_a_house_that_does_not_prepare_has_no_amount(houses: dict[str, House]) -> None:
    with pytest.raises(SetupError, match="mono: .*section 'prepare'"):
        derive(replace(houses["mono"], prepare=None))


def test_the_command_prints_what_made_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sharpening", "--house", "mono", "--spread", "0.03mm"]) == 0
    out = capsys.readouterr().out
    assert "# pressworthy sharpening --house mono --spread 0.03mm" in out
    assert "light spreads 0.03 mm" in out
    assert out.count("#####") >= 3


def test_a_screen_needs_none(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sharpening", "--house", "screen"]) == 2
    assert "no ink" in capsys.readouterr().err


def test_a_condition_that_says_too_little(
    houses: dict[str, House], capsys: pytest.CaptureFixture[str]
) -> None:
    from pressworthy.values.finding import Unmeasured

    house = houses["mono"]
    bare = replace(house.output.condition, values={})
    with pytest.raises(Unmeasured, match="ruling"):
        derive(replace(house, output=replace(house.output, condition=bare)))
