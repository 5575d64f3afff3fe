"""The commands that explain: house, rules, conditions, schemas; and the progress bar."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from pressworthy.commands.cli import _parser, main
from pressworthy.commands.manual import PAGES
from pressworthy.plugins import Registry
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture

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
    (tmp_path / "quarterly.yaml").write_text("house: slack-tide\nkind: output\nextends: mono\n")
    assert main(["house", "list", "--house-folder", str(tmp_path)]) == 0
    heads = [line for line in capsys.readouterr().out.splitlines() if not line.startswith(" ")]
    assert heads[0].split(maxsplit=1) == ["quarterly", "output < mono, calls itself slack-tide"]
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
    copy = tmp_path / "copy.yaml"
    text = capsys.readouterr().out
    copy.write_text("".join(line for line in text.splitlines(True) if "extends:" not in line))
    again, first = load_house(str(copy), registry), load_house("newsprint", registry)
    assert again.rules == first.rules
    assert again.output == first.output


def test_house_validate_tells_every_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text("house: g\nkind: output\nextends: mono\n")
    bad.write_text("house: b\nkind: output\nextends: mono\noutput: {ppi: 3}\nruels: {}\n")
    assert main(["house", "validate", str(good)]) == 0
    assert main(["house", "validate", str(bad)]) == 2
    told = capsys.readouterr().err
    assert f"{bad}:4" in told
    assert f"{bad}:5" in told


@pytest.mark.parametrize("call", [["house", "schema"], ["house", "schema", "--part"],
                                  ["report-schema"]])  # fmt: skip
def test_published_schemas(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(call) == 0
    Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_every_rule_explains_itself(registry: Registry, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "list"]) == 0
    listed = capsys.readouterr().out
    assert main(["rules", "show"]) == 0
    explained = capsys.readouterr().out
    for name, rule in registry.rules.items():
        assert name in listed
        assert f"# {name}" in explained
        assert all(f"`{code}`" in explained for code in rule.codes)
        assert all(f"`{option}`" in explained for option in rule.options)
    assert main(["rules", "show", "nothing"]) == 2


def test_conditions_are_listed_and_described(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["conditions"]) == 0
    shown = capsys.readouterr().out
    for name in ("coated", "uncoated", "newsprint", "srgb", "display-p3"):
        assert name in shown
    assert main(["conditions", "newsprint"]) == 0
    shown = capsys.readouterr().out
    for word in ("40 lines/cm", "240 %", "L* 80.1", "TVI black", "gamut volume", "first"):
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
        "house: glossy\nkind: output\nextends: coated-magazine\noutput: {condition: satin}\n"
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


def test_a_progress_bar_on_a_terminal_and_none_in_a_pipe(tmp_path: Path) -> None:
    pty, termios = pytest.importorskip("pty"), pytest.importorskip("termios")
    for name in "abc":
        write_picture(tmp_path / f"{name}.jpg", draw(), words=CREDITED)
    call = [sys.executable, "-m", "pressworthy", "check", str(tmp_path), "--house", "mono"]
    piped = subprocess.run(call, capture_output=True, text=True, check=False)
    assert piped.stderr == ""
    leader, terminal = pty.openpty()
    termios.tcsetwinsize(terminal, (25, 80))
    done = subprocess.run(call, stdout=subprocess.PIPE, stderr=terminal, check=False)
    os.set_blocking(leader, False)
    shown = os.read(leader, 100_000).decode()
    os.close(terminal)
    os.close(leader)
    assert "3/3" in shown or "0/3" in shown
    assert done.stdout.decode() == piped.stdout


def test_the_reference_page_is_current(capsys: pytest.CaptureFixture[str]) -> None:
    """Made by: pressworthy rules show > docs/rules.md"""
    assert main(["rules", "show"]) == 0
    page = Path(__file__).parents[2] / "docs" / "rules.md"
    assert page.read_text("utf-8") == capsys.readouterr().out


def examples() -> list[str]:
    text = "\n".join(PAGES.values()).replace("\\\n", " ")
    return [line.strip() for line in text.splitlines() if line.startswith("  pressworthy ")]


@pytest.mark.parametrize("line", examples())
def test_every_example_of_the_help_parses(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    _, *words = shlex.split(line.partition(">")[0], comments=True)
    monkeypatch.setattr("os.path.isdir", lambda path: True)
    assert callable(_parser().parse_args(words).run)


def test_every_command_has_a_page() -> None:
    (commands,) = (a.choices for a in _parser()._actions if isinstance(a.choices, dict))
    assert set(commands) - {"report-schema"} == set(PAGES) - {"pressworthy"}


def test_bash_completes_commands_and_house_profiles(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "bash"]) == 0
    script = capsys.readouterr().out
    for words, wanted in (("che", "check"), ("check --house coa", "coated-magazine")):
        asked = f"COMP_WORDS=(pressworthy {words}); COMP_CWORD={len(words.split())}; "
        ask = f"{asked}_shtab_pressworthy; echo ${{COMPREPLY[@]}}"
        done = subprocess.run(["bash", "-c", script + ask], capture_output=True, text=True)
        assert done.stdout.split() == [wanted], done.stderr


def test_zsh_has_a_script_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "zsh"]) == 0
    script = capsys.readouterr().out
    assert script.startswith("#compdef pressworthy") and "(coated-magazine mono" in script


def test_a_dry_run_says_so_and_passes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    bad = tmp_path / "q.jpg"
    bad.write_bytes(b"no picture")
    call = ["prepare", str(good), str(bad), "--house", "mono", "--into", str(tmp_path / "copies")]
    assert main([*call, "--dry-run", "--format", "json"]) == 1
    report = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema()).validate(report)
    assert report["dry run"] is True
    assert report["counts"] == {"stop": 0, "query": 0, "note": 0, "unjudged": 2, "passed": 0}
    assert main([*call, "--dry-run"]) == 1
    told = capsys.readouterr().out
    assert "1 would be made" in told and "1 not fully judged" in told and "passed" not in told
