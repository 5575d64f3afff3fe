"""From what a person decided to changes of files: pure, and checked as the commands check it."""

from __future__ import annotations

import re
import unicodedata
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
lists by `names.master_name`. `assume` is for all lines of its pictures, `title` without places for
all lines and all masters without one. `sharpen` is yes, no, or camera: then the list says no, and
the day-book why.
"""
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
    issue: Issue, wanted: Mapping[Place, Mapping[str, str]]
) -> tuple[tuple[Change, ...], Effect]:
    """Write fields in lines of the list; pictures that have none get one."""
    text = text_of(issue, LIST)
    old = cells.table(text) if text else cells.new_table()
    before = issue.places()
    fresh = _without_line(issue, before, wanted)
    table = cells.with_lines(old, [place.picture for place in fresh])
    lines = {place: number for number, place in enumerate([*before, *fresh])}
    to_write: dict[int, Mapping[str, str]] = {}
    faults: dict[str, Fault] = {}
    for place, fields in wanted.items():
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
    issue: Issue, listed: Sequence[Place], wanted: Iterable[Place]
) -> tuple[Place, ...]:
    """Return the places that are masters without a line. Raises SetupError for unknown ones."""
    masters = {seen_from(issue.folder, path) for path in issue.unlisted}
    fresh, faults = [], []
    for place in wanted:
        if place in listed:
            continue
        if place == Place(place.picture) and place.picture in masters:
            fresh.append(place)
        elif place.picture in (one.picture for one in listed):
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
    _without_line(issue, listed, decision.places)
    accepted: list[Mapping[str, str]] = []
    withdrawn: list[Mapping[str, str]] = []
    for place in decision.places:
        several = sum(one.picture == place.picture for one in listed) > 1
        # for this page alone where it stands on others too; else it follows it to another
        page = {"page": place.page} if several and place.page else {}
        new = {"picture": place.picture, **page, **fields}
        same = [
            one
            for one in (acceptances.kept(text) if text else ())
            if one.fields["finding"] == new["finding"]
            and one.fields.get("page", "") == page.get("page", "")
            and _is_for(issue, one.fields, place)
        ]
        if same and all(same[0].fields[name] == new[name] for name in ("reason", "by", "until")):
            continue
        if same:
            assert text is not None
            words = {name: new[name] for name in ("reason", "by", "until")}
            text = acceptances.with_fields(text, same[0].index, words)
            withdrawn.append(same[0].fields)
            accepted.append({**same[0].fields, **words})
        else:
            text = acceptances.with_more(text, [new])
            accepted.append(new)
    if text is None or not accepted:
        return (), Effect()
    read_waivers(issue.folder / WAIVERS, text.encode())
    effect = Effect(accepted=tuple(accepted), withdrawn=tuple(withdrawn))
    return changed(issue, WAIVERS, text), effect


def _withdrawn(
    issue: Issue, places: Sequence[Place], finding: str
) -> tuple[tuple[Change, ...], Effect]:
    text = text_of(issue, WAIVERS)
    withdrawn: list[Mapping[str, str]] = []
    faults: list[str] = []
    wanted: dict[Place, Mapping[str, str]] = {}
    kept = acceptances.kept(text) if text else []
    of_finding = [one for one in kept if one.fields["finding"] == finding]
    gone: dict[int, Mapping[str, str]] = {}
    listed = dict(zip(issue.places(), issue.entries, strict=True))
    for place in places:
        mine = [
            one
            for one in of_finding
            if one.fields.get("page", "") in ("", place.page) and _is_for(issue, one.fields, place)
        ]
        gone |= {one.index: one.fields for one in mine}
        in_list = place in listed and any(w.finding == finding for w in listed[place].waivers)
        if in_list:
            wanted[place] = _without_code(issue, place, finding)
        for_page = [one for one in of_finding if not one.fields.get("picture")]
        if not mine and not in_list and for_page:
            faults.append(f"{place.picture}: {WAIVERS} accepts it for all of a page; take it there")
        elif not mine and not in_list:
            faults.append(f"{place.picture}: {finding} is not accepted")
    if faults:
        raise SetupError(faults)
    for index in sorted(gone, reverse=True):
        assert text is not None
        text = acceptances.without(text, index)
        withdrawn.append(gone[index])
    done: tuple[Change, ...] = ()
    effect = Effect()
    if wanted:
        done, effect = _rewritten(issue, wanted)
    if text is not None and withdrawn:
        read_waivers(issue.folder / WAIVERS, text.encode())
        done += changed(issue, WAIVERS, text)
    return done, replace(effect, withdrawn=tuple(withdrawn))


def _without_code(issue: Issue, place: Place, finding: str) -> dict[str, str]:
    """Return the fields of a line whose column waive accepts this finding no more."""
    table = cells.table(text_of(issue, LIST) or "")
    codes = re.split(r"[\s,;]+", table.says(issue.places().index(place), "waive"))
    left = " ".join(code for code in codes if code and code != finding)
    return {"waive": left} if left else dict.fromkeys(("waive", "reason", "by", "until"), "")


def _is_for(issue: Issue, fields: Mapping[str, str], place: Place) -> bool:
    picture = fields.get("picture", "")
    return bool(picture) and seen_from(issue.folder, issue.folder / picture) == place.picture


def _day(at: str) -> date:
    return date.fromisoformat(at[:10])
