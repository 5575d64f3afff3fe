"""One picture as the page shows it: its images as data, its figures as words."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pressworthy.house import House
from pressworthy.jobs.pull import DOTS_MM, SCREEN_PPI, Pull
from pressworthy.print.eye import mm_per_degree
from pressworthy.report.marked_proof.environment import Encoded
from pressworthy.report.marked_proof.plots import (
    TonesPlot,
    TransfersPlot,
    tones_plot,
    transfers_plot,
)
from pressworthy.report.marked_proof.remarks import Marked, Remark
from pressworthy.report.marked_proof.slip import STATES, VIEWS
from pressworthy.values.finding import Verdict
from pressworthy.values.units import MM_PER_INCH, figure

Source = Callable[[bytes], str]
"""Returns the address at which a page finds an image's bytes."""


@dataclass(frozen=True)
class View:
    """One image of the plate, for the screen.

    source: its address; serves: the positions of the switches that show it, as ``view-state``.
    """

    source: str
    label: str
    as_supplied: bool
    serves: tuple[str, ...]


@dataclass(frozen=True)
class Plate:
    """The picture itself.

    share: its width, of the bench's; width, height: px of its images; overlays: addresses by
    name; trim: the line at which the page is cut, as CSS writes an inset, "" where nothing bleeds.
    paper: address of what is printed; paper_label: which view that is.
    """

    share: str
    width: int
    height: int
    views: tuple[View, ...]
    overlays: Mapping[str, str]
    trim: str
    paper: str
    paper_label: str


@dataclass(frozen=True)
class CloseUp:
    """A close-up; kind: ``read``, ``dots`` or, of a screen's pixels, ``pixels``.

    width_mm, height_mm: at the page's true size; enlarged, true_size: how large it is shown, by the
    position of the switch; halves: (label, address, that of what is shown at true size where
    that is another picture, or "").
    """

    kind: str
    width_mm: str
    height_mm: str
    caption: str
    enlarged: str
    true_size: str
    halves: tuple[tuple[str, str, str], ...]


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
    hand: what can be done with it, where the sheet is open; None on a saved one.
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
    hand: Any = None


def widest_mm(pulls: Iterable[Pull]) -> float:
    """Return the width that all pictures of a house are drawn in proportion to, 0 for none."""
    return max((pull.mm[0] for pull in pulls if pull.mm), default=0.0)


def shown_picture(
    house_index: int, house: House, picture: Marked, widest: float, source: Source
) -> ShownPicture:
    """Return a picture with all that the page shows of it; widest: as `widest_mm` gives it."""
    pull = picture.pull
    return ShownPicture(
        number=picture.number,
        name=picture.name,
        kind=picture.kind,
        page=picture.verdict.page,
        house_index=house_index,
        facts=tuple(_facts(picture.verdict)),
        plate=plate_of(pull, widest, source) if pull.paper else None,
        caption=pull.caption,
        credit=pull.credit,
        why_no_copy=pull.why,
        remarks=picture.remarks,
        close_ups=tuple(_close_ups(pull, house.output.viewing_distance, source)),
        tones=tones_plot(pull, house) if pull.tones else None,
        transfers=transfers_plot(pull.plain, pull.sharp) if pull.sharp and pull.plain else None,
        copy=_copy(pull, house),
    )


def _serving(pull: Pull, view: str, state: str) -> str:
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


def plate_of(pull: Pull, widest: float, source: Source) -> Plate:
    """Return the plate of a pull; widest: mm that fill the bench, 0 where that is unknown."""
    share = pull.mm[0] / widest if pull.mm and widest else 0.5
    width, height = pull.size
    serves: dict[str, list[str]] = {name: [] for name in pull.views}
    for view in VIEWS if serves else ():
        for state in STATES:
            serves[_serving(pull, view, state)].append(f"{view}-{state}")
    views = tuple(
        View(source(data), _label(name), name == "supplied", tuple(serves[name]))
        for name, data in pull.views.items()
        if serves[name]
    )
    overlays = {name: source(data) for name, data in pull.overlays.items()}
    paper = source(pull.paper), _label(pull.paper_view)
    return Plate(f"{share:.4f}", width, height, views, overlays, _trim(pull), *paper)


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


def _close_ups(pull: Pull, distance: float, source: Source) -> Iterator[CloseUp]:
    if not pull.close or pull.close_mm is None:
        return
    across, down = pull.close_mm
    where = "where sharpening shows most" if "read-before" in pull.close else "where most detail is"
    size = f"{across:.2f}", f"{down:.2f}"
    three, true = "three times as large", "at its true size"
    if "dots" not in pull.close:
        caption = f"The place {where}, pixel for pixel"
        yield CloseUp("pixels", *size, caption, three, true, _halves(pull, "read", source))
        return
    caption = f"{across:.0f} × {down:.0f} mm of the page {where}"
    away, ends = f"{distance / 10:.0f} cm", SCREEN_PPI / MM_PER_INCH / 2 * mm_per_degree(distance)
    larger = f"{three}: what reaches a reader’s eye from {away}"
    smaller = (
        f"{true}: sit {away} away. This is the page’s own light, your eye does the rest; a screen "
        f"of {SCREEN_PPI:.0f} ppi ends at {ends:.0f} cycles/degree and shows nothing finer"
    )
    yield CloseUp("read", *size, caption, larger, smaller, _halves(pull, "read", source))
    wide = min(DOTS_MM[0], across)
    larger, smaller = (f"{times * across / wide:.0f} times as large" for times in (3, 1))
    caption = f"{figure(wide, 'mm')} of it, dot by dot"
    yield CloseUp("dots", *size, caption, larger, smaller, _halves(pull, "dots", source))


def _halves(pull: Pull, name: str, source: Source) -> tuple[tuple[str, str, str], ...]:
    close = {half: source(data) for half, data in pull.close.items()}
    true = "true" if name == "read" else ""
    return tuple(
        (label, close[f"{name}{state}"], close.get(f"{true}{state}", ""))
        for state, label in (("-before", "before"), ("", "sharpened"))
        if f"{name}{state}" in close
    )


def _copy(pull: Pull, house: House) -> Copy | None:
    figures = []
    limit = house.output.most_ink
    if pull.most_ink is not None:
        allowed = f" of {figure(limit, '%')} allowed" if limit else ""
        figures.append((figure(pull.most_ink, "%"), f"most ink{allowed}"))
    figures += [
        ("unknown" if share is None else f"{share:.1%}", sentence)
        for share, sentence in pull.marked
    ]
    return Copy(tuple(figures), pull.steps) if figures or pull.steps else None


def data_uri(data: bytes) -> str:
    kind = (
        "png" if data.startswith(b"\x89PNG") else "jpeg" if data.startswith(b"\xff\xd8") else "avif"
    )
    return Encoded(f"data:image/{kind};base64,{base64.b64encode(data).decode()}")
