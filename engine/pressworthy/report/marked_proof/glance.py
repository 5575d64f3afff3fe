"""One house's pictures at a glance: how many of which kind, what to do first, the plan."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pressworthy.jobs.proofing import Sheet
from pressworthy.report.marked_proof.pictures import Source, data_uri
from pressworthy.report.marked_proof.remarks import Marked, Remark, spaced

MOST_TO_DO = 8


@dataclass(frozen=True)
class Preparing:
    """What preparing puts right: so many of so many remarks.

    command: its words, as a shell takes them; none where it is not known.
    """

    mended: int
    remarks: int
    command: tuple[str, ...]


@dataclass(frozen=True)
class Matter:
    """One thing to do, for all pictures that it is for, by number.

    remedy: "" where it differs from picture to picture, as it does where it names figures.
    """

    kind: str
    what: str
    unmeasured: bool
    remedy: str
    pictures: tuple[int, ...]


@dataclass(frozen=True)
class Box:
    """A picture on the plan.

    small: its address, "" where it cannot be shown; across, down: its size, of the widest one's
    width.
    """

    number: int
    name: str
    page: str
    kind: str
    small: str
    across: str
    down: str


@dataclass(frozen=True)
class Glance:
    """One house's pictures at a glance.

    several_houses: it is not alone on the page; counts: as `Report.counts` gives them; accepted:
    pictures with something accepted; rules_left_out: (rule, reason).
    further_matters: how many there are beyond those given.
    """

    house: str
    several_houses: bool
    pictures: int
    counts: Mapping[str, int]
    accepted: int
    output: str
    rules_left_out: tuple[tuple[str, str], ...]
    preparing: Preparing | None
    matters: tuple[Matter, ...]
    further_matters: int
    boxes: tuple[Box, ...]


def glance(
    sheet: Sheet,
    pictures: Sequence[Marked],
    command: Sequence[str],
    *,
    several_houses: bool,
    source: Source = data_uri,
) -> Glance:
    """Return one house's pictures at a glance; command: the words that prepare them."""
    report = sheet.report
    preparing = _preparing(pictures, command)
    matters = _matters(pictures)
    room = MOST_TO_DO - bool(preparing)
    return Glance(
        house=report.house,
        several_houses=several_houses,
        pictures=len(pictures),
        counts=report.counts(),
        accepted=sum(any(r.kind == "waived" for r in picture.remarks) for picture in pictures),
        output=report.output,
        rules_left_out=tuple((spaced(rule), reason) for rule, reason in report.left_out.items()),
        preparing=preparing,
        matters=tuple(matters[:room]),
        further_matters=max(len(matters) - room, 0),
        boxes=tuple(_plan(pictures, source)),
    )


def _preparing(pictures: Sequence[Marked], command: Sequence[str]) -> Preparing | None:
    remarks = [remark for picture in pictures for remark in picture.remarks]
    mended = sum(remark.mended for remark in remarks)
    if not mended:
        return None
    return Preparing(mended, len(remarks), tuple(map(shlex.quote, command)))


def _matters(pictures: Sequence[Marked]) -> list[Matter]:
    """Return what preparing does not put right, by weight, then by how many remarks say it."""
    groups: dict[tuple[str, str], list[tuple[Marked, Remark]]] = {}
    for picture in pictures:
        for remark in picture.remarks:
            if not remark.mended and remark.kind != "waived":
                groups.setdefault((remark.kind, remark.what), []).append((picture, remark))
    weights = {"stop": 0, "unjudged": 1, "query": 2, "note": 3}
    ranked = sorted(groups.items(), key=lambda item: (weights[item[0][0]], -len(item[1])))
    return [
        Matter(
            kind,
            what,
            not members[0][1].limit,
            _shared(remark.remedy for _, remark in members),
            tuple(dict.fromkeys(picture.number for picture, _ in members)),
        )
        for (kind, what), members in ranked
    ]


def _shared(remedies: Iterable[str]) -> str:
    """Return the remedy that all have, "" where they differ."""
    different = set(remedies)
    return different.pop() if len(different) == 1 else ""


def _plan(pictures: Sequence[Marked], source: Source) -> Iterator[Box]:
    widest = max((p.pull.mm[0] for p in pictures if p.pull.mm), default=100.0)
    for picture in pictures:
        size = [f"{mm / widest:.3f}" for mm in picture.pull.mm or (widest / 3, widest / 4)]
        page = picture.verdict.page
        small = source(picture.pull.small) if picture.pull.small else ""
        yield Box(picture.number, picture.name, page, picture.kind, small, *size)
