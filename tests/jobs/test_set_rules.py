"""Rules that judge a picture by its neighbours: evidence from each, findings once all are in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pressworthy.house import House, RuleSetting
from pressworthy.jobs.neighbours import judge_set
from pressworthy.judge import judge
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.finding import Finding, Severity, State, Unmeasured, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Rule


def _width(picture: Picture) -> int:
    return picture.header.width


def _check(picture: Picture, options: Mapping[str, Any]) -> Iterable[Finding]:
    if picture.header.width < 70:
        raise Unmeasured("too narrow to compare")
    if picture.header.width > 300:
        yield Finding("wide", picture.header.width, 300, "px")


def _odd_one(evidence: Mapping[str, Any], options: Mapping[str, Any]) -> dict[str, list[Finding]]:
    middle = sorted(evidence.values())[len(evidence) // 2]
    return {
        path: [Finding("odd", width, middle, "px")]
        for path, width in evidence.items()
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


def test_a_set_check_that_raises_is_broken_and_keeps_what_was_found(
    coated: House, tmp_path: Path
) -> None:
    def fails(evidence: Any, options: Any) -> Any:
        raise KeyError("lost")

    verdicts = _judged(coated, tmp_path, [64, 400], replace(RULE, check_set=fails))
    assert [v.outcomes[0].state for v in verdicts] == [State.UNMEASURED, State.BROKEN]
    assert "lost" in verdicts[1].outcomes[0].reason


def test_evidence_and_check_set_go_together() -> None:
    with pytest.raises(ValueError, match="go together"):
        replace(RULE, evidence=None)
