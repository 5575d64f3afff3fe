"""What stands in a picture's margin: its verdict as remarks, worst first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.values.finding import Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import reading

WORDS = {
    "stop": "Stop",
    "query": "Query",
    "note": "Note",
    "unjudged": "Not judged",
    "passed": "Passed",
    "waived": "Let stand",
}


@dataclass(frozen=True)
class Remark:
    """What stands in the margin: a finding, or a rule's outcome where nothing was measured.

    kind: a key of `WORDS`; fate: what becomes of it on the prepared copy, "" where nothing does.
    findings: what it is of, as ``rule/code``: one, or of each rule that could not measure.
    """

    kind: str
    measured: str
    limit: str
    what: str
    remedy: str
    fate: str = ""
    mended: bool = False
    findings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Marked:
    """One picture on the sheet, with its number in the whole proof."""

    number: int
    verdict: Verdict
    pull: Pull
    remarks: tuple[Remark, ...]

    @property
    def name(self) -> str:
        return Path(self.verdict.name or self.verdict.path).name

    @property
    def kind(self) -> str:
        """Return the weightiest kind among the remarks; what preparing mends counts too."""
        order = ["stop", "unjudged", "query", "note", "waived"]
        kinds = [remark.kind for remark in self.remarks]
        return next((kind for kind in order if kind in kinds), "passed")


def numbered(sheets: Sequence[Sheet]) -> Iterator[list[Marked]]:
    """Yield each sheet's pictures in reading order, numbered through the whole proof."""
    number = 0
    for sheet in sheets:
        pairs = sorted(
            zip(sheet.report.verdicts, sheet.pulls, strict=True),
            key=lambda pair: (reading(pair[0].page), pair[0].path, pair[0].placement),
        )
        marked = []
        for verdict, pull in pairs:
            number += 1
            marked.append(Marked(number, verdict, pull, tuple(remarks(verdict, pull))))
        yield marked


def remarks(verdict: Verdict, pull: Pull) -> Iterator[Remark]:
    """Yield the remarks on the master, worst first, then those on its prepared copy alone."""
    copy = pull.copy
    still_found = {(rule, f.code) for rule, f in copy.findings()} if copy else set()
    # what keeps evidence judges neighbours, and a copy was compared with none
    judged = {
        outcome.rule
        for outcome in (copy.outcomes if copy else ())
        if outcome.state in (State.PASSED, State.FOUND) and outcome.evidence is None
    }
    remarked = set()
    for rule, finding in verdict.findings():
        remarked.add((rule, finding.code))
        cleared = rule in judged and (rule, finding.code) not in still_found
        # a query is for a person, whatever the copy's figures are
        mended = cleared and finding.severity is not Severity.QUERY
        fate = (
            "Preparing puts this right."
            if mended
            else "The copy cannot show this any more: compare it with its soft proof."
        )
        yield _of_finding(rule, finding, fate if cleared else "", mended)
    for rule, finding in copy.findings() if copy else ():
        if (rule, finding.code) not in remarked:
            yield _of_finding(rule, finding, "On the prepared copy.", False)
    outcomes = sorted(verdict.unmeasured(), key=lambda o: (str(o.state), o.reason))
    for (state, reason), group in groupby(outcomes, key=lambda o: (o.state, o.reason)):
        rules = list(group)
        named = (
            "every rule"
            if len(rules) == len(verdict.outcomes)
            else ", ".join(spaced(outcome.rule) for outcome in rules)
        )
        yield Remark(
            _unmeasured_kind(rules),
            str(state),
            "",
            named,
            _sentence(reason),
            findings=tuple(f"{outcome.rule}/unmeasured" for outcome in rules),
        )
    for outcome in verdict.accepted():
        remarked |= {(outcome.rule, finding.code) for finding in outcome.findings}
        yield from _let_stand(outcome, outcome.findings)
    for outcome in copy.accepted() if copy else ():
        alone = [f for f in outcome.findings if (outcome.rule, f.code) not in remarked]
        if alone:
            yield from _let_stand(outcome, alone, "On the prepared copy.")


def _let_stand(outcome: Outcome, findings: Sequence[Finding], where: str = "") -> Iterator[Remark]:
    for finding in findings:
        what = _what(outcome.rule, finding)
        named = (f"{outcome.rule}/{finding.code}",)
        yield Remark("waived", *_figures(finding), what, outcome.reason, where, findings=named)
    if not findings:
        yield Remark(
            "waived", "unmeasured", "", spaced(outcome.rule), outcome.reason, where,
            findings=(f"{outcome.rule}/unmeasured",),
        )  # fmt: skip


def _unmeasured_kind(outcomes: Sequence[Outcome]) -> str:
    """Return as what a rule that could not measure counts: the house may let it weigh less."""
    if any(o.state is State.BROKEN or o.weight is Severity.STOP for o in outcomes):
        return "unjudged"
    return str(min((o.weight for o in outcomes), key=list(Severity).index))


def _of_finding(rule: str, finding: Finding, fate: str, mended: bool) -> Remark:
    kind = str(finding.severity or Severity.NOTE)
    named = (f"{rule}/{finding.code}",)
    return Remark(
        kind, *_figures(finding), _what(rule, finding), finding.remedy, fate, mended, named
    )


def _figures(finding: Finding) -> tuple[str, str]:
    measured, wanted = finding.in_words()
    return measured, f"the house wants {wanted}"


def _what(rule: str, finding: Finding) -> str:
    return f"{spaced(rule)}: {spaced(finding.code)}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def spaced(name: str) -> str:
    return name.replace("-", " ")
