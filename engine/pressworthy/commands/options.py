"""Option groups that several commands share, the types of their values, and what they ask for."""

from __future__ import annotations

import argparse
import os
import re
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pressworthy.files.memory import BUDGET
from pressworthy.values import cautions
from pressworthy.values.placement import (
    PlacementRequest,
    parse_bleed,
    parse_crop,
    parse_focus,
    parse_size,
)

if TYPE_CHECKING:
    from pressworthy.commands.asked import Asked
    from pressworthy.jobs import Progress, Run
    from pressworthy.jobs.running.cache import Cache
    from pressworthy.plugins import Registry

_BYTES = {"MB": 10**6, "GB": 10**9}
_LEAST_MEMORY = 10**8
"""A worker needs as much before it sees a picture."""

EXIT = """exit status:
  0  nothing at severity stop, everything measured
  1  something at severity stop, or something unmeasured or broken
  2  the set-up is wrong; nothing was {done}
  3  the program itself failed, or a plug-in's report format: nothing is said of the pictures"""
"""The end of a help page, of a command that judges."""


def command(
    among: Any,
    name: str,
    about: str,
    run: Callable[[argparse.Namespace], int] | None = None,
    *,
    page: str = "",
) -> argparse.ArgumentParser:
    """Return the parser of a command, or of an action of one, which `run` runs.

    page: what its help says beyond its options.
    """
    text = about[0].upper() + about[1:].rstrip(".") + "."
    shape: dict[str, Any] = {
        "description": text,
        "epilog": "\n\n".join(part for part in (page, cautions.PROGRAM) if part),
        "allow_abbrev": False,
        "formatter_class": argparse.RawDescriptionHelpFormatter,
    }
    parser: argparse.ArgumentParser
    if among is None:
        parser = argparse.ArgumentParser(name, **shape)
    else:
        parser = among.add_parser(name, help=about, **shape)
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
            type=folder,
            metavar="FOLDER",
            help="the publisher's own house profiles",
        )
    return parser


def registry_with(plugins: Sequence[str]) -> Registry:
    """Return what all plug-ins gave, these among them; those that did not load are told."""
    from pressworthy.plugins import load

    registry = load(plugins)
    for name, why in registry.failed.items():
        print(f"plug-in {name} did not load and is left out: {why}", file=sys.stderr)
    return registry


def pictures(parser: argparse.ArgumentParser, several: str) -> None:
    """several: what several house profiles do."""
    parser.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    parser.add_argument(
        "--house",
        default=[],
        action="append",
        help=f"house profile: a name, or a .yaml file; {several}",
    )


def trim(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--trim",
        type=value(_trim),
        default="",
        metavar="WxH|BOX",
        help="where pages without a TrimBox are cut: a size, such as 210x297mm, in the middle of "
        "the page, or crop or media for that box of the PDF",
    )


def placement(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--size",
        type=value(parse_size),
        metavar="WxH",
        help="placed size, such as 210x148mm or 1200x675px (CSS pixels); "
        "without it the file's own stated resolution counts",
    )
    parser.add_argument(
        "--bleed",
        type=value(parse_bleed),
        metavar="MM[:EDGES]",
        help="bleed, such as 3mm or 3mm:top,left",
    )
    shown = parser.add_mutually_exclusive_group()
    shown.add_argument(
        "--focus",
        dest="crop",
        type=value(parse_focus),
        metavar="X,Y",
        help="the page crops the picture to its box around this point, 0,0 to 1,1",
    )
    shown.add_argument(
        "--crop",
        type=value(parse_crop),
        metavar="L,T,W,H",
        help="the part of the picture that the page shows: left, top, width, height, as fractions",
    )


def picture_list(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--list",
        type=Path,
        metavar="FILE",
        help="a picture list, CSV, YAML or .xlsx: which picture stands where, for which house "
        "profile",
    )
    parser.add_argument(
        "--allow-outside",
        action="store_true",
        help="let the list name pictures outside its own folder",
    )
    parser.add_argument(
        "--waivers", type=Path, metavar="FILE", help="what persons accept, a YAML file"
    )


