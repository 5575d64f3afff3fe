"""What a plug-in may add. Every hook is called once, at start, and only collects."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pluggy

from pressworthy.values.rule import Rule

hookspec = pluggy.HookspecMarker("pressworthy")
hookimpl = pluggy.HookimplMarker("pressworthy")


@hookspec
def pressworthy_rules() -> Sequence[Rule]:
    """Return rules; no two rules of all plug-ins may share a name."""
    raise NotImplementedError


@hookspec
def pressworthy_house_folders() -> Sequence[Path]:
    """Return folders of house profiles, ``NAME.yaml`` each."""
    raise NotImplementedError


@hookspec
def pressworthy_condition_folders() -> Sequence[Path]:
    """Return folders whose sub-folders hold one printing condition each."""
    raise NotImplementedError


@hookspec
def pressworthy_report_formats() -> Mapping[str, Callable[[Any], str | Iterable[str]]]:
    """Return format name -> function from a `report.Report` to text, whole or in parts."""
    raise NotImplementedError
