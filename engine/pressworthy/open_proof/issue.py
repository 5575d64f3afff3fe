"""The state of an issue: a value read from its folder, nothing else is state."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from pressworthy import jobs
from pressworthy.files.formats import PICTURES, nature
from pressworthy.files.intake import walk
from pressworthy.files.picture_list import MOST_LIST_BYTES, Entry, read_list
from pressworthy.files.waivers import named, read_waivers
from pressworthy.house import load_house
from pressworthy.open_proof.journal import (
    MOST_BYTES,
    Decision,
    Place,
    Record,
    decisions,
    digest,
    records,
)
from pressworthy.plugins import Registry
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.waiver import Waiver
from pressworthy.yamlfile import MOST_YAML_BYTES, is_there

LIST, WAIVERS, DAY_BOOK = "issue.csv", "waivers.yaml", "decisions.jsonl"
MASTERS, COPIES, PROOF = "masters", "copies", "proof"
OTHER_LISTS = ("issue.yaml", "issue.yml", "issue.xlsx")
"""Lists that are read where there is no issue.csv, and not written in."""
SUFFIXES = (
    ".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".avif", ".jp2", ".jxl",
)  # fmt: skip
"""What a file at the top of the folder, among lists and reports, is taken for a master by."""


@dataclass(frozen=True)
class Issue:
    """The state of an issue.

    title: the house profile that its list names, as written there; "" where none or several are.
    entries: the list's lines; waivers: those of waivers.yaml, then those of the list's lines, as
    the commands have them. decisions: the day-book, oldest first, with what was taken back.
    unlisted: masters without a line, "" where the list cannot be read. faults: what is wrong in
    files that cannot be read as they are; nothing is written over these. stamp: digests of all that
    the state was read from, equal where nothing has changed.
    files: name -> bytes of the list, waivers and day-book that may be written in; None for one that
    is not there yet. day_book: its lines.
    """

    folder: Path
    title: str
    entries: tuple[Entry, ...]
    waivers: tuple[Waiver, ...]
    decisions: tuple[Decision, ...]
    unlisted: tuple[Path, ...]
    faults: tuple[Fault, ...]
    stamp: str
    files: Mapping[str, bytes | None] = field(repr=False)
    day_book: tuple[Record, ...] = field(repr=False)

    def places(self) -> tuple[Place, ...]:
        """Return the place of each entry, in their order."""
        return places_of(self.folder, self.entries)


def read_issue(folder: Path, registry: Registry, house_folder: Path | None = None) -> Issue:
    """Return the state of the issue in the folder, whatever stands in its files. Writes nothing.

    house_folder: the publisher's own house profiles. What is wrong in a profile that the list names
    is among the faults. Raises SetupError where there is no folder.
    """
    issue = as_it_stands(folder, registry)
    titles = dict.fromkeys(entry.house for entry in issue.entries if entry.house)
    wrong = _house_faults(titles, registry, house_folder)
    return replace(issue, faults=(*issue.faults, *wrong))


def as_it_stands(folder: Path, registry: Registry) -> Issue:
    """Return the state of the issue, its house profiles not looked at."""
    if not os.path.isdir(folder):  # noqa: PTH112 - Path.is_dir() raises where a name is too long
        raise SetupError([f"{folder}: no such folder"])
    faults: list[Fault] = []
    raws = _raws(folder, faults)
    files = dict(raws)
    entries, listed = _entries(folder, files, faults)
    waivers = _waivers(folder, files, faults)
    day_book = _day_book(folder, files, faults)
    waivers += [waiver for entry in entries for waiver in entry.waivers]
    codes = {name: tuple(rule.codes) for name, rule in registry.rules.items()}
    codes |= {jobs.LIST: jobs.LIST_CODES, "prepare": ()}
    titles = list(dict.fromkeys(entry.house for entry in entries if entry.house))
    try:
        masters = list(_masters(folder))
    except OSError as error:
        raise SetupError([f"{folder}: cannot be read: {error.strerror}"]) from None
    known = {os.path.realpath(entry.path) for entry in entries}
    unlisted = [path for path in masters if os.path.realpath(path) not in known]
    return Issue(
        folder,
        _as_written(folder, titles[0]) if len(titles) == 1 else "",
        entries,
        tuple(named(waivers, codes)),
        decisions(day_book),
        tuple(unlisted) if listed else (),
        tuple(faults),
        _stamp(folder, raws, masters, entries),
        files,
        tuple(day_book),
    )


def places_of(folder: Path, entries: Iterable[Entry]) -> tuple[Place, ...]:
    """Return the place of each line of the list, in their order."""
    count: dict[tuple[str, str], int] = {}
    found = []
    for entry in entries:
        key = seen_from(folder, entry.path), entry.request.page
        count[key] = count.get(key, 0) + 1
        found.append(Place(*key, count[key]))
    return tuple(found)


def seen_from(folder: Path, path: Path) -> str:
    """Return the path of a picture as seen from the folder, with slashes."""
    return Path(os.path.relpath(path, folder)).as_posix()


def _as_written(folder: Path, house: str) -> str:
    return seen_from(folder, Path(house)) if house.endswith((".yaml", ".yml")) else house


def _raws(folder: Path, faults: list[Fault]) -> dict[str, bytes | None]:
    """Return name -> bytes of the files that can be read, None for one that is not there."""
    raws: dict[str, bytes | None] = {}
    for name, most in ((LIST, MOST_LIST_BYTES), (WAIVERS, MOST_YAML_BYTES), (DAY_BOOK, MOST_BYTES)):
        path = folder / name
        try:
            with path.open("rb") as stream:
                # one more than may be, which the file's reader then tells
                raws[name] = stream.read(most + 1)
        except FileNotFoundError:
            raws[name] = None
        except OSError as error:
            faults.append(Fault(None, (), f"{path}: cannot be read: {error.strerror}"))
    return raws


def _entries(
    folder: Path, files: dict[str, bytes | None], faults: list[Fault]
) -> tuple[tuple[Entry, ...], bool]:
    """Return the list's lines, and whether it could be read; one that could not leaves `files`."""
    if LIST not in files:
        return (), False
    try:
        # a file without a byte is as good as none
        if raw := files[LIST]:
            return read_list(folder / LIST, raw=raw, may_be_empty=True), True
        for name in OTHER_LISTS:
            if is_there(folder / name):
                del files[LIST]
                return read_list(folder / name), True
    except SetupError as error:
        faults += error.faults
        files.pop(LIST, None)
        return (), False
    return (), True