def work(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--skip",
        action="append",
        default=[],
        metavar="PATTERN",
        help="leave out files in folders whose name matches, such as '*.txt'",
    )
    parser.add_argument(
        "--jobs",
        type=count,
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

    parser.add_argument(
        "--time",
        type=_seconds,
        default=60.0,
        metavar="SECONDS",
        help="the most that one picture may take (60); then it is told as broken",
    )
    parser.add_argument(
        "--memory",
        type=value(_memory),
        default=BUDGET,
        metavar="SIZE",
        help="the most that decoding one picture may take, such as 800MB (1.5GB)",
    )


def run(options: argparse.Namespace, registry: Registry, progress: Progress) -> Run:
    """Return the run that `work` asks for."""
    from pressworthy.jobs import Run
    from pressworthy.jobs.running.workers import Limits

    return Run(
        registry,
        processes=options.jobs,
        scheduler=options.scheduler,
        limits=Limits(options.time, options.memory),
        progress=progress,
    )


def remembered(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the options on what is kept of earlier runs; what: that is kept."""
    parts = parser.add_mutually_exclusive_group()
    parts.add_argument(
        "--no-cache", action="store_true", help="look anew at pictures that have not changed"
    )
    parts.add_argument(
        "--cache",
        type=Path,
        metavar="FILE",
        help=f"keep {what} there (in the user's cache folder)",
    )


@contextmanager
def cache(options: argparse.Namespace) -> Iterator[Cache | None]:
    """Give what `remembered` asks for, None for none, and tell its trouble in the end."""
    from pressworthy.jobs.running.cache import Cache, default_path

    if options.no_cache:
        yield None
        return
    with closing(Cache(options.cache or default_path())) as kept:
        yield kept
    if kept.trouble:
        print(kept.trouble, file=sys.stderr)


def report(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--format",
        default="text",
        help="text, json, lines (JSON Lines, written as the run goes), junit, sarif, or a "
        "plug-in's own",
    )
    output(parser)


def output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--output", type=Path, metavar="FILE", help="write it there")
    parser.add_argument("--replace", action="store_true", help="let --output write over a file")


def asked_for(options: argparse.Namespace) -> Asked:
    """Return what the options of `pictures`, `placement`, `picture_list` and `work` ask for."""
    from pressworthy.commands.asked import Asked

    bleed, edges = options.bleed or (0.0, frozenset())
    return Asked(
        houses=tuple(options.house),
        house_folder=options.house_folder,
        paths=tuple(options.paths),
        skip=tuple(options.skip),
        request=PlacementRequest(options.size, bleed, edges, options.crop),
        list=options.list,
        waivers=options.waivers,
        scattered=options.allow_outside,
    )


def value(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    """Return the type of an argument whose ValueError is told as it is."""

    def convert(text: str) -> Any:
        try:
            return parse(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return convert


def folder(text: str) -> Path:
    """The type of an argument that is a folder."""
    path = Path(text)
    if not os.path.isdir(path):  # noqa: PTH112 - Path.is_dir() raises where a name is too long
        raise argparse.ArgumentTypeError(f"{text!r} is no folder")
    return path


def _trim(text: str) -> tuple[float, float] | str:
    if text in ("", "crop", "media"):  # "" is what counts where none is given
        return text
    try:
        return parse_size(text)
    except ValueError as error:
        raise ValueError(f"{error}; or crop or media, for that box of the PDF") from None


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds < threading.TIMEOUT_MAX:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds above 0")
    return seconds


def _memory(text: str) -> int:
    parts = re.fullmatch(r"(\d+(?:\.\d+)?) ?(MB|GB)", text, re.IGNORECASE)
    size = float(parts[1]) * _BYTES[parts[2].upper()] if parts else 0.0
    if not _LEAST_MEMORY <= size < 1 << 60:
        raise ValueError(f"{text!r} is not a size of 100MB or more, such as 800MB or 1.5GB")
    return int(size)


def count(text: str) -> int:
    """The type of an argument that is a number of things."""
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of 1 or more")
    return int(text)
