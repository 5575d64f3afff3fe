"""Rules that judge a picture by its neighbours: evidence from each, findings once all are in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pressworthy.house import House, RuleSetting
from pressworthy.jobs.neighbours import judge_set, told_once
from pressworthy.judge import ContractBroken, judge
from pressworthy.testing import a_picture, draw, found, found_in_set, options_of, write_picture
from pressworthy.values.finding import Bound, Finding, Severity, State, Unmeasured, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.rule import Member, Options, Rule
from pressworthy.values.units import quantity


def _width(picture: Picture) -> int:
    return picture.header.width


def _check(picture: Picture, options: Mapping[str, Any]) -> Iterable[Finding]:
    if picture.header.width < 70:
        raise Unmeasured("too narrow to compare")
    if picture.header.width > 300:
        yield Finding("wide", picture.header.width, 300, "px", bound=Bound.MOST)


def _odd_one(evidence: Mapping[Member, Any], options: Options) -> dict[Member, list[Finding]]:
    middle = sorted(evidence.values())[len(evidence) // 2]
    return {
        member: [Finding("odd", width, middle, "px", bound=Bound.EXACTLY)]
        for member, width in evidence.items()
        if abs(width - middle) > options["most"]
    }


RULE = Rule(
    "widths", _check, {}, {"wide": "too wide", "odd": "unlike the others"}, "Widths.",
    evidence=_width, check_set=_odd_one,
)  # fmt: skip
SETTING = RuleSetting({"most": 50}, {"wide": "query", "odd": "stop"})


def _judged(coated: House, folder: Path, widths: list[int], rule: Rule = RULE) -> list[Verdict]:
    house = replace(coated, rules={"widths": SETTING})
    verdicts = [
        judge(a_picture(write_picture(folder / f"{i}.png", draw(w, 64))), house, {"widths": rule})
        for i, w in enumerate(widths)
    ]
    return list(judge_set(verdicts, house, {"widths": rule}))


def test_the_set_finds_the_odd_one(coated: House, tmp_path: Path) -> None:
    verdicts = _judged(coated, tmp_path, [100, 110, 105, 200])
    assert [v.outcomes[0].state for v in verdicts] == [State.PASSED] * 3 + [State.FOUND]
    (finding,) = verdicts[3].outcomes[0].findings
    assert (finding.code, finding.severity) == ("odd", Severity.STOP)


def test_findings_of_the_picture_and_of_the_set_stand_together(
    coated: House, tmp_path: Path
) -> None:
    verdicts = _judged(coated, tmp_path, [100, 110, 400])
    assert [f.code for f in verdicts[2].outcomes[0].findings] == ["wide", "odd"]


def test_an_unmeasured_picture_gives_no_evidence(coated: House, tmp_path: Path) -> None:
    verdicts = _judged(coated, tmp_path, [100, 64, 104])
    assert [v.outcomes[0].state for v in verdicts] == [
        State.PASSED, State.UNMEASURED, State.PASSED,
    ]  # fmt: skip


@pytest.mark.parametrize("failure", [KeyError("lost"), KeyboardInterrupt("lost")])
def test_a_set_check_that_raises_is_broken_and_keeps_what_was_found(
    failure: BaseException,
    coated: House,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def fails(evidence: Any, options: Any) -> Any:
        print("no JSON")
        raise failure

    verdicts = _judged(coated, tmp_path, [64, 400], replace(RULE, check_set=fails))
    assert [v.outcomes[0].state for v in verdicts] == [State.UNMEASURED, State.BROKEN]
    assert "lost" in verdicts[1].outcomes[0].reason
    assert capsys.readouterr() == ("", "no JSON\n")


def _on(path: Path, page: str) -> Picture:
    return a_picture(path, PlacementRequest((20, 20), page=page))


def test_one_file_on_two_pages_is_two_members_and_each_finding_keeps_its_own(
    coated: House, tmp_path: Path
) -> None:
    def second_page(evidence: Mapping[Member, Any], options: Options) -> Any:
        return {m: [Finding("odd", m.page, "3")] for m in evidence if m.page != "3"}

    path = write_picture(tmp_path / "p.png", draw(100, 64))
    rules = {"widths": replace(RULE, check_set=second_page)}
    house = replace(coated, rules={"widths": SETTING})
    verdicts = [judge(_on(path, page), house, rules) for page in ("3", "9", "9")]
    told = list(judge_set(verdicts, house, rules))
    states = [verdict.outcomes[0].state for verdict in told]
    assert states == [State.PASSED, State.FOUND, State.FOUND]
    assert [verdict.page for verdict in told] == ["3", "9", "9"]


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        ({"p.png": []}, "the rule widths gave findings for 'p.png', which is no member"),
        ({Member("p.png", page="77"): []}, "page='77'"),
        (None, "the rule widths returned None for the set; return member -> findings"),
    ],
)
def test_findings_for_what_is_no_member_break_the_rule(
    coated: House, tmp_path: Path, given: Any, reason: str
) -> None:
    rule = replace(RULE, check_set=lambda evidence, options: given)
    verdicts = _judged(coated, tmp_path, [100, 64], rule)
    assert [v.outcomes[0].state for v in verdicts] == [State.BROKEN, State.UNMEASURED]
    assert reason in verdicts[0].outcomes[0].reason
    picture = a_picture(tmp_path / "0.png")
    with pytest.raises(ContractBroken):
        found_in_set(rule, [picture], {})


def test_a_set_rule_is_tested_as_a_run_judges_it(tmp_path: Path) -> None:
    widths = [100, 64, 110, 400, 105]
    pictures = [
        a_picture(write_picture(tmp_path / f"{i}.png", draw(w, 64))) for i, w in enumerate(widths)
    ]
    told = found_in_set(RULE, [*pictures, pictures[3]], {"most": 50})
    # the one too narrow takes no part, and the same one twice is two
    assert [set(one) for one in told] == [set(), set(), set(), {"odd"}, set(), {"odd"}]
    assert set(found(RULE, pictures[3], {})) == {"wide"}


def test_options_are_tested_as_a_house_writes_them() -> None:
    rule = replace(RULE, options={"least": quantity("mm", "least width", least=1)})
    assert options_of(rule, {"least": "6 cm"}) == {"least": 60.0}
    wrong: dict[str, dict[str, Any]] = {
        "'least' is missing": {},
        "unknown": {"least": "6 cm", "most": 2},
        "not a quantity": {"least": "6 ppi"},
        "less than 1 mm": {"least": "0.5 mm"},
    }
    for reason, written in wrong.items():
        with pytest.raises(ValueError, match=reason):
            options_of(rule, written)
    ill = replace(RULE, options={"least": {"type": "nombre", "description": "least width"}})
    with pytest.raises(ValueError, match="widths, option 'least'"):
        options_of(ill, {"least": 1})


def _tell(evidence: Mapping[Member, Any], options: Options) -> Iterable[str]:
    yield f"{len(evidence)} pictures within {options['most']} px."


def _break(evidence: Mapping[Member, Any], options: Options) -> Iterable[str]:
    raise KeyError("gone")


def test_what_is_told_once_is_told_of_all_and_is_no_finding(coated: House, tmp_path: Path) -> None:
    house = replace(coated, rules={"widths": SETTING})
    for tell, line in (
        (_tell, "widths: 2 pictures within 50 px."),
        (_break, "widths: what it says of all pictures together is broken: KeyError"),
    ):
        rule = replace(RULE, tell_once=tell)
        verdicts = _judged(coated, tmp_path, [100, 110, 64], rule)
        assert not [finding for verdict in verdicts for finding in verdict.findings()]
        (told,) = told_once(verdicts, house, {"widths": rule})
        assert told.startswith(line)
    assert told_once(verdicts, house, {"widths": RULE}) == ()
    assert told_once([], house, {"widths": replace(RULE, tell_once=_tell)}) == ()


def test_what_is_told_once_needs_evidence() -> None:
    with pytest.raises(ValueError, match="tell_once needs evidence"):
        replace(RULE, evidence=None, check_set=None, tell_once=_tell)


def test_what_preparing_mends_are_codes_of_the_rule() -> None:
    with pytest.raises(ValueError, match=r"mended names no codes of it: \['unknown'\]"):
        replace(RULE, mended=("unknown",))


def test_evidence_and_check_set_go_together() -> None:
    with pytest.raises(ValueError, match="go together"):
        replace(RULE, evidence=None)
