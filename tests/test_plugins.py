"""Plug-ins: what a wrong one does is told by name and harms nothing else."""

from pathlib import Path

import pytest

from pressworthy.house import load_house
from pressworthy.plugins import load
from pressworthy.values.faults import SetupError

RULE = """
from pressworthy.values.finding import Bound, Finding
from pressworthy.hookspecs import hookimpl
from pressworthy.values.rule import Rule

def check(picture, options):
    yield Finding("seen", picture.header.width, 1, "px", "Nothing.", bound=Bound.MOST)

@hookimpl
def pressworthy_rules():
    return [Rule("{name}", check, {{}}, {{"seen": "it was seen"}}, "Sees every picture.")]
"""


def plugin(tmp_path: Path, text: str) -> str:
    path = tmp_path / "own.py"
    path.write_text(text)
    return str(path)


def test_built_ins_enter_like_strangers() -> None:
    registry = load()
    assert {"resolution", "bleed", "luminance", "icc-profile", "colour-mode"} <= set(registry.rules)
    assert {"text", "json"} <= set(registry.report_formats)
    assert registry.failed == {}


def test_a_strangers_rule_can_be_set_by_a_house(tmp_path: Path) -> None:
    registry = load([plugin(tmp_path, RULE.format(name="seen-it"))])
    house = tmp_path / "h.yaml"
    house.write_text(
        "house: h\nkind: output\nstands on: mono\nrules: {seen-it: {severity: {seen: note}}}\n"
    )
    assert "seen-it" in load_house(str(house), registry).rules


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (RULE.format(name="resolution"), "exists already"),
        (RULE.format(name="Bad Name"), "lower case"),
        (RULE.replace("pressworthy_rules", "pressworthy_ruels").format(name="a"), "ruels"),
        ("raise RuntimeError('no luck')", "no luck"),
        ("syntax error here", "SyntaxError"),
    ],
)
def test_a_wrong_plug_in_is_refused_by_name(tmp_path: Path, text: str, word: str) -> None:
    with pytest.raises(SetupError, match=rf"own\.py.*{word}"):
        load([plugin(tmp_path, text)])


def test_a_plug_in_that_gives_no_rules_is_refused(tmp_path: Path) -> None:
    text = RULE.format(name="a").replace("return [Rule(", "return [str(")
    with pytest.raises(SetupError, match="own.py"):
        load([plugin(tmp_path, text.replace('{{"seen": "it was seen"}}, ', ""))])


def test_a_missing_module_is_refused() -> None:
    with pytest.raises(SetupError, match="no_such_module_here"):
        load(["no_such_module_here"])


@pytest.mark.parametrize("end", ["raise RuntimeError('no luck')", "raise SystemExit('no luck')"])
def test_an_installed_plug_in_that_fails_is_fatal_only_for_its_own_rules(
    end: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "broken_pack"
    package.mkdir()
    (package / "__init__.py").write_text(end)
    info = tmp_path / "broken_pack-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: broken-pack\nVersion: 1\n")
    (info / "entry_points.txt").write_text("[pressworthy]\nrules = broken_pack\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    registry = load()
    assert "no luck" in registry.failed["broken-pack:rules"]
    load_house("mono", registry)
    house = tmp_path / "h.yaml"
    house.write_text("house: h\nkind: output\nstands on: mono\nrules: {theirs: {}}\n")
    with pytest.raises(SetupError, match="broken-pack:rules did not load"):
        load_house(str(house), registry)


COUNTING = """
import builtins
{rule}

def count(hook):
    builtins.asked.append(hook)

_rules = pressworthy_rules

@hookimpl
def pressworthy_rules():
    count("rules")
    return _rules()

@hookimpl
def pressworthy_house_folders():
    count("houses")
    return []
"""


def test_each_hook_of_each_plug_in_is_asked_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import builtins

    asked: list[str] = []
    monkeypatch.setattr(builtins, "asked", asked, raising=False)
    package = tmp_path / "counting.py"
    package.write_text(COUNTING.format(rule=RULE.format(name="seen-it")))
    info = tmp_path / "counting-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: counting\nVersion: 1\n")
    (info / "entry_points.txt").write_text("[pressworthy]\nrules = counting\nagain = counting\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    # installed under two names, named as a module, and given twice as a file
    registry = load(["counting", str(package), str(tmp_path / "x" / ".." / "counting.py")])
    assert sorted(asked) == ["houses", "rules"]
    assert "seen-it" in registry.rules
    assert registry.failed == {}


def test_two_files_of_one_name_are_two_plug_ins(tmp_path: Path) -> None:
    paths = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        paths.append(plugin(tmp_path / name, RULE.format(name=f"rule-{name}")))
    assert {"rule-one", "rule-two"} <= set(load([*paths, paths[0]]).rules)
