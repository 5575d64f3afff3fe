"""DEVELOPERS.md: its rule runs as it stands, its rooms and dependencies are those there are."""

import re
import tomllib
from importlib import import_module
from pathlib import Path

from pressworthy.house import load_house
from pressworthy.judge import judge
from pressworthy.plugins import load
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.finding import Severity, State
from pressworthy.values.placement import PlacementRequest

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
ENGINE = ROOT / "engine" / "pressworthy"


def section(title: str) -> str:
    return PAGE.partition(f" {title}\n")[2].partition("\n## ")[0]


def block(kind: str) -> str:
    (only,) = re.findall(rf"^```{kind}\n(.*?)^```$", PAGE, re.M | re.S)
    return str(only)


def test_the_rule_runs_as_it_stands(tmp_path: Path) -> None:
    module, profile = tmp_path / "grid.py", tmp_path / "on-the-grid.yaml"
    module.write_text(block("python"), "utf-8")
    profile.write_text(block("yaml"), "utf-8")
    registry = load([str(module)])
    house = load_house(str(profile), registry)
    path = write_picture(tmp_path / "p.png", draw())

    def told(width: float | None) -> tuple[State, list[tuple[str, str, Severity | None, str]]]:
        request = PlacementRequest((width, 30)) if width else PlacementRequest()
        verdict = judge(a_picture(path, request, house.output), house, registry.rules)
        outcome = next(one for one in verdict.outcomes if one.rule == "grid")
        return outcome.state, [
            (one.code, one.in_words()[1], one.severity, one.remedy) for one in outcome.findings
        ]

    finding = ("off-grid", "exactly 40 mm", Severity.QUERY, "Place it 40 mm wide.")
    assert told(42) == (State.FOUND, [finding])
    assert told(40) == (State.PASSED, [])
    write_picture(path, draw(), ppi=None)
    assert told(None) == (State.UNMEASURED, [])


def test_the_rooms_are_those_of_the_engine_and_in_the_order_of_imports() -> None:
    listed = re.findall(r"^    (\w+)(?:/|\.py)  ", section("Rooms"), re.M)
    there = {path.stem for path in ENGINE.iterdir() if path.suffix == ".py" or path.is_dir()}
    assert set(listed) == there - {"__init__", "__main__", "__pycache__"}
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]
    layers = [
        {name.strip().removeprefix("pressworthy.") for name in layer.split("|")}
        for layer in contract["contracts"][0]["layers"]
    ]
    place = {name: height for height, layer in enumerate(layers) for name in layer}
    assert [place[name] for name in listed] == sorted(place.values())


def test_the_files_it_names_are_there() -> None:
    named = set(re.findall(r"`?((?:\w+/)+[\w.-]+\.(?:py|yaml|md))`?", PAGE))
    assert {"files/opening.py", "commands/check.py", "docs/rules.md"} <= named
    assert [one for one in named if not any((p / one).exists() for p in (ROOT, ENGINE))] == []


def test_what_is_public_is_there() -> None:
    rows = re.findall(r"^\| (`pressworthy\..*?) \| (.*?) \|$", section("What is public"), re.M)
    for modules, names in rows:
        first, *more = re.findall(r"`([\w.]+)`", modules)
        package = first.rpartition(".")[0]
        told = [import_module(name) for name in (first, *(f"{package}.{one}" for one in more))]
        for name in re.findall(r"`(\w+)`", names):
            if name != "median":  # a field
                assert any(hasattr(module, name) for module in told), (modules, name)
    assert len(rows) >= 8


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = [project["optional-dependencies"][name] for name in ("cluster", "formats")]
    needed = [one for group in (project["dependencies"], *extras) for one in group]
    wanted = [re.split("[>=<]", one)[0] for one in needed]
    table = section("Dependencies, and why")
    _, *rows = re.findall(r"^\| ([\w\[\]-]*\w\]?)(?: \(.*?\))? \| .+ \|$", table, re.M)
    assert sorted(rows) == sorted(wanted)
