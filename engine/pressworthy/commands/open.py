"""open: the whole job on one sheet, in a browser of this computer."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from pressworthy.commands import options as shared
from pressworthy.values.faults import SetupError

PAGE = """Opens the marked proof, alive, in this computer's browser: drop pictures on it, choose the
title, and decide beside each remark what is to become of the picture; then prepare the copies and
save the proof. FOLDER holds the issue and nothing is kept elsewhere:

  masters/         the pictures as supplied, never written to
  issue.csv        the picture list, as --list reads it
  waivers.yaml     what persons accept, as --waivers reads it
  decisions.jsonl  what was decided on the sheet, by whom and when
  copies/, proof/  what was made

The commands read the very same files, and the sheet follows what a hand changes in them. It answers
this computer alone, and only a browser that was given the key in the address printed here; the
address is for you and for nobody else. Stop it with Ctrl+C: nothing is left half written.

examples:
  pressworthy open winter/
  pressworthy open winter/ --house-folder our-house/
  pressworthy open --make-icon --house-folder our-house/
exit status:
  0  closed
  2  the folder or the house profiles cannot be used"""


def add(choices: Any) -> None:
    parser = shared.command(
        choices, "open", "the whole job on one sheet, in this computer's browser", _open, page=PAGE
    )
    parser.add_argument(
        "folder",
        nargs="?",
        type=Path,
        metavar="FOLDER",
        help="the issue's folder, made if it is not there (chosen on the page: an issue opened "
        "lately, or a new one)",
    )
    parser.add_argument(
        "--port", type=_port, default=0, metavar="N", help="answer there (any that is free)"
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="only print the address, open no browser"
    )
    parser.add_argument(
        "--until-closed", action="store_true", help="end by itself when the page has been closed"
    )
    parser.add_argument(
        "--make-icon",
        action="store_true",
        help="put a start icon into this system's menu, for whoever uses no terminal, and open "
        "nothing; --house-folder counts for the new issues begun by it",
    )
    parser.add_argument(
        "--jobs",
        type=shared.count,
        default=0,
        metavar="N",
        help="pictures at a time (as many as there are processors)",
    )


def _open(options: argparse.Namespace) -> int:
    import threading
    import webbrowser

    from pressworthy import jobs
    from pressworthy.commands.output import make_folder
    from pressworthy.jobs.running.cache import default_path
    from pressworthy.open_proof.serving import serve

    if options.make_icon:
        from pressworthy.open_proof.icon import make_icon

        print(*make_icon(options.house_folder), sep="\n")
        print("The icon is called pressworthy; a menu that was open shows it when opened again.")
        return 0
    registry = shared.registry_with(options.plugin)
    if options.folder:
        if options.folder.exists() and not options.folder.is_dir():
            raise SetupError([f"{options.folder} is no folder"])
        make_folder(options.folder)

    def opened(issue: str, address: str) -> None:
        of = f" of {issue}" if issue else ""
        print(f"The open proof{of} is at\n  {address}", flush=True)
        print("That address is for you alone. Ctrl+C closes the sheet.", flush=True)
        if not options.no_browser:
            # some browsers are waited for until they are closed, and the page waits for us
            threading.Thread(target=show, args=(address,), daemon=True).start()

    def show(address: str) -> None:
        if not webbrowser.open(address):
            print("No browser could be opened; open the address yourself.", file=sys.stderr)

    serve(
        options.folder,
        jobs.Run(registry, processes=options.jobs),
        opened,
        house_folder=options.house_folder,
        port=options.port,
        cache=default_path(),
        until_closed=options.until_closed,
    )
    return 0


def _port(text: str) -> int:
    if not text.isdigit() or not 0 <= int(text) < 65536:
        raise argparse.ArgumentTypeError(f"{text!r} is no port, 1 to 65535")
    return int(text)
