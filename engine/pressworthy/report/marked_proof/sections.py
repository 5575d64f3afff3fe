"""One house's part of the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pressworthy.colour.lab import D50
from pressworthy.jobs.proofing import Sheet
from pressworthy.print.softproof import paper_off, soft_proof, srgb
from pressworthy.report.marked_proof.glance import Glance, glance
from pressworthy.report.marked_proof.pictures import (
    ShownPicture,
    Source,
    data_uri,
    shown_picture,
    widest_mm,
)
from pressworthy.report.marked_proof.remarks import Marked
from pressworthy.values.condition import Condition


@dataclass(frozen=True)
class Section:
    """One house's part of the page.

    index: of the house on the page; chain: files of its house profile, the nearest first.
    paper: the paper's colour, sRGB 0..255; paper_off: the colour matrix, as an SVG filter wants
    it, that takes the paper's white off.
    source: where the page finds an image.
    pictures: prepared one at a time and let go, since their images are large.
    """

    index: int
    sheet: Sheet
    marked: Sequence[Marked]
    glance: Glance
    paper: tuple[int, int, int]
    paper_off: str
    source: Source = data_uri

    @property
    def house(self) -> str:
        return self.sheet.house.name

    @property
    def about(self) -> str:
        return self.sheet.house.about

    @property
    def chain(self) -> list[str]:
        return [Path(name).name for name in reversed(self.sheet.report.chain)]

    @property
    def press(self) -> str:
        return self.sheet.house.output.condition.sentence()

    @property
    def pictures(self) -> Iterator[ShownPicture]:
        widest = widest_mm(self.sheet.pulls)
        return (
            shown_picture(self.index, self.sheet.house, one, widest, self.source)
            for one in self.marked
        )


def section(
    index: int,
    sheet: Sheet,
    marked: Sequence[Marked],
    preparing: Sequence[str],
    *,
    several_houses: bool,
    source: Source = data_uri,
) -> Section:
    """Return a house's part of the page; preparing: the command that prepares its pictures."""
    condition = sheet.house.output.condition
    return Section(
        index,
        sheet,
        marked,
        glance(sheet, marked, preparing, several_houses=several_houses, source=source),
        paper_of(condition),
        _paper_off(condition),
        source,
    )


def paper_of(condition: Condition) -> tuple[int, int, int]:
    """Return the colour of a condition's paper, sRGB 0..255."""
    red, green, blue = srgb(soft_proof(D50.reshape(1, 1, 3).astype("float32"), condition))[0, 0]
    return int(red), int(green), int(blue)


def _paper_off(condition: Condition) -> str:
    # SVG wants rows of red, green, blue, alpha and an offset
    rows = [*(f"{a:.5f} {b:.5f} {c:.5f} 0 0" for a, b, c in paper_off(condition)), "0 0 0 1 0"]
    return " ".join(rows)
