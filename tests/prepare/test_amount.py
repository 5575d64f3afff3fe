"""The amounts that the shipped house profiles carry are those the model derives."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pressworthy.commands.main import main
from pressworthy.house import House, load_house
from pressworthy.judge import judge
from pressworthy.measure.ticket import ticket
from pressworthy.plugins import Registry
from pressworthy.prepare import Made
from pressworthy.prepare.amount import (
    Curve,
    amount_for,
    curve_table,
    derive,
    misfit,
    stray,
    with_amount,
)
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print.eye import cpiq
from pressworthy.print.printlook import press_of
from pressworthy.print.transfer import Transfer
from pressworthy.values.faults import SetupError
from pressworthy.values.units import MM_PER_INCH
from pressworthy_rules.acutance import rule as acutance


@pytest.mark.parametrize(
    "name",
    [
        *("coated-magazine", "newsprint", "mono", "lwc-magazine", "sc-magazine"),
        *("uncoated-colour", "uncoated-yellowish", "coated-no1", "coated-no3", "coated-no5"),
    ],
)
def test_shipped_amounts_are_derived(name: str, registry: Registry) -> None:
    house = load_house(name, registry)
    assert house.prepare is not None
    shipped = house.prepare["amount"]
    curve = derive(house, amounts=(0.75, 1.0))
    assert curve.amount == pytest.approx(shipped, abs=0.005)
    # within a tenth of 1 up to 16 cycles/degree, where unsharpened copies keep 0.5 to 0.9
    assert all(abs(share - 1) < 0.125 for one in curve.transfers for share in one.values[:4])


def test_more_blur_asks_for_more(houses: dict[str, House]) -> None:
    amounts = (0.25, 0.75, 1.25)
    less, more = (derive(houses["mono"], blur=d, amounts=amounts).amount for d in (0.04, 0.08))
    assert 0.3 < less < more - 0.2


AMOUNTS = {12.5: 0.91, 20: 0.45, 30: 0.23, 60: 0.05}
"""By inches to the reader, for coated paper at 300 ppi."""


@pytest.mark.parametrize("inches", list(AMOUNTS))
def test_the_farther_the_reader_the_less(houses: dict[str, House], inches: float) -> None:
    wanted = AMOUNTS[inches]
    low = wanted // 0.25 * 0.25
    house = read_from(houses["coated-magazine"], inches)
    assert derive(house, amounts=(low, low + 0.25)).amount == pytest.approx(wanted, abs=0.03)


def test_where_none_is_stated_it_is_what_the_whole_curve_finds(houses: dict[str, House]) -> None:
    mono = without_amount(houses["mono"])
    for inches in (12.5, 30):
        house = read_from(mono, inches)
        assert amount_for(house) == derive(house).amount
        filled = with_amount(house)
        assert filled.prepare is not None
        assert filled.prepare["amount"] == amount_for(house)
        assert filled.fingerprint() == house.fingerprint()
    # a stated one is a person's word
    assert amount_for(houses["mono"]) == 0.97
    assert with_amount(houses["mono"]) is houses["mono"]


def test_a_copy_read_from_afar_is_not_harsh(
    houses: dict[str, House], master: Callable[..., Path], prepared: Callable[..., Made]
) -> None:
    scene = np.clip(dead_leaves(900, 675, seed=4, noise=0, smallest=3), 0, 255).astype(np.uint8)
    poster = read_from(houses["mono"], 60)
    found = {}
    for name, house in (("stated", poster), ("derived", without_amount(poster))):
        made = prepared(master("leaves.png", scene), house, (76.2, 57.15), f"{name}.tif")
        alone = replace(house, rules={"acutance": house.rules["acutance"]})
        outcomes = judge(made.copy, alone, {"acutance": acutance}).outcomes
        found[name] = {finding.code for one in outcomes for finding in one.findings}
        sealed = ticket(made.copy)
        assert sealed is not None and sealed.radius == "7.2000"
        assert float(sealed.amount) == amount_for(house)
    assert found == {"stated": {"harsh-in-print"}, "derived": set()}
    assert amount_for(house) < 0.12


def test_dots_take_little(houses: dict[str, House]) -> None:
    """What sharpening gives back is the press's blur: a screen thrice as fine loses as much."""
    house = houses["mono"]
    condition = house.output.condition
    finer = replace(
        condition, values={**condition.values, "ruling": 3 * condition.values["ruling"]}
    )
    coarse, fine = (
        derive(replace(house, output=replace(house.output, condition=one)), amounts=(0.0, 0.1))
        for one in (condition, finer)
    )
    assert fine.transfers[0].values == pytest.approx(coarse.transfers[0].values, abs=0.03)


class TestStray:
    def test_an_amount_far_from_the_derived_one_is_told(self, houses: dict[str, House]) -> None:
        mono = houses["mono"]
        assert mono.prepare is not None
        for amount, wanted in (
            (0.97, False),
            (0.84, False),
            (1.10, False),
            (0.8, True),
            (1.2, True),
        ):
            told = stray(replace(mono, prepare={**mono.prepare, "amount": amount}))
            assert (told is not None) is wanted
        assert told is not None
        assert "1.2 is stated, 0.97 is derived for uncoated at 300 ppi, read from 318 mm" in str(
            told
        )
        assert str(told).startswith(str(mono.origins["prepare", "amount"]))

    def test_what_is_derived_or_shown_on_a_screen_cannot_stray(
        self, houses: dict[str, House]
    ) -> None:
        assert stray(without_amount(houses["mono"])) is None
        assert stray(houses["screen"]) is None


def read_from(house: House, inches: float) -> House:
    return replace(house, output=replace(house.output, viewing_distance=inches * MM_PER_INCH))


def without_amount(house: House) -> House:
    assert house.prepare is not None
    return replace(house, prepare={k: v for k, v in house.prepare.items() if k != "amount"})


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
    curve = derive(house, blur=0.05, amounts=amounts)
    output = house.output
    assert curve.radius == pytest.approx(output.viewing_distance * output.ppi * 0.0004 / 25.4)
    assert curve.blur == 0.05 and curve.amounts == amounts
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
    # the condition's own blur where none is given
    own = derive(house, amounts=(0.0, 1.0))
    assert own.blur == press_of(output.condition).blur


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
        f"{values['device resolution']:g} dpi, euclidean dots, press and paper blur by 0.085 mm"
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
    assert main(["sharpening", "--house", "mono", "--blur", "0.03mm"]) == 0
    out = capsys.readouterr().out
    assert "# pressworthy sharpening --house mono --blur 0.03mm" in out
    assert "blur by 0.03 mm" in out
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


def test_a_printers_own_profile_derives_what_the_measured_inks_do(
    tmp_path: Path, registry: Registry, capsys: pytest.CaptureFixture[str]
) -> None:
    """From the A2B table of the profile alone, well within what no eye parts."""
    measured = load_house("newsprint", registry).output.condition.profiles["cmyk"]
    (tmp_path / "press.icc").write_bytes(measured.read_bytes())
    house = tmp_path / "h.yaml"
    house.write_text(
        "house: h\nkind: title\nstands on: newsprint\n"
        "output: {condition: press.icc, reason: the printer sent it}\n"
    )
    assert main(["sharpening", "--house", str(house)]) == 0
    told = capsys.readouterr().out
    found = re.search(r"amount: ([0-9.]+)", told)
    assert found and float(found[1]) == pytest.approx(0.99, abs=0.03)
    assert "Assumed: ruling, device resolution and screen angles as of newsprint." in told
