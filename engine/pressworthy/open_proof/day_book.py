"""Decisions made and taken back: into the day-book first, then into each file, whole or not."""

from __future__ import annotations

import os
import secrets
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from pressworthy import jobs
from pressworthy.files.picture_list import is_yaml
from pressworthy.files.waivers import named
from pressworthy.house import load_house
from pressworthy.open_proof import standards
from pressworthy.open_proof.decisions import worked_out
from pressworthy.open_proof.issue import DAY_BOOK, LIST, Issue, as_it_stands, read_issue, stamped
from pressworthy.open_proof.journal import (
    Change,
    Decision,
    Effect,
    Overtaken,
    Patch,
    Record,
    append,
    digest,
    end_of,
    line_of,
    mended,
    patch_of,
)
from pressworthy.open_proof.standards import AMONG, Draft, file_of, place_of
from pressworthy.open_proof.taking_back import told_of, touched, undone
from pressworthy.plugins import Registry
from pressworthy.prepare.store import alone_in, clear_unfinished, flush_folder, put, why
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.waiver import Waiver

__all__ = ["Overtaken", "decide", "decide_on_house", "name_of", "opened", "take_back"]

PATIENCE_S = 10.0
"""How long to wait for another decision, which takes some milliseconds, to be written."""


def opened(folder: Path, registry: Registry, house_folder: Path | None = None) -> Issue:
    """Return the issue, a decision that a killed run left unfinished finished or rolled back.

    To be called once, before `read_issue`.
    """
    with _alone(folder):
        _recovered(folder, registry, house_folder)
        return read_issue(folder, registry, house_folder)


def decide(
    folder: Path,
    decision: Decision,
    registry: Registry,
    seen: str,
    house_folder: Path | None = None,
) -> Issue:
    """Make a decision and return the issue as it then is; where all is so already, nothing is made.

    seen: the stamp of the issue that the person decided by. `at` is now where the decision has
    none. When this returns the decision is on the disk. Raises SetupError, Overtaken where others
    changed the same cell or acceptance since.
    """
    with _alone(folder):
        issue = _recovered(folder, registry, house_folder)
        decision = replace(decision, at=decision.at or _now(), identity=secrets.token_hex(8))
        _refuse_unknown(issue, decision, registry, house_folder)
        try:
            changes, effect = worked_out(issue, decision)
        except SetupError as error:
            _refuse_moved(issue, decision, seen, error)
            raise
        _refuse_overtaken(issue, changes, effect, seen)
        if changes:
            record = Record(decision, effect, tuple(map(patch_of, changes)))
            _make(folder, record, changes, house_folder)
        return read_issue(folder, registry, house_folder)


def decide_on_house(
    folder: Path,
    decision: Decision,
    draft: Callable[[], Draft],
    registry: Registry,
    house_folder: Path | None = None,
) -> Issue:
    """Make a decision on a house profile and return the issue as it then is.

    draft: works out the profile's text from the file as it now is; nobody else writes meanwhile.
    Raises SetupError, and whatever `draft` raises.
    """
    with ExitStack() as stack:
        for place in dict.fromkeys([folder.resolve(), place_of(folder, house_folder).resolve()]):
            stack.enter_context(_alone(place))
        _recovered(folder, registry, house_folder)
        decision = replace(decision, at=decision.at or _now(), identity=secrets.token_hex(8))
        changes = draft().change()
        if changes:
            record = Record(decision, Effect(), tuple(map(patch_of, changes)))
            _make(folder, record, changes, house_folder)
        return read_issue(folder, registry, house_folder)


