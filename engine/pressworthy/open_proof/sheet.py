"""What the open sheet shows: the marked proof's own parts, and what can be done beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from pressworthy import __version__
from pressworthy.house import House, list_houses
from pressworthy.jobs.proofing import Sheet
from pressworthy.open_proof import day_book, guidance, sizes, standards
from pressworthy.open_proof.answers import Answer, answers_to, cells_of, letters
from pressworthy.open_proof.desk import CopyMade, Desk, Line
from pressworthy.open_proof.journal import Decision
from pressworthy.open_proof.laid_aside import address
from pressworthy.open_proof.page_desk import Asked, id_of
from pressworthy.report.marked_proof.environment import counted, rendered
from pressworthy.report.marked_proof.pictures import ShownPicture, shown_picture, widest_mm
from pressworthy.report.marked_proof.remarks import Marked, Remark, remarks
from pressworthy.report.marked_proof.sections import section
from pressworthy.report.marked_proof.slip import switches
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import EDGES, FITS

AMONG = "pressworthy.open_proof"


@dataclass(frozen=True)
class Crop:
    """What is needed to crop a picture on the sheet.

    whole: address of all of it; px: of the upright master; mm: that the copy covers; shown: left,
    top, width, height of what shows, as fractions; bleed: mm at top, right, bottom, left.
    """

    whole: str
    px: tuple[int, int]
    mm: tuple[float, float]
    shown: tuple[float, float, float, float]
    bleed: tuple[float, float, float, float]
    ppi: float


@dataclass(frozen=True)
class Hand:
    """What a person can do with one picture.

    cells: its line of the list, field -> text; largest: the largest size its pixels allow, in
    words, "" where it need not be told; alike: finding -> how many pictures have it too.
    """

    id: str
    stale: bool
    pulled: bool
    cells: dict[str, str]
    colour: str
    rgb: bool
    crop: Crop | None
    copy: CopyMade | None
    largest: str
    alike: dict[str, int]
    by: str
    edges: tuple[str, ...] = EDGES
    fits: tuple[str, ...] = FITS

    def answers(self, remark: Remark) -> Answer:
        return answers_to(remark)

    def caution(self, finding: str) -> str:
        return guidance.caution(finding)


@dataclass(frozen=True)
class Next:
    """The one line at the top: what to do next.

    kind: what it is about; to: id of what to go to on the sheet, "" for nothing.
    """

    kind: str
    words: str
    to: str = ""


@dataclass(frozen=True)
class Told:
    """A decision as the foot of the sheet tells it."""

    decision: Decision
    what: str
    pictures: str
    at: str
    back_at: str


def page(desk: Desk, of_pages: Sequence[Asked] = ()) -> str:
    """Return the whole sheet, its pictures as stubs that fill when they come into view.

    of_pages: what is to be answered on the issue's pages.
    """
    with desk.still():
        return rendered("open.html", among=AMONG, **_values(desk) | _top(desk, of_pages))


def part(desk: Desk, name: str) -> str:
    """Return one part of the sheet: glances, record."""
    with desk.still():
        return rendered(f"{name}.html", among=AMONG, **_values(desk))


def top(desk: Desk, of_pages: Sequence[Asked] = ()) -> str:
    """Return the line at the top alone, which is told often; of_pages: as of `page`."""
    with desk.still():
        return rendered("top.html", among=AMONG, **_top(desk, of_pages))


def picture(desk: Desk, line: Line) -> str:
    """Return one picture of the sheet, whole."""
    with desk.still():
        marked = marked_line(desk, line)
        if marked is None:
            return ""
        return rendered("picture.html", among=AMONG, picture=_shown(desk, line, marked))


def stub(desk: Desk, line: Line) -> str:
    """Return the place of a picture on the sheet, to be filled when it comes into view."""
    with desk.still():
        marked = marked_line(desk, line)
        if marked is None:
            return ""
        return rendered("stub.html", among=AMONG, stub=_stub(desk, line, marked))


def fragment(template: str, **values: object) -> str:
    """Return a template of the open sheet, with these values."""
    return rendered(f"{template}.html", among=AMONG, **values)


@dataclass(frozen=True)
class Stub:
    """A picture's place: enough to be found, filtered and measured by before it is there."""

    id: str
    number: int
    name: str
    kind: str
    page: str
    house_index: int


