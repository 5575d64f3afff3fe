"""From what a person decided to changes of files: pure, and checked as the commands check it."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from pressworthy.files.picture_list import FIELDS, faults_of_line, read_list
from pressworthy.files.waivers import faults_of, read_waivers
from pressworthy.open_proof import acceptances, cells
from pressworthy.open_proof.issue import LIST, OTHER_LISTS, WAIVERS, Issue, places_of, seen_from
from pressworthy.open_proof.journal import Change, Decision, Effect, Place, Rewritten, Taken
from pressworthy.values.faults import Fault, SetupError
from pressworthy.yamlfile import is_there

__all__ = ["KINDS", "Change", "Decision", "Place", "Taken", "changes", "worked_out"]

KINDS: Mapping[str, tuple[str, ...]] = {
    "place": ("width", "height", "page", "bleed", "edges", "fit"),
    "largest size": ("width", "height"),
    "crop": ("crop",),
    "focus": ("focus",),
    "assume": ("assume",),
    "gray mix": ("gray mix",),
    "tone": ("tone",),
    "sharpen": ("sharpen",),
    "accept": ("finding", "reason", "by", "until"),
    "no longer accept": ("finding",),
    "title": ("house",),
    "add": (),
}
"""Kind -> the fields it may have.

What `largest size` writes is worked out by `sizes.largest`; the names under masters/ of what `add`
lists by `names.master_name`. `add` also lists a picture once more, for a page that its place names.
`assume` is for all lines of its pictures, `title` without places for all lines and all masters
without one. `sharpen` is yes, no, or camera: then the list says no, and the day-book why.
"""
OF_PAGES = ("accept", "no longer accept")
"""Kinds that may be of a page, whatever stands on it."""

CAMERA = "camera"
_INSTEAD = {"crop": "focus", "focus": "crop"}
"""Of which a line has one."""


def changes(issue: Issue, decision: Decision) -> tuple[Change, ...]:
    """Return what becomes of which file; nothing where all is so already.

    Raises SetupError naming the field, or the file that cannot be written in.
    """
    return worked_out(issue, decision)[0]


def worked_out(issue: Issue, decision: Decision) -> tuple[tuple[Change, ...], Effect]:
    """Return what becomes of which file, and what that does, one by one. Raises SetupError."""
    fields = _fields(decision)
    match decision.kind:
        case "accept":
            return _accepted(issue, decision, fields)
        case "no longer accept":
            return _withdrawn(issue, decision.places, fields["finding"])
        case "title":
            if not fields.get("house"):
                raise _wrong("house", "no house profile is named")
            text_of(issue, LIST)
            masters = [Place(seen_from(issue.folder, path)) for path in issue.unlisted]
            places = decision.places or (*issue.places(), *masters)
            if not places:
                raise _wrong("house", "there is no picture yet that could be for a title")
            return _rewritten(issue, dict.fromkeys(places, fields))
        case "assume":
            pictures = {place.picture for place in decision.places}
            lines = [place for place in issue.places() if place.picture in pictures]
            listed = {place.picture for place in lines}
            lines += [place for place in decision.places if place.picture not in listed]
            return _rewritten(issue, dict.fromkeys(lines, fields))
        case "add":
            return _rewritten(
                issue, {one: {"page": one.page} for one in decision.places}, more=True
            )
        case "sharpen" if fields.get("sharpen") == CAMERA:
            fields = {"sharpen": "no"}
        case "crop" | "focus" if fields.get(decision.kind):
            fields = {**fields, _INSTEAD[decision.kind]: ""}
    return _rewritten(issue, dict.fromkeys(decision.places, fields))


def _fields(decision: Decision) -> dict[str, str]:
    known = KINDS.get(decision.kind)
    if known is None:
        raise SetupError([f"nothing that can be decided is called {decision.kind!r}"])
    if not decision.places and decision.kind != "title":
        raise SetupError(["no picture is named"])
    fields = {}
    for name, text in decision.fields.items():
        if name not in known:
            raise _wrong(name, f"not what {decision.kind!r} decides")
        fields[name] = text.strip() if name == "house" else " ".join(text.split())
        if any(unicodedata.category(c) in ("Cc", "Cs") for c in fields[name]):
            raise _wrong(name, "holds a control character")
    if not fields and decision.kind != "add":
        raise SetupError([f"nothing is said of {' or '.join(known)}"])
    return fields


def _wrong(name: str, message: str) -> SetupError:
    return SetupError([Fault(None, (name,), message)])


def text_of(issue: Issue, name: str) -> str | None:
    """Return what stands in a file that is to be written in, None where there is nothing yet.

    Raises SetupError where it may not be written in.
    """
    if name in issue.files:
        return (issue.files[name] or b"").decode() or None
    others = [other for other in OTHER_LISTS if is_there(issue.folder / other)]
    if name == LIST and others and not is_there(issue.folder / LIST):
        message = f"decisions are written to {LIST}: save the list as that, in CSV UTF-8"
        raise SetupError([f"{issue.folder / others[0]}: {message}"])
    path = str(issue.folder / name)
    faults = [fault for fault in issue.faults if str(fault).startswith(path)]
    raise SetupError([f"{path}: has to be mended before anything is written in it", *faults])


def changed(issue: Issue, name: str, text: str) -> tuple[Change, ...]:
    """Return the change of a file to a text, none where it is so already."""
    before, after = issue.files[name], text.encode()
    return () if before == after else (Change(issue.folder / name, before, after),)


def _rewritten(
    issue: Issue, wanted: Mapping[Place, Mapping[str, str]], *, more: bool = False
) -> tuple[tuple[Change, ...], Effect]:
    """Write fields in lines of the list; pictures that have none get one.

    more: so do those that have one for another page.
    """
    text = text_of(issue, LIST)
    old = cells.table(text) if text else cells.new_table()
    before = issue.places()
    masters = _without_line(issue, before, wanted, more=more)
    # who empties the cells of a picture that has none asks for no line
    fresh = tuple(place for place in masters if more or any(wanted[place].values()))
    table = cells.with_lines(old, [place.picture for place in fresh])
    lines = {place: number for number, place in enumerate([*before, *fresh])}
    to_write: dict[int, Mapping[str, str]] = {}
    faults: dict[str, Fault] = {}
    for place, fields in wanted.items():
        if place not in lines:
            continue
        line = lines[place]
        if place in fresh and issue.title:
            fields = {"house": issue.title, **fields}
        to_write[line] = fields
        for fault in faults_of_line({**table.cells(line), **fields}, issue.folder):
            faults.setdefault(str(fault), fault)
    if faults:
        raise SetupError(faults.values())
    said = {name for fields in to_write.values() for name, value in fields.items() if value}
    columns = [name for name in FIELDS if name in said and name not in table.names]
    table = cells.with_columns(table, columns)
    written = {
        (line, name): raw
        for line, fields in to_write.items()
        for name, value in fields.items()
        if name in table.names and value != table.says(line, name)
        if (raw := table.spelled(line, name, value)) != table.raw(line, name)
    }
    done = cells.with_cells(table, written)
    if not written and not fresh:
        return (), Effect()
    entries = read_list(issue.folder / LIST, raw=done.text.encode())
    after = places_of(issue.folder, entries)
    effect = Effect(
        tuple(
            Rewritten(after[line], name, table.raw(line, name), raw)
            for (line, name), raw in written.items()
        ),
        tuple(after[len(before) :]),
        tuple(columns),
        moved=tuple((was, now) for was, now in zip(before, after, strict=False) if was != now),
    )
    return changed(issue, LIST, done.text), effect


def _without_line(
    issue: Issue, listed: Sequence[Place], wanted: Iterable[Place], *, more: bool = False
) -> tuple[Place, ...]:
    """Return the places that are masters without a line. Raises SetupError for unknown ones.

    more: and those that are listed for other pages only.
    """
    masters = {seen_from(issue.folder, path) for path in issue.unlisted}
    known = set(listed)
    fresh, faults = [], []
    for place in wanted:
        if place in known:
            continue
        has_line = place.picture in {one.picture for one in listed}
        is_known = (has_line and more) or (place.picture in masters and (more or not place.page))
        if is_known and place.number == 1:
            fresh.append(place)
        elif has_line:
            page = f" for page {place.page}" if place.page else " without a page"
            faults.append(f"{place.picture}: is not listed{page} any more")
        else:
            faults.append(f"{place.picture}: there is no such picture")
    if faults:
        raise SetupError(faults)
    return tuple(fresh)


def _accepted(
    issue: Issue, decision: Decision, fields: Mapping[str, str]
) -> tuple[tuple[Change, ...], Effect]:
    text = text_of(issue, WAIVERS)
    fields = {"by": decision.by, **fields}
    wrong = faults_of(fields)
    if not wrong and decision.at and date.fromisoformat(fields["until"]) < _day(decision.at):
        wrong["until"] = f"{fields['until']} is past; the last day is one to come"
    if wrong:
        raise SetupError(Fault(None, (name,), message) for name, message in wrong.items())
    listed = issue.places()
    _without_line(issue, listed, [place for place in decision.places if place.picture])
    lines = Counter(place.picture for place in listed)
    kept = {
        (one.fields["finding"], _picture(issue, one.fields), one.fields.get("page", "")): one
        for one in reversed(acceptances.kept(text) if text else [])
    }
    more: dict[tuple[str, str], Mapping[str, str]] = {}
    anew: dict[int, Mapping[str, str]] = {}
    withdrawn: list[Mapping[str, str]] = []
    words = {name: fields[name] for name in ("reason", "by", "until")}
    for place in decision.places:
        # for this page alone where it stands on others too; else it follows it to another
        page = place.page if lines[place.picture] > 1 or not place.picture else ""
        same = kept.get((fields["finding"], place.picture, page))
        if same is None:
            new = {"picture": place.picture, "page": page, **fields}
            more[place.picture, page] = {name: said for name, said in new.items() if said}
        elif any(same.fields[name] != said for name, said in words.items()):
            anew[same.index] = {**same.fields, **words}
            withdrawn.append(same.fields)
    if text and anew:
        text = acceptances.with_fields(text, anew)
    if more:
        text = acceptances.with_more(text, list(more.values()))
    if text is None or not (anew or more):
        return (), Effect()
    read_waivers(issue.folder / WAIVERS, text.encode())
    accepted = (*anew.values(), *more.values())
    return changed(issue, WAIVERS, text), Effect(accepted=accepted, withdrawn=tuple(withdrawn))


def _withdrawn(
    issue: Issue, places: Sequence[Place], finding: str
) -> tuple[tuple[Change, ...], Effect]:
    text = text_of(issue, WAIVERS)
    kept = [
        one for one in (acceptances.kept(text) if text else ()) if one.fields["finding"] == finding
    ]
    wanted: dict[Place, Mapping[str, str]] = {}
    gone: dict[int, Mapping[str, str]] = {}
    faults: list[str] = []
    listed = dict(zip(issue.places(), issue.entries, strict=True))
    for place in places:
        mine = {
            one.index: one.fields
            for one in kept
            if one.fields.get("page", "") in ("", place.page)
            and _picture(issue, one.fields) == place.picture
        }
        gone |= mine
        if place in listed and any(one.finding == finding for one in listed[place].waivers):
            codes = [one.finding for one in listed[place].waivers if one.finding != finding]
            nothing = dict.fromkeys(("waive", "reason", "by", "until"), "")
            wanted[place] = {"waive": " ".join(codes)} if codes else nothing
        elif not mine and not all(one.fields.get("picture") for one in kept):
            faults.append(f"{place.picture}: {WAIVERS} accepts it for all of a page; take it there")
        elif not mine:
            faults.append(f"{place.in_words()}: {finding} is not accepted")
    if faults:
        raise SetupError(faults)
    done, effect = _rewritten(issue, wanted) if wanted else ((), Effect())
    if text and gone:
        text = acceptances.without(text, gone)
        read_waivers(issue.folder / WAIVERS, text.encode())
        done += changed(issue, WAIVERS, text)
    return done, replace(effect, withdrawn=tuple(gone.values()))


def _picture(issue: Issue, fields: Mapping[str, str]) -> str:
    """Return which picture an acceptance names, as seen from the folder; "" where none."""
    picture = fields.get("picture", "")
    return seen_from(issue.folder, issue.folder / picture) if picture else ""


def _day(at: str) -> date:
    return date.fromisoformat(at[:10])
