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
    assert len(files) == 5
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
