"""What a dropped master may be called on every system, and whether its name is taken."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from pressworthy.open_proof.issue import MASTERS
from pressworthy.prepare.names import MOST_NAME_BYTES, file_key
from pressworthy.values.faults import SetupError

MOST_FOLDERS = 8
MOST_SUFFIX_BYTES = 20
_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$)", re.I)
"""Names that stand for devices on Windows, whatever suffix they have; from memory."""


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
    Names that some system takes for one are one: they differ in case or composition alone. Nothing
    is written. Raises SetupError where it leaves no name.
    """
    *folders, name = re.split(r"[/\\]", given) or [""]
    plain = safe(name)
    if not plain:
        raise SetupError([f"{given[:80]!r}: leaves no name for a file"])
    place = folder / MASTERS
    for part in list(filter(None, map(safe, folders)))[:MOST_FOLDERS]:
        place = _folder(place, part)
    root = Path(os.path.realpath(folder / MASTERS))
    if not Path(os.path.realpath(place)).is_relative_to(root):
        raise SetupError([f"{place}: leads out of {MASTERS}/"])
    there = _there(place)
    path = place / plain
    taken = there.get(file_key(Path(plain)))
    if taken is None:
        return MasterName(path, None, path)
    return MasterName(path, taken, next(p for p in _others(path) if _key(p) not in there))


def _folder(place: Path, part: str) -> Path:
    """Return a folder by its name, as it is written where it is there; never a file."""
    there = _there(place)
    for path in (place / part, *_first(_others(place / part))):
        found = there.get(_key(path))
        if found is None or found.is_dir():
            return found or path
    raise SetupError([f"{place / part}: a file is called so"])


def _first(paths: Iterator[Path]) -> list[Path]:
    return [next(paths) for _ in range(9)]


def _others(path: Path) -> Iterator[Path]:
    for number in count(2):
        yield path.with_name(_shortened(path.stem, f" {number}{path.suffix}"))


def _there(place: Path) -> dict[str, Path]:
    try:
        return {_key(path): path for path in place.iterdir()}
    except OSError:
        return {}


def _key(path: Path) -> str:
    return file_key(Path(path.name))


def safe(name: str) -> str:
    """Return a name that every system takes and a list can hold, "" where nothing is left."""
    text = unicodedata.normalize("NFC", name)
    kinds = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
    text = "".join("_" if unicodedata.category(c) in kinds else c for c in text)
    # hidden files are no masters; at its end some systems drop these
    text = re.sub(r'[<>:"|?*]', "_", text).lstrip(". ").rstrip(". ")
    text = " ".join(text.split())
    if not text.strip("_"):
        return ""
    stem, dot, rest = text.partition(".")
    if _DEVICE.fullmatch(stem.strip()):
        text = f"{stem.strip()}_{dot}{rest}"
    suffix = Path(text).suffix
    if len(suffix.encode()) > MOST_SUFFIX_BYTES:
        suffix = ""
    return _shortened(text.removesuffix(suffix), suffix)


def _shortened(stem: str, end: str) -> str:
    most = MOST_NAME_BYTES - len(end.encode())
    return stem.encode()[:most].decode(errors="ignore").rstrip(". ") + end
