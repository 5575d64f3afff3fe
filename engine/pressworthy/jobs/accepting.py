"""Lays what persons accepted over the verdicts of a run.

Waivers are applied after judging, so that the report always shows what was found.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pressworthy.jobs.running.kept import Kept
from pressworthy.jobs.tasks import Task
from pressworthy.values.finding import Finding, Outcome, State, Verdict
from pressworthy.values.placement import AS_SUPPLIED
from pressworthy.values.report import Report
from pressworthy.values.rule import Rule
from pressworthy.values.waiver import Use, Waiver, WaiverUse

if TYPE_CHECKING:
    from pressworthy.jobs.proofing import Sheet
    from pressworthy.jobs.pull import Pull

MOST_NEAR = 3
TONES_OF = "luminance/"
"""Who accepts one of these findings says that the picture is meant to be so."""


def judged_here(
    waivers: Iterable[Waiver], rules: Mapping[str, Rule], *, pages: bool = False
) -> list[Waiver]:
    """Return the waivers of findings that can be on files, or on pages: of no rule of the other."""

    def elsewhere(rule: Rule | None) -> bool:
        return rule is not None and (rule.files_only if pages else rule.pages_only)

    return [one for one in waivers if not elsewhere(rules.get(one.finding.partition("/")[0]))]


def with_tones(tasks: Iterable[Task], waivers: Iterable[Waiver], today: date) -> list[Task]:
    """Return the tasks, those whose tones a person accepts as supplied where no list says else."""
    valid = [w for w in waivers if w.until >= today and w.finding.startswith(TONES_OF)]

    def meant(task: Task) -> bool:
        names = str(task.path), task.name
        return any(_is_for(waiver, task.request.page, names, [task.path]) for waiver in valid)

    return [
        replace(task, request=replace(task.request, tone=AS_SUPPLIED))
        if valid and not task.request.tone and meant(task)
        else task
        for task in tasks
    ]


def accepted(
    report: Report, waivers: Sequence[Waiver], today: date, *, masters: Iterable[Verdict] = ()
) -> Report:
    """Return the report with what persons accepted waived, and what became of each waiver.

    masters: verdicts on the masters of its copies; a waiver of use to one of them was of use.
    """
    if not waivers:
        return report
    accepting = Accepting(waivers, today)
    for verdict in masters:
        accepting.waived(verdict)
    verdicts = Kept(map(accepting.waived, report.verdicts))
    return replace(report, verdicts=verdicts, waivers=accepting.uses())


def let_stand(sheets: Sequence[Sheet], waivers: Sequence[Waiver], today: date) -> list[Sheet]:
    """Return the sheets with what persons accepted waived, on the pictures and on their copies.

    Every sheet's report tells what became of the waivers in the whole proof.
    """
    accepting = Accepting(waivers, today)

    def of_copy(pull: Pull, verdict: Verdict) -> Pull:
        if pull.copy is None:
            return pull
        # a copy lies in a folder that goes again; a person accepts the picture
        named = replace(pull.copy, path=verdict.path, name=verdict.name, page=verdict.page)
        return replace(pull, copy=accepting.waived(named))

    done = []
    for sheet in sheets:
        verdicts = [accepting.waived(verdict) for verdict in sheet.report.verdicts]
        pulls = tuple(map(of_copy, sheet.pulls, verdicts))
        report = replace(sheet.report, verdicts=verdicts)
        done.append(replace(sheet, report=report, pulls=pulls))
    uses = accepting.uses()
    return [replace(sheet, report=replace(sheet.report, waivers=uses)) for sheet in done]


class Accepting:
    """Applies waivers to one verdict after another, and knows in the end which were of use."""

    def __init__(self, waivers: Sequence[Waiver], today: date) -> None:
        self._waivers = waivers
        self._valid = [waiver for waiver in waivers if waiver.until >= today]
        self._met: set[int] = set()
        self._used: set[int] = set()
        self._near: defaultdict[int, list[str]] = defaultdict(list)

    def waived(self, verdict: Verdict) -> Verdict:
        """Return the verdict with accepted findings waived.

        Where only some findings of a rule are accepted, it has two outcomes: found, and waived.
        """
        mine = [waiver for waiver in self._valid if _is_for_verdict(waiver, verdict)]
        self._met.update(map(id, mine))
        # what could have been meant matters only where a waiver is for no picture
        for waiver in (w for w in self._valid if id(w) not in self._met):
            near = self._near[id(waiver)]
            if len(near) < MOST_NEAR and _is_near(waiver, verdict):
                near.append(verdict.name or verdict.path)
        if not mine:
            return verdict
        outcomes: list[Outcome] = []
        for outcome in verdict.outcomes:
            outcomes += _split(outcome, mine, self._used)
        return replace(verdict, outcomes=tuple(outcomes))

    def uses(self) -> tuple[WaiverUse, ...]:
        """Return what became of each waiver."""
        uses = ((waiver, self._use(waiver)) for waiver in self._waivers)
        return tuple(
            WaiverUse(waiver, use, tuple(self._near[id(waiver)]) if use is Use.ASTRAY else ())
            for waiver, use in uses
        )

    def _use(self, waiver: Waiver) -> Use:
        if waiver not in self._valid:
            return Use.EXPIRED
        if id(waiver) in self._used:
            return Use.APPLIED
        return Use.UNUSED if id(waiver) in self._met else Use.ASTRAY


def _split(outcome: Outcome, waivers: Sequence[Waiver], used: set[int]) -> list[Outcome]:
    def accepted(code: str) -> str:
        # every waiver that fits counts as used, so that none is called unused beside its twin
        fitting = [w for w in waivers if w.finding == f"{outcome.rule}/{code}"]
        used.update(id(waiver) for waiver in fitting)
        return fitting[0].acceptance() if fitting else ""

    if outcome.state is State.UNMEASURED:
        reason = accepted("unmeasured")
        if not reason:
            return [outcome]
        reasons = f"{outcome.reason}; {reason}"
        return [replace(outcome, state=State.WAIVED, reason=reasons, waiver=reason)]
    if outcome.state is not State.FOUND:
        return [outcome]
    by_reason: dict[str, list[Finding]] = {}
    for finding in outcome.findings:
        by_reason.setdefault(accepted(finding.code), []).append(finding)
    return [
        replace(outcome, state=State.WAIVED, reason=reason, waiver=reason, findings=tuple(findings))
        if reason
        else replace(outcome, findings=tuple(findings))
        for reason, findings in sorted(by_reason.items())
    ]


def _is_for_verdict(waiver: Waiver, verdict: Verdict) -> bool:
    # a copy is known by its master too: that is the picture a person accepts
    # and a picture on a page by the files it was found to come from
    source: Mapping[str, str] = verdict.facts.get("found", {})
    more = (verdict.facts.get("master"), source.get("master"), source.get("file"))
    return _is_for(waiver, verdict.page, (verdict.path, verdict.name), (verdict.path, *more))


def _is_for(
    waiver: Waiver, page: str, names: Iterable[str], paths: Iterable[str | Path | None]
) -> bool:
    if waiver.page and waiver.page != page:
        return False
    if not waiver.picture or waiver.picture in names:
        return True
    return Path(waiver.picture).resolve() in {Path(path).resolve() for path in paths if path}


def _is_near(waiver: Waiver, verdict: Verdict) -> bool:
    if not waiver.picture or waiver.page not in ("", verdict.page):
        return False
    return Path(waiver.picture).name == Path(verdict.facts.get("master", verdict.path)).name