def _waivers(folder: Path, files: dict[str, bytes | None], faults: list[Fault]) -> list[Waiver]:
    try:
        raw = files.get(WAIVERS)
        return list(read_waivers(folder / WAIVERS, raw)) if raw else []
    except SetupError as error:
        faults += error.faults
        del files[WAIVERS]
        return []


def _day_book(folder: Path, files: dict[str, bytes | None], faults: list[Fault]) -> list[Record]:
    found, wrong = records(files.get(DAY_BOOK) or b"", str(folder / DAY_BOOK))
    if wrong:
        faults += wrong
        del files[DAY_BOOK]
    return found


def _house_faults(
    titles: Iterable[str], registry: Registry, house_folder: Path | None
) -> Iterator[Fault]:
    for title in titles:
        try:
            load_house(title, registry, house_folder)
        except SetupError as error:
            yield Fault(None, (), f"the list names the house {title!r}")
            yield from error.faults


def _masters(folder: Path) -> Iterator[Path]:
    """Yield the files below masters/, and the pictures at the folder's top."""
    if is_there(folder / MASTERS):
        yield from walk([folder / MASTERS])
    for path in sorted(folder.iterdir()):
        if path.name.startswith(".") or not path.is_file():
            continue
        if path.suffix.lower() in SUFFIXES or nature(path) in PICTURES:
            yield path


def _stamp(
    folder: Path,
    raws: Mapping[str, bytes | None],
    masters: list[Path],
    entries: tuple[Entry, ...],
) -> str:
    """Return digests of list, waivers, day-book and pictures, with full stops between."""
    parts = [digest(raws[name]) if name in raws else "x" for name in (LIST, WAIVERS, DAY_BOOK)]
    others = (folder / name for name in OTHER_LISTS)
    looks = []
    for path in dict.fromkeys([*masters, *others, *(entry.path for entry in entries)]):
        try:
            facts = path.stat()
            looks.append(f"{path} {facts.st_size} {facts.st_mtime_ns}")
        except (OSError, ValueError):
            looks.append(str(path))
    parts.append(digest("\n".join(looks).encode("utf-8", "surrogateescape")))
    return ".".join(part[:16] for part in parts)


def stamped(stamp: str) -> dict[str, str]:
    """Return name -> the beginning of the digest that a stamp holds of list and waivers."""
    return dict(zip((LIST, WAIVERS), stamp.split("."), strict=False))
