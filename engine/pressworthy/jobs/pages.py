"""Pages: judge the pictures placed in a PDF, and find the files they came from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pressworthy.files.matching import Known, Match, fingerprint, matches
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.opening import read_header
from pressworthy.files.pages import (
    MOST_MEMORY,
    SECONDS,
    STENCIL,
    Placed,
    UnreadPages,
    extract,
    limit_process,
    survey,
)
from pressworthy.files.picture_list import Entry, row_of
from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.run import Run
from pressworthy.jobs.running import workers
from pressworthy.judge import judge, unread
from pressworthy.measure.pixels import pixels
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.finding import Finding, Outcome, State, Unmeasured, Verdict
from pressworthy.values.picture import Header, Picture, preset
from pressworthy.values.placement import Placement, pixels_for
from pressworthy.values.report import Report
from pressworthy.values.units import figure

PAGE = "page"
"""What stands in a rule's place where a page shows nothing that could be judged."""


def check_pages(placed: Sequence[Placed], known: Sequence[Known], house: House, run: Run) -> Report:
    """Judge pictures placed on the pages of a PDF and return the report.

    placed: see `placed_on`; known: masters and prepared copies among which each is found again.
    """
    stream = run.over(
        check_placed,
        placed,
        lambda one, reason: _of_page(unread(one.name(), reason, house, State.BROKEN), one),
        house,
        run,
        tuple(known),
    )
    return gathered("check", stream, len(placed), house, run)


def placed_on(pdf: Path) -> tuple[Placed, ...]:
    """Return every picture on the pages, found in a process of its own with bounded means.

    Raises SetupError where the PDF cannot be read, or holds no picture.
    """
    lost = f"not read within {SECONDS} s and {MOST_MEMORY // 10**9} GB: damaged, or made to harm"
    (found,) = workers.run(_survey, [pdf], lambda _, __: lost, processes=1, given=(limit_process,))
    if isinstance(found, str):
        raise SetupError([f"{pdf}: {found}"])
    if not found:
        raise SetupError([f"{pdf}: no picture is placed on its pages"])
    return found


def known_files(files: Sequence[Path], *, processes: int = 0) -> tuple[Known, ...]:
    """Return the pictures among `files` by what they show; what is no picture is left out."""
    if not files:
        return ()
    found = workers.run(_known, files, lambda _, __: None, processes=processes)
    return tuple(sorted((one for one in found if one), key=lambda one: one.path))


def listed_pages(pdf: Path, files: Sequence[Path], root: Path) -> list[dict[str, str]]:
    """Return rows of a picture list in `root`, of what the pages of a PDF show.

    A picture that is found among `files` is listed by that file, any other by its place in the
    PDF, which a person replaces. Raises SetupError where the PDF cannot be read.
    """
    seen = [one for one in placed_on(pdf) if one.placement]
    found = workers.run(_row, seen, lambda one, _: (one, ""), given=(known_files(files),))
    rows = sorted(found, key=lambda row: (row[0].index, row[0].number))
    return [row_of(one.placement, name or one.name(), root) for one, name in rows if one.placement]


def check_placed(placed: Placed, house: House, run: Run, known: Sequence[Known] = ()) -> Verdict:
    """Judge one picture on a page here and now."""
    if placed.beyond:
        return _of_page(unread(placed.name(), placed.beyond, house), placed)
    if placed.placement is None:
        outcome = Outcome(PAGE, State.WAIVED, reason=placed.unseen)
        return _of_page(Verdict(placed.name(), (outcome,)), placed)
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        try:
            found = extract(placed, Path(folder))
        except (Unmeasured, UnreadPages) as reason:
            return _of_page(unread(placed.name(), str(reason), house), placed)
        if found.colours == STENCIL:
            outcome = Outcome(PAGE, State.WAIVED, reason=found.unread)
            return _of_page(Verdict(placed.name(), (outcome,)), placed)
        files = [] if found.unread else matches(fingerprint(found.path, found.header), known)
        header = found.header
        if files and files[0].known.header.xmp and read_ticket(files[0].known.header.xmp):
            # a page drops the ticket; the file it was made from still has it
            header = replace(header, xmp=files[0].known.header.xmp)
        picture = Picture(
            found.path, header, house.output, placed.placement, page_object=placed.name(),
            masters=tuple(one.path for one in known),
        )  # fmt: skip
        if found.unread:
            preset(picture, pixels, Unmeasured(found.unread))
        verdict = judge(picture, house, run.registry.rules)
    facts = {**verdict.facts, "format": "PDF", "colour space": found.colours}
    return _of_page(_with_source(replace(verdict, facts=facts), placed, files, house), placed)


