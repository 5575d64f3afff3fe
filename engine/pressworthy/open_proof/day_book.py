"""Decisions made and taken back: into the day-book first, then into each file, whole or not."""

from __future__ import annotations

from pathlib import Path

from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.journal import Decision
from pressworthy.plugins import Registry
from pressworthy.values.faults import SetupError


class Overtaken(SetupError):
    """Others changed what a decision is about since its maker last saw it; the message tells how.

    since: their decisions; none where it was changed by hand.
    """

    since: tuple[Decision, ...] = ()


def opened(folder: Path, registry: Registry, house_folder: Path | None = None) -> Issue:
    """Return the issue, a decision that a killed run left unfinished finished or rolled back.

    To be called once, before `read_issue`.
    """
    raise NotImplementedError


def decide(
    folder: Path,
    decision: Decision,
    registry: Registry,
    seen: str,
    house_folder: Path | None = None,
) -> Issue:
    """Make a decision and return the issue as it then is; the decision is its last.

    seen: the stamp of the issue that the person decided by. `at` is now where the decision has
    none. When this returns the decision is on the disk. Raises SetupError, Overtaken where others
    changed the same cell or acceptance since.
    """
    raise NotImplementedError


def take_back(
    folder: Path,
    identity: str,
    by: str,
    registry: Registry,
    house_folder: Path | None = None,
) -> Issue:
    """Take a decision back and return the issue as it then is.

    Raises SetupError where there is no such decision or it is taken back already; Overtaken where
    later decisions or hands changed what it had written.
    """
    raise NotImplementedError


def name_of(issue: Issue) -> str:
    """Return who decided last, to be offered to the next who decides; "" before the first."""
    return next((one.by for one in reversed(issue.decisions) if one.by), "")
