"""The report as SARIF 2.1.0 (OASIS standard, 2020), for programs that gather findings.

Stop is an error, query a warning, note a note. What was not measured or broke is told as a result
of kind ``open``, so that it can be no pass; a waived finding is a result with an accepted
suppression that carries its justification; a waiver that did nothing is a notification.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pressworthy import __version__
from pressworthy.report.text_report import sentence
from pressworthy.values import cautions
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report, RuleNotes
from pressworthy.values.words import readable

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
MEANINGS = {
    str(State.UNMEASURED): "the rule could not measure the picture",
    str(State.BROKEN): "the rule itself failed on the picture",
}
LEVELS = {Severity.STOP: "error", Severity.QUERY: "warning", Severity.NOTE: "note"}


def render(report: Report) -> Iterator[str]:
    """Yield the report in parts; the same run gives the same text."""
    rules = _rules(report)
    rule_index = {rule["id"]: index for index, rule in enumerate(rules)}
    run: dict[str, Any] = {
        "tool": {
            "driver": {
                "name": "pressworthy",
                "version": __version__,
                "rules": rules,
            }
        },
        "columnKind": "unicodeCodePoints",
        "properties": {"command": report.command, "house": report.house, "output": report.output},
    }
    if notices := [*report.told_once, *report.left_over()]:
        notifications = [{"message": {"text": readable(text)}, "level": "note"} for text in notices]
        done = {"executionSuccessful": True, "toolExecutionNotifications": notifications}
        run["invocations"] = [done]
    run["results"] = []  # last: what stands before and after it is written around the results
    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    head, _, tail = json.dumps(log, indent=2).rpartition("[]")
    yield f"{head}["
    between = ""
    for verdict in report.worst_first():
        for result in _results(verdict):
            numbered = {**result, "ruleIndex": rule_index[result["ruleId"]]}
            yield f"{between}\n{textwrap.indent(json.dumps(numbered, indent=2), ' ' * 10)}"
            between = ","
    yield f"]{tail}\n"


def _rules(report: Report) -> list[dict[str, Any]]:
    """Return a descriptor for each code of each rule that ran, and for all else that is told."""
    notes = {rule.name: rule for rule in report.rules}
    described = {f"{rule.name}/{code}" for rule in report.rules for code in rule.codes}
    reported = {result["ruleId"] for verdict in report.verdicts for result in _results(verdict)}
    return [_rule(name, notes.get(name.partition("/")[0])) for name in sorted(described | reported)]


def _rule(name: str, notes: RuleNotes | None) -> dict[str, Any]:
    descriptor: dict[str, Any] = {"id": name, "fullDescription": {"text": cautions.REPORT}}
    if notes:
        code = name.partition("/")[2]
        if meaning := notes.codes.get(code) or MEANINGS.get(code):
            descriptor["shortDescription"] = {"text": readable(meaning)}
        descriptor["fullDescription"] = {"text": f"{_shown(notes.about)} {cautions.REPORT}"}
        descriptor["properties"] = {"rule": notes.name, "version": notes.version}
        if notes.help:
            descriptor["help"] = {"text": _shown(notes.help)}
    return descriptor


def _shown(text: str) -> str:
    """Return a docstring's text made safe to show, its lines kept."""
    return "\n".join(map(readable, text.splitlines()))


def _results(verdict: Verdict) -> Iterator[dict[str, Any]]:
    unjudged = verdict.unjudged()
    for outcome in verdict.outcomes:
        for finding in outcome.findings:
            yield _finding(verdict, outcome, finding)
        if outcome.waiver and not outcome.findings:
            text = readable(f"{outcome.rule} was not measured: {outcome.reason}")
            result = _result(verdict, outcome.rule, "unmeasured", text)
            yield {**result, "level": "note", "suppressions": _suppressed(outcome)}
        if outcome.state in (State.UNMEASURED, State.BROKEN):
            text = readable(f"{outcome.rule} is {outcome.state}: {outcome.reason}")
            result = _result(verdict, outcome.rule, str(outcome.state), text)
            # by the standard (3.27.10) a result that is no failure has the level "none"
            keeps = "stop" if outcome in unjudged else str(outcome.weight)
            yield {**result, "kind": "open", "level": "none", "properties": {"weight": keeps}}


def _finding(verdict: Verdict, outcome: Outcome, finding: Finding) -> dict[str, Any]:
    text = readable(f"{sentence(outcome.rule, finding)}. {finding.remedy}".strip())
    result = _result(verdict, outcome.rule, finding.code, text)
    result["level"] = LEVELS[finding.severity or Severity.NOTE]
    result["properties"] = {
        "measured": finding.measured,
        "limit": finding.limit,
        "bound": finding.bound,
        "unit": finding.unit,
        "page": verdict.page,
        "house": verdict.house,
    }
    if outcome.state is State.WAIVED:
        result["suppressions"] = _suppressed(outcome)
    return result


def _suppressed(outcome: Outcome) -> list[dict[str, str]]:
    why = readable(outcome.waiver)
    return [{"kind": "external", "status": "accepted", "justification": why}]


def _result(verdict: Verdict, rule: str, code: str, text: str) -> dict[str, Any]:
    page = f", page {verdict.page}" if verdict.page else ""
    return {
        "ruleId": f"{rule}/{code}",
        "message": {"text": text},
        "locations": [
            {
                "physicalLocation": {"artifactLocation": {"uri": _uri(verdict)}},
                "logicalLocations": [
                    {"fullyQualifiedName": readable(f"{verdict.name or verdict.path}{page}")}
                ],
            }
        ],
        "partialFingerprints": {"finding/v1": readable(verdict.identifier(rule, code))},
    }


def _uri(verdict: Verdict) -> str:
    path = Path(verdict.facts.get("pdf") or verdict.path)
    return path.as_uri() if path.is_absolute() else quote(path.as_posix(), errors="surrogateescape")
