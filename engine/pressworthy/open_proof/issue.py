"""The state of an issue: a value read from its folder, nothing else is state."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pressworthy.files.picture_list import Entry
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.plugins import Registry
from pressworthy.values.faults import Fault
from pressworthy.values.waiver import Waiver

LIST, WAIVERS, DAY_BOOK = "issue.csv", "waivers.yaml", "decisions.jsonl"
MASTERS, COPIES, PROOF = "masters", "copies", "proof"


@dataclass(frozen=True)
class Issue:
    """The state of an issue.

    title: the house profile that its list names, as written there; "" where none or several are.
    entries: the list's lines; waivers: those of waivers.yaml, then those of the list's lines, as
    the commands have them. decisions: the day-book, oldest first, with what was taken back.
    unlisted: masters without a line. faults: what is wrong in files that cannot be read as they
    are; nothing is written over these. stamp: digests of all that the state was read from, equal
    where nothing has changed.
    """

    folder: Path
    title: str
    entries: tuple[Entry, ...]
    waivers: tuple[Waiver, ...]
    decisions: tuple[Decision, ...]
    unlisted: tuple[Path, ...]
    faults: tuple[Fault, ...]
    stamp: str

    def places(self) -> tuple[Place, ...]:
        """Return the place of each entry, in their order."""
        raise NotImplementedError


def read_issue(folder: Path, registry: Registry, house_folder: Path | None = None) -> Issue:
    """Return the state of the issue in the folder, whatever stands in its files. Writes nothing."""
    raise NotImplementedError
