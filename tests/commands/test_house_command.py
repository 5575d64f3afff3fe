"""House profiles: listed, shown, validated; and all schemas that are printed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from pressworthy.commands.main import main
from pressworthy.plugins import Registry


def test_house_list_and_show(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["house", "list"]) == 0
    shown = capsys.readouterr().out
    for name in ("house", "coated-magazine", "newsprint", "mono", "screen"):
        assert name in shown
    assert main(["house", "show", "mono", "--origin"]) == 0
    shown = capsys.readouterr().out
    assert "mono.yaml:" in shown
    assert "house.yaml:" in shown


def test_house_list_tells_the_names_that_are_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "quarterly.yaml").write_text("house: quarterly\nkind: output\nstands on: mono\n")
    assert main(["house", "list", "--house-folder", str(tmp_path)]) == 0
    heads = [line for line in capsys.readouterr().out.splitlines() if not line.startswith(" ")]
    assert heads[0].split(maxsplit=1) == ["quarterly", "output < mono"]
    for head in heads:
        assert main(["house", "show", head.split()[0], "--house-folder", str(tmp_path)]) == 0


def test_the_house_standard_is_shown_and_not_judged_by(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["house", "show", "house", "--origin"]) == 0
    shown = capsys.readouterr().out
    assert "kind: standard" in shown and "house.yaml:" in shown
    assert main(["check", str(tmp_path), "--house", "house"]) == 2
    told = capsys.readouterr().err
    assert "has no output of its own" in told and told.count("\n") == 1


def test_what_show_prints_loads_again(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, registry: Registry
) -> None:
    from pressworthy.house import load_house

    assert main(["house", "show", "newsprint"]) == 0
    copy = tmp_path / "newsprint.yaml"
    text = capsys.readouterr().out
    copy.write_text("".join(line for line in text.splitlines(True) if "stands on:" not in line))
    again, first = load_house(str(copy), registry), load_house("newsprint", registry)
    assert again.rules == first.rules
    assert again.output == first.output


def test_house_validate_tells_every_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text("house: good\nkind: output\nstands on: mono\n")
    bad.write_text("house: bad\nkind: output\nstands on: mono\noutput: {ppi: 3}\nruels: {}\n")
    assert main(["house", "validate", str(good)]) == 0
    assert main(["house", "validate", str(bad)]) == 2
    told = capsys.readouterr().err
    assert f"{bad}:4" in told
    assert f"{bad}:5" in told
    worse = tmp_path / "worse.yaml"
    worse.write_text("house: worse\nkind: output\nstands on: bad\nlock: [nothing]\n")
    assert main(["house", "validate", str(bad), str(worse), str(good)]) == 2
    shown = capsys.readouterr()
    assert shown.out == f"{good}: valid\n"
    # the parent's faults are told once
    places = [line.split(": ")[0] for line in shown.err.splitlines()]
    assert places == [f"{bad}:4", f"{bad}:5", f"{worse}:4"]


@pytest.mark.parametrize("call", [["house", "schema"], ["house", "schema", "--part"],
                                  ["report-schema"], ["conditions", "schema"]])  # fmt: skip
def test_published_schemas(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(call) == 0
    Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_validate_warns_of_an_amount_that_strays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head = "kind: title\nstands on: mono\nprepare:\n  reason: as ever\n"
    far, near = tmp_path / "far.yaml", tmp_path / "near.yaml"
    far.write_text(f"house: far\n{head}  amount: 0.5\n")
    near.write_text(f"house: near\n{head}  amount: 1\n")
    assert main(["house", "validate", str(far), str(near)]) == 0
    shown = capsys.readouterr()
    assert shown.out == f"{far}: valid\n{near}: valid\n"
    assert shown.err.startswith(
        f"warning: {far}:6: prepare / amount: 0.5 is stated, 0.97 is derived"
    )
    assert shown.err.count("warning") == 1
