"""Conditions: listed, described, by third parties, and the schema."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from pressworthy.colour.condition import condition_paths
from pressworthy.commands.main import main
from pressworthy.plugins import Registry
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.yamlfile import read

CONDITION = """
name: satin
title: Our own press
medium: print
ruling: 70 lines/cm
device resolution: 2400 dpi
ink limit: 310 %
paper: [94, 0, -1]
black: [15, 0, 0]
darkest: [8, 0, 0]
profiles: {cmyk: {file: cmyk.icc}}
source: {data: our own measurements}
caution: Ask the printer first.
"""
PLUGIN = """
from pathlib import Path
from pressworthy.hookspecs import hookimpl

@hookimpl
def pressworthy_condition_folders():
    return [Path(__file__).parent / "conditions"]

@hookimpl
def pressworthy_house_folders():
    return [Path(__file__).parent / "houses"]

@hookimpl
def pressworthy_report_formats():
    return {"count": lambda report: f"{len(report.verdicts)}\\n"}
"""


def test_conditions_are_listed_and_described(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["conditions"]) == 0
    shown = capsys.readouterr().out
    for name in ("coated", "uncoated", "newsprint", "srgb", "display-p3"):
        assert name in shown
    assert main(["conditions", "newsprint"]) == 0
    shown = capsys.readouterr().out
    for word in ("40 lines/cm", "220 %", "L* 80.1", "TVI black", "gamut volume", "first"):
        assert word in shown
    assert main(["conditions", "satin"]) == 2


def test_third_parties_add_conditions_houses_and_formats(
    tmp_path: Path, registry: Registry, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "conditions" / "satin"
    folder.mkdir(parents=True)
    (folder / "condition.yaml").write_text(CONDITION)
    built_in = registry.condition_folders[0] / "coated" / "cmyk.icc"
    (folder / "cmyk.icc").write_bytes(built_in.read_bytes())
    (tmp_path / "houses").mkdir()
    (tmp_path / "houses" / "glossy.yaml").write_text(
        "house: glossy\nkind: output\nstands on: coated-magazine\noutput: {condition: satin}\n"
    )
    plugin = tmp_path / "plug.py"
    plugin.write_text(PLUGIN)
    assert main(["conditions", "satin", "--plugin", str(plugin)]) == 0
    assert "70 lines/cm" in capsys.readouterr().out
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    call = ["check", str(picture), "--house", "glossy", "--plugin", str(plugin)]
    assert main([*call, "--format", "count"]) == 0
    assert capsys.readouterr().out == "1\n"
    (folder / "condition.yaml").write_text(CONDITION.replace("310 %", "310").replace("title", "x"))
    assert main(call) == 2
    told = capsys.readouterr().err
    assert "condition.yaml:7" in told
    assert "'title' is missing" in told


def test_the_schema_fits_what_is_built_in_and_no_other(
    registry: Registry, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["conditions", "schema"]) == 0
    validator = Draft202012Validator(json.loads(capsys.readouterr().out))
    files = [path / "condition.yaml" for path in condition_paths(registry.condition_folders)]
    assert len(files) == 11
    for file in files:
        assert validator.is_valid(read(file).value), file
    satin = tmp_path / "condition.yaml"
    for text, fits in (
        (CONDITION, True),
        (CONDITION.replace("title", "tilte"), False),
        (CONDITION.replace("310 %", "310"), False),
        (CONDITION.replace("ruling: 70 lines/cm\n", ""), False),
    ):
        satin.write_text(text)
        assert validator.is_valid(read(satin).value) == fits, text


def test_no_condition_is_called_schema(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "conditions" / "schema"
    folder.mkdir(parents=True)
    (folder / "condition.yaml").write_text(CONDITION.replace("satin", "schema"))
    (tmp_path / "houses").mkdir()
    plugin = tmp_path / "plug.py"
    plugin.write_text(PLUGIN)
    assert main(["conditions", "--plugin", str(plugin)]) == 2
    told = capsys.readouterr().err
    assert "condition.yaml:2: name: no condition can be called 'schema'" in told


def test_two_conditions_are_set_side_by_side(
    registry: Registry, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Figures of FOGRA39L and TR002 themselves; the profiles lie within 0.3 dE00 of them."""
    own = registry.condition_folders[0] / "newsprint" / "cmyk.icc"
    (tmp_path / "press.icc").write_bytes(own.read_bytes())
    call = ["conditions", "compare", "coated", str(tmp_path / "press.icc")]
    assert main([*call, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    coated, press = told["conditions"]
    assert coated["paper"] == pytest.approx([95, 0, -2], abs=0.1)
    assert press["paper"] == pytest.approx([80.11, 0.02, 3.54], abs=0.3)
    assert press["solids"]["magenta"] == pytest.approx([52.57, 44.34, -0.95], abs=0.5)
    assert coated["tone value increase"]["black"]["50 %"] == pytest.approx(17.2, abs=0.4)
    assert press["tone value increase"]["black"]["40 %"] == pytest.approx(25.0, abs=0.8)
    # ISO 12647-7's gray of FOGRA39L is not quite neutral: out of its data
    assert coated["gray balance"]["C40 M27 Y27"] == pytest.approx([67.7, -1.7, -4.4], abs=0.6)
    # dE00 of the two papers by colour-science: 11.0
    assert told["dE00"]["paper"] == pytest.approx(11.0, abs=0.2)
    assert told["chart"]["mixes"] == 1588
    assert told["chart"]["mean"] < told["chart"]["95 %"] < told["chart"]["most"]
    assert main(call) == 0
    text = capsys.readouterr().out
    for word in ("gray balance", "gamut volume", "1,617 patches", "no contract proof"):
        assert word in text


def test_a_condition_compared_with_itself_does_not_differ(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["conditions", "compare", "uncoated", "uncoated", "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["chart"]["most"] == 0 and not any(told["dE00"].values())


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (["new", "hall"], "new takes a name and a file"),
        (["new", "hall", "chart.txt"], "ruling and ink limit"),
        (["new", "a/b", "chart.txt", "--ruling", "60", "--limit", "300"], "a condition's name is"),
        (["new", "new", "chart.txt", "--ruling", "60", "--limit", "300"], "a condition's name is"),
        (["new", "hall", "none.txt", "--ruling", "60", "--limit", "300"], "cannot be read"),
        (["coated", "--ruling", "60"], "--ruling is for new"),
        (["compare", "coated"], "compare takes two conditions"),
        (["compare", "coated", "srgb"], "srgb has no CMYK profile"),
        (["compare", "coated", "none"], "no condition is called 'none'"),
        (["coated", "--format", "json"], "--format is for compare"),
        (["schema", "coated"], "schema stands alone"),
    ],
)
def test_what_cannot_be_compared_is_told(
    asked: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["conditions", *asked]) == 2
    assert words in capsys.readouterr().err


def test_a_profile_alone_is_described(
    registry: Registry, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = registry.condition_folders[0] / "coated" / "cmyk.icc"
    (tmp_path / "press.icc").write_bytes(own.read_bytes())
    assert main(["conditions", str(tmp_path / "press.icc")]) == 0
    told = capsys.readouterr().out
    assert "TVI magenta" in told and "% at 40 %" in told and "cyan" in told
