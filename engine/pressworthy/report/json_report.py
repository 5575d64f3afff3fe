"""The report as JSON: the contract for other programs, by the schema beside this file."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from pressworthy import __version__
from pressworthy.values import cautions
from pressworthy.values.finding import Outcome, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.waiver import WaiverUse

SCHEMA_VERSION = 1


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the report."""
    text = files("pressworthy.report").joinpath("report.schema.json").read_text("utf-8")
    return json.loads(text)  # type: ignore[no-any-return]


def render(report: Report) -> Iterator[str]:
    """Yield the report in parts; the same run gives the same text."""
    yield _text({**run_data(report), "pictures": []}).removesuffix("]\n}")
    between = ""
    for verdict in report.worst_first():
        yield f"{between}\n{textwrap.indent(_text(picture_data(verdict)), '    ')}"
        between = ","
    yield "\n  ]\n}\n" if between else "]\n}\n"


def _text(data: dict[str, Any]) -> str:
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False)


def run_data(report: Report) -> dict[str, Any]:
    """Return as plain data what the report says of the run as a whole."""
    return {
        "format": SCHEMA_VERSION,
        "program": f"pressworthy {__version__}",
        "command": report.command,
        "dry run": report.dry_run,
        "house": report.house,
        "publisher": report.publisher,
        "output": report.output,
        "chain": list(report.chain),
        "left_out": dict(report.left_out),
        "rules": [asdict(rule) for rule in report.rules],
        "caution": cautions.REPORT,
        "counts": report.counts(),
        "exit": report.exit_status(),
        "sums": [
            {"house": house, "page": page, "counts": counts}
            for house, page, counts in report.sums()
        ],
        "waivers": [_waiver(use) for use in report.waivers],
    }


def _waiver(use: WaiverUse) -> dict[str, Any]:
    waiver = use.waiver
    return {
        "finding": waiver.finding,
        "picture": waiver.picture,
        "page": waiver.page,
        "reason": waiver.reason,
        "by": waiver.by,
        "until": waiver.until.isoformat(),
        "use": str(use.use),
    }


def picture_data(verdict: Verdict) -> dict[str, Any]:
    """Return as plain data what the report says of one picture."""
    worst = verdict.worst()
    return {
        "path": verdict.path,
        "name": verdict.name,
        "house": verdict.house,
        "placement": verdict.placement,
        "page": verdict.page,
        "facts": verdict.facts,
        "worst": str(worst) if worst else None,
        "outcomes": [_outcome(outcome, verdict) for outcome in verdict.outcomes],
    }


def _outcome(outcome: Outcome, verdict: Verdict) -> dict[str, Any]:
    return {
        "rule": outcome.rule,
        "state": str(outcome.state),
        "reason": outcome.reason,
        "weight": str(outcome.weight) if outcome.state is State.UNMEASURED else None,
        "waiver": outcome.waiver,
        "findings": [
            {key: _number(value) for key, value in asdict(finding).items()}
            | {"id": verdict.identifier(outcome.rule, finding.code)}
            for finding in outcome.findings
        ],
    }


def _number(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_number(part) for part in value]
    return round(float(value), 6) if isinstance(value, float) else value
