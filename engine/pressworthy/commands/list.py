"""list: start a picture list, of a folder or of a page PDF."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from pressworthy.commands import options as shared
from pressworthy.commands.output import progress, refuse_to_lose, refuse_to_replace, write
from pressworthy.values.faults import SetupError
from pressworthy.values.words import readable

PAGE = """A picture list tells page, house profile, size, bleed, crop, assumed RGB space, what its
copy is to be and what is accepted for each picture, as CSV, YAML or the first sheet of an .xlsx
workbook; an empty cell leaves it to the house. Columns of your own may stand between; in brackets,
such as (pages), where a name is near one of ours. It is read by --list of check, prepare and proof.

examples:
  pressworthy list new pictures/ --output issue.csv
  pressworthy list from-pages magazine.pdf masters/ --output issue.csv"""


def add(choices: Any) -> None:
    parser = shared.command(choices, "list", "start a picture list", page=PAGE)
    actions = parser.add_subparsers(required=True, metavar="ACTION")
    new = shared.command(actions, "new", "list the pictures in a folder", _new)
    new.add_argument("folder", type=shared.folder, metavar="FOLDER")
    shared.output(new)
    about = "list the pictures placed on a page PDF"
    pages = shared.command(actions, "from-pages", about, _from_pages)
    pages.add_argument("pdf", type=Path, metavar="FILE.pdf")
    pages.add_argument(
        "paths",
        nargs="*",
        type=Path,
        metavar="PATH",
        help="files, or folders of files, to find them again in",
    )
    shared.trim(pages)
    shared.output(pages)


def _new(options: argparse.Namespace) -> int:
    from pressworthy.files.intake import walk
    from pressworthy.files.picture_list import starting_list

    # beside the folder: in it, a check of the folder would take it for a picture
    folder = options.folder if options.folder.name else options.folder.resolve()
    target = options.output or folder.parent / f"{folder.name or 'pictures'}.csv"
    refuse_to_replace(target, replace=options.replace)
    _refuse_workbook(target)
    # a list in the folder is no picture, and may be written anew
    lists = (".csv", ".yaml", ".yml")
    refuse_to_lose(target, (p for p in walk([options.folder]) if p.suffix.lower() not in lists))
    rows, left_out = starting_list(options.folder, target.parent)
    for reason in left_out:
        print(readable(reason), file=sys.stderr)
    _write(rows, target, f"{options.folder}: no picture can be listed")
    print(f"{target}: {len(rows)} pictures; fill in page, house, width and height")
    return 0


def _from_pages(options: argparse.Namespace) -> int:
    from pressworthy import jobs
    from pressworthy.commands.asked import masters

    target = options.output or options.pdf.with_suffix(".csv")
    refuse_to_replace(target, replace=options.replace)
    _refuse_workbook(target)
    files = masters(options.paths)
    refuse_to_lose(target, [options.pdf, *files])
    rows = jobs.listed_pages(options.pdf, files, target.parent, options.trim, progress)
    _write(rows, target, f"{options.pdf}: none of its pictures can be listed")
    print(f"{target}: {len(rows)} placed pictures; fill in the house")
    return 0


def _refuse_workbook(target: Path) -> None:
    from pressworthy.files.workbook import SUFFIXES

    if target.suffix.lower() in SUFFIXES:
        raise SetupError([f"{target}: lists are written as CSV or YAML; name it .csv or .yaml"])


def _write(rows: list[dict[str, str]], target: Path, none: str) -> None:
    from pressworthy.files.picture_list import is_yaml, write_list

    if not rows:
        raise SetupError([none])
    write(write_list(rows, as_yaml=is_yaml(target)), target)
    if any(row["picture"].startswith("../") for row in rows):
        message = f"{target}: pictures lie outside its folder; write it above them, or give --list "
        print(f"{message}with --allow-outside", file=sys.stderr)
