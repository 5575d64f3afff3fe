"""Finds the plug-ins, asks each hook once, and keeps what they gave in one registry.

Plug-ins come from installed packages (entry-point group ``pressworthy``, the built-in rules among
them) or from ``--plugin``; nothing is loaded from the folder the pictures lie in.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.metadata import entry_points
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from pressworthy import hookspecs
from pressworthy.values.faults import SetupError
from pressworthy.values.rule import Rule

GROUP = "pressworthy"


@dataclass
class Registry:
    """All that the plug-ins gave.

    extra: those that were loaded beside the installed ones; failed: plug-in -> why it did not load.
    """

    extra: tuple[str, ...] = ()
    rules: dict[str, Rule] = field(default_factory=dict)
    house_folders: list[Path] = field(default_factory=list)
    condition_folders: list[Path] = field(default_factory=list)
    report_formats: dict[str, Callable[[Any], str | Iterable[str]]] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)

    def __reduce__(self) -> tuple[Callable[[Sequence[str]], Registry], tuple[tuple[str, ...]]]:
        """Pickled, it is the names of its plug-ins: another process loads them for itself."""
        return load, (self.extra,)


def load(extra: Sequence[str] = ()) -> Registry:
    """Return the registry of all installed plug-ins and the `extra` ones.

    extra: module names, or paths of Python files. Raises SetupError where an extra plug-in does
    not load, a hook is misspelt, or two rules share a name.
    """
    registry = Registry(tuple(extra))
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(hookspecs)
    for point in sorted(entry_points(group=GROUP), key=lambda p: (p.dist is None, p.name)):
        owner = f"{point.dist.name if point.dist else '?'}:{point.name}"
        try:
            _register(manager, point.load(), owner)
        except (Exception, SystemExit) as error:
            registry.failed[owner] = f"{type(error).__name__}: {error}"
    for name in extra:
        try:
            _register(manager, _import(name), name)
        except (Exception, SystemExit) as error:
            raise SetupError([f"plug-in {name}: {type(error).__name__}: {error}"]) from error
    for owner, plugin in manager.list_name_plugin():
        if plugin is not None:
            _collect(registry, manager, owner, plugin, asked_for=owner in extra)
    return registry


def _register(manager: pluggy.PluginManager, plugin: Any, owner: str) -> None:
    manager.register(plugin, owner)
    try:
        manager.check_pending()
    except pluggy.PluginValidationError:
        manager.unregister(plugin)
        raise


def _collect(
    registry: Registry, manager: pluggy.PluginManager, owner: str, plugin: Any, *, asked_for: bool
) -> None:
    def ask(hook: str) -> list[Any]:
        caller = manager.subset_hook_caller(
            hook, [other for other in manager.get_plugins() if other is not plugin]
        )
        return [part for answer in caller() for part in _parts(answer)]

    try:
        rules = [_checked(rule) for rule in ask("pressworthy_rules")]
        houses = [Path(folder) for folder in ask("pressworthy_house_folders")]
        conditions = [Path(folder) for folder in ask("pressworthy_condition_folders")]
        formats = dict(ask("pressworthy_report_formats"))
    except (Exception, SystemExit) as error:
        why = f"{type(error).__name__}: {error}"
        if asked_for:
            raise SetupError([f"plug-in {owner}: {why}"]) from error
        registry.failed[owner] = why
        return
    for rule in rules:
        if rule.name in registry.rules:
            raise SetupError([f"plug-in {owner}: a rule named {rule.name!r} exists already"])
        registry.rules[rule.name] = rule
    registry.house_folders += houses
    registry.condition_folders += conditions
    for name in formats:
        if name in registry.report_formats:
            raise SetupError([f"plug-in {owner}: a report format {name!r} exists already"])
    registry.report_formats.update(formats)


def _parts(answer: Any) -> list[Any]:
    return list(answer.items()) if isinstance(answer, Mapping) else list(answer)


def _checked(rule: Any) -> Rule:
    if not isinstance(rule, Rule):
        raise TypeError(f"{rule!r} is no pressworthy.values.rule.Rule")
    return rule


def _import(name: str) -> ModuleType:
    path = Path(name)
    if path.suffix != ".py":
        return importlib.import_module(name)
    spec = importlib.util.spec_from_file_location(f"pressworthy_plugin_{path.stem}", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path} cannot be imported")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
