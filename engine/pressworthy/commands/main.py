"""Runs one command and turns what became of it into an exit status."""

from __future__ import annotations

import argparse
import gc
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from io import TextIOWrapper
from typing import Any, NoReturn

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
from pressworthy.commands.output import fill_in_streams, nowhere, own_output
from pressworthy.values.faults import FormatError, SetupError, Stopped
from pressworthy.values.machine import MachineTrouble, machine_trouble
from pressworthy.values.words import readable, what_broke

_STOPPING = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")

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
    report format; 128 and a signal's number: stopped by it.
    """
    fill_in_streams()
    with own_output(), stopping():
        return _main(arguments)


def _main(arguments: Sequence[str] | None) -> int:
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        given = sys.argv[1:] if arguments is None else list(arguments)
        options = parser().parse_args(given)
        options.given = given
        _refuse_without_output(options)
        status = options.run(options)
        sys.stdout.flush()
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2
    except (Stopped, KeyboardInterrupt) as ended:
        print("stopped; nothing was left half written", file=sys.stderr)
        return 128 + (ended.signal if isinstance(ended, Stopped) else signal.SIGINT)
    except BrokenPipeError:
        _let_go_of_output()
        return 141
    except OSError as error:
        if error.filename is None:  # standard output has no name
            _let_go_of_output()
        named = f"{error.filename}: " if error.filename else ""
        told = machine_trouble(error) or error.strerror or error
        print(readable(f"{named}cannot go on: {told}"), file=sys.stderr)
        return 2
    except MachineTrouble as trouble:
        print(readable(f"cannot go on: {trouble}"), file=sys.stderr)
        return 2
    except FormatError as error:
        print(error, file=sys.stderr)
        return 3
    except Exception as error:
        ours = "pressworthy itself failed, which says nothing of the pictures"
        print(readable(f"{ours}: {what_broke(error)}"), file=sys.stderr)
        return 3
    return int(status)


def command_line() -> NoReturn:
    """Run the command of this process and end it, whatever threads a plug-in has started."""
    status = main()
    if any(not one.daemon for one in threading.enumerate() if one is not threading.main_thread()):
        with suppress(OSError, ValueError):
            sys.stdout.flush()
        os._exit(status)
    # Python would look through all that was loaded, for garbage, before it ends
    gc.freeze()
    raise SystemExit(status)


@contextmanager
def stopping() -> Iterator[None]:
    """Raise Stopped where a person or the system ends the run; a second time it ends at once."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    signals = [getattr(signal, name) for name in _STOPPING if hasattr(signal, name)]
    # what the parent has this process ignore, as nohup does, stays ignored
    before = {n: signal.getsignal(n) for n in signals if signal.getsignal(n) is not signal.SIG_IGN}

    def stop(number: int, _: Any) -> None:
        for one in before:
            signal.signal(one, signal.SIG_DFL)
        raise Stopped(number)

    for number in before:
        signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


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


def _refuse_without_output(options: argparse.Namespace) -> None:
    if sys.stdout is not None:
        return
    if not getattr(options, "output", None):
        mend = ", or give --output FILE" if hasattr(options, "output") else ""
        said = f"standard output is closed and takes no word: send it to a file{mend}"
        raise SetupError([said])
    sys.stdout = nowhere()


def _let_go_of_output() -> None:
    """Keep Python from complaining at exit that nobody takes what is left of our output."""
    with suppress(OSError):  # no more files can be opened
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