def _stub(desk: Desk, line: Line, marked: Marked) -> Stub:
    return Stub(
        line.id,
        line.number,
        marked.name,
        marked.kind,
        marked.verdict.page,
        _house_index(desk, line.house),
    )


def _house_index(desk: Desk, house: House) -> int:
    return [one.name for one in desk.houses()].index(house.name)


def marked_line(desk: Desk, line: Line) -> Marked | None:
    """Return a picture with its remarks, None before it is judged."""
    verdict = desk.verdict(line)
    if verdict is None:
        return None
    pull = desk.pull(line)
    return Marked(line.number, verdict, pull, tuple(remarks(verdict, pull)))


def _all_marked(desk: Desk) -> Iterator[tuple[Line, Marked]]:
    """Yield the pictures that are judged, those that were worst off first."""
    for id in desk.order:
        line = desk.lines.get(id)
        marked = marked_line(desk, line) if line else None
        if line and marked:
            yield line, marked


def _shown(desk: Desk, line: Line, marked: Marked) -> ShownPicture:
    house = line.house
    widest = widest_mm(desk.pulls(house))
    shown = shown_picture(_house_index(desk, house), house, marked, widest, address)
    return replace(shown, hand=_hand(desk, line, marked))


def _sheet(desk: Desk, house: House) -> Sheet:
    lines = [ln for ln in desk.lines.values() if ln.house.name == house.name and desk.verdict(ln)]
    return Sheet(desk.report(house), house, tuple(desk.pull(line) for line in lines))


def _hand(desk: Desk, line: Line, marked: Marked) -> Hand:
    findings = [finding for remark in marked.remarks for finding in remark.findings]
    wanted = any("largest" in answers_to(remark).names for remark in marked.remarks)
    facts = marked.verdict.facts
    return Hand(
        id=line.id,
        stale=desk.is_stale(line),
        pulled=desk.is_pulled(line),
        cells=cells_of(line.task.request, line.task.assume),
        colour=line.house.output.colour,
        rgb=facts.get("mode") == "RGB",
        crop=_crop(desk, line, marked),
        copy=desk.copy(line),
        largest=_largest(desk, line) if wanted else "",
        alike={finding: len(alike(desk, line, finding)) for finding in findings},
        by=day_book.name_of(desk.issue),
    )


def _largest(desk: Desk, line: Line) -> str:
    try:
        size = sizes.largest(desk.issue, line.place, line.house)
    except SetupError:
        return ""
    return f"{size['width']} × {size['height']} mm"


def _crop(desk: Desk, line: Line, marked: Marked) -> Crop | None:
    whole, facts = desk.whole(line), marked.verdict.facts
    if whole is None or "width" not in facts or marked.pull.mm is None:
        return None
    name, shown = whole
    return Crop(
        whole=address(name.encode()),
        px=(facts["width"], facts["height"]),
        mm=marked.pull.mm,
        shown=shown,
        bleed=marked.pull.bleed,
        ppi=line.house.output.ppi,
    )


def alike(desk: Desk, line: Line, finding: str) -> list[Line]:
    """Return the pictures of a delivery that have a finding: those of one ICC profile with it."""
    mine = desk.verdict(line)
    if mine is None:
        return []
    icc = mine.facts.get("icc")
    return [
        other
        for other in desk.lines.values()
        if (verdict := desk.verdict(other))
        and verdict.facts.get("icc") == icc
        and other.house.name == line.house.name
        and any(
            finding in (f"{outcome.rule}/{found.code}" for found in outcome.findings)
            or (finding == f"{outcome.rule}/unmeasured" and outcome in verdict.unmeasured())
            for outcome in verdict.outcomes
        )
    ]


def lift_of(desk: Desk, line: Line) -> str:
    """Return the lift that a remedy asks for, as the list writes it, "" where none does."""
    verdict = desk.verdict(line)
    told = [finding.remedy for _, finding in verdict.findings()] if verdict else []
    found = (re.search(r"Write ([+-][\d.]+) in the list's column tone", one) for one in told)
    return next((f"{match[1]} L*" for match in found if match), "")


