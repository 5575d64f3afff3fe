"""prepare: make the copies that go to press."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from pressworthy.commands import options as shared
from pressworthy.commands.output import (
    output,
    progress,
    refuse_to_lose,
    refuse_to_replace,
    report_writer,
)
from pressworthy.values.faults import SetupError

PAGE = f"""A copy is turned upright, cropped to its box, given its bleed, brought to
exactly the output's pixels, toned for the paper, converted to the press's inks and sharpened last,
for that output and no other. It carries a ticket of what it was made from and for. No pixels are
invented, no master is written to, no copy is made from a copy, and nothing is written over. Masters
are checked first: one with a stop that preparing does not put right is left for a person. A run
that was broken off is taken up again by the same command; copies that are up to date stay, and
what was found of them is told again without a look at their pixels (--no-cache to do so).

examples:
  pressworthy prepare pictures/ --house coated-magazine --into copies/
  pressworthy prepare cover.tif --house coated-magazine --house screen --into copies/ \\
      --size 210x148mm --focus 0.5,0.33
  pressworthy prepare --list issue.csv --into copies/ --dry-run
{shared.EXIT.format(done="prepared")}"""


def add(choices: Any) -> None:
    parser = shared.command(
        choices, "prepare", "make the copies that go to press", _prepare, page=PAGE
    )
    shared.pictures(parser, "several make several copies, each in a folder of its own")
    parser.add_argument("--into", required=True, type=Path, metavar="FOLDER", help="for the copies")
    shared.placement(parser)
    shared.picture_list(parser)
    parser.add_argument(
        "--assume",
        action="append",
        default=[],
        type=shared.value(_assumption),
        metavar="PICTURE=SPACE",
        help="read this picture, by name or path, as made in this RGB space, such as sRGB or opRGB",
    )
    parser.add_argument("--dry-run", action="store_true", help="say what would be made")
    parser.add_argument(
        "--force",
        action="store_true",
        help="write over copies that are up to date, edited, or another master's",
    )
    shared.work(parser)
    shared.report(parser)
    shared.remembered(parser, "verdicts")


def _prepare(options: argparse.Namespace) -> int:
    from dataclasses import replace

    from pressworthy import jobs
    from pressworthy.commands import asked
    from pressworthy.jobs import preparing

    registry = shared.registry_with(options.plugin)
    write = report_writer(options.format, registry)
    refuse_to_replace(options.output, replace=options.replace)
    wanted = shared.asked_for(options)
    run = shared.run(options, registry, progress)
    work, waivers = asked.work(wanted, registry, run.today)
    into = options.into
    if options.scheduler:
        work, into = asked.for_elsewhere(work), into.absolute()
    place, named = into.resolve(), [path.resolve() for path in wanted.paths]
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
    assume = preparing.vouched([task for tasks in kept for task in tasks], options.assume)
    houses = [house for house, _ in work]
    plans = [
        preparing.orders(
            [task for task in tasks if not task.twin],
            house,
            into / house.name if len(houses) > 1 else into,
            assume=assume,
            force=options.force,
        )
        for house, tasks in zip(houses, kept, strict=True)
    ]
    copies = [order.target for orders in plans for order in orders]
    refuse_to_lose(options.output, [*asked.inputs(wanted, work), *copies])
    masters = [
        [replace(task, assume=assume.get(task.path.resolve(), task.assume)) for task in tasks]
        for tasks in kept
    ]
    with shared.cache(options) as cache:
        run = replace(run, cache=cache)
        checked = [
            jobs.check(tasks, house, run) for tasks, house in zip(masters, houses, strict=True)
        ]
        reports = [
            preparing.prepare(
                orders,
                house,
                run,
                left=preparing.barred(
                    jobs.accepted(found, waivers, run.today).verdicts, registry.rules
                ),
                dry_run=options.dry_run,
            )
            for orders, house, found in zip(plans, houses, checked, strict=True)
        ]
    judged = (verdict for report in checked for verdict in report.verdicts)
    report = jobs.accepted(jobs.joined(reports), waivers, run.today, masters=judged)
    report = replace(report, dry_run=options.dry_run)
    with output(options.output) as file:
        write(report, file)
    return report.exit_status()


def _assumption(text: str) -> tuple[str, str]:
    from pressworthy.colour.spaces import SPACES

    name, _, said = text.rpartition("=")
    space = next((space for space in SPACES if space.casefold() == said.casefold()), "")
    if not name or not space:
        raise ValueError(f"{text!r} is not a picture, '=' and one of {', '.join(SPACES)}")
    return name, space
