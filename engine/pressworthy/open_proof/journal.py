"""The day-book's file: decisions.jsonl, a JSON object a line, only ever added to.

A decision's line is written before any other file is: what was decided, what that does to which
cell and acceptance, and to the bytes of which file, so that a run that was killed can be finished,
or taken back, by anyone who reads it. A second line, ``{"made": ...}``, says that all is written.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from pressworthy.prepare.store import flush_folder
from pressworthy.values.faults import Fault, Origin, SetupError

MOST_BYTES = 200_000_000


@dataclass(frozen=True)
class Place:
    """One line of the picture list: a picture on a page; or a page, whatever stands on it.

    picture: path seen from the issue's folder, with slashes, "" for a page as a whole, of which
    only what is said of its printing is accepted; page: as the list has it, "" for none.
    number: which it is among lines alike in both, from 1.
    """

    picture: str
    page: str = ""
    number: int = 1

    def in_words(self) -> str:
        """Return what it is called towards a person."""
        page = f"page {self.page}" if self.page else ""
        return ", ".join(filter(None, (self.picture, page)))


@dataclass(frozen=True)
class Taken:
    """Who took a decision back, and when (ISO 8601 with its zone)."""

    by: str
    at: str


@dataclass(frozen=True)
class Decision:
    """What a person decided.

    kind: one of `decisions.KINDS`; places: the lines it is for, several where a delivery is decided
    at once, none where it is for the whole issue. fields: the list's or a waiver's field -> text,
    "" to empty it. by: who; at: when, ISO 8601 with its zone.
    identity: its name in the day-book, "" before it is made; taken_back: None while it stands.
    """

    kind: str
    places: tuple[Place, ...] = ()
    fields: Mapping[str, str] = field(default_factory=dict)
    by: str = ""
    at: str = ""
    identity: str = ""
    taken_back: Taken | None = None


@dataclass(frozen=True)
class Change:
    """A file's bytes before and after; None where there is no such file.

    file: what the day-book calls it, "" for its name.
    """

    path: Path
    before: bytes | None
    after: bytes | None
    file: str = ""


@dataclass(frozen=True)
class Rewritten:
    """A cell of the list: the place as it is afterwards; the cell as written before and after."""

    place: Place
    field: str
    before: str
    after: str


@dataclass(frozen=True)
class Effect:
    """What a decision does, so that it can be told and taken back one by one.

    lines: added to the list; columns: added at its right; of a decision taken back, those that went
    again. accepted, withdrawn: fields of waivers. moved: the place before and afterwards, of lines
    that change their page.
    """

    cells: tuple[Rewritten, ...] = ()
    lines: tuple[Place, ...] = ()
    columns: tuple[str, ...] = ()
    accepted: tuple[Mapping[str, str], ...] = ()
    withdrawn: tuple[Mapping[str, str], ...] = ()
    moved: tuple[tuple[Place, Place], ...] = ()


@dataclass(frozen=True)
class Patch:
    """What becomes of a file's text: from character `start` on, `gone` makes room for `come`.

    before, after: SHA-256 of the whole file, "" where there is none.
    """

    file: str
    before: str
    after: str
    start: int
    gone: str
    come: str

    def forth(self, before: bytes | None) -> bytes | None:
        """Return the file as it is afterwards."""
        return _spliced(before, self.start, self.gone, self.come) if self.after else None

    def back(self, after: bytes | None) -> bytes | None:
        """Return the file as it was before."""
        return _spliced(after, self.start, self.come, self.gone) if self.before else None


@dataclass(frozen=True)
class Record:
    """One line of the day-book: a decision, or that one is taken back.

    takes_back: identity of that one, "" for a decision. state: "made", "dropped" where it came to
    nothing, or "" where a killed run has left it unfinished.
    """

    decision: Decision
    effect: Effect
    patches: tuple[Patch, ...]
    takes_back: str = ""
    state: str = ""


class Overtaken(SetupError):  # noqa: N818 - what befell a decision
    """Others changed what a decision is about since its maker last saw it; the message tells how.

    since: their decisions, and what was taken back; none where it was changed by hand.
    """

    def __init__(self, told: Iterable[str], since: Iterable[Record] = ()) -> None:
        super().__init__(told)
        self.since = tuple(since)


def digest(raw: bytes | None) -> str:
    """Return the SHA-256 of a file's bytes, "" where there is no file."""
    return "" if raw is None else hashlib.sha256(raw).hexdigest()


def patch_of(change: Change) -> Patch:
    """Return a change of a UTF-8 file as what differs."""
    before, after = (_text(raw) for raw in (change.before, change.after))
    start = _alike(before, after)
    rest = before[start:], after[start:]
    same = _alike(*(part[::-1] for part in rest))
    gone, come = (part[: len(part) - same] for part in rest)
    name = change.file or change.path.name
    return Patch(name, digest(change.before), digest(change.after), start, gone, come)


