"""Runs one command and turns what became of it into an exit status."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from io import TextIOWrapper

from pressworthy import __version__
from pressworthy.commands import (
    check,
    completion,
    conditions,
    house,
    prepare,
    proof,
    report_schema,
    rules,
    sharpening,
)
from pressworthy.commands import list as picture_list
from pressworthy.commands import open as open_proof
from pressworthy.commands.options import command
from pressworthy.values.faults import FormatError, SetupError
from pressworthy.values.words import readable, what_broke

PAGE = """Every picture of an issue, measured against the publisher's house standard,
prepared as the copy that goes to press, and shown as the reader will see it.

OPEN does the whole job on one sheet in a browser; CHECK, PREPARE and PROOF do the same work for
people who type. The other commands explain what is there, or start a house profile, a picture list
or a rule of your own. COMMAND --help tells more of each, with examples.

files:
  a house profile is a YAML file; --house takes its name, or its path. --house-folder is the
  publisher's own folder of them, where names are sought first.
  verdicts of earlier checks lie in verdicts.sqlite in the user's cache folder
  (XDG_CACHE_HOME); it may be deleted at any time.
environment:
  TMPDIR       where verdicts and copies for a proof lie while a command runs
  COLUMNS      width of this help"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0: well; 1: something found; 2: wrong set-up; 3: the program itself failed, or a plug-in's
    report format.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        given = sys.argv[1:] if arguments is None else list(arguments)
        options = parser().parse_args(given)
        options.given = given
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
        named = f"{error.filename}: " if error.filename else ""
        print(readable(f"{named}cannot go on: {error.strerror or error}"), file=sys.stderr)
        return 2
    except FormatError as error:
        print(error, file=sys.stderr)
        return 3
    except Exception as error:
        ours = "pressworthy itself failed, which says nothing of the pictures"
        print(readable(f"{ours}: {what_broke(error)}"), file=sys.stderr)
        return 3
    return int(status)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line; `run` of what it parses runs the command."""
    whole = command(
        None,
        "pressworthy",
        "Checks pictures for press against a publisher's house standard.",
        page=PAGE,
    )
    whole.add_argument("--version", action="version", version=f"pressworthy {__version__}")
    choices = whole.add_subparsers(required=True, metavar="COMMAND")
    for one in (open_proof, check, prepare, proof, house, sharpening, rules, conditions):
        one.add(choices)
    picture_list.add(choices)
    report_schema.add(choices)
    completion.add(choices, whole)
    return whole


def _let_go_of_output() -> None:
    """Keep Python from complaining at exit that nobody takes what is left of our output."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
