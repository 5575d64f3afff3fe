"""From what a person decided to changes of files: pure, and checked as the commands check it."""

from __future__ import annotations

from collections.abc import Mapping

from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.journal import Change, Decision, Place, Taken

__all__ = ["KINDS", "Change", "Decision", "Place", "Taken", "changes"]

KINDS: Mapping[str, tuple[str, ...]] = {
    "place": ("width", "height", "page", "bleed", "edges", "fit"),
    "largest size": ("width", "height"),
    "crop": ("crop",),
    "focus": ("focus",),
    "assume": ("assume",),
    "gray mix": ("gray mix",),
    "tone": ("tone",),
    "sharpen": ("sharpen",),
    "accept": ("finding", "reason", "by", "until"),
    "no longer accept": ("finding",),
    "title": ("house",),
    "add": (),
}
"""Kind -> the fields it may have. What `largest size` writes is worked out by `sizes.largest`;
the names under masters/ that `add` takes by `names.master_name`. `assume` is for all lines of its
pictures, `title` without places for all lines and all masters without one."""


def changes(issue: Issue, decision: Decision) -> tuple[Change, ...]:
    """Return what becomes of which file; nothing where all is so already.

    Raises SetupError naming the field, or the file that cannot be written in.
    """
    raise NotImplementedError
