"""The report: one value for a run, and its formats."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pressworthy.finding import Severity, Verdict
from pressworthy.hookspecs import hookimpl

CAUTION = "These are measurements, no contract proof: the printer's own data and advice come first."


@dataclass(frozen=True)
class Report:
    """All that a run has to say.

    command: check, prepare or proof; output: the output in one line.
    off: rules the house switched off, with the reason.
    """

    command: str
    house: str
    publisher: str
    output: str
    chain: tuple[str, ...]
    off: Mapping[str, str]
    verdicts: tuple[Verdict, ...]

    def exit_status(self) -> int:
        """Return 1 where anything is at severity stop, unmeasured or broken, else 0."""
        return int(any(v.worst() is Severity.STOP or v.unjudged() for v in self.verdicts))

    def counts(self) -> dict[str, int]:
        """Return how many pictures there are, by the weightiest thing said of each."""
        counts = {str(s): 0 for s in Severity} | {"unjudged": 0, "passed": 0}
        for verdict in self.verdicts:
            worst = verdict.worst()
            if worst is Severity.STOP or (worst and not verdict.unjudged()):
                counts[str(worst)] += 1
            else:
                counts["unjudged" if verdict.unjudged() else "passed"] += 1
        return counts


def weight(verdict: Verdict) -> tuple[int, str]:
    """Return the sorting key that puts the worst picture first."""
    order = [Severity.STOP, None, Severity.QUERY, Severity.NOTE]
    worst = verdict.worst()
    if worst is not Severity.STOP and verdict.unjudged():
        return order.index(None), verdict.path
    return (order.index(worst) if worst else len(order)), verdict.path


def readable(text: str) -> str:
    """Return text from a file made safe to show: no control, format or lone surrogate characters.

    They are written as escapes, so that a file name can neither move the cursor nor hide.
    """
    return "".join(
        c if c == " " or c.isprintable() else c.encode("unicode_escape").decode() for c in text
    )


@hookimpl
def pressworthy_report_formats() -> Mapping[str, Callable[[Any], str]]:
    from pressworthy.report import json_report, text_report

    return {"text": text_report.render, "json": json_report.render}
