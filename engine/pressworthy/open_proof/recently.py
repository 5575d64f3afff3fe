"""Which issues were opened lately on this computer: a house standard is tried on them too."""

from __future__ import annotations

import json
import os
from pathlib import Path

from pressworthy.prepare.store import put

MOST = 12
_NAME = "opened.json"


def opened(cache: Path) -> list[Path]:
    """Return the folders of issues opened lately that are still there, the last one first.

    cache: the file of kept verdicts, beside which they are noted.
    """
    try:
        found = json.loads(cache.with_name(_NAME).read_text("utf-8"))
    except (OSError, ValueError):
        return []
    names = [name for name in found if isinstance(name, str)] if isinstance(found, list) else []
    return [Path(name) for name in names if os.path.isdir(name)]  # noqa: PTH112 - any name


def note(folder: Path, cache: Path) -> None:
    """Note that an issue was opened. Where it cannot be noted it is not; nothing hangs on it."""
    mine = folder.resolve()
    folders = [mine, *(one for one in opened(cache) if one != mine)][:MOST]
    try:
        cache.parent.mkdir(parents=True, exist_ok=True)
        put(json.dumps([str(one) for one in folders]).encode(), cache.with_name(_NAME))
    except OSError:
        return
