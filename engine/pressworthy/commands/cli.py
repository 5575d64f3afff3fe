"""The command line: what can be asked, and of which command."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import Any

from pressworthy import __version__
from pressworthy.commands import actions as commands
from pressworthy.commands.manual import CAUTION, PAGES
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import parse_bleed, parse_crop, parse_focus, parse_size
from pressworthy.values.words import readable


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 well, 1 something found, 2 wrong set-up."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    options = _parser().parse_args(arguments)
    try:
        status = options.run(options)
        sys.stdout.flush()
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("stopped; nothing was left half written", file=sys.stderr)
        return 130
    except BrokenPipeError:
        _let_go_of_output()
        return 141
    except OSError as error:
        if error.filename is None:  # standard output has no name
            _let_go_of_output()
        place = f"{error.filename}: " if error.filename else ""
        print(readable(f"{place}cannot go on: {error.strerror or error}"), file=sys.stderr)
        return 2
    return int(status)


def _let_go_of_output() -> None:
    """Keep Python from complaining at exit that nobody takes what is left of our output."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _completion(options: argparse.Namespace) -> int:
    import shtab

    from pressworthy.house import list_houses

    houses = list_houses(commands.registry_of(options), options.house_folder)
    names = " ".join(
        Path(house.file).stem for house in houses if house.value.get("kind") != "standard"
    )
    parser = _parser()
    todo = [parser]
    while todo:
        for action in todo.pop()._actions:
            if isinstance(action, argparse._SubParsersAction):
                todo += action.choices.values()
            elif "--house" in action.option_strings:
                complete = {"bash": "_pressworthy_houses", "zsh": f"({names})"}
                action.complete = complete  # type: ignore[attr-defined]
            elif action.type is Path:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
            elif action.type is _folder:
                action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
    houses_of = {"bash": f'_pressworthy_houses() {{ compgen -W "{names}" -f -- "$1"; }}'}
    print(shtab.complete(parser, options.shell, preamble=houses_of.get(options.shell, "")))
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = _command(
        None, "pressworthy", "Checks pictures for press against a publisher's house standard."
    )
    parser.add_argument("--version", action="version", version=f"pressworthy {__version__}")
    choices = parser.add_subparsers(required=True, metavar="COMMAND")

    check = _command(choices, "check", "judge pictures by a house profile", commands.check)
    check.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    check.add_argument(
        "--house",
        default=[],
        action="append",
        help="house profile: a name, or a .yaml file; several judge the pictures by each",
    )
    check.add_argument(
        "--pages",
        type=Path,
        metavar="FILE.pdf",
        help="judge the pictures placed on these pages; PATH are then the files they came from (or "
        "those of the --list), and a --list says which page is for which house profile",
    )
    _placement_options(check)
    _list_options(check)
    _run_options(check)
    remembered = check.add_mutually_exclusive_group()
    remembered.add_argument(
        "--no-cache", action="store_true", help="judge pictures anew that have not changed"
    )
    remembered.add_argument(
        "--cache",
        type=Path,
        metavar="FILE",
        help="keep verdicts there (in the user's cache folder)",
    )

    prepare = _command(choices, "prepare", "make the copies that go to press", commands.prepare)
    prepare.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    prepare.add_argument(
        "--house",
        default=[],
        action="append",
        help="house profile: a name, or a .yaml file; several make several copies, each in a "
        "folder of its own",
    )
    prepare.add_argument(
        "--into", required=True, type=Path, metavar="FOLDER", help="for the copies"
    )
    _placement_options(prepare)
    _list_options(prepare)
    prepare.add_argument(
        "--assume",
        action="append",
        default=[],
        type=_value(_assumption),
        metavar="PICTURE=SPACE",
        help="read this picture, by name or path, as made in this RGB space, such as sRGB or opRGB",
    )
    prepare.add_argument("--dry-run", action="store_true", help="say what would be made")
    prepare.add_argument(
        "--force",
        action="store_true",
        help="write over copies that are up to date, edited, or another master's",
    )
    _run_options(prepare)

    proof = _command(
        choices, "proof", "show what ink will show, on one page with remarks", commands.proof
    )
    proof.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    proof.add_argument(
        "--house",
        default=[],
        action="append",
        help="house profile: a name, or a .yaml file; several show the pictures once for each",
    )
    proof.add_argument(
        "--into", required=True, type=Path, metavar="FOLDER", help="for marked-proof.html"
    )
    _placement_options(proof)
    _list_options(proof)
    _task_options(proof)
    proof.add_argument(
        "--format", choices=["html", "pdf"], default="html", help="pdf: print the page as well"
    )
    proof.add_argument("--replace", action="store_true", help="write over a proof that is there")

    house = _command(choices, "house", "list, explain and validate house profiles")
    actions = house.add_subparsers(required=True, metavar="ACTION")
    _command(actions, "list", "name the house profiles there are", commands.house_list)
    show = _command(
        actions, "show", "print a house profile as it takes effect", commands.house_show
    )
    show.add_argument("name", help="a name, as LIST tells it, or a .yaml file")
    show.add_argument("--origin", action="store_true", help="tell file and line of every value")
    validate = _command(
        actions, "validate", "find every fault of .yaml files", commands.house_validate
    )
    validate.add_argument("files", nargs="+", type=Path, metavar="FILE")
    schema = _command(
        actions, "schema", "print the JSON Schema of house profiles", commands.house_schema
    )
    schema.add_argument(
        "--part", action="store_true", help="for one file, whose parent may give what is missing"
    )

    sharpening = _command(
        choices,
        "sharpening",
        "derive the amount of sharpening that a print needs",
        commands.sharpening,
    )
    sharpening.add_argument("--house", required=True, help="house profile: a name, or a .yaml file")
    sharpening.add_argument(
        "--spread",
        type=_value(_spread),
        metavar="MM",
        help="how far light spreads in the paper, d of exp(-r/d), such as 0.05mm; without it the "
        "printing condition's own",
    )

    rules = _command(choices, "rules", "list and explain the rules, or start one of your own")
    tasks = rules.add_subparsers(required=True, metavar="ACTION")
    _command(tasks, "list", "name the rules there are", commands.rules_list)
    explain = _command(
        tasks, "show", "explain the rules named, or all, in Markdown", commands.rules_show
    )
    explain.add_argument("names", nargs="*", metavar="NAME")
    new = _command(tasks, "new", "write an installable rule pack to fill", commands.rules_new)
    new.add_argument("name", help="of the rule, such as page-grid")
    new.add_argument("--into", type=Path, default=Path(), metavar="FOLDER", help="(here)")
    conditions = _command(
        choices,
        "conditions",
        "list printing and screen conditions, or describe some",
        commands.conditions,
    )
    conditions.add_argument("names", nargs="*", metavar="NAME", help="a name, or an .icc file")
    lists = _command(choices, "list", "start a picture list")
    starts = lists.add_subparsers(required=True, metavar="ACTION")
    start = _command(starts, "new", "list the pictures in a folder", commands.list_new)
    start.add_argument("folder", type=_folder, metavar="FOLDER")
    _write_options(start)
    pages = _command(
        starts, "from-pages", "list the pictures placed on a page PDF", commands.list_from_pages
    )
    pages.add_argument("pdf", type=Path, metavar="FILE.pdf")
    pages.add_argument(
        "paths",
        nargs="*",
        type=Path,
        metavar="PATH",
        help="files, or folders of files, to find them again in",
    )
    _write_options(pages)
    _command(choices, "report-schema", "print the JSON Schema of reports", commands.report_schema)
    completion = _command(choices, "completion", "let the shell complete choices", _completion)
    completion.add_argument("shell", choices=["bash", "zsh"])
    return parser


