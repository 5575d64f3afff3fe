"""Pages: judge the pictures placed in a PDF, and find the files they came from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.spaces import identify
from pressworthy.files.matching import Known, Match, fingerprint, matches
from pressworthy.files.opening import decode, hash_file, opaque, read_header
from pressworthy.files.pages import (
    MOST_MEMORY,
    SECONDS,
    STENCIL,
    Placed,
    Trim,
    UnreadPages,
    extract,
    intended_profile,
    limit_process,
    survey,
)
from pressworthy.files.picture_list import Entry, row_of
from pressworthy.house import House
from pressworthy.jobs.gathering import gathered, of_house
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.run import Progress, Run, as_they_come
from pressworthy.jobs.running import workers
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.running.workers import Limits
from pressworthy.judge import broken_off, judge, unread
from pressworthy.measure.pixels import decoded, pixels
from pressworthy.measure.ticket import pixel_hash
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.finding import PAGE, Finding, Outcome, State, Unmeasured, Verdict
from pressworthy.values.on_page import OnPage
from pressworthy.values.picture import Header, Picture, elsewhere, preset
from pressworthy.values.placement import LEAST_MM, Placement, pixels_for
from pressworthy.values.report import Report
from pressworthy.values.units import figure
from pressworthy.values.words import file_name, folders_of

MOST_TOGETHER = 100
"""Places of one picture that are judged in one go."""


def check_pages(placed: Sequence[Placed], known: Sequence[Known], house: House, run: Run) -> Report:
    """Judge pictures placed on the pages of a PDF and return the report.

    placed: see `placed_on`; known: masters and prepared copies among which each is found again.
    """
    stream = (_told(one.verdict, one.words) for one in _judged(placed, known, house, run))
    return gathered("check", stream, len(placed), house, run)


def by_page_rules(
    placed: Sequence[Placed], known: Sequence[Known], house: House, run: Run
) -> list[OnPages]:
    """Judge pictures on pages by the house's rules of pages alone, in words as `check_pages` does.

    What is to be prepared is told by no rule of pages.
    """
    few = of_pages(house, run)
    judged = list(_judged(placed, known, few, run))
    verdicts = judge_set([of_house(one.verdict, house) for one in judged], few, run.registry.rules)
    return [replace(one, verdict=verdict) for one, verdict in zip(judged, verdicts, strict=True)]


def of_pages(house: House, run: Run) -> House:
    """Return the house with those of its rules that judge pages alone."""
    rules = run.registry.rules
    return replace(house, rules={n: one for n, one in house.rules.items() if rules[n].pages_only})


@dataclass(frozen=True)
class OnPages:
    """A picture on a page, judged. words: on the file behind it and what to prepare of it."""

    placed: Placed
    verdict: Verdict
    words: str = ""


def _judged(
    placed: Sequence[Placed], known: Sequence[Known], house: House, run: Run
) -> Iterator[OnPages]:
    """Yield the pictures on pages with their verdicts alone, as they are done."""
    stream = run.over(
        _judged_there,
        together(placed),
        lambda places, why, told: tuple(
            OnPages(one, _of_page(broken_off(one.name(), why, house, told), one)) for one in places
        ),
        house,
        run,
        tuple(known),
    )
    return (one for judged in stream for one in judged)


def together(placed: Iterable[Placed]) -> list[tuple[Placed, ...]]:
    """Return the places on the pages by what stands there: of one picture, painted alike.

    So many at most that a worker judges them in its time.
    """
    alike: dict[Any, list[Placed]] = {}
    for one in placed:
        own = one.stored == (0, 0) or one.placement is None
        place = (one.index, one.number) if own else ()
        alike.setdefault((one.stored, one.opacity, one.unlike, place), []).append(one)
    return [
        tuple(places[start : start + MOST_TOGETHER])
        for places in alike.values()
        for start in range(0, len(places), MOST_TOGETHER)
    ]


def placed_on(pdf: Path, trim: Trim = "", progress: Progress = as_they_come) -> tuple[Placed, ...]:
    """Return the pictures on the pages as `surveyed`. Raises SetupError where there is none too."""
    pictures = surveyed(pdf, trim, progress)
    if not pictures:
        raise SetupError([f"{pdf}: no picture is placed on its pages"])
    return pictures


def surveyed(pdf: Path, trim: Trim = "", progress: Progress = as_they_come) -> tuple[Placed, ...]:
    """Return every picture on the pages, found in a process of its own with bounded means.

    trim: of pages that state none. Raises SetupError where the PDF cannot be read, or has a page
    with pictures of which nothing tells the trim.
    """
    lost = f"not read within {SECONDS} s and {MOST_MEMORY // 10**9} GB: damaged, or made to harm"
    given = (limit_process, trim)
    limits = Limits(2 * SECONDS, MOST_MEMORY)  # it ends itself before
    stream = workers.run(_survey, [pdf], lambda *_: lost, processes=1, given=given, limits=limits)
    pictures: tuple[Placed, ...] | str
    (pictures,) = progress(stream, 1)
    if isinstance(pictures, str):
        raise SetupError([f"{pdf}: {pictures}"])
    return pictures


def known_files(
    files: Sequence[Path], *, processes: int = 0, progress: Progress = as_they_come
) -> tuple[Known, ...]:
    """Return the pictures among `files` by what they show; what is no picture is left out."""
    if not files:
        return ()
    stream = workers.run(_known, files, lambda *_: None, processes=processes)
    rows = list(progress(stream, len(files)))
    return tuple(sorted((one for one in rows if one), key=lambda one: one.path))


def listed_pages(
    pdf: Path,
    files: Sequence[Path],
    root: Path,
    trim: Trim = "",
    progress: Progress = as_they_come,
    known: Sequence[Known] | None = None,
) -> list[dict[str, str]]:
    """Return rows of a picture list in `root`, of what the pages of a PDF show.

    A picture that is found among `files` is listed by that file, any other by its place in the
    PDF, which a person replaces. known: what the files show, where that is known already. Raises
    SetupError where the PDF cannot be read.
    """
    placed = placed_on(pdf, trim, progress)
    # a list holds no size below the least, and no reader sees it
    shown = [
        one
        for one in placed
        if one.placement and min(one.placement.width, one.placement.height) >= LEAST_MM
    ]
    if known is None:
        known = known_files(files, progress=progress)
    sources = sources_of(shown, known, progress)
    return [
        row_of(one.placement, str(sources.get((one.index, one.number), one.name())), root)
        for one in shown
        if one.placement
    ]


def sources_of(
    placed: Sequence[Placed],
    known: Sequence[Known],
    progress: Progress = as_they_come,
    *,
    processes: int = 0,
) -> dict[tuple[int, int], Path]:
    """Return (index, number) of pictures on pages -> the file that each came from, of `known`.

    A picture that came from none of them is not among what is returned.
    """
    groups = together(one for one in placed if one.placement)
    stream = workers.run(
        _source,
        groups,
        lambda places, *_: (places, ""),
        processes=processes,
        given=(tuple(known),),
    )
    return {
        (one.index, one.number): Path(name)
        for places, name in progress(stream, len(groups))
        for one in places
        if name
    }


def check_places(
    places: Sequence[Placed], house: House, run: Run, known: Sequence[Known] = ()
) -> tuple[Verdict, ...]:
    """Judge one picture here and now at each of its places on the pages, see `together`."""
    judged = _judged_there(places, house, run, known)
    return tuple(_told(one.verdict, one.words) for one in judged)


def _judged_there(
    places: Sequence[Placed], house: House, run: Run, known: Sequence[Known]
) -> tuple[OnPages, ...]:
    placed = places[0]
    if placed.beyond:
        return (_unmeasured(placed, placed.beyond, house, run),)
    if placed.placement is None:
        return (_unseen(placed, placed.unseen, house, run),)
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        try:
            taken = extract(placed, Path(folder))
            image = None if taken.unread else decode(taken.path)
        except (Unmeasured, UnreadPages) as reason:
            return tuple(_unmeasured(one, str(reason), house, run) for one in places)
        if taken.colours == STENCIL:
            return tuple(_unseen(one, taken.unread, house, run) for one in places)
        shown = None if taken.unread else fingerprint(taken.path, taken.header, image)
        files = matches(shown, known) if shown else []
        header, file = taken.header, files[0].known if files else None
        if file and file.ticket:
            # a page drops the ticket; the file it was made from still has it
            header = replace(header, xmp=file.header.xmp)
        dropped = file.icc if file and not header.icc and file.header.mode == header.mode else ""
        picture = Picture(
            taken.path, header, house.output, placed.placement, page_object=placed.name(),
            masters=tuple(one.path for one in known), dropped=dropped,
        )  # fmt: skip
        if shown:
            preset(picture, decoded, image)
            preset(picture, pixels, opaque(image, header.mode))
        else:
            preset(picture, decoded, Unmeasured(taken.unread))
            preset(picture, pixels, Unmeasured(taken.unread))
        if shown and not header.alpha:
            preset(picture, pixel_hash, shown.pixels)
        judged: dict[Any, Verdict] = {}
        done = []
        for one in places:
            place = one.rounded(), one.on_page
            if place not in judged:
                picture = elsewhere(picture, one.placement, _said(one))
                judged[place] = judge(picture, house, run.registry.rules, tell)
            verdict = judged[place]
            facts = {**verdict.facts, "format": "PDF", "colour space": taken.colours}
            source, words = _source_of(one, files, known, house)
            verdict = replace(verdict, facts={**facts, **source})
            done.append(OnPages(one, _of_page(verdict, one), words))
    return tuple(done)


def source_of(verdict: Verdict) -> Path | None:
    """Return the file that a picture on a page came from: its master, not a copy; None for none."""
    found = verdict.facts.get("found", {})
    name = found.get("master") or found.get("file")
    return Path(name).resolve() if name else None


def _unseen(placed: Placed, why: str, house: House, run: Run) -> OnPages:
    """Return the verdict on what no reader sees: of it nothing is judged but what its page says."""
    outcomes = Outcome(PAGE, State.WAIVED, reason=why), *_on_its_page(placed, why, house, run)
    return OnPages(placed, _of_page(Verdict(placed.name(), outcomes), placed))


def _unmeasured(placed: Placed, why: str, house: House, run: Run) -> OnPages:
    """Return the verdict on what cannot be looked into, but for what its page says."""
    lost = unread(placed.name(), why, house)
    said = {outcome.rule: outcome for outcome in _on_its_page(placed, why, house, run)}
    outcomes = tuple(said.get(outcome.rule, outcome) for outcome in lost.outcomes)
    return OnPages(placed, _of_page(replace(lost, outcomes=outcomes), placed))


def _on_its_page(placed: Placed, why: str, house: House, run: Run) -> tuple[Outcome, ...]:
    """Return what the rules on pages make of one of whose pixels nothing is known."""
    header = Header(
        "PDF", placed.width, placed.height, "", 0, False, 1, 1, None, 0, None, None, None, None
    )
    picture = Picture(
        placed.pdf, header, house.output, placed.placement,
        page_object=placed.name(), on_page=_said(placed),
    )  # fmt: skip
    for measure in (decoded, pixels):
        preset(picture, measure, Unmeasured(why))
    outcomes = judge(picture, of_pages(house, run), run.registry.rules).outcomes
    return tuple(one for one in outcomes if one.state is not State.UNMEASURED)


def _said(placed: Placed) -> OnPage:
    """Return what the page says of its printing, with the profile of its output intent."""
    return replace(placed.on_page, icc=intended_profile(placed.pdf, placed.index))


def placed_by_house(
    placed: Iterable[Placed], entries: Iterable[Entry], house: str = ""
) -> dict[str, list[Placed]]:
    """Return house -> pictures on the pages that a picture list gives to it.

    house: for pages of which the list says nothing, and for those that it lists for this house
    among others, as where two titles have a page of that number. Raises SetupError where neither
    says one, or the list gives a page to several houses and this is none of them.
    """
    placed = tuple(placed)
    listed: dict[str, dict[str, Entry]] = {}
    for entry in entries:
        if title := entry.house or house:
            listed.setdefault(entry.request.page, {}).setdefault(title, entry)
    houses: dict[str, str] = {}
    faults: list[Fault | str] = []
    for page in dict.fromkeys(one.page for one in placed):
        titles = listed.get(page, {}) if page else {}
        houses[page] = house if house in titles or not titles else next(iter(titles))
        for other in [] if houses[page] == house else [*titles][1:]:
            message = f"page {page} is listed for {houses[page]} above; give --house to say which"
            message += " title's pages these are"
            faults.append(Fault(titles[other].origin, ("house",), message))
    by_house: dict[str, list[Placed]] = {}
    for one in placed:
        by_house.setdefault(houses.get(one.page, house), []).append(one)
    pages = dict.fromkeys(one.page for one in by_house.get("", []))
    faults += [f"page {page}: no house profile; list it, or give --house" for page in pages]
    if faults:
        raise SetupError(faults)
    return by_house


def _survey(pdf: Path, limit: Callable[[], None], trim: Trim) -> tuple[Placed, ...] | str:
    limit()
    try:
        return survey(pdf, trim)
    except UnreadPages as reason:
        return str(reason)


def _known(path: Path) -> Known | None:
    try:
        header = read_header(path)
        prints = fingerprint(path, header)
        profile = _described(header.icc)
        return Known(path, replace(header, icc=None, exif=None), prints, hash_file(path), profile)
    except (Unmeasured, OSError):
        return None


def _described(icc: bytes | None) -> str:
    """Return an ICC profile in a few words, "" where there is none that can be used."""
    try:
        profile = parse(icc) if icc else None
    except DamagedProfile:
        return ""
    return (identify(profile) or profile.description()[:80] or "unnamed") if profile else ""


def _source(places: tuple[Placed, ...], known: Sequence[Known]) -> tuple[tuple[Placed, ...], str]:
    """Return the places of a picture, and the file it came from: its master, not a copy; or ""."""
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        try:
            taken = extract(places[0], Path(folder))
            if taken.unread:
                return places, ""
            shown = fingerprint(taken.path, taken.header, decode(taken.path))
            files = matches(shown, known)
        except (Unmeasured, UnreadPages):
            return places, ""
    if not files:
        return places, ""
    source = _master(files[0].known, known) or files[0].known
    return places, str(source.path.resolve())


def _master(file: Known, known: Sequence[Known]) -> Known | None:
    """Return the master of a file: itself, or of a prepared copy what its ticket tells.

    A file of those bytes, or else of that name; None where neither is known.
    """
    ticket = file.ticket
    if ticket is None:
        return file
    masters = [one for one in known if one.ticket is None]
    same = (one for one in masters if one.sha256 == ticket.master_sha256)
    named = (one for one in masters if one.path.name == file_name(ticket.master))
    return next(same, None) or next(named, None)


def _source_of(
    placed: Placed, files: Sequence[Match], known: Sequence[Known], house: House
) -> tuple[dict[str, Any], str]:
    """Return facts of the file that a picture came from, and in words what to prepare."""
    placement = placed.placement
    if not known or placement is None:
        return {}, ""
    sought = folders_of(one.path for one in known)
    if not files:
        return {"sought": sought}, f"Its file is not among those given with the pages, in {sought}."
    file, part = files[0].known, files[0].part
    source, ticket = _master(file, known), file.ticket
    size = f"{figure(placement.width)} x {figure(placement.height, 'mm')}"
    bleed = f" with {figure(house.output.bleed, 'mm')} bleed" if placement.edges else ""
    words = f"On the page is {file.path}" if ticket else f"On the page is the master {file.path}"
    if ticket and source:
        words += f", made from {source.path}"
    if part:
        words += ", cut out"
    if ticket and source is None:
        words += (
            f", a prepared copy; its master, {ticket.master}, is not among the files given with "
        )
        words += f"the pages, in {sought}: give its folder too."
    elif source and part is None and not _suffices(source.header, placement, house.output.ppi):
        words += f". It has too few pixels for {size}{bleed}: place it smaller, or supply more."
    elif source:
        words += f"; prepare {source.path.name} for {size}{bleed} and place that."
    facts: dict[str, Any] = {
        "file": str(file.path),
        "master": str(source.path) if source else "",
        "same": files[0].same,
    }
    if part:
        facts["part"] = [round(share, 3) for share in astuple(part)]
    return {"found": facts}, words


def _told(verdict: Verdict, words: str) -> Verdict:
    """Return the verdict with words on the file behind it."""
    if not words:
        return verdict
    # said once, with what weighs most
    worst = [finding for _, finding in verdict.findings()][:1]

    def advised(finding: Finding) -> Finding:
        return replace(finding, remedy=f"{finding.remedy} {words}") if finding in worst else finding

    outcomes = tuple(
        replace(outcome, findings=tuple(advised(finding) for finding in outcome.findings))
        for outcome in verdict.outcomes
    )
    return replace(verdict, outcomes=outcomes)


def _suffices(header: Header, place: Placement, ppi: float) -> bool:
    """Tell whether what shows of a file has the pixels that its place takes."""
    part = place.part(*header.upright())
    wanted = (pixels_for(mm, ppi) for mm in place.covered())
    return all(round(have) >= want for have, want in zip(part, wanted, strict=True))


def _of_page(verdict: Verdict, placed: Placed) -> Verdict:
    """Return the verdict under the page's name for the picture, with the figures of its place."""
    name = placed.name()
    told = {**placed.facts, **placed.on_page.facts()}
    facts = {**verdict.facts, "pdf": str(placed.pdf), "on page": told}
    return replace(verdict, path=name, name=name, page=placed.page, facts=facts)
