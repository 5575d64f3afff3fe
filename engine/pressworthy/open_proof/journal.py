"""The day-book's file: decisions.jsonl, a JSON object a line, only ever added to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class Place:
    """One line of the picture list: a picture on a page.

    picture: path seen from the issue's folder, with slashes; page: as the list has it, "" for none.
    number: which it is among lines alike in both, from 1.
    """

    picture: str
    page: str = ""
    number: int = 1


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
    """A file's bytes before and after; None where there is no such file."""

    path: Path
    before: bytes | None
    after: bytes | None
