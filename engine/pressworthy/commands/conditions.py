"""conditions: list printing and screen conditions, describe some, or print their schema."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from pressworthy.commands.options import command, registry_with
from pressworthy.values.faults import SetupError

PAGE = """A printing condition is press, paper and ink. Named ones are described by
paper, solids, tone value increase, gamut and ink limit, with the source of the data. A house
profile may name the printer's own ICC profile in their place, which always comes first. The word
schema in place of a name prints the JSON Schema of condition files.

examples:
  pressworthy conditions
  pressworthy conditions newsprint
  pressworthy conditions our-press.icc
  pressworthy conditions schema"""


def add(choices: Any) -> None:
    about = "list printing and screen conditions, or describe some"
    parser = command(choices, "conditions", about, _describe, page=PAGE)
    parser.add_argument("names", nargs="*", metavar="NAME", help="a name, or an .icc file")


def _describe(options: argparse.Namespace) -> int:
    from pressworthy.colour.condition import (
        SCHEMA,
        SCHEMA_WORD,
        condition_paths,
        data_sheet,
        find_condition,
    )

    if options.names == [SCHEMA_WORD]:
        import json

        print(json.dumps(SCHEMA, indent=2))
        return 0
    folders = registry_with(options.plugin).condition_folders
    names = options.names or [path.name for path in condition_paths(folders)]
    for name in names:
        try:
            condition = find_condition(name, folders, Path())
        except ValueError as error:
            raise SetupError([str(error)]) from None
        if options.names:
            print(data_sheet(condition))
        else:
            print(f"{name:<14} {condition.medium:<7} {condition.values['title']}")
    return 0