def _top(desk: Desk, of_pages: Sequence[Asked]) -> dict[str, object]:
    done = desk.progress()
    return {
        "next": next_thing(desk, of_pages),
        "progress": done,
        "judging": done.done < done.total and not desk.stopped,
        "stopped": desk.stopped,
        "busy": desk.busy,
        "faults": desk.faults,
        "time_left": _time(done.seconds),
        "stamp": desk.issue.stamp,
        "way": guidance.way(desk, of_pages),
        "pictures": len(desk.lines),
    }


def _values(desk: Desk) -> dict[str, object]:
    marked = list(_all_marked(desk))
    sections = []
    houses = desk.houses()
    for index, house in enumerate(houses):
        sheet = _sheet(desk, house)
        mine = [one for line, one in marked if line.house.name == house.name]
        part = section(index, sheet, mine, (), several_houses=len(houses) > 1, source=address)
        if all(desk.copy(line) for line, _ in marked if line.house.name == house.name):
            # what is done is not to be done first
            part = replace(part, glance=replace(part.glance, preparing=None))
        sections.append(part)
    pictures = [one for _, one in marked]
    name = desk.folder.resolve().name
    publishers = (section.sheet.house.publisher for section in sections)
    return {
        "pictures": len(desk.lines),
        "version": __version__,
        "folder": name,
        "turn": desk.turn,
        "sections": sections,
        "publishers": list(dict.fromkeys(filter(None, publishers))),
        "sheet_name": f"Open proof of {name}" if sections else "Open proof",
        "switches": replace(
            switches(pictures, [section.sheet for section in sections]), surround=True
        ),
        "stubs": {
            section.index: [
                _stub(desk, line, one) for line, one in marked if line.house.name == section.house
            ]
            for section in sections
        },
        "told_once": [line for section in sections for line in section.sheet.report.told_once],
        "waivers_left_over": desk.left_over(),
        "titles": _titles(desk),
        "title": desk.issue.title,
        "untitled": _untitled(desk),
        "letters": letters(pictures),
        "decisions": list(told(desk)),
        "by": day_book.name_of(desk.issue),
    }


def _untitled(desk: Desk) -> list[str]:
    """Return the pictures that stand in no title yet, by name."""
    listed = [entry.name for entry in desk.issue.entries if not entry.house]
    return [*listed, *(str(_below(desk.folder, path)) for path in desk.issue.unlisted)]


def _below(folder: Path, path: Path) -> Path:
    try:
        return path.resolve().relative_to(folder.resolve())
    except ValueError:
        return Path(path.name)


def _titles(desk: Desk) -> list[tuple[str, str]]:
    """Return (name, what it is) of the titles and output types that can be chosen."""
    titles = []
    for document in list_houses(desk.registry, desk.house_folder):
        kind = document.value.get("kind")
        if kind in ("title", "output"):
            about = str(document.value.get("about", ""))
            titles.append((kind, Path(document.file).stem, about))
    for document in standards.in_issue(desk.folder, desk.house_folder):
        if document.value.get("kind") in ("title", "output"):
            about = str(document.value.get("about", ""))
            titles.append(("title", Path(document.file).name, about))
    first = {"title": 0, "output": 1}
    ranked = sorted(titles, key=lambda title: (first[title[0]], title[1]))
    return list({name: (name, about) for _, name, about in ranked}.values())


def next_thing(desk: Desk, of_pages: Sequence[Asked] = ()) -> Next:
    """Return the next thing for a person to do; of_pages: what is to be answered on pages."""
    if desk.faults:
        return Next("fault", "Mend what is wrong in the issue’s files; the sheet follows.")
    if not desk.issue.entries and not desk.issue.unlisted:
        return Next("drop", "Drop the issue’s pictures on this sheet, or choose them.")
    if untitled := len(_untitled(desk)):
        stand = "stands" if untitled == 1 else "stand"
        return Next("title", f"Choose the title that {counted(untitled, 'picture')} {stand} in.")
    if stopped := _first(desk, of_pages, "Decide on", ("stop", "unjudged")):
        return stopped
    done = desk.progress()
    if done.done < done.total:
        return Next("wait", "Nothing yet; the pictures are being judged.")
    if asked := _first(desk, of_pages, "Look at", ("query",)):
        return asked
    if any(desk.copy(line) is None for line in desk.lines.values()):
        return Next("prepare", "Prepare the copies.")
    return Next("save", "Save the marked proof, and place the copies on their pages.")


