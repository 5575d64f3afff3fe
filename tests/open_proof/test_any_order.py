"""Whatever is decided, and taken back in whatever order: in the end the list is as it was."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from pressworthy.open_proof import acceptances
from pressworthy.open_proof.day_book import Overtaken, decide, opened, take_back
from pressworthy.open_proof.decisions import Decision, Place
from pressworthy.open_proof.issue import Issue, seen_from
from pressworthy.plugins import Registry
from pressworthy.values.faults import SetupError

LISTS = (
    'picture;page;desk\r\nmasters/p0.jpg;1;x\r\nmasters/p1.jpg;;"y"\r\nmasters/p1.jpg;7;',
    "picture,page,width,height\nmasters/p0.jpg,1,,\n",
)
WAIVERS = """# agreed
waivers:
  # by Ines
  - finding: ink/too-much-ink
    picture: masters/p0.jpg
    reason: so
    by: Ines
    until: 2031-01-01 # at the latest
  # no more
"""
FINDINGS = ("ink/too-much-ink", "luminance/too-dark")
FIELDS: dict[str, Callable[[random.Random], dict[str, str]]] = {
    "place": lambda chance: {"width": str(chance.randint(10, 99)), "height": "50"},
    "crop": lambda chance: {"crop": f"0 0 0.{chance.randint(1, 9)} 1"},
    "focus": lambda chance: {"focus": f"0 0.{chance.randint(1, 9)}"},
    "tone": lambda chance: {"tone": chance.choice(["house", "+3", "-4"])},
    "assume": lambda chance: {"assume": chance.choice(["sRGB", "opRGB", ""])},
    "accept": lambda chance: {
        "finding": chance.choice(FINDINGS),
        "reason": chance.choice("abc"),
        "until": "2031-01-01",
    },
    "no longer accept": lambda chance: {"finding": chance.choice(FINDINGS)},
    "page": lambda chance: {"page": str(chance.randint(1, 4))},
    "add": lambda chance: {},
}


def any_decision(chance: random.Random, issue: Issue) -> Decision:
    masters = [Place(seen_from(issue.folder, path)) for path in issue.unlisted]
    places = [*issue.places(), *masters]
    some = chance.sample(places, chance.randint(1, 2))
    kind = chance.choice(list(FIELDS))
    fields = FIELDS[kind](chance)
    if kind == "page":
        return Decision("place", tuple(some[:1]), fields)
    if kind == "add":
        some = [Place(some[0].picture, str(chance.randint(5, 9)))]
    return Decision(kind, tuple(some), fields, "Ines")


@pytest.mark.parametrize("seed", range(10))
def test_all_is_as_it_was(tmp_path: Path, registry: Registry, seed: int) -> None:
    chance = random.Random(seed)
    (tmp_path / "masters").mkdir()
    for number in range(3):
        (tmp_path / "masters" / f"p{number}.jpg").write_bytes(b"\xff\xd8")
    text = chance.choice(LISTS)
    (tmp_path / "issue.csv").write_bytes(text.encode())
    (tmp_path / "waivers.yaml").write_bytes(WAIVERS.encode())
    issue = opened(tmp_path, registry)

    def standing() -> list[Decision]:
        return [one for one in issue.decisions if not one.taken_back]

    for _ in range(8):
        try:
            issue = decide(tmp_path, any_decision(chance, issue), registry, issue.stamp)
        except SetupError as error:
            assert "is not accepted" in str(error)
        if standing() and chance.random() < 0.3:
            issue = taken_back(issue, chance.choice(standing()), registry)
        assert not issue.faults
    while left := standing():
        chance.shuffle(left)
        for one in left:
            issue = taken_back(issue, one, registry)
        # at least the last can always be
        assert len(standing()) < len(left)
    assert (tmp_path / "issue.csv").read_bytes() == text.encode()
    waivers = (tmp_path / "waivers.yaml").read_text("utf-8")
    assert [one.fields for one in acceptances.kept(waivers)] == [
        one.fields for one in acceptances.kept(WAIVERS)
    ]
    assert all(remark in waivers for remark in ("# agreed\n", "# by Ines\n", "  # no more\n"))


def taken_back(issue: Issue, decision: Decision, registry: Registry) -> Issue:
    try:
        return take_back(issue.folder, decision.identity, "Tobe", registry)
    except Overtaken:
        return issue
