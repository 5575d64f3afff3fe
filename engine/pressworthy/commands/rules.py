"""rules: list and explain the rules, or start one of your own."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from pressworthy.commands.options import command, registry_with
from pressworthy.values.faults import SetupError

PAGE = """SHOW explains what a rule measures, why it matters, how to put it right, what the
house sets and what it can find. NEW writes a package with a rule, its test and a house profile,
to be filled and installed.

examples:
  pressworthy rules show resolution
  pressworthy rules new page-grid --into ~/our-rules"""


def add(choices: Any) -> None:
    about = "list and explain the rules, or start one of your own"
    actions = command(choices, "rules", about, page=PAGE).add_subparsers(
        required=True, metavar="ACTION"
    )
    command(actions, "list", "name the rules there are", _list)
    show = command(actions, "show", "explain the rules named, or all, in Markdown", _show)
    show.add_argument("names", nargs="*", metavar="NAME")
    new = command(actions, "new", "write an installable rule pack to fill", _new)
    new.add_argument("name", help="of the rule, such as page-grid")
    new.add_argument("--into", type=Path, default=Path(), metavar="FOLDER", help="(here)")


def _list(options: argparse.Namespace) -> int:
    for name, rule in registry_with(options.plugin).rules.items():
        print(f"{name:<20} {rule.doc.strip().splitlines()[0]}")
    return 0


def _show(options: argparse.Namespace) -> int:
    from pressworthy.values.rule import documentation

    rules = registry_with(options.plugin).rules
    names = options.names or sorted(rules)
    if unknown := [name for name in names if name not in rules]:
        raise SetupError([f"no rule is called {unknown[0]!r}; there are {', '.join(rules)}"])
    print("\n".join(documentation(rules[name]) for name in names), end="")
    return 0


def _new(options: argparse.Namespace) -> int:
    from pressworthy.rule_pack import write_rule_pack

    if options.name in registry_with(options.plugin).rules:
        raise SetupError([f"{options.name!r} is a rule already; choose another name"])
    try:
        pack = write_rule_pack(options.name, options.into)
    except ValueError as error:
        raise SetupError([str(error)]) from None
    print(f"{pack}: a rule pack to fill; its README.md says how to install and test it")
    return 0
