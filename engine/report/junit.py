"""The report as JUnit XML, for build servers: a suite a house, a case a rule and picture.

The shape is the one most servers read, that of Ant's JUnit task: a finding at severity stop is a
failure, a rule that broke is an error, what was not measured is an error where it keeps the
picture from press, what was waived is skipped; queries and notes stand in the case's output.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable

from pressworthy.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.report import CAUTION, Report, readable, weight
from pressworthy.report.text_report import sentence


def render(report: Report) -> str:
    """Return the whole report."""
    root = ET.Element("testsuites", name="pressworthy")
    houses = dict.fromkeys(verdict.house or report.house for verdict in report.verdicts)
    for house in houses:
        mine = [v for v in report.verdicts if (v.house or report.house) == house]
        _suite(root, house, sorted(mine, key=weight))
    for name in ("tests", "failures", "errors"):
        root.set(name, str(sum(int(suite.get(name, "0")) for suite in root)))
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, "unicode") + "\n"


def _suite(root: ET.Element, house: str, verdicts: Iterable[Verdict]) -> None:
    suite = ET.SubElement(root, "testsuite", name=readable(house))
    for verdict in verdicts:
        for outcome in verdict.outcomes:
            _case(suite, verdict, outcome)
    counts = {
        "tests": len(suite),
        "failures": len(suite.findall("testcase/failure")),
        "errors": len(suite.findall("testcase/error")),
        "skipped": len(suite.findall("testcase/skipped")),
    }
    for name, count in counts.items():
        suite.set(name, str(count))
    ET.SubElement(suite, "system-out").text = CAUTION


def _case(suite: ET.Element, verdict: Verdict, outcome: Outcome) -> None:
    page = f", page {verdict.page}" if verdict.page else ""
    case = ET.SubElement(
        suite,
        "testcase",
        classname=readable(f"{verdict.name or verdict.path}{page}"),
        name=outcome.rule,
        time="0",
    )
    stops = [f for f in outcome.findings if f.severity is Severity.STOP]
    others = [f for f in outcome.findings if f.severity is not Severity.STOP]
    if outcome.state is State.WAIVED:
        ET.SubElement(case, "skipped", message=readable(outcome.reason))
        stops, others = [], list(outcome.findings)
    elif outcome.state is State.FOUND and stops:
        # one failure a case is all that every reader accepts
        codes = ", ".join(finding.code for finding in stops)
        failure = ET.SubElement(case, "failure", message=codes, type="stop")
        failure.text = "\n".join(_told(verdict, outcome, finding) for finding in stops)
    elif outcome in verdict.unjudged():
        kind = str(outcome.state)
        ET.SubElement(case, "error", message=readable(outcome.reason), type=kind)
    elif outcome.state is State.UNMEASURED:
        ET.SubElement(case, "skipped", message=readable(f"unmeasured: {outcome.reason}"))
    if others:
        lines = (f"{f.severity}: {_told(verdict, outcome, f)}" for f in others)
        ET.SubElement(case, "system-out").text = "\n".join(lines)


def _told(verdict: Verdict, outcome: Outcome, finding: Finding) -> str:
    text = f"{sentence(outcome.rule, finding)}. {finding.remedy}".strip()
    return readable(f"{text} [{verdict.identifier(outcome.rule, finding.code)}]")
