"""What prepared copies are called, by the house's pattern, and that no two share a name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

SUFFIX = {"TIFF": ".tif", "JPEG": ".jpg", "WebP": ".webp", "AVIF": ".avif"}
MOST_NAME_BYTES = 250
"""Systems take 255, bytes and not letters; the longest suffix has five of them."""

_MEND = "rename the master, or change the house's naming pattern"


def name_for(pattern: str, kind: str, fields: Mapping[str, str]) -> str:
    """Return a copy's file name: the house's pattern filled in, and the suffix of its format.

    fields: stem, folder, house, page, size and scale. Raises ValueError where that makes no name.
    """
    name = re.sub(r"\{([^{}]*)\}", lambda match: fields[match[1]], pattern)
    # control characters, and what some system forbids in a name
    name = re.sub(r'[\x00-\x1f\x7f/\\:*?"<>|]', "_", name).strip(" .")
    if not name:
        raise ValueError(f"{pattern!r} leaves nothing of the name {fields['stem']!r}; {_MEND}")
    if len(name.encode(errors="surrogateescape")) > MOST_NAME_BYTES:
        raise ValueError(
            f"the copy's name {name[:40]!r}... is longer than {MOST_NAME_BYTES} bytes; {_MEND}"
        )
    return name + SUFFIX[kind]


@dataclass(frozen=True)
class Named:
    """A copy that is to be made of `master`, and the fields its name was made of."""

    master: Path
    target: Path
    fields: Mapping[str, str]


def file_key(target: Path) -> str:
    """Return what is equal where two paths may be the same file.

    Names that differ only in case or in Unicode's composition are, on some systems.
    """
    return unicodedata.normalize("NFC", str(target)).casefold()


def collisions(copies: Iterable[Named], pattern: str) -> list[str]:
    """Return a sentence for every copy whose target another takes too, and what would help.

    pattern: the house's, by which they were named.
    """
    taken: dict[str, Named] = {}
    faults = []
    for copy in copies:
        first = taken.setdefault(file_key(copy.target), copy)
        if first is copy:
            continue
        fields = copy.fields.items()
        unlike = [f"{{{name}}}" for name, text in fields if text != first.fields[name]]
        missing = [field for field in unlike if field not in pattern]
        mends = [f"put {' or '.join(missing)} in the house's naming pattern"] if missing else []
        if copy.master != first.master:
            mends.insert(0, "rename one")
            both = f"{first.master} and {copy.master} would both become"
        else:
            both = f"{copy.master}, asked for in two ways, would twice become"
        mend = ", or ".join(mends) or "prepare them in two runs, each with another --into"
        faults.append(f"{both} {copy.target.name}; {mend}")
    return faults