def _command(
    among: Any, name: str, about: str, run: Callable[[argparse.Namespace], int] | None = None
) -> argparse.ArgumentParser:
    text = about[0].upper() + about[1:].rstrip(".") + "."
    shape: dict[str, Any] = {
        "description": text,
        "allow_abbrev": False,
        "formatter_class": argparse.RawDescriptionHelpFormatter,
    }
    parser: argparse.ArgumentParser
    if among is None:
        parser = argparse.ArgumentParser(name, **shape)
    else:
        parser = among.add_parser(name, help=about, **shape)
    page = PAGES.get(parser.prog.removeprefix("pressworthy "), "")
    parser.epilog = "\n\n".join(part for part in (page, CAUTION) if part)
    if run is not None:
        parser.set_defaults(run=run)
        extra = parser.add_argument_group("house profiles and rules of your own")
        extra.add_argument(
            "--plugin",
            action="append",
            default=[],
            metavar="MODULE",
            help="load this plug-in too: a module, or a .py file",
        )
        extra.add_argument(
            "--house-folder",
            type=_folder,
            metavar="FOLDER",
            help="the publisher's own house profiles",
        )
    return parser


def _placement_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--size",
        type=_value(parse_size),
        metavar="WxH",
        help="placed size, such as 210x148mm or 1200x675px (CSS pixels); "
        "without it the file's own stated resolution counts",
    )
    parser.add_argument(
        "--bleed",
        type=_value(parse_bleed),
        metavar="MM[:EDGES]",
        help="bleed, such as 3mm or 3mm:top,left",
    )
    shown = parser.add_mutually_exclusive_group()
    shown.add_argument(
        "--focus",
        dest="crop",
        type=_value(parse_focus),
        metavar="X,Y",
        help="the page crops the picture to its box around this point, 0,0 to 1,1",
    )
    shown.add_argument(
        "--crop",
        type=_value(parse_crop),
        metavar="L,T,W,H",
        help="the part of the picture that the page shows: left, top, width, height, as fractions",
    )


