"""What is decided on the sheet is what the commands find in the same folder."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pressworthy.commands.main import main
from pressworthy.house import load_house
from pressworthy.open_proof.day_book import decide, opened, take_back
from pressworthy.open_proof.decisions import Decision, Place
from pressworthy.open_proof.sizes import largest
from pressworthy.plugins import Registry
from pressworthy.values.faults import SetupError

PIER, QUAY = Place("masters/pier.jpg"), Place("masters/quay.jpg")


def test_the_commands_find_what_was_decided(
    master: Callable[..., Path], tmp_path: Path, registry: Registry, capsys: Any
) -> None:
    master("pier.jpg")
    master("quay.jpg", icc=None)
    issue = opened(tmp_path, registry)
    house = load_house("coated-magazine", registry)

    def says(kind: str, *places: Place, **fields: str) -> str:
        nonlocal issue
        decision = Decision(kind, places, fields, "Ines")
        issue = decide(tmp_path, decision, registry, issue.stamp)
        return issue.decisions[-1].identity

    def found() -> dict[str, dict[str, str]]:
        """Return picture -> finding -> state, as check tells."""
        paths = [str(tmp_path / name) for name in ("issue.csv", "waivers.yaml")]
        waivers = ["--waivers", paths[1]] if Path(paths[1]).exists() else []
        main(["check", "--list", paths[0], *waivers, "--format", "json", "--no-cache"])
        report = json.loads(capsys.readouterr().out)
        return {
            picture["name"]: {
                f"{outcome['rule']}/{finding['code']}": outcome["state"]
                for outcome in picture["outcomes"]
                for finding in outcome["findings"]
            }
            for picture in report["pictures"]
        }

    says("title", house="coated-magazine")
    too_large = says("place", PIER, width="200", height="150")
    few = "resolution/too-few-pixels"
    told = found()
    assert told["masters/pier.jpg"][few] == "found"
    assert told["masters/quay.jpg"]["icc-profile/missing"] == "found"
    accepted = says("accept", PIER, finding=few, reason="it is wanted so", until="2031-01-01")
    says("assume", QUAY, assume="sRGB")
    told = found()
    assert told["masters/pier.jpg"][few] == "waived"
    assert told["masters/quay.jpg"].get("icc-profile/missing") != "found"
    take_back(tmp_path, accepted, "Ines", registry)
    issue = opened(tmp_path, registry)
    assert found()["masters/pier.jpg"][few] == "found"
    fields = largest(issue, PIER, house)
    assert fields == {"width": "50.83", "height": "38.12"}
    says("largest size", PIER, **fields)
    assert few not in found()["masters/pier.jpg"]
    with pytest.raises(SetupError, match=r"width is 50.83 now, decided by Ines"):
        take_back(tmp_path, too_large, "Ines", registry)


def test_the_largest_size_of_a_picture_without_one(
    master: Callable[..., Path], tmp_path: Path, registry: Registry
) -> None:
    master("pier.jpg", ppi=None)
    issue = opened(tmp_path, registry)
    house = load_house("coated-magazine", registry)
    assert largest(issue, PIER, house) == {"width": "50.83", "height": "38.12"}
    issue = decide(
        tmp_path, Decision("crop", (PIER,), {"crop": "0 0 0.5 1"}), registry, issue.stamp
    )
    assert largest(issue, PIER, house) == {"width": "25.42", "height": "38.13"}
    with pytest.raises(SetupError, match=r"masters/quay.jpg: there is no such picture"):
        largest(issue, QUAY, house)
