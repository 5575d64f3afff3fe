"""The built-in house profiles and printing conditions."""

from __future__ import annotations

from pathlib import Path

from pressworthy.hookspecs import hookimpl

HERE = Path(__file__).parent


@hookimpl
def pressworthy_house_folders() -> list[Path]:
    return [HERE]


@hookimpl
def pressworthy_condition_folders() -> list[Path]:
    return [HERE / "conditions"]
