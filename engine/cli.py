"""The commands. Heavy modules are imported by the command that needs them, so help is quick."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

from pressworthy import __version__
from pressworthy.manual import CAUTION, PAGES
from pressworthy.placement import (
    PlacementRequest,
    parse_bleed,
    parse_crop,
    parse_focus,
    parse_size,
)
from pressworthy.words import readable

if TYPE_CHECKING:
    from pressworthy.cache import Cache
    from pressworthy.desk import Task
    from pressworthy.house import House
    from pressworthy.plugins import Registry
    from pressworthy.report import Report
    from pressworthy.waivers import Waiver

Done = TypeVar("Done")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 well, 1 something found, 2 wrong set-up."""
    from pressworthy.yamlfile import SetupError

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    options = _parser().parse_args(arguments)
    try:
        status = options.run(options)
        sys.stdout.flush()
    except SetupError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("stopped; nothing was left half written", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # the reader of our output went away; keep Python from complaining about it at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141
    return int(status)


def _check(options: argparse.Namespace) -> int:
    from datetime import date

    from pressworthy.report import accepted
    from pressworthy.report.lines import Live

    registry = _registry(options)
    render = registry.report_formats.get(options.format)
    if render is None:
        names = ", ".join(registry.report_formats)
        return _wrong(f"no report format is called {options.format!r}; there are {names}")
    if options.output and _is_there(options.output) and not options.replace:
        return _wrong(f"{options.output} exists; give --replace to write over it")
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
    from pressworthy import desk
    from pressworthy.house import load_house
    from pressworthy.intake.files import walk
    from pressworthy.intake.picture_list import read_list
    from pressworthy.report import joined
    from pressworthy.waivers import read_waivers
    from pressworthy.yamlfile import SetupError

    if options.pages:
        if options.size or options.bleed or options.crop or options.scheduler:
            raise SetupError(["--pages says itself how pictures are placed, and is read here"])
        outside = options.allow_outside
        entries = read_list(options.list, allow_outside=outside) if options.list else ()
        waivers = list(read_waivers(options.waivers)) if options.waivers else []
        waivers += [waiver for entry in entries for waiver in entry.waivers]
        parts = desk.placed_by_house(desk.placed_on(options.pages), entries, options.house or "")
        houses = {name: load_house(name, registry, options.house_folder) for name in parts}
        known = desk.known_files(list(walk(options.paths, options.skip)), jobs=options.jobs)
        reports = [
            desk.check_pages(part, known, houses[name], **settings) for name, part in parts.items()
        ]
        return joined(reports), waivers
    work, waivers = _work(options, registry, [options.house] if options.house else [])
    if not work:
        raise SetupError(["no picture was found; nothing was checked"])
    settings = {**settings, "scheduler": options.scheduler}
    with _cache(options) as cache:
        reports = [desk.check(tasks, house, cache=cache, **settings) for house, tasks in work]
    return joined(reports), waivers


@contextmanager
def _cache(options: argparse.Namespace) -> Iterator[Cache | None]:
    from pressworthy.cache import Cache, default_path

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

    from pressworthy import desk
    from pressworthy.house import load_house
    from pressworthy.intake.files import walk
    from pressworthy.intake.picture_list import read_list
    from pressworthy.waivers import read_waivers
    from pressworthy.yamlfile import SetupError

    waivers = list(read_waivers(options.waivers)) if options.waivers else []
    tasks: dict[str, list[Task]] = {}
    if options.list:
        if options.paths or options.size or options.bleed or options.crop:
            raise SetupError(["--list says which pictures and how large; give it alone"])
        entries = read_list(options.list, allow_outside=options.allow_outside)
        for name in asked or [""]:
            for house, more in desk.listed(entries, name).items():
                tasks[house] = list(dict.fromkeys([*tasks.get(house, []), *more]))
        waivers += [waiver for entry in entries for waiver in entry.waivers]
    else:
        if not asked or not options.paths:
            raise SetupError(["give pictures and --house, or --list"])
        bleed, edges = options.bleed or (0.0, frozenset())
        request = PlacementRequest(options.size, bleed, edges, options.crop)
        found = [desk.Task(path, request) for path in walk(options.paths, options.skip)]
        tasks = {name: found for name in asked if found}
    houses = {}
    for name in tasks:
        try:
            houses[name] = load_house(name, registry, options.house_folder)
        except SetupError as error:
            if name in asked:
                raise
            raise SetupError([f"{options.list} names the house {name!r}", *error.faults]) from None
    if options.scheduler:
        # its workers stand in folders of their own
        placed = {n: [replace(t, path=t.path.absolute()) for t in ts] for n, ts in tasks.items()}
        tasks = placed
    return [(houses[name], tasks[name]) for name in tasks], waivers


def _prepare(options: argparse.Namespace) -> int:
    from datetime import date

    from pressworthy import desk
    from pressworthy.report import accepted, joined

    registry = _registry(options)
    render = registry.report_formats.get(options.format)
    if render is None:
        names = ", ".join(registry.report_formats)
        return _wrong(f"no report format is called {options.format!r}; there are {names}")
    if options.output and _is_there(options.output) and not options.replace:
        return _wrong(f"{options.output} exists; give --replace to write over it")
    work, waivers = _work(options, registry, options.house)
    houses = [house for house, _ in work]
    if len({house.name for house in houses}) < len(houses):
        return _wrong("two of the house profiles have the same name")
    into = options.into.absolute() if options.scheduler else options.into
    place, named = options.into.resolve(), [path.resolve() for path in options.paths]
    if place in named:
        return _wrong(f"{options.into}: copies would lie among masters; choose another --into")
    # copies of an earlier run, where the folder for them lies among the folders of masters
    below = any(path in place.parents for path in named)
    kept = [
        [task for task in tasks if not (below and place in task.path.resolve().parents)]
        for _, tasks in work
    ]
    if not any(kept):
        return _wrong("no picture was found; nothing was prepared")
    plans = [
        desk.orders(
            [task for task in tasks if not task.twin],
            house,
            into / house.name if len(houses) > 1 else into,
            assume=dict(options.assume),
            force=options.force,
        )
        for house, tasks in zip(houses, kept, strict=True)
    ]
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
    with _output(options.output) as file:
        file.writelines(render(report))
    return report.exit_status()


def _proof(options: argparse.Namespace) -> int:
    from datetime import date

    from pressworthy import desk
    from pressworthy.report import marked_proof, pdf
    from pressworthy.report.marked_proof.remarks import let_stand

    registry = _registry(options)
    page = options.into / "marked-proof.html"
    printed = page.with_suffix(".pdf") if options.format == "pdf" else None
    browser = pdf.find_browser() if printed else ""
    for target in filter(None, (page, printed)):
        if _is_there(target) and not options.replace:
            return _wrong(f"{target} exists; give --replace to write over it")
    work, waivers = _work(options, registry, options.house)
    if not work:
        return _wrong("no picture was found; nothing was proofed")
    _make_folder(options.into)
    settings = {"plugins": options.plugin, "jobs": options.jobs, "progress": _progress}
    settings["scheduler"] = options.scheduler
    today = date.today()
    pulled = [desk.proof(tasks, house, **settings) for house, tasks in work]
    sheets = [let_stand(one, waivers, today) for one in pulled]
    _write(marked_proof.render(sheets), page)
    print(page)
    if printed:
        pdf.print_page(browser, marked_proof.render_for_paper(sheets), printed)
        print(printed)
    print(CAUTION)
    return max(sheet.report.exit_status() for sheet in sheets)


def _house_list(options: argparse.Namespace) -> int:
    from pressworthy.house import list_houses

    for document in list_houses(_registry(options), options.house_folder):
        value = document.value
        parent = f" < {value['extends']}" if value.get("extends") else ""
        print(f"{value.get('house', '?'):<24} {value.get('kind', '?')}{parent}")
        print(f"  {value.get('about', '')}\n  {document.file}")
    return 0


def _house_show(options: argparse.Namespace) -> int:
    from pressworthy.house import load_house, show

    house = load_house(options.name, _registry(options), options.house_folder)
    print(show(house, origin=options.origin), end="")
    return 0


def _house_validate(options: argparse.Namespace) -> int:
    from pressworthy.house import validate_house

    registry = _registry(options)
    for file in options.files:
        validate_house(str(file), registry, options.house_folder)
        print(f"{file}: valid")
    return 0


def _house_schema(options: argparse.Namespace) -> int:
    from pressworthy.house.schema import house_schema

    registry = _registry(options)
    print(json.dumps(house_schema(registry.rules, complete=not options.part), indent=2))
    return 0


def _sharpening(options: argparse.Namespace) -> int:
    from pressworthy.finding import Unmeasured
    from pressworthy.house import load_house
    from pressworthy.proof.amount import derive, describe

    house = load_house(options.house, _registry(options), options.house_folder)
    command = f"pressworthy sharpening --house {options.house}"
    if options.spread is not None:
        command += f" --spread {options.spread:g}mm"
    try:
        print(describe(derive(house, options.spread), house, command))
    except Unmeasured as reason:
        return _wrong(f"{house.name}: {reason}")
    print(f"\n{CAUTION}")
    return 0


def _rules_list(options: argparse.Namespace) -> int:
    for name, rule in _registry(options).rules.items():
        print(f"{name:<20} {rule.doc.strip().splitlines()[0]}")
    return 0


def _rules_show(options: argparse.Namespace) -> int:
    from pressworthy.rule import describe

    rules = _registry(options).rules
    names = options.names or sorted(rules)
    if unknown := [name for name in names if name not in rules]:
        return _wrong(f"no rule is called {unknown[0]!r}; there are {', '.join(rules)}")
    print("\n".join(describe(rules[name]) for name in names), end="")
    return 0


def _rules_new(options: argparse.Namespace) -> int:
    from pressworthy.rule_pack import write_rule_pack

    try:
        pack = write_rule_pack(options.name, options.into)
    except ValueError as error:
        return _wrong(str(error))
    print(f"{pack}: a rule pack to fill; its README.md says how to install and test it")
    return 0


def _conditions(options: argparse.Namespace) -> int:
    from pressworthy.colour.condition import condition_paths, describe, find_condition

    folders = _registry(options).condition_folders
    names = options.names or [path.name for path in condition_paths(folders)]
    for name in names:
        try:
            condition = find_condition(name, folders, Path())
        except ValueError as error:
            return _wrong(str(error))
        if options.names:
            print(describe(condition))
        else:
            print(f"{name:<14} {condition.medium:<7} {condition.values['title']}")
    return 0


def _list_new(options: argparse.Namespace) -> int:
    from pressworthy.intake.picture_list import starting_list

    # beside the folder: in it, a check of the folder would take it for a picture
    folder = options.folder if options.folder.name else options.folder.resolve()
    target = options.output or folder.parent / f"{folder.name or 'pictures'}.csv"
    if _is_there(target) and not options.replace:
        return _wrong(f"{target} exists; give --replace to write over it")
    text, left_out = starting_list(options.folder, target.parent)
    _write(text, target)
    for reason in left_out:
        print(readable(reason), file=sys.stderr)
    print(f"{target}: {text.count(chr(10)) - 1} pictures; fill in page, house, width and height")
    return 0


def _list_from_pages(options: argparse.Namespace) -> int:
    from pressworthy import desk
    from pressworthy.intake.files import walk

    target = options.output or options.pdf.with_suffix(".csv")
    if _is_there(target) and not options.replace:
        return _wrong(f"{target} exists; give --replace to write over it")
    files = list(walk(options.paths))
    text = desk.listed_pages(options.pdf, files, target.parent)
    _write(text, target)
    print(f"{target}: {text.count(chr(10)) - 1} placed pictures; fill in the house")
    return 0


def _report_schema(options: argparse.Namespace) -> int:
    from pressworthy.report.json_report import schema

    print(json.dumps(schema(), indent=2))
    return 0


def _completion(options: argparse.Namespace) -> int:
    import shtab

    from pressworthy.house import list_houses

    houses = list_houses(_registry(options), options.house_folder)
    names = " ".join(str(document.value.get("house", "")) for document in houses)
    parser = _parser()
    todo = [parser]
    while todo:
        for action in todo.pop()._actions:
            if isinstance(action, argparse._SubParsersAction):
                todo += action.choices.values()
            elif "--house" in action.option_strings:
                complete = {"bash": "_pressworthy_houses", "zsh": f"({names})"}
                action.complete = complete  # type: ignore[attr-defined]
            elif action.type is Path:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
            elif action.type is _folder:
                action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
    houses_of = {"bash": f'_pressworthy_houses() {{ compgen -W "{names}" -f -- "$1"; }}'}
    print(shtab.complete(parser, options.shell, preamble=houses_of.get(options.shell, "")))
    return 0


def _registry(options: argparse.Namespace) -> Registry:
    from pressworthy.plugins import load

    registry = load(options.plugin)
    for name, why in registry.failed.items():
        print(f"plug-in {name} did not load and is left out: {why}", file=sys.stderr)
    return registry


def _is_there(path: Path) -> bool:
    return os.path.exists(path)  # noqa: PTH110 - Path.exists() raises where a name is too long


def _wrong(message: str) -> int:
    print(readable(message), file=sys.stderr)
    return 2


def _progress(done: Iterable[Done], total: int) -> Iterable[Done]:
    if not sys.stderr.isatty():
        return done
    from tqdm import tqdm

    return tqdm(done, total=total, unit="picture", leave=False)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        from pressworthy.yamlfile import SetupError

        raise SetupError([f"{folder}: cannot be made: {error.strerror}"]) from None


@contextmanager
def _output(path: Path | None, *, keep: bool = False) -> Iterator[TextIO]:
    """Give the file to write to, which gets its name when it is whole, or standard output.

    keep: leave what was written beside it, as NAME.part, where the run is broken off.
    """
    from pressworthy.yamlfile import SetupError

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


def _parser() -> argparse.ArgumentParser:
    parser = _command(
        None, "pressworthy", "Checks pictures for press against a publisher's house standard."
    )
    parser.add_argument("--version", action="version", version=f"pressworthy {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    check = _command(commands, "check", "judge pictures by a house profile", _check)
    check.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    check.add_argument("--house", help="house profile: a name, or a .yaml file")
    check.add_argument(
        "--pages",
        type=Path,
        metavar="FILE.pdf",
        help="judge the pictures placed on these pages; PATH are then the files they came from, "
        "and a --list says which page is for which house profile",
    )
    _placement_options(check)
    _list_options(check)
    _run_options(check)
    remembered = check.add_mutually_exclusive_group()
    remembered.add_argument(
        "--no-cache", action="store_true", help="judge pictures anew that have not changed"
    )
    remembered.add_argument(
        "--cache",
        type=Path,
        metavar="FILE",
        help="keep verdicts there (in the user's cache folder)",
    )

    prepare = _command(commands, "prepare", "make the copies that go to press", _prepare)
    prepare.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    prepare.add_argument(
        "--house",
        default=[],
        action="append",
        help="house profile: a name, or a .yaml file; several make several copies, each in a "
        "folder of its own",
    )
    prepare.add_argument(
        "--into", required=True, type=Path, metavar="FOLDER", help="for the copies"
    )
    _placement_options(prepare)
    _list_options(prepare)
    prepare.add_argument(
        "--assume",
        action="append",
        default=[],
        type=_value(_assumption),
        metavar="PICTURE=SPACE",
        help="read this picture as made in this RGB space, such as sRGB or opRGB",
    )
    prepare.add_argument("--dry-run", action="store_true", help="say what would be made")
    prepare.add_argument("--force", action="store_true", help="make up-to-date copies again too")
    _run_options(prepare)

    proof = _command(commands, "proof", "show what ink will show, on one page with remarks", _proof)
    proof.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="pictures, or folders of pictures"
    )
    proof.add_argument(
        "--house",
        default=[],
        action="append",
        help="house profile: a name, or a .yaml file; several show the pictures once for each",
    )
    proof.add_argument(
        "--into", required=True, type=Path, metavar="FOLDER", help="for marked-proof.html"
    )
    _placement_options(proof)
    _list_options(proof)
    _task_options(proof)
    proof.add_argument(
        "--format", choices=["html", "pdf"], default="html", help="pdf: print the page as well"
    )
    proof.add_argument("--replace", action="store_true", help="write over a proof that is there")

    house = _command(commands, "house", "list, explain and validate house profiles")
    actions = house.add_subparsers(required=True, metavar="ACTION")
    _command(actions, "list", "name the house profiles there are", _house_list)
    show = _command(actions, "show", "print a house profile as it takes effect", _house_show)
    show.add_argument("name", help="a name, or a .yaml file")
    show.add_argument("--origin", action="store_true", help="tell file and line of every value")
    validate = _command(actions, "validate", "find every fault of .yaml files", _house_validate)
    validate.add_argument("files", nargs="+", type=Path, metavar="FILE")
    schema = _command(actions, "schema", "print the JSON Schema of house profiles", _house_schema)
    schema.add_argument(
        "--part", action="store_true", help="for one file, whose parent may give what is missing"
    )

    sharpening = _command(
        commands, "sharpening", "derive the amount of sharpening that a print needs", _sharpening
    )
    sharpening.add_argument("--house", required=True, help="house profile: a name, or a .yaml file")
    sharpening.add_argument(
        "--spread",
        type=_value(_spread),
        metavar="MM",
        help="how far light spreads in the paper, d of exp(-r/d), such as 0.05mm; without it the "
        "printing condition's own",
    )

    rules = _command(commands, "rules", "list and explain the rules, or start one of your own")
    tasks = rules.add_subparsers(required=True, metavar="ACTION")
    _command(tasks, "list", "name the rules there are", _rules_list)
    explain = _command(tasks, "show", "explain the rules named, or all, in Markdown", _rules_show)
    explain.add_argument("names", nargs="*", metavar="NAME")
    new = _command(tasks, "new", "write an installable rule pack to fill", _rules_new)
    new.add_argument("name", help="of the rule, such as page-grid")
    new.add_argument("--into", type=_folder, default=Path(), metavar="FOLDER", help="(here)")
    conditions = _command(
        commands, "conditions", "list printing and screen conditions, or describe some", _conditions
    )
    conditions.add_argument("names", nargs="*", metavar="NAME", help="a name, or an .icc file")
    lists = _command(commands, "list", "start a picture list")
    starts = lists.add_subparsers(required=True, metavar="ACTION")
    start = _command(starts, "new", "list the pictures in a folder", _list_new)
    start.add_argument("folder", type=_folder, metavar="FOLDER")
    _write_options(start)
    pages = _command(
        starts, "from-pages", "list the pictures placed on a page PDF", _list_from_pages
    )
    pages.add_argument("pdf", type=Path, metavar="FILE.pdf")
    pages.add_argument(
        "paths",
        nargs="*",
        type=Path,
        metavar="PATH",
        help="files, or folders of files, to find them again in",
    )
    _write_options(pages)
    _command(commands, "report-schema", "print the JSON Schema of reports", _report_schema)
    completion = _command(commands, "completion", "let the shell complete commands", _completion)
    completion.add_argument("shell", choices=["bash", "zsh"])
    return parser


def _command(
    among: Any, name: str, about: str, run: Callable[[argparse.Namespace], int] | None = None
) -> argparse.ArgumentParser:
    text = about[0].upper() + about[1:].rstrip(".") + "."
    shape: dict[str, Any] = {
        "description": text,
        "allow_abbrev": False,
        "formatter_class": argparse.RawDescriptionHelpFormatter,
    }
    parser: argparse.ArgumentParser
    if among is None:
        parser = argparse.ArgumentParser(name, **shape)
    else:
        parser = among.add_parser(name, help=about, **shape)
    page = PAGES.get(parser.prog.removeprefix("pressworthy "), "")
    parser.epilog = "\n\n".join(part for part in (page, CAUTION) if part)
    if run is not None:
        parser.set_defaults(run=run)
        extra = parser.add_argument_group("house profiles and rules of your own")
        extra.add_argument(
            "--plugin",
            action="append",
            default=[],
            metavar="MODULE",
            help="load this plug-in too: a module, or a .py file",
        )
        extra.add_argument(
            "--house-folder",
            type=_folder,
            metavar="FOLDER",
            help="the publisher's own house profiles",
        )
    return parser


def _placement_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--size",
        type=_value(parse_size),
        metavar="WxH",
        help="placed size, such as 210x148mm or 1200x675px (CSS pixels); "
        "without it the file's own stated resolution counts",
    )
    parser.add_argument(
        "--bleed",
        type=_value(parse_bleed),
        metavar="MM[:EDGES]",
        help="bleed, such as 3mm or 3mm:top,left",
    )
    shown = parser.add_mutually_exclusive_group()
    shown.add_argument(
        "--focus",
        dest="crop",
        type=_value(parse_focus),
        metavar="X,Y",
        help="the page crops the picture to its box around this point, 0,0 to 1,1",
    )
    shown.add_argument(
        "--crop",
        type=_value(parse_crop),
        metavar="L,T,W,H",
        help="the part of the picture that the page shows: left, top, width, height, as fractions",
    )


