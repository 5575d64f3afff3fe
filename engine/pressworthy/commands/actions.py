"""What each command does; it imports heavy modules when it runs, so that help is quick."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

from pressworthy.commands.manual import CAUTION
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.words import readable

if TYPE_CHECKING:
    from pressworthy.files.picture_list import Entry
    from pressworthy.house import House
    from pressworthy.jobs import Task
    from pressworthy.jobs.cache import Cache
    from pressworthy.plugins import Registry
    from pressworthy.values.report import Report
    from pressworthy.values.waiver import Waiver

Done = TypeVar("Done")


def check(options: argparse.Namespace) -> int:
    from datetime import date

    from pressworthy.jobs.accepting import accepted
    from pressworthy.report.lines import Live

    registry = registry_of(options)
    render = _renderer(options, registry)
    live = options.format == "lines"
    with _output(options.output, keep=live) as file:
        lines = Live(file)
        progress = lines.passing if live else lambda verdicts: verdicts
        settings = {
            "plugins": options.plugin,
            "jobs": options.jobs,
            "progress": lambda verdicts, total: progress(_progress(verdicts, total)),
        }
        judged, waivers = _judged(options, registry, settings)
        report = accepted(judged, waivers, date.today())
        if live:
            lines.end(report)
        else:
            file.writelines(render(report))
    return report.exit_status()


def _judged(
    options: argparse.Namespace, registry: Registry, settings: dict[str, Any]
) -> tuple[Report, list[Waiver]]:
    """Return the report on the pages, or the pictures, and the waivers that are to be applied."""
    from pressworthy import jobs as desk
    from pressworthy.house import load_house
    from pressworthy.jobs.accepting import joined

    if options.pages:
        if options.size or options.bleed or options.crop or options.scheduler:
            raise SetupError(["--pages says itself how pictures are placed, and is read here"])
        if len(options.house) > 1:
            raise SetupError(["--pages takes one --house; a --list gives each page its own"])
        faults: list[Fault] = []
        entries, waivers = _listed(options, registry, faults)
        if faults:
            raise SetupError(faults)
        files = _masters(options.paths, options.skip) or [entry.path for entry in entries]
        parts = desk.placed_by_house(desk.placed_on(options.pages), entries, "".join(options.house))
        houses = {name: load_house(name, registry, options.house_folder) for name in parts}
        inputs = [options.pages, options.list, options.waivers, *files]
        _refuse_to_lose(options.output, inputs + _files_of(houses.values()))
        known = desk.known_files(files, jobs=options.jobs)
        reports = [
            desk.check_pages(part, known, houses[name], **settings) for name, part in parts.items()
        ]
        return joined(reports), waivers
    work, waivers = _work(options, registry, options.house)
    if not work:
        raise SetupError(["no picture was found; nothing was checked"])
    settings = {**settings, "scheduler": options.scheduler}
    _refuse_to_lose(options.output, _inputs(options, work))
    with _cache(options) as cache:
        reports = [desk.check(tasks, house, cache=cache, **settings) for house, tasks in work]
    return joined(reports), waivers


def _masters(paths: Sequence[Path], skip: Sequence[str] = ()) -> list[Path]:
    """Return the files among which the pictures on pages are sought."""
    from pressworthy.files.intake import walk

    if missing := [path for path in paths if not _is_there(path)]:
        raise SetupError(f"{path}: no such file or folder" for path in missing)
    return list(walk(paths, skip))


@contextmanager
def _cache(options: argparse.Namespace) -> Iterator[Cache | None]:
    from pressworthy.jobs.cache import Cache, default_path

    if options.no_cache:
        yield None
        return
    cache = Cache(options.cache or default_path())
    yield cache
    cache.close()
    if cache.trouble:
        print(cache.trouble, file=sys.stderr)


def _work(
    options: argparse.Namespace, registry: Registry, asked: Sequence[str]
) -> tuple[list[tuple[House, list[Task]]], list[Waiver]]:
    """Return the tasks for each house, by the picture list or the paths, and the waivers."""
    from dataclasses import replace
    from datetime import date

    from pressworthy import jobs as desk
    from pressworthy.files.intake import walk
    from pressworthy.house import load_house
    from pressworthy.jobs.accepting import with_tones

    if options.list and (options.paths or options.size or options.bleed or options.crop):
        raise SetupError(["--list says which pictures and how large; give it alone"])
    if not options.list and not (asked and options.paths):
        raise SetupError(["give pictures and --house, or --list"])
    faults: list[Fault] = []
    entries, waivers = _listed(options, registry, faults, housed=not asked)
    tasks: dict[str, list[Task]] = {}
    if options.list:
        for name in asked or [""]:
            for house, more in desk.listed(entries, name).items():
                tasks[house] = list(dict.fromkeys([*tasks.get(house, []), *more]))
    else:
        bleed, edges = options.bleed or (0.0, frozenset())
        request = PlacementRequest(options.size, bleed, edges, options.crop)
        found = [desk.Task(path, request) for path in walk(options.paths, options.skip)]
        tasks = {name: found for name in asked if found}
    houses = {}
    for name in dict.fromkeys([*asked, *tasks]):
        try:
            houses[name] = load_house(name, registry, options.house_folder)
        except SetupError as error:
            if name not in asked:
                faults.append(Fault(None, (), f"{options.list} names the house {name!r}"))
            faults += error.faults
    if faults:
        raise SetupError(faults)
    if len({houses[name].name for name in tasks}) < len(tasks):
        raise SetupError(["two of the house profiles have the same name"])
    if options.scheduler:
        # its workers stand in folders of their own
        placed = {n: [replace(t, path=t.path.absolute()) for t in ts] for n, ts in tasks.items()}
        tasks = placed
    today = date.today()
    toned = [(houses[name], with_tones(tasks[name], waivers, today)) for name in tasks]
    return toned, waivers


def _inputs(
    options: argparse.Namespace, work: Iterable[tuple[House, list[Task]]]
) -> list[Path | None]:
    """Return the files that a run reads."""
    houses, tasks = zip(*work, strict=True)
    pictures = [task.path for part in tasks for task in part]
    return [options.list, options.waivers, *_files_of(houses), *pictures]


def _files_of(houses: Iterable[House]) -> list[Path]:
    return [Path(file) for house in houses for file in house.chain]


def _listed(
    options: argparse.Namespace, registry: Registry, faults: list[Fault], *, housed: bool = False
) -> tuple[tuple[Entry, ...], list[Waiver]]:
    """Return what the picture list lists, and its waivers with those of --waivers.

    What is wrong in either is added to the faults, so that all is told at once.
    """
    from pressworthy import jobs as desk
    from pressworthy.files.picture_list import read_list
    from pressworthy.files.waivers import named, read_waivers

    entries: tuple[Entry, ...] = ()
    waivers: list[Waiver] = []
    try:
        if options.list:
            entries = read_list(options.list, allow_outside=options.allow_outside, housed=housed)
    except SetupError as error:
        faults += error.faults
    try:
        waivers += read_waivers(options.waivers) if options.waivers else ()
    except SetupError as error:
        faults += error.faults
    waivers += [waiver for entry in entries for waiver in entry.waivers]
    codes = {name: tuple(rule.codes) for name, rule in registry.rules.items()}
    return entries, named(waivers, {**codes, desk.LIST: desk.LIST_CODES, "prepare": ()})


def prepare(options: argparse.Namespace) -> int:
    from dataclasses import replace
    from datetime import date

    from pressworthy import jobs as desk
    from pressworthy.jobs.accepting import accepted, joined

    registry = registry_of(options)
    render = _renderer(options, registry)
    work, waivers = _work(options, registry, options.house)
    houses = [house for house, _ in work]
    into = options.into.absolute() if options.scheduler else options.into
    place, named = options.into.resolve(), [path.resolve() for path in options.paths]
    if place in named:
        raise SetupError([f"{options.into}: copies would lie among masters; choose another --into"])
    # copies of an earlier run, where the folder for them lies among the folders of masters
    below = any(path in place.parents for path in named)
    kept = [
        [task for task in tasks if not (below and place in task.path.resolve().parents)]
        for _, tasks in work
    ]
    if not any(kept):
        raise SetupError(["no picture was found; nothing was prepared"])
    assume = desk.vouched([task for tasks in kept for task in tasks], options.assume)
    plans = [
        desk.orders(
            [task for task in tasks if not task.twin],
            house,
            into / house.name if len(houses) > 1 else into,
            assume=assume,
            force=options.force,
        )
        for house, tasks in zip(houses, kept, strict=True)
    ]
    copies = [order.target for wanted in plans for order in wanted]
    _refuse_to_lose(options.output, [*_inputs(options, work), *copies])
    reports = [
        desk.prepare(
            wanted,
            house,
            plugins=options.plugin,
            jobs=options.jobs,
            scheduler=options.scheduler,
            dry_run=options.dry_run,
            progress=_progress,
        )
        for wanted, house in zip(plans, houses, strict=True)
    ]
    report = accepted(joined(reports), waivers, date.today())
    report = replace(report, dry_run=options.dry_run)
    with _output(options.output) as file:
        file.writelines(render(report))
    return report.exit_status()


def proof(options: argparse.Namespace) -> int:
    from datetime import date

    from pressworthy import jobs as desk
    from pressworthy.jobs.accepting import let_stand
    from pressworthy.report import marked_proof, pdf

    registry = registry_of(options)
    page = options.into / "marked-proof.html"
    printed = page.with_suffix(".pdf") if options.format == "pdf" else None
    browser = pdf.find_browser() if printed else ""
    for target in filter(None, (page, printed)):
        _refuse_to_replace(target, options)
    work, waivers = _work(options, registry, options.house)
    if not work:
        raise SetupError(["no picture was found; nothing was proofed"])
    _make_folder(options.into)
    settings = {"plugins": options.plugin, "jobs": options.jobs, "progress": _progress}
    settings["scheduler"] = options.scheduler
    pulled = [desk.proof(tasks, house, **settings) for house, tasks in work]
    sheets = let_stand(pulled, waivers, date.today())
    _write(marked_proof.render(sheets), page)
    print(page)
    if printed:
        pdf.print_page(browser, marked_proof.render_for_paper(sheets), printed)
        print(printed)
    print(CAUTION)
    return max(sheet.report.exit_status() for sheet in sheets)


def house_list(options: argparse.Namespace) -> int:
    from pressworthy.house import list_houses

    for document in list_houses(registry_of(options), options.house_folder):
        # a profile is asked for by its file's name, whatever it calls itself
        value, name = document.value, Path(document.file).stem
        parent = f" < {value['extends']}" if value.get("extends") else ""
        called = f", calls itself {value.get('house')}" if value.get("house") != name else ""
        print(f"{name:<24} {value.get('kind', '?')}{parent}{called}")
        print(f"  {value.get('about', '')}\n  {document.file}")
    return 0


def house_show(options: argparse.Namespace) -> int:
    from pressworthy.house import show

    registry = registry_of(options)
    print(show(options.name, registry, options.house_folder, origin=options.origin), end="")
    return 0


def house_validate(options: argparse.Namespace) -> int:
    from pressworthy.house import validate_house

    registry = registry_of(options)
    for file in options.files:
        validate_house(str(file), registry, options.house_folder)
        print(f"{file}: valid")
    return 0


def house_schema(options: argparse.Namespace) -> int:
    from pressworthy.house.schema import house_schema

    registry = registry_of(options)
    print(json.dumps(house_schema(registry.rules, complete=not options.part), indent=2))
    return 0


def sharpening(options: argparse.Namespace) -> int:
    from pressworthy.house import load_house
    from pressworthy.prepare.amount import derive, describe
    from pressworthy.values.finding import Unmeasured

    house = load_house(options.house, registry_of(options), options.house_folder)
    command = f"pressworthy sharpening --house {options.house}"
    if options.spread is not None:
        command += f" --spread {options.spread:g}mm"
    try:
        print(describe(derive(house, options.spread), house, command))
    except Unmeasured as reason:
        raise SetupError([f"{house.name}: {reason}"]) from None
    print(f"\n{CAUTION}")
    return 0


def rules_list(options: argparse.Namespace) -> int:
    for name, rule in registry_of(options).rules.items():
        print(f"{name:<20} {rule.doc.strip().splitlines()[0]}")
    return 0


def rules_show(options: argparse.Namespace) -> int:
    from pressworthy.values.rule import describe

    rules = registry_of(options).rules
    names = options.names or sorted(rules)
    if unknown := [name for name in names if name not in rules]:
        raise SetupError([f"no rule is called {unknown[0]!r}; there are {', '.join(rules)}"])
    print("\n".join(describe(rules[name]) for name in names), end="")
    return 0


def rules_new(options: argparse.Namespace) -> int:
    from pressworthy.rule_pack import write_rule_pack

    if options.name in registry_of(options).rules:
        raise SetupError([f"{options.name!r} is a rule already; choose another name"])
    try:
        pack = write_rule_pack(options.name, options.into)
    except ValueError as error:
        raise SetupError([str(error)]) from None
    print(f"{pack}: a rule pack to fill; its README.md says how to install and test it")
    return 0


def conditions(options: argparse.Namespace) -> int:
    from pressworthy.colour.condition import condition_paths, describe, find_condition

    folders = registry_of(options).condition_folders
    names = options.names or [path.name for path in condition_paths(folders)]
    for name in names:
        try:
            condition = find_condition(name, folders, Path())
        except ValueError as error:
            raise SetupError([str(error)]) from None
        if options.names:
            print(describe(condition))
        else:
            print(f"{name:<14} {condition.medium:<7} {condition.values['title']}")
    return 0


def list_new(options: argparse.Namespace) -> int:
    from pressworthy.files.intake import walk
    from pressworthy.files.picture_list import starting_list

    # beside the folder: in it, a check of the folder would take it for a picture
    folder = options.folder if options.folder.name else options.folder.resolve()
    target = options.output or folder.parent / f"{folder.name or 'pictures'}.csv"
    _refuse_to_replace(target, options)
    # a list in the folder is no picture, and may be written anew
    lists = (".csv", ".yaml", ".yml")
    _refuse_to_lose(target, (p for p in walk([options.folder]) if p.suffix.lower() not in lists))
    rows, left_out = starting_list(options.folder, target.parent)
    for reason in left_out:
        print(readable(reason), file=sys.stderr)
    _write_rows(rows, target, f"{options.folder}: no picture can be listed")
    print(f"{target}: {len(rows)} pictures; fill in page, house, width and height")
    return 0


def list_from_pages(options: argparse.Namespace) -> int:
    from pressworthy import jobs as desk

    target = options.output or options.pdf.with_suffix(".csv")
    _refuse_to_replace(target, options)
    files = _masters(options.paths)
    _refuse_to_lose(target, [options.pdf, *files])
    rows = desk.listed_pages(options.pdf, files, target.parent)
    _write_rows(rows, target, f"{options.pdf}: none of its pictures can be listed")
    print(f"{target}: {len(rows)} placed pictures; fill in the house")
    return 0


def _write_rows(rows: list[dict[str, str]], target: Path, none: str) -> None:
    from pressworthy.files.picture_list import is_yaml, write_list

    if not rows:
        raise SetupError([none])
    _write(write_list(rows, as_yaml=is_yaml(target)), target)
    if any(row["picture"].startswith("../") for row in rows):
        told = f"{target}: pictures lie outside its folder; write it above them, or give --list "
        print(f"{told}with --allow-outside", file=sys.stderr)


def report_schema(options: argparse.Namespace) -> int:
    from pressworthy.report.json_report import schema

    print(json.dumps(schema(), indent=2))
    return 0


def registry_of(options: argparse.Namespace) -> Registry:
    from pressworthy.plugins import load

    registry = load(options.plugin)
    for name, why in registry.failed.items():
        print(f"plug-in {name} did not load and is left out: {why}", file=sys.stderr)
    return registry


def _is_there(path: Path) -> bool:
    return os.path.exists(path)  # noqa: PTH110 - Path.exists() raises where a name is too long


def _renderer(
    options: argparse.Namespace, registry: Registry
) -> Callable[[Report], str | Iterable[str]]:
    """Return what writes the report as asked for, once --output is known to be free."""
    render = registry.report_formats.get(options.format)
    if render is None:
        names = ", ".join(registry.report_formats)
        raise SetupError([f"no report format is called {options.format!r}; there are {names}"])
    if options.output:
        _refuse_to_replace(options.output, options)
    return render


def _refuse_to_replace(target: Path, options: argparse.Namespace) -> None:
    if _is_there(target) and not target.is_file():
        raise SetupError([f"{target} is no file that could be written over; name another"])
    if _is_there(target) and not options.replace:
        raise SetupError([f"{target} exists; give --replace to write over it"])


def _refuse_to_lose(target: Path | None, files: Iterable[str | Path | None]) -> None:
    """Refuse to write where one of the files lies that the command reads or makes."""
    for file in files:
        if target and file and _is_one(target, file):
            raise SetupError([f"{target} is a file that this command works on; name another"])


def _is_one(one: Path, other: str | Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return os.path.realpath(one) == os.path.realpath(other)


def _progress(done: Iterable[Done], total: int) -> Iterable[Done]:
    if not sys.stderr.isatty():
        return done
    from tqdm import tqdm

    return tqdm(done, total=total, unit="picture", leave=False)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError([f"{folder}: cannot be made: {error.strerror}"]) from None


@contextmanager
def _output(path: Path | None, *, keep: bool = False) -> Iterator[TextIO]:
    """Give the file to write to, which gets its name when it is whole, or standard output.

    keep: leave what was written beside it, as NAME.part, where the run is broken off.
    """

    if path is None:
        yield sys.stdout
        return
    part = path.with_name(path.name + ".part")
    try:
        with part.open("w", encoding="utf-8") as file:
            yield file
        part.replace(path)
    except OSError as error:
        raise SetupError([f"{path}: cannot be written: {error.strerror or error}"]) from None
    finally:
        if not keep:
            part.unlink(missing_ok=True)


def _write(text: str, path: Path | None) -> None:
    with _output(path) as file:
        file.write(text)
