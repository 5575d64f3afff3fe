"""The report as text: by picture, worst first, measured against limit, what to do."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from pressworthy.values import cautions
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.rule import OF_MASTER
from pressworthy.values.words import readable

WIDTH = 96
MARGIN = 10


def render(report: Report) -> Iterator[str]:
    """Yield the report line by line."""
    for line in _lines(report):
        yield line + "\n"


def _lines(report: Report) -> Iterator[str]:
    yield from _head(report)
    yield ""
    clean: list[str] = []
    unseen: dict[str, list[str]] = {}
    for verdict in report.worst_first():
        remarks = verdict.findings() or verdict.unmeasured() or verdict.accepted()
        if remarks or {"made", "plan"} & verdict.facts.keys():
            yield from _picture(verdict)
            yield ""
        else:
            why = verdict.not_judged()
            alike = unseen.setdefault(why, []) if why else clean
            alike.append(readable(Path(verdict.path).name))
    if clean:
        yield from _wrapped("pass", "; ".join(clean))
        yield ""
    for why, names in unseen.items():
        yield from _wrapped("not judged", f"{'; '.join(names)}: {readable(why)}")
        yield ""
    yield from _foot(report)


def _head(report: Report) -> Iterator[str]:
    publisher = f", {report.publisher}" if report.publisher else ""
    count = len(report.verdicts)
    pictures = "1 picture" if count == 1 else f"{count} pictures"
    yield readable(f"{report.house}{publisher}: {pictures} for {report.output}")
    for rule, reason in report.left_out.items():
        yield readable(f"  {rule} is left out: {reason}")


def _picture(verdict: Verdict) -> Iterator[str]:
    yield readable(verdict.path)
    facts = verdict.facts
    for fact, mark in (("made", "made"), ("plan", "to make")):
        if fact in facts:
            told = f"from {facts['master']}: {facts[fact]}"
            there = f"; {facts['there']}" if "there" in facts else ""
            yield from _wrapped("there" if there else mark, readable(told + there))
    if "width" in facts:
        size = f"{facts['width']} x {facts['height']} px {facts['mode']} {facts['format']}"
        placed = f" at {verdict.placement}" if verdict.placement else ""
        page = f", page {verdict.page}" if verdict.page else ""
        yield from _wrapped("", readable(f"{size}{placed}{page}; ICC profile: {facts['icc']}"))
    for rule, finding in verdict.findings():
        yield from _finding(rule, finding)
    for outcome in verdict.accepted():
        accepted = [sentence(outcome.rule, finding) for finding in outcome.findings]
        yield from _wrapped("waived", readable("; ".join([*accepted, outcome.reason])))
    for (mark, reason), outcomes in groupby(_by_reason(verdict), key=_mark):
        rules = [outcome.rule for outcome in outcomes]
        if rules == ["prepare"]:
            yield from _wrapped("not made", readable(reason))
            continue
        every = len(rules) == len(verdict.outcomes)
        named = "every rule" if every else ", ".join(rules)
        how = "" if mark in (State.UNMEASURED, State.BROKEN) else "unmeasured: "
        yield from _wrapped(mark, readable(f"{named}: {how}{reason}"))
    if why := verdict.not_judged():
        yield from _wrapped("not judged", readable(f"the picture itself: {why}"))


def _mark(outcome: Outcome) -> tuple[str, str]:
    """Return what stands in the margin for a rule without measurement, and its reason."""
    lighter = outcome.state is State.UNMEASURED and outcome.weight is not Severity.STOP
    return str(outcome.weight if lighter else outcome.state), outcome.reason


def _by_reason(verdict: Verdict) -> list[Outcome]:
    return sorted(
        verdict.unmeasured(), key=lambda o: (o.state is State.UNMEASURED, _mark(o)[0], o.reason)
    )


def _finding(rule: str, finding: Finding) -> Iterator[str]:
    yield from _wrapped(str(finding.severity), readable(sentence(rule, finding)))
    yield from _wrapped("", readable(finding.remedy))


def sentence(rule: str, finding: Finding) -> str:
    """Return what was found against which limit, in one line without a full stop."""
    measured, wanted = finding.in_words()
    return f"{rule} {finding.code}: {measured}; the house wants {wanted}"


def _wrapped(mark: str, text: str) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"  {mark:<{MARGIN}} ",
        subsequent_indent=" " * (MARGIN + 3),
        break_on_hyphens=False,
    )


def _only_its_page_passed(verdict: Verdict) -> bool:
    return bool(verdict.not_judged()) and not verdict.worst() and not verdict.unjudged()


def _set_apart(counts: dict[str, int], unseen: int) -> None:
    """Count pictures of which only the page was judged as none that passed."""
    counts["passed"] -= unseen
    counts["unseen"] = unseen


def _foot(report: Report) -> Iterator[str]:
    counts = report.counts()
    named = {
        "stop": "must not go to press",
        "unjudged": "not fully judged",
        "query": "to be looked at",
        "note": "with a note",
        "passed": "passed",
        "unseen": "not judged",
    }
    waived = set()
    if report.command == "prepare":
        outcomes = (outcome for verdict in report.verdicts for outcome in verdict.outcomes)
        waived = {o.rule for o in outcomes if o.state is State.WAIVED and o.reason == OF_MASTER}
    if waived:
        yield from textwrap.wrap(
            f"Judged by check on masters, and not on their copies: {', '.join(sorted(waived))}.",
            WIDTH,
        )
    planned = sum("plan" in verdict.facts for verdict in report.verdicts)
    if planned:
        counts["unjudged"] -= planned
        there = sum("there" in verdict.facts for verdict in report.verdicts)
        stay = f", {there} are there already" if there else ""
        yield f"{planned - there} would be made{stay}; nothing was written, and nothing judged."
    unseen = Counter((v.house, v.page) for v in report.verdicts if _only_its_page_passed(v))
    _set_apart(counts, unseen.total())
    sums = [] if planned else report.sums()
    if len(sums) > 1:
        for house, page, part in sums:
            _set_apart(part, unseen[house, page])
            if not any(part[key] for key in ("stop", "unjudged", "query")):
                continue
            heading = f"{house}, page {page}" if page else f"{house}, no page given"
            counted = "; ".join(f"{part[key]} {text}" for key, text in named.items() if part[key])
            yield readable(f"{heading}: {counted}.")
    for line in [] if planned else [*report.told_once, *report.left_over()]:
        yield from textwrap.wrap(readable(line), WIDTH)
    parts = [f"{counts[key]} {text}" for key, text in named.items() if counts[key]]
    if let := sum(bool(verdict.accepted()) for verdict in report.verdicts):
        parts.append(f"{let} with something accepted")
    if parts:
        yield "; ".join(parts) + "."
    yield cautions.REPORT