def take_back(
    folder: Path,
    identity: str,
    by: str,
    registry: Registry,
    house_folder: Path | None = None,
) -> Issue:
    """Take a decision back and return the issue as it then is.

    Raises SetupError where there is no such decision or it is taken back already; Overtaken where
    later decisions or hands changed what it had written.
    """
    with _alone(folder):
        issue = _recovered(folder, registry, house_folder)
        made = {one.identity: one for one in issue.decisions}
        if identity not in made:
            raise SetupError(["there is no such decision in the day-book"])
        if taken := made[identity].taken_back:
            who = taken.by or "somebody"
            raise SetupError([f"{who} took it back already, {taken.at[:16].replace('T', ' ')}"])
        book = [one for one in issue.day_book if one.state == "made"]
        place = next(n for n, one in enumerate(book) if one.decision.identity == identity)
        if book[place].decision.kind in standards.KINDS:
            changes = standards.undone(book[place], book[place + 1 :], folder, house_folder)
            effect = Effect()
        else:
            changes, effect = undone(issue, book[place], book[place + 1 :])
        back = Decision("", by=by, at=_now(), identity=secrets.token_hex(8))
        patches = tuple(map(patch_of, changes))
        _make(folder, Record(back, effect, patches, takes_back=identity), changes, house_folder)
        return read_issue(folder, registry, house_folder)


