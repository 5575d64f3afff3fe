"""The house standard as a book: what its page shows, as values."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pressworthy import __version__
from pressworthy.house import in_effect, list_houses
from pressworthy.house.sentences import Section, told
from pressworthy.open_proof import day_book, sheet, standards
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.journal import digest
from pressworthy.values.faults import KeyPath, Origin, SetupError
from pressworthy.yamlfile import Document, read

PATH = " / "
"""Between the keys of a path, as a fault writes it."""


@dataclass(frozen=True)
class Profile:
    """A house profile that can be read here.

    id: its name towards the browser; kind: title, output or standard; own: the house's own, to be
    written in. used: pictures of this issue stand on it.
    """

    id: str
    file: Path
    name: str
    kind: str
    about: str
    own: bool
    used: bool = False


def profiles(desk: Desk) -> dict[str, Profile]:
    """Return id -> the house profiles that there are: titles first, the built-in ones last."""
    used = {Path(file).resolve() for house in desk.houses() for file in house.chain}
    found: dict[Path, Document] = {}
    for document in _documents(desk):
        found.setdefault(Path(document.file).resolve(), document)
    made = []
    for path, document in found.items():
        value, file = document.value, Path(document.file)
        own = standards.written_in(file, desk.folder, desk.house_folder)
        about = str(value.get("about") or value.get("publisher") or "")
        kind = str(value.get("kind", ""))
        made.append(Profile(_id(path), file, file.stem, kind, about, own, path in used))
    order = ("title", "output", "standard")
    made = [one for one in made if one.kind in order]
    made.sort(key=lambda one: (not one.used, not one.own, order.index(one.kind), one.name))
    return {one.id: one for one in made}


def _documents(desk: Desk) -> Iterator[Document]:
    yield from list_houses(desk.registry, desk.house_folder)
    yield from standards.in_issue(desk.folder, desk.house_folder)
    for house in desk.houses():
        yield from (read(Path(file)) for file in house.chain)


def _id(path: Path) -> str:
    return hashlib.sha256(str(path).encode("utf-8", "surrogateescape")).hexdigest()[:12]


def first(desk: Desk) -> Profile | None:
    """Return the profile that most concerns this issue: that of its first house."""
    known = {one.file.resolve(): one for one in profiles(desk).values()}
    houses = desk.houses()
    if houses:
        return known.get(Path(houses[0].chain[-1]).resolve())
    return next(iter(known.values()), None)


def page(desk: Desk, profile: Profile) -> str:
    """Return the page of a house profile."""
    return sheet.fragment("book", **_values(desk, profile))


def _values(desk: Desk, profile: Profile) -> dict[str, object]:
    there = profiles(desk)
    ids = {one.file.resolve(): one.id for one in there.values()}
    faults: tuple[str, ...] = ()
    merged = Document(str(profile.file))
    chain: list[Document] = []
    sections: list[Section] = []
    try:
        merged, chain = in_effect(str(profile.file), desk.registry, desk.house_folder)
        sections = list(told(merged, chain, desk.registry.rules))
    except SetupError as error:
        faults = tuple(str(fault) for fault in error.faults)
    value = merged.value
    decisions = [one for one in sheet.told(desk) if one.decision.kind in standards.KINDS]
    return {
        "version": __version__,
        "profile": profile,
        "publisher": str(value.get("publisher", "")),
        "about": str(value.get("about", "")),
        "above": [
            (ids.get(Path(one.file).resolve(), ""), source(one.file, desk))
            for one in reversed(chain[:-1])
        ],
        "profiles": list(there.values()),
        "sections": sections,
        "faults": faults,
        "seen": seen(profile.file),
        "by": day_book.name_of(desk.issue),
        "folder": desk.folder.resolve().name,
        "decisions": decisions,
        "turn": desk.turn,
        "stamp": desk.issue.stamp,
        "can_start_standard": not any(one.own and one.kind == "standard" for one in there.values()),
        "parents": [one for one in there.values() if one.kind in ("output", "title")],
        "place": lambda origin: place(origin, desk),
        "path": lambda path: PATH.join(map(str, path)),
    }


def seen(file: Path) -> str:
    """Return what tells one state of a profile's file from another."""
    try:
        return digest(file.read_bytes())[:16]
    except OSError:
        return ""


def source(file: str, desk: Desk) -> str:
    """Return what a profile's file is called: those that came with the program are told apart."""
    path = Path(file)
    built_in = path.resolve().parent in {one.resolve() for one in desk.registry.house_folders}
    return f"the built-in {path.name}" if built_in else path.name


def place(origin: Origin | None, desk: Desk) -> str:
    """Return where a value was set."""
    return f"{source(origin.file, desk)}, line {origin.line}" if origin else ""


def keys(text: str) -> KeyPath:
    """Return the path of a value, as the page writes it."""
    return tuple(text.split(PATH))


def mistakes(error: SetupError, path: KeyPath) -> list[str]:
    """Return what is wrong with a value, in the words of `house validate`.

    What is said of the value itself or of its section needs neither place nor path beside it.
    """
    told_of: dict[str, None] = {}
    for fault in error.faults:
        near = fault.path and path[: len(fault.path)] == fault.path
        mine = fault.path[: len(path)] == path if path else False
        told_of[fault.message if near or mine else str(fault)] = None
    return list(told_of)


def by_name(there: Mapping[str, Profile], name: str) -> Profile | None:
    """Return the house's own profile of that name."""
    return next((one for one in there.values() if one.own and one.name == name), None)