def placed_by_house(
    placed: Iterable[Placed], entries: Iterable[Entry], house: str = ""
) -> dict[str, list[Placed]]:
    """Return house -> pictures on the pages that a picture list gives to it.

    house: for pages of which the list says nothing. Raises SetupError where neither says one, or
    the list gives one page to two houses.
    """
    houses: dict[str, str] = {}
    faults: list[Fault | str] = []
    for entry in entries:
        page, told = entry.request.page, entry.house or house
        if page and told and houses.setdefault(page, told) != told:
            message = f"page {page} is listed for {houses[page]} above; a page has one output"
            faults.append(Fault(entry.origin, ("house",), message))
    by_house: dict[str, list[Placed]] = {}
    for one in placed:
        by_house.setdefault(houses.get(one.page, house), []).append(one)
    pages = dict.fromkeys(one.page for one in by_house.get("", []))
    faults += [f"page {page}: no house profile; list it, or give --house" for page in pages]
    if faults:
        raise SetupError(faults)
    return by_house


def _survey(pdf: Path, limit: Callable[[], None]) -> tuple[Placed, ...] | str:
    limit()
    try:
        return survey(pdf)
    except UnreadPages as reason:
        return str(reason)


def _known(path: Path) -> Known | None:
    try:
        header = read_header(path)
        return Known(path, replace(header, icc=None, exif=None), fingerprint(path, header))
    except Unmeasured:
        return None


def _row(placed: Placed, known: Sequence[Known]) -> tuple[Placed, str]:
    """Return the picture with the file it came from, its master rather than a copy, or ""."""
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        try:
            found = extract(placed, Path(folder))
            if found.unread:
                return placed, ""
            files = matches(fingerprint(found.path, found.header), known)
        except (Unmeasured, UnreadPages):
            return placed, ""
    source = _master(files)
    return placed, str(source.path.resolve()) if source else ""


def _master(files: Sequence[Match]) -> Known | None:
    """Return the likest of the files that is no prepared copy, or else the likest."""
    masters = [match for match in files if not read_ticket(match.known.header.xmp)]
    return next((match.known for match in [*masters, *files]), None)


def _with_source(verdict: Verdict, placed: Placed, files: Sequence[Match], house: House) -> Verdict:
    """Return the verdict with the file it came from, and in each remedy what to prepare."""
    source = _master(files)
    if source is None or placed.placement is None:
        return verdict
    place = placed.placement
    size = f"{figure(place.width)} x {figure(place.height, 'mm')}"
    bleed = f" with {figure(house.output.bleed, 'mm')} bleed" if place.edges else ""
    told = f"On the page is {files[0].known.path}"
    if source is not files[0].known:
        told += f", made from {source.path}"
    if files[0].part:
        told += ", cut out"
    if files[0].part is None and not _suffices(source.header, place, house.output.ppi):
        told += f". It has too few pixels for {size}{bleed}: place it smaller, or supply more."
    else:
        told += f"; prepare {source.path.name} for {size}{bleed} and place that."
    # said once, with what weighs most
    worst = [finding for _, finding in verdict.findings()][:1]

    def advised(finding: Finding) -> Finding:
        return replace(finding, remedy=f"{finding.remedy} {told}") if finding in worst else finding

    outcomes = tuple(
        replace(outcome, findings=tuple(advised(finding) for finding in outcome.findings))
        for outcome in verdict.outcomes
    )
    known: dict[str, Any] = {
        "file": str(files[0].known.path),
        "master": str(source.path),
        "same": files[0].same,
    }
    if files[0].part:
        known["part"] = [round(share, 3) for share in astuple(files[0].part)]
    return replace(verdict, outcomes=outcomes, facts={**verdict.facts, "found": known})


def _suffices(header: Header, place: Placement, ppi: float) -> bool:
    """Tell whether what shows of a file has the pixels that its place takes."""
    part = place.part(*header.upright())
    wanted = (pixels_for(mm, ppi) for mm in place.covered())
    return all(round(have) >= want for have, want in zip(part, wanted, strict=True))


def _of_page(verdict: Verdict, placed: Placed) -> Verdict:
    """Return the verdict under the page's name for the picture, with the figures of its place."""
    name = placed.name()
    facts = {**verdict.facts, "pdf": str(placed.pdf), "on page": placed.facts}
    return replace(verdict, path=name, name=name, page=placed.page, facts=facts)
