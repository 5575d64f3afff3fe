"""The report that a job ends in: of one house profile, and of several together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from pressworthy.house import House
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.kept import Kept
from pressworthy.values.finding import Verdict
from pressworthy.values.report import Report
from pressworthy.values.rule import notes_on
from pressworthy.values.units import figure


def gathered(command: str, stream: Iterable[Verdict], total: int, house: House, run: Run) -> Report:
    """Return the report on the verdicts, `total` of them, once they are judged as a set too."""
    verdicts = Kept(run.progress((of_house(verdict, house) for verdict in stream), total))
    return report_on(command, house, judge_set(verdicts, house, run.registry.rules), run)


def of_house(verdict: Verdict, house: House) -> Verdict:
    return replace(verdict, house=house.name)


def report_on(command: str, house: House, verdicts: Sequence[Verdict], run: Run) -> Report:
    return Report(
        command=command,
        house=house.name,
        publisher=house.publisher,
        output=_in_one_line(house),
        chain=house.chain,
        left_out=house.left_out,
        verdicts=verdicts,
        rules=tuple(notes_on(run.registry.rules[name]) for name in house.rules),
    )


def joined(reports: Sequence[Report]) -> Report:
    """Return the one report of a run over several houses; every verdict names its own."""
    if len(reports) == 1:
        return reports[0]
    return Report(
        command=reports[0].command,
        house=", ".join(report.house for report in reports),
        publisher=", ".join(dict.fromkeys(r.publisher for r in reports if r.publisher)),
        output="; ".join(f"{report.house}: {report.output}" for report in reports),
        chain=tuple(dict.fromkeys(name for report in reports for name in report.chain)),
        left_out={f"{r.house}: {rule}": why for r in reports for rule, why in r.left_out.items()},
        verdicts=Kept(verdict for report in reports for verdict in report.verdicts),
        rules=tuple({rule.name: rule for report in reports for rule in report.rules}.values()),
    )


def _in_one_line(house: House) -> str:
    output = house.output
    return (
        f"{output.medium} in {output.colour}, {figure(output.ppi, 'ppi')}, "
        f"condition {output.condition.name}"
    )
