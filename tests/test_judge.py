"""A rule that misbehaves is broken for that picture; the others go on."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.house import House, RuleSetting
from pressworthy.judge import broken_off, judge
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.finding import (
    Bound,
    Finding,
    Outcome,
    Severity,
    State,
    Unmeasured,
    Verdict,
)
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.report import Report
from pressworthy.values.rule import Rule


def raises(picture: Picture, options: Any) -> Iterator[Finding]:
    raise ZeroDivisionError("by hand")


def unmeasured(picture: Picture, options: Any) -> Iterator[Finding]:
    raise Unmeasured("too foggy")


def undeclared(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("other", 1, 2, bound=Bound.LEAST)


def nonsense(picture: Picture, options: Any) -> Any:
    return ["a word"]


def not_a_number(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", float("nan"), 2, bound=Bound.MOST)


def leaves(picture: Picture, options: Any) -> Iterator[Finding]:
    sys.exit(0)


def of_numpy(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", np.float32(0.5), np.int64(2), bound=Bound.LEAST)  # type: ignore[arg-type]


def not_finite(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", np.float32("inf"), 2, bound=Bound.MOST)  # type: ignore[arg-type]


def a_list(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", [1, 2], 2, bound=Bound.MOST)  # type: ignore[arg-type]


def nothing(picture: Picture, options: Any) -> Any:
    return None


def one_finding(picture: Picture, options: Any) -> Any:
    return Finding("code", "red", "blue")


def unbound(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", 1, 2)


def between(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", 1.0, (np.float32(2), 3), "mm", bound=Bound.BETWEEN)  # type: ignore[arg-type]


def fine(picture: Picture, options: Any) -> Iterator[Finding]:
    yield Finding("code", 1.0, 2.0, "px", "Do this.", bound=Bound.LEAST)


@pytest.mark.parametrize(
    ("check", "state", "reason"),
    [
        (raises, State.BROKEN, "ZeroDivisionError: by hand (test_judge.py:"),
        (unmeasured, State.UNMEASURED, "too foggy"),
        (undeclared, State.BROKEN, "does not declare"),
        (nonsense, State.BROKEN, "in place of a Finding"),
        (not_a_number, State.BROKEN, "measured nan"),
        (not_finite, State.BROKEN, "measured inf"),
        (a_list, State.BROKEN, "measured a list"),
        (leaves, State.BROKEN, "SystemExit"),
        (nothing, State.BROKEN, "the rule one returned None; yield findings or return a list"),
        (one_finding, State.BROKEN, "the rule one returned a value of type Finding; yield"),
        (unbound, State.BROKEN, "'code': a number needs a bound: least, most, exactly, between"),
        (between, State.FOUND, ""),
        (of_numpy, State.FOUND, ""),
        (fine, State.FOUND, ""),
    ],
)
def test_each_way_a_rule_can_end(
    check: Any, state: State, reason: str, tmp_path: Path, coated: House
) -> None:
    rules = {
        "one": Rule("one", check, {}, {"code": "a code"}, "One."),
        "two": Rule("two", fine, {}, {"code": "a code"}, "Two."),
    }
    setting = RuleSetting({}, {"code": "query"})
    house = House(**{**vars(coated), "rules": {"one": setting, "two": setting}})
    verdict = judge(a_picture(write_picture(tmp_path / "p.png", draw())), house, rules)
    first, second = verdict.outcomes
    assert first.state is state
    assert reason in first.reason
    for found in first.findings:
        assert json.dumps([found.measured, found.limit]).startswith("[")
    assert second.state is State.FOUND
    assert second.findings[0].severity == "query"


def test_a_measurement_runs_once_and_its_failure_is_remembered(tmp_path: Path) -> None:
    calls = []

    @measurement
    def fails(picture: Picture) -> float:
        calls.append(picture)
        raise Unmeasured("no")

    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    for _ in range(2):
        with pytest.raises(Unmeasured, match="no"):
            fails(picture)
    assert len(calls) == 1


def test_measured_arrays_cannot_be_changed(tmp_path: Path) -> None:
    from pressworthy.measure.pixels import small_copy, tiles

    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    with pytest.raises(ValueError, match="read-only"):
        small_copy(picture)[0, 0, 0] = 1
    with pytest.raises(ValueError, match="read-only"):
        tiles(picture)[0][0, 0] = 1


def test_the_house_weighs_what_cannot_be_measured(tmp_path: Path, coated: House) -> None:
    rules = {"one": Rule("one", unmeasured, {}, {"code": "a code"}, "One.")}
    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    for written, weight in (({}, Severity.STOP), ({"unmeasured": "note"}, Severity.NOTE)):
        setting = RuleSetting({}, {"code": "query", **written})
        house = House(**{**vars(coated), "rules": {"one": setting}})
        verdict = judge(picture, house, rules)
        assert verdict.outcomes[0].state is State.UNMEASURED
        assert bool(verdict.unjudged()) == (weight is Severity.STOP)
        assert verdict.worst() == (None if weight is Severity.STOP else weight)


def test_what_was_told_before_it_broke_off_stands(tmp_path: Path, coated: House) -> None:
    rules = {
        name: Rule(name, fine, {}, {"code": "a code"}, "It.") for name in ("one", "two", "three")
    }
    setting = RuleSetting({}, {"code": "query"})
    house = House(**{**vars(coated), "rules": dict.fromkeys(rules, setting)})
    told: list[Outcome] = []
    whole = judge(a_picture(write_picture(tmp_path / "p.png", draw())), house, rules, told.append)
    assert tuple(told) == whole.outcomes
    one, two, three = broken_off("p.png", "it took too long", house, told[:1]).outcomes
    assert one == told[0] and one.state is State.FOUND
    assert [two.state, three.state] == [State.BROKEN] * 2
    assert two.reason == three.reason == "it took too long; the rule two was under way"
    assert {o.reason for o in broken_off("p.png", "why", house, ()).outcomes} == {"why"}


def test_a_judged_picture_leaves_memory_at_once(tmp_path: Path, coated: House) -> None:
    """Also when a measurement failed: its error must not hold on to the pixels."""
    import gc
    import weakref

    @measurement
    def fails(picture: Picture) -> float:
        raise Unmeasured("no")

    def check(picture: Picture, options: Any) -> Iterator[Finding]:
        yield Finding("code", fails(picture), 0.0, bound=Bound.MOST)

    rules = {name: Rule(name, check, {}, {"code": "a code"}, "It.") for name in ("one", "two")}
    setting = RuleSetting({}, {"code": "query"})
    house = House(**{**vars(coated), "rules": {"one": setting, "two": setting}})
    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    seen = weakref.ref(picture)
    gc.disable()
    try:
        judge(picture, house, rules)
        del picture
        assert seen() is None
    finally:
        gc.enable()


def test_a_broken_rule_is_never_a_pass_whatever_the_house_weighs() -> None:
    broken = Outcome("ink", State.BROKEN, reason="KeyError", weight=Severity.NOTE)
    report = Report("check", "h", "", "p", (), {}, (Verdict("a", (broken,)),))
    assert report.exit_status() == 1


def test_what_could_not_be_judged_is_counted_beside_a_finding() -> None:
    query = Finding("x", 1.0, 2.0, severity=Severity.QUERY, bound=Bound.LEAST)
    outcomes = (
        Outcome("a", State.FOUND, (query,)),
        Outcome("b", State.UNMEASURED, reason="no"),
    )
    report = Report("check", "h", "", "p", (), {}, (Verdict("a", outcomes),))
    assert report.counts()["unjudged"] == 1
