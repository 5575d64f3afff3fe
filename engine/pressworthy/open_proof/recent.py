"""Issues opened lately, so that a start without a folder can offer them: one file of this person's.

It holds nothing that is lost with it.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from pressworthy.prepare.store import put

MOST = 12
MOST_BYTES = 200_000


@dataclass(frozen=True)
class Recent:
    """An issue opened lately. house_folder: the publisher's house profiles, None for none."""

    folder: Path
    house_folder: Path | None


def recents() -> list[Recent]:
    """Return the issues opened lately that are still there, the last first."""
    try:
        with _file().open("rb") as stream:
            told = json.loads(stream.read(MOST_BYTES))
        found = [
            Recent(Path(one["folder"]), Path(one["houses"]) if one["houses"] else None)
            for one in told
        ]
    except (OSError, ValueError, TypeError, KeyError):
        return []
    return [one for one in found if one.folder.is_dir()]


def remember(folder: Path, house_folder: Path | None) -> None:
    """Put an issue first; where that cannot be written down, nothing is lost."""
    now = Recent(folder.resolve(), house_folder.resolve() if house_folder else None)
    kept = [now, *(one for one in recents() if one.folder != now.folder)][:MOST]
    told = [{"folder": str(one.folder), "houses": str(one.house_folder or "")} for one in kept]
    with suppress(OSError):
        _file().parent.mkdir(parents=True, exist_ok=True)
        put(json.dumps(told, indent=1).encode("utf-8", "surrogateescape"), _file())


def new_issues() -> Path:
    """Return the folder that new issues are begun in: below this person's documents."""
    return platformdirs.user_documents_path() / "pressworthy"


def _file() -> Path:
    return platformdirs.user_data_path("pressworthy", appauthor=False) / "recent.json"
