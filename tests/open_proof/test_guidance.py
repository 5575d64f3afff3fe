"""Help on the sheet: the way ticks itself off, and goes back where a decision does."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets import HOUSES, TITLE, draw_masters

from pressworthy.jobs import Run
from pressworthy.open_proof import guidance, saving, sending, sheet
from pressworthy.open_proof.answers import ANSWERS
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.plugins import Registry


def done(desk: Desk) -> list[str]:
    return [step.what for step in guidance.way(desk) if step.done]


def test_the_way_ticks_itself_off(tmp_path: Path, registry: Registry) -> None:
    folder, aside = tmp_path / "winter", tmp_path / "aside"
    folder.mkdir()
    aside.mkdir()
    desk = Desk(folder, Run(registry, processes=1), aside, HOUSES)
    assert done(desk) == []
    assert "The way through, 0 of 10 steps done" in sheet.top(desk)
    draw_masters(folder / "masters")
    for path in (folder / "masters").iterdir():
        if path.name not in ("crew.tif", "cloth.jpg"):
            path.unlink()
    desk.follow()
    assert done(desk) == ["Put the pictures in"]
    desk.decide(Decision("title", (), {"house": TITLE}), desk.issue.stamp)
    assert done(desk)[-1] == "Choose the title"
    for name in ("crew.tif", "cloth.jpg"):
        fields = {"page": "1", "width": "36", "height": "27"}
        desk.decide(Decision("place", (Place(f"masters/{name}"),), fields), desk.issue.stamp)
    assert done(desk)[-1] == "Place them"
    while desk._judge(urgent=False) or desk._judge(urgent=True):
        pass
    assert done(desk)[2] == "Let them be judged"
    crew = Place("masters/crew.tif", "1")
    desk.decide(Decision("tone", (crew,), {"tone": "+2"}), desk.issue.stamp)
    assert "Decide on a remark" in done(desk)
    desk.take_back(desk.issue.decisions[-1].identity, "")
    assert "Take a decision back" in done(desk) and "Decide on a remark" not in done(desk)
    assert desk.prepare() == (2, 0)
    assert "Prepare the copies" in done(desk)
    sending.zip_copies(desk)
    (folder / "proof" / saving.PAGE).write_text("saved")
    assert {"Save the marked proof", "Pack the copies"} <= set(done(desk))


@pytest.mark.parametrize("rule", sorted(guidance.CAUTIONS))
def test_a_caution_is_on_a_rule_or_finding_that_there_is(rule: str, registry: Registry) -> None:
    name, _, code = rule.partition("/")
    assert name in registry.rules and (not code or code in registry.rules[name].codes)
    finding = rule if code else f"{rule}/any"
    assert guidance.caution(finding).startswith(guidance.CAUTIONS[rule])


def test_what_has_an_answer_or_none_is_cautioned_of(registry: Registry) -> None:
    assert ANSWERS.keys() <= registry.rules.keys()
    assert guidance.caution("no-such-rule/any").startswith("Ask the printer")
