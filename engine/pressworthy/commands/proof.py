"""proof: show what ink will show, on one page with remarks."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pressworthy.commands import options as shared
from pressworthy.commands.output import make_folder, output, progress, refuse_to_replace
from pressworthy.values import cautions
from pressworthy.values.faults import SetupError

PAGE = f"""Writes marked-proof.html: every picture at its relative size with remarks in
the margin, as supplied, as soft proof, and in print look, which is what dots, paper and the
reader's distance leave of it, unsharpened and sharpened. One file, to be opened in any browser,
sent or printed. A simulation is no contract proof.

What has not changed since an earlier proof is not made again (--no-cache to do so): neither the
file, nor its placement, the house profile, the printing condition, the rules or this program.

examples:
  pressworthy proof pictures/ --house coated-magazine --into proof/
  pressworthy proof --list issue.csv --into proof/ --format pdf
{shared.EXIT.format(done="proofed")}"""


def add(choices: Any) -> None:
    parser = shared.command(
        choices, "proof", "show what ink will show, on one page with remarks", _proof, page=PAGE
    )
    shared.pictures(parser, "several show the pictures once for each")
    parser.add_argument(
        "--into", required=True, type=Path, metavar="FOLDER", help="for marked-proof.html"
    )
    shared.placement(parser)
    shared.picture_list(parser)
    shared.work(parser)
    shared.remembered(parser, "what is shown and judged")
    parser.add_argument(
        "--format", choices=["html", "pdf"], default="html", help="pdf: print the page as well"
    )
    parser.add_argument("--replace", action="store_true", help="write over a proof that is there")


def _proof(options: argparse.Namespace) -> int:
    from dataclasses import replace

    from pressworthy import jobs
    from pressworthy.commands import asked
    from pressworthy.jobs.proofing import proof
    from pressworthy.report import marked_proof, pdf

    registry = shared.registry_with(options.plugin)
    page = options.into / "marked-proof.html"
    printed = page.with_suffix(".pdf") if options.format == "pdf" else None
    browser = pdf.find_browser() if printed else ""
    for target in (page, printed):
        refuse_to_replace(target, replace=options.replace)
    run = shared.run(options, registry, progress)
    work, waivers = asked.work(shared.asked_for(options), registry, run.today)
    if not work:
        raise SetupError(["no picture was found; nothing was proofed"])
    if options.scheduler:
        work = asked.for_elsewhere(work)
    make_folder(options.into)
    with shared.cache(options) as cache:
        run = replace(run, cache=cache)
        pulled = [proof(tasks, house, run) for house, tasks in work]
    sheets = jobs.let_stand(pulled, waivers, run.today)
    preparing = _preparing(options.given, options.into / "copies")
    with output(page) as file:
        file.writelines(marked_proof.parts(sheets, preparing))
    print(page)
    if printed:
        pdf.print_page(browser, marked_proof.render_for_paper(sheets, preparing), printed)
        print(printed)
    print(cautions.PROGRAM)
    return max(sheet.report.exit_status() for sheet in sheets)


def _preparing(given: Sequence[str], into: Path) -> list[str]:
    """Return the words of the command that prepares what a proof was asked for as `given`."""
    own = argparse.ArgumentParser(add_help=False, allow_abbrev=False)
    own.add_argument("--into")
    own.add_argument("--format")
    own.add_argument("--replace", action="store_true")
    own.add_argument("--no-cache", action="store_true")
    own.add_argument("--cache")
    rest = own.parse_known_args(given[1:])[1]
    return ["pressworthy", "prepare", "--into", str(into), *rest]
