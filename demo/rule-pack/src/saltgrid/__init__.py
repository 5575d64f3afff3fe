"""Rules and a printing condition for parish papers, as a plug-in of pressworthy."""

from pathlib import Path

from pressworthy.hookspecs import hookimpl
from pressworthy.values.rule import Rule
from saltgrid import level_horizon, page_grid


@hookimpl
def pressworthy_rules() -> list[Rule]:
    return [page_grid.rule, level_horizon.rule]


@hookimpl
def pressworthy_condition_folders() -> list[Path]:
    return [Path(__file__).parent / "conditions"]
