"""What a dropped master may be called on every system, and whether its name is taken."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class MasterName:
    """A safe name for a dropped master.

    path: where it would lie, below masters/; taken: the file of that name that is there already, or
    None; free: the path to offer then, "name 2.jpg", else `path` itself.
    """

    path: Path
    taken: Path | None
    free: Path


def master_name(folder: Path, given: str) -> MasterName:
    """Return the name under masters/ of a file that the browser calls `given`: hostile ones too.

    given: a file name, or a relative path of a dropped folder with slashes, whose folders are kept.
    Nothing is written. Raises SetupError where it leaves no name.
    """
    raise NotImplementedError
