"""sharpening: derive the amount of sharpening that a print needs."""

from __future__ import annotations

import argparse
from typing import Any

from pressworthy.commands.options import command, registry_with, value
from pressworthy.values import cautions
from pressworthy.values.faults import SetupError

PAGE = """Prints, for a house profile, how much of the contrast of fine detail reaches
the reader's eye at each amount of sharpening, and the amount that brings it nearest to the
original's. The built-in house profiles carry amounts derived so.

example:
  pressworthy sharpening --house newsprint"""


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
        help="how far light spreads in the paper, d of exp(-r/d), such as 0.05mm; without it the "
        "printing condition's own",
    )


def _derive(options: argparse.Namespace) -> int:
    from pressworthy.house import load_house
    from pressworthy.prepare.amount import curve_table, derive
    from pressworthy.values.finding import Unmeasured

    house = load_house(options.house, registry_with(options.plugin), options.house_folder)
    called = f"pressworthy sharpening --house {options.house}"
    if options.blur is not None:
        called += f" --blur {options.blur:g}mm"
    try:
        print(curve_table(derive(house, options.blur), house, called))
    except Unmeasured as reason:
        raise SetupError([f"{house.name}: {reason}"]) from None
    print(f"\n{cautions.PROGRAM}")
    return 0


def _blur(text: str) -> float:
    from pressworthy.values.units import parse

    mm = parse(text, "mm")
    if not 0 <= mm <= 1:
        raise ValueError(f"{text!r}: light spreads between 0 and 1 mm in paper")
    return mm