def name_of(issue: Issue) -> str:
    """Return who decided last, to be offered to the next who decides; "" before the first."""
    return next((one.by for one in reversed(issue.decisions) if one.by), "")


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep other decisions out meanwhile, and wait for those that are being written."""
    until = time.monotonic() + PATIENCE_S
    with ExitStack() as stack:
        while True:
            try:
                stack.enter_context(alone_in(folder, "another decision is being written there"))
                break
            except OSError as error:
                raise SetupError([f"{folder}: cannot be opened: {error.strerror}"]) from None
            except SetupError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.01)
        yield


def _refuse_unknown(
    issue: Issue, decision: Decision, registry: Registry, house_folder: Path | None
) -> None:
    """Refuse a house profile or a finding that there is not."""
    if decision.kind == "title" and (house := decision.fields.get("house", "").strip()):
        # as the list is read
        path = str(issue.folder / house) if is_yaml(Path(house)) else house
        load_house(path, registry, house_folder)
    if decision.kind == "accept":
        finding = decision.fields.get("finding", "").strip()
        until = datetime.fromisoformat(decision.at).date()
        codes = {name: tuple(rule.codes) for name, rule in registry.rules.items()}
        codes |= {jobs.LIST: jobs.LIST_CODES, "prepare": ()}
        (waiver,) = named([Waiver(finding, "", "", until)], codes)
        if waiver.unknown and "/" in finding:
            raise SetupError([Fault(None, ("finding",), waiver.unknown)])


def _refuse_overtaken(issue: Issue, changes: Sequence[Change], effect: Effect, seen: str) -> None:
    about = touched(effect)
    told: list[str] = []
    since: list[Record] = []
    for change in changes:
        records = _since(issue, change.path.name, seen)
        if records is None:
            raise Overtaken([f"{change.path}: changed by hand since you saw it; look at it again"])
        for record in records:
            if more := told_of(record, about):
                told += more
                since.append(record)
    if told:
        raise Overtaken(dict.fromkeys(told), since)


def _refuse_moved(issue: Issue, decision: Decision, seen: str, error: SetupError) -> None:
    """Refuse a decision on lines that were moved since they were seen."""
    places = set(decision.places)
    moved = [
        record
        for record in _since(issue, LIST, seen) or ()
        if places & {before for before, _ in record.effect.moved}
    ]
    if moved:
        about = frozenset((place, "page") for place in places)
        told = [text for record in moved for text in told_of(record, about)]
        raise Overtaken([*told, *map(str, error.faults)], moved)


def _since(issue: Issue, name: str, seen: str) -> list[Record] | None:
    """Return what was decided and taken back in a file since a stamp; None where by hand."""
    was, now = stamped(seen).get(name), digest(issue.files.get(name))[:16]
    since: list[Record] = []
    for record in reversed([one for one in issue.day_book if one.state == "made"]):
        if now == was:
            break
        for patch in record.patches:
            if patch.file == name and patch.after[:16] == now:
                since.append(record)
                now = patch.before[:16]
    return since[::-1] if now == was else None


def _make(
    folder: Path, record: Record, changes: Sequence[Change], house_folder: Path | None
) -> None:
    """Write a record into the day-book, then the files, then that all is written.

    Raises SetupError where one cannot be; then nothing is changed.
    """
    book = folder / DAY_BOOK
    try:
        append(book, line_of(record))
    except OSError as error:
        raise SetupError([f"{book}: {why(error)}; nothing was decided"]) from None
    written: list[Patch] = []
    try:
        for change, patch in zip(changes, record.patches, strict=True):
            if _bytes(change.path) != change.before:
                message = f"{change.path}: changed by hand at this moment; nothing was decided"
                raise Overtaken([message])
            written.append(patch)
            _put(change.path, change.after)
        append(book, end_of(record, "made"))
    except (OSError, SetupError) as error:
        # what cannot be put back now is when the folder is opened next
        with suppress(OSError):
            _roll_back(folder, record, written, house_folder)
        if isinstance(error, SetupError):
            raise
        hint = "; close it in other programs" if isinstance(error, PermissionError) else ""
        where = error.filename or folder
        raise SetupError([f"{where}: {why(error)}{hint}; nothing was decided"]) from None


def _roll_back(
    folder: Path, record: Record, written: Sequence[Patch], house_folder: Path | None
) -> None:
    """Give files that have been written the bytes that they had, and say so in the day-book."""
    for patch in written:
        path = file_of(patch.file, folder, house_folder)
        raw = _bytes(path)
        if digest(raw) == patch.after:
            _put(path, patch.back(raw))
    append(folder / DAY_BOOK, end_of(record, "dropped"))


def _put(path: Path, data: bytes | None) -> None:
    # where the list is a link, what it leads to
    path = Path(os.path.realpath(path))
    if data is None:
        path.unlink(missing_ok=True)
        flush_folder(path.parent)
    else:
        put(data, path)


def _bytes(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _recovered(folder: Path, registry: Registry, house_folder: Path | None) -> Issue:
    """Return the issue, what a killed run left behind put right."""
    try:
        clear_unfinished(folder)
        _mend(folder / DAY_BOOK)
        issue = as_it_stands(folder, registry)
        for record in [one for one in issue.day_book if not one.state]:
            _finish(issue, record, house_folder)
            issue = as_it_stands(folder, registry)
    except OSError as error:
        raise SetupError([f"{error.filename or folder}: {why(error)}"]) from None
    return issue


def _mend(book: Path) -> None:
    raw = _bytes(book)
    if raw is None or (whole := mended(raw)) == raw:
        return
    with book.open("r+b") as stream:
        stream.seek(min(len(raw), len(whole)))
        stream.truncate()
        stream.write(whole[len(raw) :])
        stream.flush()
        os.fsync(stream.fileno())


def _finish(issue: Issue, record: Record, house_folder: Path | None) -> None:
    """Write what is left of a decision to write, or take out what is written of it."""
    left: list[Patch] = []
    raws = dict(issue.files)
    for patch in record.patches:
        if patch.file.startswith(AMONG):
            raws[patch.file] = _bytes(file_of(patch.file, issue.folder, house_folder))
        if patch.file not in raws:
            break
        now = digest(raws[patch.file])
        if now == patch.before:
            left.append(patch)
        elif now != patch.after and not _stands(issue, replace(record, patches=(patch,))):
            break
    else:
        for patch in left:
            path = file_of(patch.file, issue.folder, house_folder)
            _put(path, patch.forth(raws[patch.file]))
        append(issue.folder / DAY_BOOK, end_of(record, "made"))
        return
    _roll_back(issue.folder, record, record.patches, house_folder)


def _stands(issue: Issue, record: Record) -> bool:
    """Tell whether what was decided stands in a file that hands have changed since."""
    if record.decision.kind in standards.KINDS:
        return False
    try:
        changes, _ = undone(issue, record, ())
    except SetupError:
        return False
    return bool(changes)
