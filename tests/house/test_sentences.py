"""A house profile told in sentences: each value has one, with its place and ground."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pressworthy.house import in_effect, list_houses
from pressworthy.house.schema import OUTPUT, PREPARE
from pressworthy.house.sentences import (
    OUTPUT_SAYS,
    PREPARE_SAYS,
    Section,
    Sentence,
    comment_at,
    meant,
    part_of,
    told,
    written,
)
from pressworthy.plugins import Registry
from pressworthy.values.rule import Rule

HOUSES = Path(__file__).parents[2] / "demo" / "houses"


def sections(name: str, registry: Registry, folder: Path = HOUSES) -> dict[str, Section]:
    merged, chain = in_effect(name, registry, folder)
    return {one.name: one for one in told(merged, chain, registry.rules)}


def sentence(section: Section, key: str) -> Sentence:
    (one,) = (one for one in (*section.values, *section.weights) if one.path[-1] == key)
    return one


def test_every_value_of_every_profile_has_its_own_sentence(registry: Registry) -> None:
    assert set(OUTPUT_SAYS) == set(OUTPUT) and set(PREPARE_SAYS) == set(PREPARE)
    assert all(says.count("{}") == 1 for says in (*OUTPUT_SAYS.values(), *PREPARE_SAYS.values()))
    for name, rule in registry.rules.items():
        assert set(rule.says) == set(rule.options), name
    names = {Path(one.file).stem for one in list_houses(registry, HOUSES)}
    seen: set[Any] = set()
    for name in names:
        for section in sections(name, registry).values():
            for one in section.values:
                seen.add(one.path[:2])
                assert one.before.strip() and one.after.strip(), one
                assert one.text or one.path == ("prepare", "amount"), one
                part = part_of(one.path, registry.rules)
                assert part is not None
    assert len(seen) > 40


def test_a_value_is_told_with_its_place_and_its_ground(registry: Registry) -> None:
    there = sections("slack-tide", registry)
    ppi = sentence(there["output"], "ppi")
    assert (ppi.before, ppi.text, ppi.after) == ("A picture prints at ", "300 ppi", ".")
    assert ppi.origin and Path(ppi.origin.file).name == "coated-magazine.yaml"
    assert "sampling theorem" in ppi.ground and not ppi.own
    few = sentence(there["resolution"], "too-few-pixels")
    assert f"{few.before}{few.choices[few.text]}{few.after}" == (
        "Fewer pixels than the output needs at this size: this stops it."
    )
    spread = sentence(there["luminance"], "least spread")
    assert spread.own and spread.ground == "evening and fog are what the magazine is about"
    # without a comment of its own, the reason of its section
    bleed = sentence(sections("parish-leaf", registry)["bleed"], "least")
    assert bleed.ground == "the parish's hand guillotine is not exact"


def test_what_is_locked_above_is_sealed_and_what_is_left_out_says_why(registry: Registry) -> None:
    there = sections("slack-tide", registry)
    assert there["credit"].sealed == "sealed by house.yaml, line 9"
    assert all(one.sealed for one in (*there["credit"].values, *there["credit"].weights))
    assert not there["resolution"].sealed
    # who locked it may change it
    assert not sections("house", registry)["credit"].sealed
    ink = sections("parish-leaf", registry)["ink"]
    assert ink.left_out == "one ink never exceeds 100 %" and ink.asked
    assert ink.asked.choices[ink.asked.text] == "is not asked about"


def test_a_rule_without_sentences_is_told_by_its_options() -> None:
    from pressworthy.house.sentences import _generic

    part = {"description": "width of one column of the grid", "unit": "mm"}
    assert _generic(part) == "Width of one column of the grid: {}."
    with pytest.raises(ValueError, match="once, where its value stands"):
        Rule("grid", lambda *_: (), {"column": part}, {"off": "off"}, "Doc.", says={"column": "no"})
    with pytest.raises(ValueError, match="is of an option"):
        Rule("grid", lambda *_: (), {"column": part}, {"off": "off"}, "Doc.", says={"row": "{}"})


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (3, "why it is and so on"),
        (4, "at its end"),
        (5, ""),
        (6, ""),
        (10, "of the old one\nof the new one"),
        (11, ""),  # a file that was cut since
    ],
)
def test_the_comment_at_a_line(line: int, words: str) -> None:
    lines = [
        "  # why it is",
        "  # and so on",
        "  a: 1",
        "  b: '#' # at its end",
        '  c: "x # y"',
        "",
        "# of the old one",
        "#",
        "# of the new one",
        "d: 1",
    ]
    assert comment_at(lines, line) == words


def test_what_a_person_writes_comes_back_as_it_was(registry: Registry) -> None:
    for name in ("slack-tide", "parish-leaf", "slack-tide-online", "ebbworth-courier"):
        merged, chain = in_effect(name, registry, HOUSES)
        for section in told(merged, chain, registry.rules):
            for one in (*section.values, *section.weights):
                value: Any = merged.value
                for key in one.path:
                    value = value.get(key, "") if isinstance(value, dict) else value
                part = part_of(one.path, registry.rules)
                assert part is not None
                assert meant(one.text, part) == value, one.path
    mix = part_of(("prepare", "gray mix"), registry.rules)
    assert mix
    shares = {"red": 0.3, "green": 0.6, "blue": 0.1}
    assert meant(written(shares), mix) == shares
    assert meant("lots", {"type": "integer"}) == "lots"
