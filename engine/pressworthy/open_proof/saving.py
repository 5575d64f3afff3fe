"""Saving: the marked proof of the issue, made by the very command that makes it without a sheet."""

from __future__ import annotations

import subprocess
import sys

from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import LIST, PROOF, WAIVERS
from pressworthy.values.faults import SetupError

PAGE = "marked-proof.html"


def command(desk: Desk) -> list[str]:
    """Return the words of the command that makes the issue's marked proof, in its folder."""
    words = ["proof", "--list", LIST, "--into", PROOF, "--replace"]
    if (desk.folder / WAIVERS).exists():
        words += ["--waivers", WAIVERS]
    if desk.house_folder:
        words += ["--house-folder", str(desk.house_folder.resolve())]
    return words


def save(desk: Desk) -> str:
    """Make the marked proof and return where it lies, in words. Raises SetupError."""
    done = subprocess.run(
        [sys.executable, "-m", "pressworthy", *command(desk)],
        cwd=desk.folder,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode > 1:
        raise SetupError([done.stderr.strip() or "the marked proof could not be made"])
    return f"the marked proof lies in {PROOF}/{PAGE}"
