"""What prepared copies are called, by the house's pattern, and that no two share a name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path

SUFFIX = {"TIFF": ".tif", "JPEG": ".jpg", "WebP": ".webp", "AVIF": ".avif"}
MOST_BYTES = 200


def name_for(pattern: str, kind: str, fields: Mapping[str, str]) -> str:
    """Return a copy's file name: the house's pattern filled in, and the suffix of its format.

    fields: stem, folder, house, page and scale. Raises ValueError where that makes no name.
    """
    name = re.sub(r"\{([^{}]*)\}", lambda match: fields[match[1]], pattern)
    # control characters, and what some system forbids in a name
    name = re.sub(r'[\x00-\x1f\x7f/\\:*?"<>|]', "_", name).strip(" .")
    if not name:
        raise ValueError(f"{pattern!r} leaves nothing of the name {fields['stem']!r}")
    if len(name.encode(errors="surrogateescape")) > MOST_BYTES:
        raise ValueError(f"the name {name[:40]!r}... is longer than {MOST_BYTES} bytes")
    return name + SUFFIX[kind]


def collisions(targets: Iterable[tuple[Path, Path]]) -> list[str]:
    """Return a sentence for every (master, target) whose target another master takes too.

    Names that differ only in case or in Unicode's composition are the same file on some systems.
    """
    taken: dict[str, Path] = {}
    faults = []
    for master, target in targets:
        key = unicodedata.normalize("NFC", str(target)).casefold()
        if key in taken:
            faults.append(
                f"{taken[key]} and {master} would both become {target.name}; "
                "rename one, or put {folder} in the house's naming pattern"
            )
        taken.setdefault(key, master)
    return faults
