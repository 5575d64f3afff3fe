"""Pictures to judge, each with what is known of its place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.intake import take_in
from pressworthy.files.picture_list import Entry
from pressworthy.house import House
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.yamlfile import is_there

LIST = "picture-list"
"""What stands in a rule's place where the picture list itself is at fault."""

LIST_CODES = ("missing-file", "listed-twice")
"""What can be found of it."""


@dataclass(frozen=True)
class Task:
    """One picture to judge, and what is known of its place.

    name: what a picture list calls it, "" where none lists it; assume: the RGB space the list
    vouches for, or ""; twin: the line that lists the same for the same place, or "".
    """

    path: Path
    request: PlacementRequest
    name: str = ""
    assume: str = ""
    twin: str = ""


def listed(entries: Iterable[Entry], house: str = "") -> dict[str, list[Task]]:
    """Return house -> tasks of a picture list; `house` is for entries that name none."""
    tasks: dict[str, list[Task]] = {}
    for entry in entries:
        task = Task(entry.path, entry.request, entry.name, entry.assume, entry.twin)
        tasks.setdefault(entry.house or house, []).append(task)
    return tasks


def taken_in(task: Task, house: House) -> Picture:
    picture = take_in(task.path, house.output, task.request)
    return replace(picture, assumed=rgb_profile(task.assume)) if task.assume else picture


def of_list(verdict: Verdict, task: Task) -> Verdict:
    """Return the verdict under the list's name, with what is to be said of the list itself.

    No house weighs these: what is not there cannot go to press, and a person must know which of
    two equal lines was meant.
    """
    outcomes = verdict.outcomes
    if task.name and not is_there(task.path):
        remedy = "Supply the file, or take its line out of the list."
        missing = Finding("missing-file", "missing", "there", "", remedy, Severity.STOP)
        outcomes = (Outcome(LIST, State.FOUND, (missing,)),)
    if task.twin:
        remedy = "Take one of the two lines out, or give it its own page."
        twice = Finding("listed-twice", f"also {task.twin}", "once", "", remedy, Severity.QUERY)
        outcomes = (*outcomes, Outcome(LIST, State.FOUND, (twice,)))
    # where no size is known the verdict names no page
    return replace(verdict, outcomes=outcomes, page=task.request.page, name=task.name)
