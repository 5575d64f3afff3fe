"""sharpening: derive the amount of sharpening that a print needs, or have a press settle it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pressworthy.commands.options import command, registry_with, value
from pressworthy.commands.output import refuse_to_lose, refuse_to_replace
from pressworthy.values import cautions
from pressworthy.values.faults import SetupError

if TYPE_CHECKING:
    from pressworthy.house import House

PAGE = """Prints, for a house profile, how much of the contrast of fine detail reaches
the reader's eye at each amount of sharpening, and the amount that brings it nearest to the
original's: that by which `prepare` sharpens where the house profile states none. The model takes
the press to blur by 0.08 mm, which no one has measured on yours. --strip writes a page with one
detail unsharpened and at five amounts: printed on that press, it settles the amount.

examples:
  pressworthy sharpening --house newsprint
  pressworthy sharpening --house newsprint --strip strip.pdf"""


def add(choices: Any) -> None:
    parser = command(
        choices,
        "sharpening",
        "derive the amount of sharpening that a print needs",
        _derive,
        page=PAGE,
    )
    parser.add_argument("--house", required=True, help="house profile: a name, or a .yaml file")
    parser.add_argument(
        "--blur",
        type=value(_blur),
        metavar="MM",
        help="all that press and paper blur, d of exp(-r/d), such as 0.05mm; without it the "
        "printing condition's own",
    )
    parser.add_argument(
        "--strip", type=Path, metavar="FILE", help="write a test strip for the printer, a PDF page"
    )
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="--strip shows this, not a detail of its own"
    )
    parser.add_argument("--replace", action="store_true", help="write over a strip that is there")


def _derive(options: argparse.Namespace) -> int:
    from pressworthy.house import load_house
    from pressworthy.prepare.amount import curve_table, derive
    from pressworthy.values.finding import Unmeasured

    if options.strip is None and (options.picture or options.replace):
        raise SetupError(["--picture and --replace are for --strip FILE; give that as well"])
    if options.strip is not None and options.blur is not None:
        raise SetupError(["--blur is for the table of amounts; leave it out with --strip"])
    house = load_house(options.house, registry_with(options.plugin), options.house_folder)
    if options.strip is not None:
        return _strip(house, options)
    called = f"pressworthy sharpening --house {options.house}"
    if options.blur is not None:
        called += f" --blur {options.blur:g}mm"
    try:
        print(curve_table(derive(house, options.blur), house, called))
    except Unmeasured as reason:
        raise SetupError([f"{house.name}: {reason}"]) from None
    print(f"\n{cautions.PROGRAM}")
    return 0


def _strip(house: House, options: argparse.Namespace) -> int:
    from pressworthy.prepare.store import put, why
    from pressworthy.prepare.strip import strip
    from pressworthy.report.strip_page import page

    target = options.strip
    refuse_to_replace(target, replace=options.replace)
    refuse_to_lose(target, [options.picture, *house.chain])
    data = page(strip(house, options.picture), house)
    try:
        put(data, target)
    except OSError as error:
        raise SetupError([f"{target}: {why(error)}"]) from None
    print(f"{target}\n{cautions.PROGRAM}")
    return 0


def _blur(text: str) -> float:
    from pressworthy.values.units import parse

    mm = parse(text, "mm")
    if not 0 <= mm <= 1:
        raise ValueError(f"{text!r}: a press blurs by 0 to 1 mm")
    return mm
