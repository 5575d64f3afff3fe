"""house: list, explain and validate house profiles."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from pressworthy.commands.options import command, registry_with
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.words import readable

PAGE = """A house profile says what an output is and what each rule may find: `stands on`
names its parent, `lock` the rules no title may change. SHOW prints it as it takes effect, with
file and line of every value on --origin; VALIDATE tells every fault of every file at once, and
warns of an amount of sharpening far from the one derived for its output.
A profile's name, after `house:`, is that of its file.

examples:
  pressworthy house show coated-magazine --origin
  pressworthy house validate our-house/*.yaml"""


def add(choices: Any) -> None:
    parser = command(choices, "house", "list, explain and validate house profiles", page=PAGE)
    actions = parser.add_subparsers(required=True, metavar="ACTION")
    command(actions, "list", "name the house profiles there are", _list)
    show = command(actions, "show", "print a house profile as it takes effect", _show)
    show.add_argument("name", help="a name, as LIST tells it, or a .yaml file")
    show.add_argument("--origin", action="store_true", help="tell file and line of every value")
    validate = command(actions, "validate", "find every fault of .yaml files", _validate)
    validate.add_argument("files", nargs="+", type=Path, metavar="FILE")
    schema = command(actions, "schema", "print the JSON Schema of house profiles", _schema)
    schema.add_argument(
        "--part", action="store_true", help="for one file, whose parent may give what is missing"
    )


def _list(options: argparse.Namespace) -> int:
    from pressworthy.house import list_houses

    for document in list_houses(registry_with(options.plugin), options.house_folder):
        value = document.value
        parent = f" < {value['stands on']}" if value.get("stands on") else ""
        print(f"{Path(document.file).stem:<24} {value.get('kind', '?')}{parent}")
        print(f"  {value.get('about', '')}\n  {document.file}")
    return 0


def _show(options: argparse.Namespace) -> int:
    from pressworthy.house import show

    registry = registry_with(options.plugin)
    print(show(options.name, registry, options.house_folder, origin=options.origin), end="")
    return 0


def _validate(options: argparse.Namespace) -> int:
    from pressworthy.house import validate_house
    from pressworthy.prepare.amount import stray

    registry = registry_with(options.plugin)
    faults: dict[str, Fault] = {}
    for file in options.files:
        try:
            house = validate_house(str(file), registry, options.house_folder)
            print(f"{file}: valid")
            if house and (told := stray(house)):
                print(readable(f"warning: {told}"), file=sys.stderr)
        except SetupError as error:
            # a parent's faults come with each of its children
            faults |= {str(fault): fault for fault in error.faults}
    if faults:
        raise SetupError(faults.values())
    return 0


def _schema(options: argparse.Namespace) -> int:
    import json

    from pressworthy.house.schema import house_schema

    rules = registry_with(options.plugin).rules
    print(json.dumps(house_schema(rules, complete=not options.part), indent=2))
    return 0
