"""The report as JUnit XML, for build servers: a suite a house, a case a rule and picture.

The shape is the one most servers read, that of Ant's JUnit task: a finding at severity stop is a
failure, a rule that broke is an error, what was not measured is an error where it keeps the
picture from press, what was waived is skipped; queries and notes stand in the case's output.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Sequence

from pressworthy.report.text_report import sentence
from pressworthy.values import cautions
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.words import readable

COUNTED = ("tests", "failures", "errors", "skipped")


def render(report: Report) -> Iterator[str]:
    """Yield the report in parts. Counts stand before what they count, so all is gone over twice."""
    counts: dict[str, Counter[str]] = {}
    for verdict in report.verdicts:
        mine = counts.setdefault(verdict.house or report.house, Counter())
        for outcome in verdict.outcomes:
            mine.update(["tests", *(part.tag for part in _case(verdict, outcome))])
    yield '<?xml version="1.0" encoding="UTF-8"?>\n'
    yield _opened("testsuites", "pressworthy", sum(counts.values(), Counter()), COUNTED[:3])
    foot = ET.Element("system-out")
    foot.text = "\n".join([*map(readable, report.left_over()), cautions.REPORT])
    for house, mine in counts.items():
        yield _opened("testsuite", house, mine, COUNTED)
        for verdict in report.worst_first():
            if (verdict.house or report.house) == house:
                for outcome in verdict.outcomes:
                    yield ET.tostring(_case(verdict, outcome), "unicode") + "\n"
        yield ET.tostring(foot, "unicode") + "\n</testsuite>\n"
    yield "</testsuites>\n"


def _opened(tag: str, name: str, counts: Counter[str], counted: Sequence[str]) -> str:
    element = ET.Element(tag, name=readable(name))
    for kind in counted:
        element.set(kind, str(counts[kind if kind in ("tests", "skipped") else kind[:-1]]))
    return ET.tostring(element, "unicode").removesuffix(" />") + ">\n"


def _case(verdict: Verdict, outcome: Outcome) -> ET.Element:
    page = f", page {verdict.page}" if verdict.page else ""
    case = ET.Element(
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
    return case


def _told(verdict: Verdict, outcome: Outcome, finding: Finding) -> str:
    text = f"{sentence(outcome.rule, finding)}. {finding.remedy}".strip()
    return readable(f"{text} [{verdict.identifier(outcome.rule, finding.code)}]")
