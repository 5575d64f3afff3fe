"""conditions: list printing and screen conditions, describe or compare some, print their schema."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pressworthy.commands.options import command, registry_with, value
from pressworthy.values.faults import SetupError

if TYPE_CHECKING:
    from pressworthy.values.condition import Condition

PAGE = """A printing condition is press, paper and ink. Named ones are described by
paper, solids, tone value increase, gamut and ink limit, with the source of the data. A house
profile may name the printer's own ICC profile in their place, which always comes first; that alone
is enough. Its dots, of which no profile speaks, are then taken from the condition that it takes
the place of, and told as assumed, unless the house states ruling and device resolution itself.

A word in place of a name asks for something else: schema prints the JSON Schema of condition
files; compare sets two conditions side by side; new makes a condition of your own from a chart
that your printer printed and measured (CGATS.17, as every measuring program writes it, or .ti3), a
folder that a house profile names by its path. Its CMYK profile is made by ArgyllCMS, which takes
some minutes.

examples:
  pressworthy conditions
  pressworthy conditions newsprint
  pressworthy conditions our-press.icc
  pressworthy conditions compare coated our-press.icc
  pressworthy conditions new hall-2 chart.txt --ruling 60 --limit 300
  pressworthy conditions schema"""


_UNDER = "the instrument's light, ISO 13655; as the file says without it"
_NEW = {
    "ruling": ("lines/cm", "of the halftone screen, such as 60 or 150lpi"),
    "limit": ("%", "largest sum of all inks, such as 300"),
    "device-resolution": ("dpi", "of the platesetter; 2400 without it"),
}


def _stated(text: str, *, unit: str) -> float:
    from pressworthy.characterization.making import stated

    return stated(text, unit)


def add(choices: Any) -> None:
    about = "list printing and screen conditions, or describe some"
    parser = command(choices, "conditions", about, _asked, page=PAGE)
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help="a name, its folder, or an .icc file"
    )
    parser.add_argument(
        "--format", choices=("text", "json"), help="of what compare tells; text without it"
    )
    new = parser.add_argument_group("of new NAME FILE: what no chart says of a press")
    for name, (unit, about) in _NEW.items():
        read = partial(_stated, unit=unit)
        new.add_argument(f"--{name}", type=value(read), metavar=unit.upper(), help=about)
    new.add_argument("--title", metavar="TEXT", help="press and paper in one line")
    new.add_argument("--measured-under", choices=("M0", "M1", "M2", "M3"), help=_UNDER)
    new.add_argument("--matte", action="store_true", help="the paper is matte or uncoated")
    new.add_argument(
        "--draft", action="store_true", help="a coarse profile in a minute, to try it out"
    )
    new.add_argument(
        "--into", type=Path, metavar="FOLDER", default=Path(), help="where its folder is made"
    )


def _asked(options: argparse.Namespace) -> int:
    word = options.names[0] if options.names else ""
    if options.format and word != "compare":
        raise SetupError(["--format is for compare: pressworthy conditions compare A B"])
    asked = [f"--{name}" for name in _NEW if getattr(options, name.replace("-", "_")) is not None]
    if asked and word != "new":
        raise SetupError([f"{asked[0]} is for new: pressworthy conditions new NAME FILE"])
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


def _new(options: argparse.Namespace) -> int:
    from pressworthy.characterization.making import Press, make_from, report
    from pressworthy.values import cautions

    usage = "pressworthy conditions new NAME FILE --ruling 60 --limit 300"
    if len(options.names) != 3:
        raise SetupError([f"new takes a name and a file of measurements: {usage}"])
    if options.ruling is None or options.limit is None:
        raise SetupError([f"no chart tells the press's ruling and ink limit: {usage}"])
    _, name, file = options.names
    press = Press(
        options.ruling, options.limit, options.device_resolution, options.measured_under or "",
        options.title or "", options.matte, options.draft,
    )  # fmt: skip
    target, fit, under = make_from(Path(file), name, press, options.into)
    print(f"{target}\n{report(fit, options.limit)}")
    if not under:
        print("Whether it was measured under M0 or M1 is not told: give --measured-under.")
    print(f"A house profile names it: output: {{condition: {target.as_posix()}}}")
    print(f"\n{cautions.REPORT}")
    return 0


def _describe(options: argparse.Namespace) -> int:
    from pressworthy.colour.condition import condition_paths, data_sheet

    folders = registry_with(options.plugin).condition_folders
    names = options.names or [path.name for path in condition_paths(folders)]
    for name, condition in zip(names, _found(names, options.plugin), strict=True):
        if options.names:
            print(data_sheet(condition))
        else:
            print(f"{name:<18} {condition.medium:<7} {condition.values['title']}")
    return 0


def _found(names: Sequence[str], plugins: Sequence[str]) -> list[Condition]:
    from pressworthy.colour.condition import find_condition

    folders = registry_with(plugins).condition_folders
    try:
        return [find_condition(name, folders, Path()) for name in names]
    except ValueError as error:
        raise SetupError([str(error)]) from None


_WORDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "schema": _schema,
    "compare": _compare,
    "new": _new,
}
