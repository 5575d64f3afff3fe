"""The amounts that the shipped house profiles carry are those the model derives."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pressworthy.commands.main import main
from pressworthy.house import House
from pressworthy.prepare.amount import derive


@pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "mono"])
def test_shipped_amounts_are_derived(name: str, houses: dict[str, House]) -> None:
    house = houses[name]
    assert house.prepare is not None
    shipped = house.prepare["amount"]
    curve = derive(house, amounts=(0.75, 1.0))
    assert curve.amount == pytest.approx(shipped, abs=0.005)
    # within a tenth of 1 up to 16 cycles/degree, where unsharpened copies keep 0.5 to 0.9
    assert all(abs(share - 1) < 0.12 for one in curve.transfers for share in one.values[:4])


def test_more_spread_asks_for_more(houses: dict[str, House]) -> None:
    amounts = (0.25, 0.75, 1.25)
    less, more = (derive(houses["mono"], spread=d, amounts=amounts).amount for d in (0.04, 0.08))
    assert 0.3 < less < more - 0.2


def test_without_sharpening_detail_is_lost_in_order(houses: dict[str, House]) -> None:
    plain = derive(houses["mono"], amounts=(0.0, 0.1)).transfers[0]
    assert list(plain.values) == sorted(plain.values, reverse=True)
    assert 0.9 < plain.values[0] < 1
    assert plain.values[-1] < 0.6


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