def _list_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--list",
        type=Path,
        metavar="FILE",
        help="a picture list, CSV or YAML: which picture stands where, for which house profile",
    )
    parser.add_argument(
        "--allow-outside",
        action="store_true",
        help="let the list name pictures outside its own folder",
    )
    parser.add_argument(
        "--waivers", type=Path, metavar="FILE", help="what persons accept, a YAML file"
    )


def _run_options(parser: argparse.ArgumentParser) -> None:
    _task_options(parser)
    parser.add_argument(
        "--format",
        default="text",
        help="text, json, lines (JSON Lines, written as the run goes), junit, sarif, or a "
        "plug-in's own",
    )
    _write_options(parser)


def _task_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--skip",
        action="append",
        default=[],
        metavar="PATTERN",
        help="leave out files in folders whose name matches, such as '*.txt'",
    )
    parser.add_argument(
        "--jobs",
        type=_jobs,
        default=0,
        metavar="N",
        help="pictures at a time (as many as there are processors)",
    )
    parser.add_argument(
        "--scheduler",
        default="",
        metavar="ADDRESS",
        help="give the work to a dask scheduler's workers, such as tcp://desk:8786; they see the "
        "pictures under the same paths",
    )


def _write_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--output", type=Path, metavar="FILE", help="write it there")
    parser.add_argument("--replace", action="store_true", help="let --output write over a file")


def _assumption(text: str) -> tuple[str, str]:
    from pressworthy.colour.spaces import SPACES

    name, _, said = text.rpartition("=")
    space = next((space for space in SPACES if space.casefold() == said.casefold()), "")
    if not name or not space:
        raise ValueError(f"{text!r} is not a picture, '=' and one of {', '.join(SPACES)}")
    return name, space


def _spread(text: str) -> float:
    from pressworthy.values.units import parse

    mm = parse(text, "mm")
    if not 0 <= mm <= 1:
        raise ValueError(f"{text!r}: light spreads between 0 and 1 mm in paper")
    return mm


def _value(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    def convert(text: str) -> Any:
        try:
            return parse(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return convert


def _folder(text: str) -> Path:
    path = Path(text)
    if not os.path.isdir(path):  # noqa: PTH112 - Path.is_dir() raises where a name is too long
        raise argparse.ArgumentTypeError(f"{text!r} is no folder")
    return path


def _jobs(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of 1 or more")
    return int(text)
