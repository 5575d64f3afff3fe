"""One picture as the page shows it: its images as data, its figures as words."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import DOTS_MM, Pull
from pressworthy.report.marked_proof.plots import (
    TonesPlot,
    TransfersPlot,
    tones_plot,
    transfers_plot,
)
from pressworthy.report.marked_proof.remarks import Marked, Remark
from pressworthy.report.marked_proof.slip import STATES, VIEWS
from pressworthy.values.finding import Verdict
from pressworthy.values.units import figure


@dataclass(frozen=True)
class View:
    """One image of the plate.

    source: data URI; serves: the positions of the switches that show it, as ``view-state``.
    """

    source: str
    label: str
    as_supplied: bool
    serves: tuple[str, ...]


@dataclass(frozen=True)
class Plate:
    """The picture itself.

    share: its width in % of the bench; width, height: px of its images; overlays: data URI by
    name; trim: the line at which the page is cut, as CSS writes an inset, "" where nothing bleeds.
    """

    share: str
    width: int
    height: int
    views: tuple[View, ...]
    overlays: Mapping[str, str]
    trim: str


@dataclass(frozen=True)
class CloseUp:
    """A close-up; kind: ``read`` or ``dots``; halves: (label, data URI)."""

    kind: str
    width_mm: str
    height_mm: str
    caption: str
    halves: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Copy:
    """The prepared copy, or the print where none is made; figures: (figure, what it is of)."""

    figures: tuple[tuple[str, str], ...]
    steps: tuple[str, ...]


@dataclass(frozen=True)
class ShownPicture:
    """One picture as the page shows it.

    number: in the whole proof; kind: of its weightiest remark; house_index: on the page; facts:
    of the file and its place. What is None or empty is not shown.
    why_no_copy: without a plate, the reason why nothing is shown.
    """

    number: int
    name: str
    kind: str
    page: str
    house_index: int
    facts: tuple[str, ...]
    plate: Plate | None
    caption: str
    credit: str
    why_no_copy: str
    remarks: tuple[Remark, ...]
    close_ups: tuple[CloseUp, ...]
    tones: TonesPlot | None
    transfers: TransfersPlot | None
    copy: Copy | None


def widest_mm(sheet: Sheet) -> float:
    """Return the width that all pictures of a house are drawn in proportion to, 0 for none."""
    return max((pull.mm[0] for pull in sheet.pulls if pull.mm), default=0.0)


def shown_picture(house_index: int, sheet: Sheet, picture: Marked, widest: float) -> ShownPicture:
    """Return a picture with all that the page shows of it; widest: as `widest_mm` gives it."""
    pull = picture.pull
    return ShownPicture(
        number=picture.number,
        name=picture.name,
        kind=picture.kind,
        page=picture.verdict.page,
        house_index=house_index,
        facts=tuple(_facts(picture.verdict)),
        plate=_plate(pull, widest) if pull.views else None,
        caption=pull.caption,
        credit=pull.credit,
        why_no_copy=pull.why,
        remarks=picture.remarks,
        close_ups=tuple(_close_ups(pull)),
        tones=tones_plot(pull, sheet.house) if pull.tones else None,
        transfers=transfers_plot(pull.plain, pull.sharp) if pull.sharp and pull.plain else None,
        copy=_copy(pull, sheet),
    )


def serving(pull: Pull, view: str, state: str) -> str:
    """Return the name of the picture that stands for a view, the nearest one where it has none."""
    suffix = "-before" if state == "before" else ""
    wanted = [f"{view}{suffix}", view, f"soft{suffix}", "soft", "supplied"]
    return next(name for name in (*wanted, *pull.views) if name in pull.views)


def _facts(verdict: Verdict) -> Iterator[str]:
    facts = verdict.facts
    if verdict.page:
        yield f"page {verdict.page}"
    if verdict.placement:
        yield verdict.placement
    if "width" in facts:
        yield f"{facts['width']} × {facts['height']} px"
        yield f"{facts['mode']} {facts['format']}, ICC profile: {facts['icc']}"


def _plate(pull: Pull, widest: float) -> Plate:
    share = pull.mm[0] / widest * 100 if pull.mm and widest else 50.0
    width, height = pull.size
    serves: dict[str, list[str]] = {name: [] for name in pull.views}
    for view in VIEWS:
        for state in STATES:
            serves[serving(pull, view, state)].append(f"{view}-{state}")
    views = tuple(
        View(_uri(data), _label(name), name == "supplied", tuple(serves[name]))
        for name, data in pull.views.items()
        if serves[name]
    )
    overlays = {name: _uri(data) for name, data in pull.overlays.items()}
    return Plate(f"{share:.2f}", width, height, views, overlays, _trim(pull))


def _label(name: str) -> str:
    view, _, before = name.partition("-")
    return VIEWS[view] + (", before sharpening" if before else "")


def _trim(pull: Pull) -> str:
    if not pull.mm or not any(pull.bleed):
        return ""
    width, height = pull.mm
    top, right, bottom, left = pull.bleed
    inset = (top / height, right / width, bottom / height, left / width)
    return " ".join(f"{share * 100:.2f}%" for share in inset)


def _close_ups(pull: Pull) -> Iterator[CloseUp]:
    if not pull.close or pull.close_mm is None:
        return
    across, down = pull.close_mm
    captions = {"read": "the sharpest part, pixel for pixel"}
    if "dots" in pull.close:
        wide = min(DOTS_MM[0], across)
        times = figure(across / wide)
        captions = {
            "read": f"{figure(across)} × {figure(down, 'mm')} of the page at its true size, "
            "as read",
            "dots": f"{figure(wide, 'mm')} of its middle, dot by dot, ×{times}",
        }
    for kind, caption in captions.items():
        halves = tuple(
            (label, _uri(pull.close[name]))
            for name, label in ((f"{kind}-before", "before"), (kind, "sharpened"))
            if name in pull.close
        )
        yield CloseUp(kind, f"{across:.2f}", f"{down:.2f}", caption, halves)


def _copy(pull: Pull, sheet: Sheet) -> Copy | None:
    figures = []
    limit = sheet.house.output.condition.values.get("ink limit")
    if pull.most_ink is not None:
        allowed = f" of {figure(limit, '%')} allowed" if limit else ""
        figures.append((figure(pull.most_ink, "%"), f"most ink{allowed}"))
    if pull.colours_moved is not None and pull.moved_by is not None:
        figures.append(_beyond_output(pull.colours_moved, pull.moved_by))
    return Copy(tuple(figures), pull.steps) if figures or pull.steps else None


def _beyond_output(share: float, bound: float) -> tuple[str, str]:
    """Return the share of a picture, and what is said of it. bound: dE00."""
    return (
        f"{share:.1%}",
        f"of the picture is beyond the output's colours, by more than {bound:g} dE00",
    )


def _uri(data: bytes) -> str:
    kind = (
        "png" if data.startswith(b"\x89PNG") else "jpeg" if data.startswith(b"\xff\xd8") else "avif"
    )
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"
