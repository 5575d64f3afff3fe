"""Finds the plug-ins, asks each hook once, and keeps what they gave in one registry.

Plug-ins come from installed packages (entry-point group ``pressworthy``, the built-in rules among
them) or from ``--plugin``; nothing is loaded from the folder the pictures lie in.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.util
import os
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import pluggy

from pressworthy import hookspecs
from pressworthy.values.faults import SetupError
from pressworthy.values.rule import Rule

GROUP = "pressworthy"

ReportFormat = Callable[[Any], str | Iterable[str]]


@dataclass
class Registry:
    """All that the plug-ins gave.

    extra: those that were loaded beside the installed ones; failed: plug-in -> why it did not load.
    """

    extra: tuple[str, ...] = ()
    rules: dict[str, Rule] = field(default_factory=dict)
    house_folders: list[Path] = field(default_factory=list)
    condition_folders: list[Path] = field(default_factory=list)
    report_formats: dict[str, ReportFormat] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)

    def __reduce__(self) -> tuple[Callable[[Sequence[str]], Registry], tuple[tuple[str, ...]]]:
        """Pickled, it is the names of its plug-ins: another process loads them for itself."""
        return load, (self.extra,)


def load(extra: Sequence[str] = ()) -> Registry:
    """Return the registry of all installed plug-ins and the `extra` ones, each asked once.

    extra: module names, or paths of Python files; one that is installed too, or is given twice,
    counts once. Raises SetupError where an extra plug-in does not load, or misspells a hook, or two
    rules share a name.
    """
    registry = Registry(tuple(extra))
    known: list[Any] = []
    for point in sorted(entry_points(group=GROUP), key=lambda p: (p.dist is None, p.name)):
        owner = f"{point.dist.name if point.dist else '?'}:{point.name}"
        try:
            with redirect_stdout(sys.stderr):
                plugin = point.load()
                given = None if plugin in known else _given(plugin, owner)
        except (Exception, SystemExit, KeyboardInterrupt) as error:
            registry.failed[owner] = f"{type(error).__name__}: {error}"
            continue
        known.append(plugin)
        if given:
            _add(registry, given, owner)
    for name in extra:
        try:
            with redirect_stdout(sys.stderr):
                plugin = _import(name, known)
                given = None if plugin in known else _given(plugin, name)
        except (Exception, SystemExit, KeyboardInterrupt) as error:
            raise SetupError([f"plug-in {name}: {type(error).__name__}: {error}"]) from error
        known.append(plugin)
        if given:
            _add(registry, given, name)
    return registry


@dataclass(frozen=True)
class _Given:
    """What one plug-in gave."""

    rules: tuple[Rule, ...]
    house_folders: tuple[Path, ...]
    condition_folders: tuple[Path, ...]
    report_formats: Mapping[str, ReportFormat]


def _given(plugin: Any, owner: str) -> _Given:
    """Ask a plug-in each hook once, by itself, so that what it does wrong is its own.

    Raises pluggy.PluginValidationError where it misspells a hook, and whatever it raises.
    """
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(hookspecs)
    manager.register(plugin, owner)
    manager.check_pending()
    # a list of answers: one, or none where it has no such hook
    hook = manager.hook
    return _Given(
        rules=tuple(_checked(rule) for rules in hook.pressworthy_rules() for rule in rules),
        house_folders=_folders(hook.pressworthy_house_folders()),
        condition_folders=_folders(hook.pressworthy_condition_folders()),
        report_formats={
            name: render
            for formats in hook.pressworthy_report_formats()
            for name, render in formats.items()
        },
    )


def _folders(answers: Iterable[Iterable[Path]]) -> tuple[Path, ...]:
    return tuple(Path(folder) for folders in answers for folder in folders)


def _add(registry: Registry, given: _Given, owner: str) -> None:
    for rule in given.rules:
        if rule.name in registry.rules:
            raise SetupError([f"plug-in {owner}: a rule named {rule.name!r} exists already"])
        registry.rules[rule.name] = rule
    for name, render in given.report_formats.items():
        if name in registry.report_formats:
            raise SetupError([f"plug-in {owner}: a report format {name!r} exists already"])
        registry.report_formats[name] = render
    registry.house_folders += given.house_folders
    registry.condition_folders += given.condition_folders


def _checked(rule: Any) -> Rule:
    if not isinstance(rule, Rule):
        raise TypeError(f"{rule!r} is no pressworthy.values.rule.Rule")
    return rule


def _import(name: str, known: Sequence[Any]) -> Any:
    """Return the module of that name or file: the one that is known already, where it is its."""
    if not name.endswith(".py"):
        return importlib.import_module(name)
    path = Path(name).resolve()
    for plugin in known:
        if path == Path(getattr(plugin, "__file__", None) or "").resolve():
            return plugin
    # two files of one name are two modules
    digest = hashlib.sha256(os.fsencode(path)).hexdigest()[:8]
    spec = importlib.util.spec_from_file_location(f"pressworthy_plugin_{path.stem}_{digest}", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path} cannot be imported")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