def _list_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--list",
        type=Path,
        metavar="FILE",
        help="a picture list, CSV or YAML: which picture stands where, for which house profile",
    )
    parser.add_argument(
        "--allow-outside",
        action="store_true",
        help="let the list name pictures outside its own folder",
    )
    parser.add_argument(
        "--waivers", type=Path, metavar="FILE", help="what persons accept, a YAML file"
    )


def _run_options(parser: argparse.ArgumentParser) -> None:
    _task_options(parser)
    parser.add_argument(
        "--format",
        default="text",
        help="text, json, lines (JSON Lines, written as the run goes), junit, sarif, or a "
        "plug-in's own",
    )
    _write_options(parser)


def _task_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--skip",
        action="append",
        default=[],
        metavar="PATTERN",
        help="leave out files in folders whose name matches, such as '*.txt'",
    )
    parser.add_argument(
        "--jobs",
        type=_jobs,
        default=0,
        metavar="N",
        help="pictures at a time (as many as there are processors)",
    )
    parser.add_argument(
        "--scheduler",
        default="",
        metavar="ADDRESS",
        help="give the work to a dask scheduler's workers, such as tcp://desk:8786; they see the "
        "pictures under the same paths",
    )


def _write_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--output", type=Path, metavar="FILE", help="write it there")
    parser.add_argument("--replace", action="store_true", help="let --output write over a file")


def _assumption(text: str) -> tuple[str, str]:
    from pressworthy.colour.spaces import SPACES

    name, _, space = text.rpartition("=")
    if not name or space not in SPACES:
        raise ValueError(f"{text!r} is not a file name, '=' and one of {', '.join(SPACES)}")
    return name, space


def _spread(text: str) -> float:
    from pressworthy.units import parse

    mm = parse(text, "mm")
    if not 0 <= mm <= 1:
        raise ValueError(f"{text!r}: light spreads between 0 and 1 mm in paper")
    return mm


def _value(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    def convert(text: str) -> Any:
        try:
            return parse(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return convert


def _folder(text: str) -> Path:
    path = Path(text)
    if not os.path.isdir(path):  # noqa: PTH112 - Path.is_dir() raises where a name is too long
        raise argparse.ArgumentTypeError(f"{text!r} is no folder")
    return path


def _jobs(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of 1 or more")
    return int(text)
