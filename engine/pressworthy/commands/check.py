"""check: judge pictures by a house profile."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pressworthy.commands import options as shared
from pressworthy.commands.output import (
    begin,
    output,
    progress,
    refuse_to_lose,
    refuse_to_replace,
    report_writer,
)
from pressworthy.values.faults import SetupError

PAGE = f"""Folders are walked. Every rule that the house profile names is run on every
picture; the report tells, worst first, what was measured against which limit and what to do.
Without --size the size that the file itself states counts, and the report says so. What cannot be
measured is told with the reason and is never a pass.

What has not changed since an earlier run is not measured again (--no-cache to do so): neither the
file, nor its placement, the house profile, the printing condition, the rules or this program.

examples:
  pressworthy check pictures/ --house coated-magazine
  pressworthy check cover.tif --house newsprint --size 210x148mm --bleed 3mm:top,left
  pressworthy check --list issue.csv --format json --output report.json
  pressworthy check --pages magazine.pdf masters/ --house our-house/quarterly.yaml
  pressworthy check --pages magazine.pdf masters/ --list issue.csv
  pressworthy check archive/ --house mono --format lines --scheduler tcp://desk:8786
{shared.EXIT.format(done="checked")}"""


def add(choices: Any) -> None:
    parser = shared.command(
        choices, "check", "judge pictures by a house profile", _check, page=PAGE
    )
    shared.pictures(parser, "several judge the pictures by each")
    parser.add_argument(
        "--pages",
        type=Path,
        metavar="FILE.pdf",
        help="judge the pictures placed on these pages; PATH and the pictures of a --list "
        "are then the files they came from, and the --list says which page is for which house "
        "profile; --house, for pages that it lists for none or for several",
    )
    shared.trim(parser)
    shared.placement(parser)
    shared.picture_list(parser)
    shared.work(parser)
    shared.report(parser)
    shared.remembered(parser, "verdicts")


def _check(options: argparse.Namespace) -> int:
    begin()
    from dataclasses import replace

    from pressworthy import jobs
    from pressworthy.commands import asked
    from pressworthy.report.lines import Live

    registry = shared.registry_with(options.plugin)
    write = report_writer(options.format, registry)
    refuse_to_replace(options.output, replace=options.replace)
    wanted = shared.asked_for(options)
    live = options.format == "lines"
    with output(options.output, keep=live) as file:
        lines = Live(file)

        def written(verdicts: Iterable[Any], total: int) -> Iterable[Any]:
            return lines.passing(progress(verdicts, total))

        run = shared.run(options, registry, written if live else progress)
        if options.pages:
            if wanted.is_placed or options.scheduler:
                raise SetupError(["--pages says itself how pictures are placed, and is read here"])
            from pressworthy.files.pages import BY_DEFAULT
            from pressworthy.jobs import pages as on_pages

            pages, files, waivers = asked.work_on_pages(
                options.pages, wanted, registry, options.trim or BY_DEFAULT, progress
            )
            houses = asked.files_of(house for house, _ in pages)
            read = [options.pages, wanted.list, wanted.waivers, *files, *houses]
            refuse_to_lose(options.output, read)
            known = on_pages.known_files(files, processes=run.processes, progress=progress)
            reports = [on_pages.check_pages(part, known, house, run) for house, part in pages]
        else:
            if options.trim:
                raise SetupError(["--trim says where pages are cut; give it with --pages"])
            work, waivers = asked.work(wanted, registry, run.today)
            if not work:
                raise SetupError(["no picture was found; nothing was checked"])
            if options.scheduler:
                work = asked.for_elsewhere(work)
            refuse_to_lose(options.output, asked.inputs(wanted, work))
            with shared.cache(options) as cache:
                run = replace(run, cache=cache)
                reports = [jobs.check(tasks, house, run) for house, tasks in work]
        report = jobs.accepted(jobs.joined(reports), waivers, run.today)
        if live:
            lines.end(report)
        else:
            write(report, file)
    return report.exit_status()
