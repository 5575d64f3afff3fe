"""completion: let the shell complete choices."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path
from typing import Any

from pressworthy.commands.options import command, folder, registry_with

PAGE = """Prints a script that lets the shell complete commands, options and the names
of house profiles.

examples:
  pressworthy completion bash > ~/.local/share/bash-completion/completions/pressworthy
  pressworthy completion zsh > ~/.zfunc/_pressworthy     # a folder in $fpath"""


def add(choices: Any, whole: argparse.ArgumentParser) -> None:
    """whole: the parser of the command line, whose choices are completed."""
    about = "let the shell complete choices"
    parser = command(choices, "completion", about, partial(_complete, whole), page=PAGE)
    parser.add_argument("shell", choices=["bash", "zsh"])


def _complete(whole: argparse.ArgumentParser, options: argparse.Namespace) -> int:
    import shtab

    from pressworthy.house import list_houses

    houses = list_houses(registry_with(options.plugin), options.house_folder)
    names = " ".join(
        Path(house.file).stem for house in houses if house.value.get("kind") != "standard"
    )
    todo = [whole]
    while todo:
        for action in todo.pop()._actions:
            if isinstance(action, argparse._SubParsersAction):
                todo += action.choices.values()
            elif "--house" in action.option_strings:
                complete = {"bash": "_pressworthy_houses", "zsh": f"({names})"}
                action.complete = complete  # type: ignore[attr-defined]
            elif action.type is Path:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
            elif action.type is folder:
                action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
    houses_of = {"bash": f'_pressworthy_houses() {{ compgen -W "{names}" -f -- "$1"; }}'}
    print(shtab.complete(whole, options.shell, preamble=houses_of.get(options.shell, "")))
    return 0
