"""The slip with the switches: what is shown, and which pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from pressworthy.jobs.proofing import Sheet
from pressworthy.report.marked_proof.remarks import WORDS, Marked
from pressworthy.values.report import reading

VIEWS = {
    "supplied": "as supplied",
    "soft": "soft proof",
    "print": "print look",
    "mono": "mono",
}

OPENS = "print"
"""The view that the page opens with, after sharpening; what is printed."""

STATES = ("before", "after")


@dataclass(frozen=True)
class Switches:
    """What the slip offers.

    pictures: how many; kinds: of the marks there are; pages, houses: (value, label) to choose from;
    overlays: those that some picture has; views: label by name; opens: one of them.
    surround: whether pictures can be seen on a neutral gray, as an open sheet offers.
    """

    pictures: int
    kinds: tuple[str, ...]
    pages: tuple[tuple[str, str], ...]
    houses: tuple[tuple[str, str], ...]
    overlays: frozenset[str]
    views: Mapping[str, str] = field(default_factory=lambda: VIEWS)
    opens: str = OPENS
    surround: bool = False


def switches(pictures: Sequence[Marked], sheets: Sequence[Sheet]) -> Switches:
    kinds = {picture.kind for picture in pictures}
    pages = sorted({p.verdict.page for p in pictures if p.verdict.page}, key=reading)
    return Switches(
        pictures=len(pictures),
        kinds=tuple(kind for kind in WORDS if kind in kinds),
        pages=tuple((page, page) for page in pages),
        houses=tuple((str(index), sheet.house.name) for index, sheet in enumerate(sheets)),
        overlays=frozenset(name for picture in pictures for name in picture.pull.overlays),
    )
