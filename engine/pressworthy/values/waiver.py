"""A waiver: a person accepts a finding, with reason, name and last day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from pressworthy.values.faults import Origin


class Use(StrEnum):
    """What became of a waiver in a run: no such finding, or not even such a picture, was there."""

    APPLIED = "applied"
    EXPIRED = "expired"
    UNUSED = "unused"
    ASTRAY = "astray"


def accept(finding: str) -> str:
    """Return for a remedy how a person accepts a finding, ``rule/code``."""
    return f"accept it: {finding} in the list's column waive"


@dataclass(frozen=True)
class Waiver:
    """One acceptance. finding: ``rule/code``; an empty `picture` or `page` stands for any.

    picture: the file's path, or what the report calls the picture; until: the last day it counts.
    unknown: what is wrong with its finding, where there is none of that name, see `named`.
    """

    finding: str
    reason: str
    by: str
    until: date
    picture: str = ""
    page: str = ""
    origin: Origin | None = None
    unknown: str = ""

    def acceptance(self) -> str:
        """Return who accepted it until when and why, in one line for a reader."""
        return f"accepted by {self.by} until {self.until.isoformat()}: {self.reason}"


@dataclass(frozen=True)
class WaiverUse:
    """A waiver and what became of it; near: pictures that have its picture's file name."""

    waiver: Waiver
    use: Use
    near: tuple[str, ...] = ()

    def fate(self) -> str:
        """Return what became of it, and what could have been meant, for a reader."""
        fate = {
            Use.APPLIED: "counts",
            Use.EXPIRED: "has expired and counts no more",
            Use.UNUSED: "was not needed",
            Use.ASTRAY: "is for no picture of this run",
        }[self.use]
        waiver = self.waiver
        hint = f" By its file name it fits {' and '.join(self.near)}: write the path."
        if waiver.unknown and self.use is not Use.EXPIRED:
            fate, hint = "is for no finding that there is", f" {waiver.unknown}"
        elif not self.near:
            hint = ""
        what = [waiver.finding, waiver.picture, f"page {waiver.page}" if waiver.page else ""]
        return f"A waiver {fate}: {', '.join(filter(None, what))}; {waiver.acceptance()}.{hint}"
