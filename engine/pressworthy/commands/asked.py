"""Which pictures a command is asked to work on, by which house profiles, and what is accepted."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pressworthy import jobs
from pressworthy.files.intake import walk
from pressworthy.files.picture_list import Entry, read_list
from pressworthy.files.waivers import named, read_waivers
from pressworthy.house import House, load_house
from pressworthy.plugins import Registry
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.waiver import Waiver
from pressworthy.values.words import readable
from pressworthy.yamlfile import is_there

if TYPE_CHECKING:
    from pressworthy.files.pages import Placed, Trim

Work = list[tuple[House, list[jobs.Task]]]
"""The pictures to work on for each house profile."""


@dataclass(frozen=True)
class Asked:
    """What was asked for on the command line.

    houses: names or files of house profiles, sought in `house_folder` first; paths: pictures and
    folders of them, `skip` the patterns of what to leave out; request: how all of these are placed;
    list, waivers: files; scattered: whether the list may name pictures outside its own folder.
    """

    houses: tuple[str, ...]
    house_folder: Path | None
    paths: tuple[Path, ...]
    skip: tuple[str, ...]
    request: PlacementRequest
    list: Path | None
    waivers: Path | None
    scattered: bool

    @property
    def is_placed(self) -> bool:
        """Whether anything was said of how the pictures are placed."""
        return self.request != PlacementRequest()


def work(asked: Asked, registry: Registry, today: date) -> tuple[Work, list[Waiver]]:
    """Return the pictures for each house, by the picture list or the paths, and the waivers.

    today: on which waivers have to be valid; a picture whose tones one accepts keeps them. Raises
    SetupError with all that is wrong in the list, the waivers and the house profiles.
    """
    if asked.list and (asked.paths or asked.is_placed):
        raise SetupError(["--list says which pictures and how large; give it alone"])
    if not asked.list and not (asked.houses and asked.paths):
        raise SetupError(["give pictures and --house, or --list"])
    faults: list[Fault] = []
    entries, waivers = _listed(asked, registry, faults, housed=not asked.houses)
    tasks: dict[str, list[jobs.Task]] = {}
    if asked.list:
        for name in asked.houses or [""]:
            for house, more in jobs.listed(entries, name).items():
                tasks[house] = list(dict.fromkeys([*tasks.get(house, []), *more]))
    else:
        walked = [jobs.Task(path, asked.request) for path in walk(asked.paths, asked.skip)]
        tasks = {name: walked for name in asked.houses if walked}
    houses = {}
    for name in dict.fromkeys([*asked.houses, *tasks]):
        try:
            houses[name] = load_house(name, registry, asked.house_folder)
        except SetupError as error:
            if name not in asked.houses:
                faults.append(Fault(None, (), f"{asked.list} names the house {name!r}"))
            faults += error.faults
    if faults:
        raise SetupError(faults)
    if len({houses[name].name for name in tasks}) < len(tasks):
        raise SetupError(["two of the house profiles have the same name"])
    waivers = jobs.judged_here(waivers, registry.rules)
    return [(houses[n], jobs.with_tones(tasks[n], waivers, today)) for n in tasks], waivers


def work_on_pages(
    pages: Path, asked: Asked, registry: Registry, trim: Trim, progress: jobs.Progress
) -> tuple[list[tuple[House, list[Placed]]], list[Path], list[Waiver]]:
    """Return the pictures on the pages for each house, the files they may be of, and the waivers.

    These are the files asked for and those that the picture list names. trim: of pages that state
    none. Raises SetupError where the pages cannot be read, or something else is asked wrongly.
    """
    # what reads PDFs takes its time to load
    from pressworthy.jobs import pages as on_pages

    if len(asked.houses) > 1:
        raise SetupError(["--pages takes one --house; a --list gives each page its own"])
    faults: list[Fault] = []
    entries, waivers = _listed(asked, registry, faults)
    if faults:
        raise SetupError(faults)
    named = [*masters(asked.paths, asked.skip), *(entry.path for entry in entries)]
    files = list({os.path.realpath(path): path for path in reversed(named)}.values())[::-1]
    placed = on_pages.placed_on(pages, trim, progress)
    parts = on_pages.placed_by_house(placed, entries, "".join(asked.houses))
    houses = {name: load_house(name, registry, asked.house_folder) for name in parts}
    waivers = jobs.judged_here(waivers, registry.rules, pages=True)
    return [(houses[name], part) for name, part in parts.items()], files, waivers


def masters(paths: Sequence[Path], skip: Sequence[str] = ()) -> list[Path]:
    """Return the files among which the pictures on pages are sought."""
    if missing := [path for path in paths if not is_there(path)]:
        raise SetupError(f"{path}: no such file or folder" for path in missing)
    return list(walk(paths, skip))


def for_elsewhere(work: Work) -> Work:
    """Return the work for workers that stand in folders of their own."""
    return [(house, [replace(t, path=t.path.absolute()) for t in tasks]) for house, tasks in work]


def inputs(asked: Asked, work: Work) -> list[Path | None]:
    """Return the files that a run reads."""
    pictures = [task.path for _, tasks in work for task in tasks]
    return [asked.list, asked.waivers, *files_of(house for house, _ in work), *pictures]


def files_of(houses: Iterable[House]) -> list[Path]:
    return [Path(file) for house in houses for file in house.chain]


def _listed(
    asked: Asked, registry: Registry, faults: list[Fault], *, housed: bool = False
) -> tuple[tuple[Entry, ...], list[Waiver]]:
    """Return what the picture list lists, and its waivers with those of --waivers.

    What is wrong in either is added to the faults, so that all is told at once.
    """
    entries: tuple[Entry, ...] = ()
    waivers: list[Waiver] = []
    notes: list[str] = []
    try:
        if asked.list:
            entries = read_list(
                asked.list, allow_outside=asked.scattered, housed=housed, notes=notes
            )
    except SetupError as error:
        faults += error.faults
    try:
        waivers += read_waivers(asked.waivers) if asked.waivers else ()
    except SetupError as error:
        faults += error.faults
    for note in notes:
        print(readable(note), file=sys.stderr)
    waivers += [waiver for entry in entries for waiver in entry.waivers]
    codes = {name: tuple(rule.codes) for name, rule in registry.rules.items()}
    return entries, named(waivers, {**codes, jobs.LIST: jobs.LIST_CODES, "prepare": ()})
