"""From a decision that was made to changes of files that take it back: pure.

Where nothing has changed in a file since, it gets the very bytes that it had; where something else
has, only what was decided is taken out of it; where the same cell or acceptance has, it is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from pressworthy.files.picture_list import read_list
from pressworthy.files.waivers import read_waivers
from pressworthy.open_proof import acceptances, cells
from pressworthy.open_proof.decisions import changed, text_of
from pressworthy.open_proof.issue import LIST, WAIVERS, Issue, places_of
from pressworthy.open_proof.journal import (
    Change,
    Effect,
    Overtaken,
    Place,
    Record,
    Rewritten,
    digest,
)

_KEY = ("finding", "picture", "page")


def undone(
    issue: Issue, record: Record, later: Sequence[Record]
) -> tuple[tuple[Change, ...], Effect]:
    """Return what becomes of which file when a decision is taken back, and what that does.

    later: what was decided and taken back since. Raises Overtaken, or SetupError where a file
    cannot be written in.
    """
    _refuse_overtaken(record, later)
    done: list[Change] = []
    effect = _reversed(record.effect)
    lines, columns = _left_over(issue, record)
    # what is left over of others would stay with the bytes that there were
    alone = lines <= set(record.effect.lines) and columns <= set(record.effect.columns)
    for patch in record.patches:
        text_of(issue, patch.file)
        raw = issue.files[patch.file]
        if digest(raw) == patch.after and (alone or patch.file != LIST):
            done.append(Change(issue.folder / patch.file, raw, patch.back(raw)))
        elif patch.file == LIST:
            more, of_list = _lines_undone(issue, record, later)
            done += more
            effect = replace(of_list, accepted=effect.accepted, withdrawn=effect.withdrawn)
        else:
            done += _acceptances_undone(issue, record, later)
    return tuple(done), effect


def _refuse_overtaken(record: Record, later: Sequence[Record]) -> None:
    """Refuse to take back what a later decision, which stands, has written over."""
    back = {one.takes_back for one in later}
    mine = {(_followed(cell.place, later), cell.field) for cell in record.effect.cells}
    keys = set(map(_key, (*record.effect.accepted, *record.effect.withdrawn)))
    told: list[str] = []
    since: list[Record] = []
    for number, one in enumerate(later):
        if one.takes_back or one.decision.identity in back:
            continue
        who = by_whom(one)
        more = [
            f"{place.in_words()}: {cell.field} is {cells.says(cell.after) or 'empty'} now, {who}"
            for cell in one.effect.cells
            if ((place := _followed(cell.place, later[number + 1 :])), cell.field) in mine
        ]
        more += _accepted_now(one.effect, keys, who)
        if more:
            told += more
            since.append(one)
    if told:
        raise Overtaken(told, since)


def _accepted_now(effect: Effect, keys: Collection[tuple[object, ...]], who: str) -> list[str]:
    """Return in words which of these acceptances an effect has put in or taken out."""
    put_in = {_key(one) for one in effect.accepted}
    states = [(one, "accepted") for one in effect.accepted]
    states += [(one, "no longer accepted") for one in effect.withdrawn if _key(one) not in put_in]
    return [
        f"{_picture(one)}: {one['finding']} is {state} now, {who}"
        for one, state in states
        if _key(one) in keys
    ]


def _followed(place: Place, later: Iterable[Record]) -> Place:
    """Return where a place is after what was made later."""
    for record in later:
        place = dict(record.effect.moved).get(place, place)
    return place


def _reversed(effect: Effect) -> Effect:
    was = {now: before for before, now in effect.moved}
    return Effect(
        tuple(
            Rewritten(was.get(cell.place, cell.place), cell.field, cell.after, cell.before)
            for cell in effect.cells
        ),
        effect.lines,
        effect.columns,
        accepted=effect.withdrawn,
        withdrawn=effect.accepted,
        moved=tuple((now, before) for before, now in effect.moved),
    )


def _lines_undone(
    issue: Issue, record: Record, later: Sequence[Record]
) -> tuple[tuple[Change, ...], Effect]:
    table = cells.table(text_of(issue, LIST) or "")
    listed = issue.places()
    written: dict[tuple[int, str], str] = {}
    told: list[str] = []
    for cell in record.effect.cells:
        line = _line(listed, cell.place, later)
        if line is None:
            told.append(f"{cell.place.in_words()}: no longer in the list")
            continue
        now, was = table.says(line, cell.field), cells.says(cell.before)
        if now == was:
            continue
        if now != cells.says(cell.after):
            who = _who(later, partial(_left, cell, now))
            told.append(f"{listed[line].in_words()}: {cell.field} is {now or 'empty'} now, {who}")
        raw = cell.before if table.fits(cell.before) else table.spelled(line, cell.field, was)
        written[line, cell.field] = raw
    if told:
        raise Overtaken(told, later)
    missing = {name for _, name in written} - set(table.names)
    done = cells.with_cells(cells.with_columns(table, sorted(missing)), written)
    lines, columns = _left_over(issue, record)
    gone: list[int] = []
    for line, place in enumerate(listed):
        if place in lines and done.is_bare(line) and len(listed) - len(gone) > 1:
            gone.append(line)
    for line in reversed(gone):
        done = cells.without_line(done, line)
    without: list[str] = []
    while done.names[-1] in columns and not any(done.column(done.names[-1])):
        without.append(done.names[-1])
        done = cells.without_last_column(done)
    entries = read_list(issue.folder / LIST, raw=done.text.encode())
    left = [place for line, place in enumerate(listed) if line not in gone]
    moved = list(zip(left, places_of(issue.folder, entries), strict=True))
    after = dict(moved)
    effect = Effect(
        tuple(
            Rewritten(after.get(listed[line], listed[line]), name, table.raw(line, name), raw)
            for (line, name), raw in written.items()
        ),
        tuple(listed[line] for line in gone),
        tuple(without),
        moved=tuple(pair for pair in moved if pair[0] != pair[1]),
    )
    return changed(issue, LIST, done.text), effect


def _left_over(issue: Issue, record: Record) -> tuple[set[Place], set[str]]:
    """Return lines and columns that this record, and those taken back before, added and left.

    What one of them added and another then wrote in goes with the last of them.
    """
    book = [one for one in issue.day_book if one.state == "made"]
    back = {one.takes_back for one in book} | {record.decision.identity}
    lines: set[Place] = set()
    columns: set[str] = set()
    in_use: set[Place] = set()
    written: set[str] = set()
    for one in book:
        if one.takes_back:
            lines -= set(one.effect.lines)
            columns -= set(one.effect.columns)
        moved = dict(one.effect.moved)
        lines = {moved.get(place, place) for place in lines}
        in_use = {moved.get(place, place) for place in in_use}
        if one.takes_back:
            continue
        if one.decision.identity in back:
            lines |= set(one.effect.lines)
            columns |= set(one.effect.columns)
        else:
            in_use |= {cell.place for cell in one.effect.cells}
            written |= {cell.field for cell in one.effect.cells}
    return lines - in_use, columns - written


def _line(listed: Sequence[Place], place: Place, later: Sequence[Record]) -> int | None:
    """Return which line a place is by now, None where that cannot be told."""
    place = _followed(place, later)
    if place in listed:
        return listed.index(place)
    # moved by hand, perhaps
    same = [line for line, one in enumerate(listed) if one.picture == place.picture]
    return same[0] if len(same) == 1 else None


def _acceptances_undone(
    issue: Issue, record: Record, later: Sequence[Record]
) -> tuple[Change, ...]:
    text = text_of(issue, WAIVERS)
    now = acceptances.kept(text) if text else []
    before = {_key(one): one for one in record.effect.withdrawn}
    told: list[str] = []
    anew: dict[int, Mapping[str, str]] = {}
    gone: set[int] = set()
    for mine in record.effect.accepted:
        was = before.pop(_key(mine), None)
        same = next((one for one in now if one.fields == mine and one.index not in gone), None)
        if same is None:
            who = _who(later, partial(_speaks_of, mine))
            about = f"{_picture(mine)}: the acceptance of {mine['finding']}"
            told.append(f"{about} was changed or taken out since, {who}")
        elif was is None:
            gone.add(same.index)
        else:
            anew[same.index] = was
    if told:
        raise Overtaken(told, later)
    there = {_key(one.fields) for one in now}
    back = [one for key, one in before.items() if key not in there]
    if text and anew:
        text = acceptances.with_fields(text, anew)
    if text and gone:
        text = acceptances.without(text, gone)
    if back:
        text = acceptances.with_more(text, back)
    if text is None:
        return ()
    read_waivers(issue.folder / WAIVERS, text.encode())
    return changed(issue, WAIVERS, text)


def _picture(fields: Mapping[str, str]) -> str:
    """Return what an acceptance is for, towards a person: a picture, or a page."""
    return fields.get("picture") or Place("", fields.get("page", "")).in_words()


def _key(fields: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(fields.get(name, "") for name in _KEY)


def touched(effect: Effect) -> frozenset[tuple[object, ...]]:
    """Return what an effect is about: equal for two that are about the same cell or acceptance."""
    was = {now: before for before, now in effect.moved}
    about: list[tuple[object, ...]] = []
    for cell in effect.cells:
        about += [(cell.place, cell.field), (was.get(cell.place, cell.place), cell.field)]
    about += [_key(one) for one in (*effect.accepted, *effect.withdrawn)]
    return frozenset(about)


def _left(cell: Rewritten, now: str, record: Record) -> bool:
    """Tell whether a record left the cell as it is now."""
    return any(
        one.field == cell.field
        and one.place.picture == cell.place.picture
        and cells.says(one.after) == now
        for one in record.effect.cells
    )


def _speaks_of(fields: Mapping[str, str], record: Record) -> bool:
    spoken = (*record.effect.accepted, *record.effect.withdrawn)
    return any(_key(one) == _key(fields) for one in spoken)


def _who(later: Iterable[Record], is_about: Callable[[Record], bool]) -> str:
    return by_whom(next((one for one in reversed(list(later)) if is_about(one)), None))


def by_whom(record: Record | None) -> str:
    """Return by whom and when something was changed, in words; None: by hand."""
    if record is None:
        return "by hand"
    decision = record.decision
    verb = "taken back" if record.takes_back else "decided"
    return f"{verb} by {decision.by or 'somebody'}, {decision.at[:16].replace('T', ' ')}"


def told_of(record: Record, about: frozenset[tuple[object, ...]]) -> list[str]:
    """Return in words what a record did to what something else is about too."""
    who = by_whom(record)
    told = [
        f"{cell.place.in_words()}: {cell.field} is {cells.says(cell.after) or 'empty'} now, {who}"
        for cell in record.effect.cells
        if touched(Effect(cells=(cell,), moved=record.effect.moved)) & about
    ]
    told += _accepted_now(record.effect, {one for one in about if len(one) == len(_KEY)}, who)
    return told
