"""conditions: list printing and screen conditions, describe or compare some, print their schema."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pressworthy.commands.options import command, registry_with
from pressworthy.values.faults import SetupError

if TYPE_CHECKING:
    from pressworthy.values.condition import Condition

PAGE = """A printing condition is press, paper and ink. Named ones are described by
paper, solids, tone value increase, gamut and ink limit, with the source of the data. A house
profile may name the printer's own ICC profile in their place, which always comes first; that alone
is enough. Its dots, of which no profile speaks, are then taken from the condition that it takes
the place of, and told as assumed, unless the house states ruling and device resolution itself.

A word in place of a name asks for something else: schema prints the JSON Schema of condition
files; compare sets two conditions side by side.

examples:
  pressworthy conditions
  pressworthy conditions newsprint
  pressworthy conditions our-press.icc
  pressworthy conditions compare coated our-press.icc
  pressworthy conditions schema"""


def add(choices: Any) -> None:
    about = "list printing and screen conditions, or describe some"
    parser = command(choices, "conditions", about, _asked, page=PAGE)
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help="a name, its folder, or an .icc file"
    )
    parser.add_argument(
        "--format", choices=("text", "json"), help="of what compare tells; text without it"
    )


def _asked(options: argparse.Namespace) -> int:
    word = options.names[0] if options.names else ""
    if options.format and word != "compare":
        raise SetupError(["--format is for compare: pressworthy conditions compare A B"])
    return _WORDS.get(word, _describe)(options)


def _schema(options: argparse.Namespace) -> int:
    import json

    from pressworthy.colour.condition import SCHEMA

    if options.names[1:]:
        raise SetupError(["schema stands alone: pressworthy conditions schema"])
    print(json.dumps(SCHEMA, indent=2))
    return 0


def _compare(options: argparse.Namespace) -> int:
    import json

    from pressworthy.colour.comparison import as_json, as_text, compare
    from pressworthy.values import cautions
    from pressworthy.values.finding import Unmeasured

    if len(options.names) != 3:
        raise SetupError(["compare takes two conditions: pressworthy conditions compare A B"])
    first, second = _found(options.names[1:], options.plugin)
    try:
        done = compare(first, second)
    except (Unmeasured, OSError) as error:
        raise SetupError([str(error)]) from None
    if options.format == "json":
        print(json.dumps(as_json(done), indent=2))
    else:
        print(f"{as_text(done)}\n{cautions.REPORT}")
    return 0


def _describe(options: argparse.Namespace) -> int:
    from pressworthy.colour.condition import condition_paths, data_sheet

    folders = registry_with(options.plugin).condition_folders
    names = options.names or [path.name for path in condition_paths(folders)]
    for name, condition in zip(names, _found(names, options.plugin), strict=True):
        if options.names:
            print(data_sheet(condition))
        else:
            print(f"{name:<14} {condition.medium:<7} {condition.values['title']}")
    return 0


def _found(names: Sequence[str], plugins: Sequence[str]) -> list[Condition]:
    from pressworthy.colour.condition import find_condition

    folders = registry_with(plugins).condition_folders
    try:
        return [find_condition(name, folders, Path()) for name in names]
    except ValueError as error:
        raise SetupError([str(error)]) from None


_WORDS: dict[str, Callable[[argparse.Namespace], int]] = {"schema": _schema, "compare": _compare}