def _alike(one: str, other: str) -> int:
    """Return how many characters two texts begin with alike."""
    return next(
        (n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b),
        min(len(one), len(other)),
    )


def line_of(record: Record) -> str:
    """Return a record as its line of the day-book."""
    decision = record.decision
    head: dict[str, Any] = {
        "takes back" if record.takes_back else "decides": record.takes_back or decision.kind,
        "identity": decision.identity,
        "by": decision.by,
        "at": decision.at,
    }
    if not record.takes_back:
        head["places"] = [asdict(place) for place in decision.places]
        head["fields"] = dict(decision.fields)
    head["effect"] = {key: value for key, value in asdict(record.effect).items() if value}
    head["files"] = [asdict(patch) for patch in record.patches]
    return _json(head)


def end_of(record: Record, state: str) -> str:
    """Return the line that says what became of a record: it is made, or dropped."""
    return _json({state: record.decision.identity})


def append(path: Path, line: str) -> None:
    """Add a line to the day-book and see it to the disk. Raises OSError; then nothing is added."""
    is_new = not path.exists()
    with path.open("ab") as stream:
        size = stream.tell()
        try:
            stream.write(line.encode() + b"\n")
            stream.flush()
            os.fsync(stream.fileno())
        except OSError:
            stream.truncate(size)
            raise
    if is_new:
        flush_folder(path.parent)


def mended(raw: bytes) -> bytes:
    """Return the day-book without a last line that a killed run wrote half, and with its end.

    Nobody was told that such a line was made.
    """
    whole, _, last = raw.rpartition(b"\n")
    if not last:
        return raw
    try:
        json.loads(last)
    except ValueError:
        return whole + b"\n" if whole else b""
    return raw + b"\n"


def records(raw: bytes, file: str) -> tuple[list[Record], list[Fault]]:
    """Return the records in the day-book, oldest first, and what is wrong with other lines.

    file: its name, for the faults.
    """
    found: dict[str, Record] = {}
    faults = []
    for number, line in enumerate(mended(raw).split(b"\n"), 1):
        if not line.strip():
            continue
        try:
            said = json.loads(line)
            for state in ("made", "dropped"):
                if state in said:
                    found[said[state]] = replace(found[said[state]], state=state)
                    break
            else:
                record = _record(said)
                found[record.decision.identity] = record
        except (ValueError, KeyError, TypeError, AttributeError):
            message = "no line of a day-book; mend it, or move the file elsewhere"
            faults.append(Fault(Origin(file, number), (), message))
    return list(found.values()), faults


def decisions(day_book: Iterable[Record]) -> tuple[Decision, ...]:
    """Return the decisions that were made, oldest first, with what was taken back."""
    made: dict[str, Decision] = {}
    for record in day_book:
        if record.state != "made":
            continue
        if record.takes_back in made:
            taken = Taken(record.decision.by, record.decision.at)
            made[record.takes_back] = replace(made[record.takes_back], taken_back=taken)
        elif not record.takes_back:
            made[record.decision.identity] = record.decision
    return tuple(made.values())


def _record(said: Mapping[str, Any]) -> Record:
    effect, takes_back = said["effect"], str(said.get("takes back", ""))
    decision = Decision(
        kind="" if takes_back else str(said["decides"]),
        places=tuple(Place(**place) for place in said.get("places", ())),
        fields={str(key): str(value) for key, value in said.get("fields", {}).items()},
        by=str(said["by"]),
        at=str(said["at"]),
        identity=str(said["identity"]),
    )
    cells = (
        Rewritten(**{**cell, "place": Place(**cell["place"])}) for cell in _of(effect, "cells")
    )
    moved = ((Place(**old), Place(**new)) for old, new in _of(effect, "moved"))
    done = Effect(
        tuple(cells),
        tuple(Place(**place) for place in _of(effect, "lines")),
        tuple(map(str, _of(effect, "columns"))),
        tuple(map(dict, _of(effect, "accepted"))),
        tuple(map(dict, _of(effect, "withdrawn"))),
        tuple(moved),
    )
    patches = tuple(Patch(**patch) for patch in said["files"])
    return Record(decision, done, patches, takes_back)


def _of(effect: Mapping[str, Any], name: str) -> Sequence[Any]:
    found = effect.get(name, [])
    if not isinstance(found, list):
        raise TypeError(name)
    return found


def _spliced(raw: bytes | None, start: int, gone: str, come: str) -> bytes:
    text = _text(raw)
    return (text[:start] + come + text[start + len(gone) :]).encode()


def _text(raw: bytes | None) -> str:
    return (raw or b"").decode()


def _json(value: Mapping[str, Any]) -> str:
    # ASCII, as no file name and no line end in a text may spoil a line
    return json.dumps(value, ensure_ascii=True)