def _first(desk: Desk, of_pages: Sequence[Asked], verb: str, kinds: tuple[str, ...]) -> Next | None:
    """Return the first remark of these kinds that preparing does not mend.

    Those of pictures come first, then those of pages, all of which are counted.
    """
    there = [one for one in of_pages if one.remark.kind in kinds]
    for id in desk.order:
        line = desk.lines[id]
        verdict = desk.verdict(line)
        # told often: only what can have such a remark is looked at closer
        if verdict is None or not (verdict.worst() or verdict.unmeasured()):
            continue
        one = marked_line(desk, line)
        if one is None:
            continue
        for remark in one.remarks:
            if remark.kind in kinds and not remark.mended:
                words = f"{verb} {one.name}: {_in_short(remark)}.{_too(len(there), kinds)}"
                return Next("picture", words, f"p{line.number}")
    if not there:
        return None
    first = there[0]
    words = f"{verb} page {first.page.page}: {_in_short(first.remark)}."
    return Next(
        "page", words + _too(len(there) - 1, kinds, "further "), f"leaf-{id_of(first.page)}"
    )


def _in_short(remark: Remark) -> str:
    return f"{remark.what.partition(': ')[2] or remark.what}, {remark.measured}"


def _too(many: int, kinds: tuple[str, ...], further: str = "") -> str:
    """Return a sentence on so many remarks of pages, "" for none."""
    noun = "query" if "query" in kinds else "stop"
    if not many:
        return ""
    if many == 1:
        return f" One {further}{noun} of a page waits too."
    return f" {many} {further}{'queries' if noun == 'query' else 'stops'} of pages wait too."


def _time(seconds: float | None) -> str:
    if seconds is None:
        return ""
    if seconds < 90:
        return f"about {counted(max(1, round(seconds)), 'second')} left"
    return f"about {counted(round(seconds / 60), 'minute')} left"


def told(desk: Desk) -> Iterator[Told]:
    """Yield the decisions, the last first."""
    for decision in reversed(desk.issue.decisions):
        names = [Path(place.picture).name or place.in_words() for place in decision.places]
        shown = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        back = when(decision.taken_back.at) if decision.taken_back else ""
        yield Told(decision, in_words(decision), shown, when(decision.at), back)


def in_words(decision: Decision) -> str:
    """Return what was decided, in a few words."""
    fields = {name: text for name, text in decision.fields.items() if text}
    told = ", ".join(fields.values())
    match decision.kind:
        case standards.VALUE | standards.NEW:
            return standards.in_words(decision)
        case "place" | "largest size":
            size = "{width} × {height} mm" if {"width", "height"} <= fields.keys() else ""
            rest = [f"{n} {t}" for n, t in fields.items() if n not in ("width", "height")]
            return "placed: " + ", ".join([size.format(**fields), *rest] if size else rest)
        case "add":
            pages = ", ".join(place.page for place in decision.places if place.page)
            return f"stands on page {pages} too" if pages else "taken into the list"
        case "crop" | "focus":
            around = " around a point" if decision.kind == "focus" else ""
            return f"cropped{around}" if told else "not cropped"
        case "assume":
            return f"read as {told}" if told else "read by its own ICC profile"
        case "sharpen":
            words = {"no": "not sharpened", "camera": "not sharpened: the camera did it"}
            return words.get(told, "sharpened as the house does")
        case "accept":
            return f"accepted: {fields.get('finding', '')}, {fields.get('reason', '')}"
        case "no longer accept":
            return f"no longer accepted: {told}"
    return f"{decision.kind} {told or 'as the house has it'}"


def when(at: str) -> str:
    """Return a time of the day-book as this computer's clock has it, to the minute."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return at
