"""Judges pictures as a set, one against its neighbours, when all of a run are in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from pressworthy.house import House, RuleSetting
from pressworthy.jobs.running.kept import Kept
from pressworthy.judge import judged
from pressworthy.values.finding import Finding, Outcome, State, Verdict
from pressworthy.values.rule import Rule
from pressworthy.values.words import what_broke


def judge_set(
    verdicts: Sequence[Verdict], house: House, rules: Mapping[str, Rule]
) -> Sequence[Verdict]:
    """Return the verdicts with what the rules find in the pictures as a set, in the same order."""
    for name, setting in house.rules.items():
        if rules[name].check_set is not None:
            verdicts = _with_set(verdicts, rules[name], setting)
    return verdicts


def _with_set(verdicts: Sequence[Verdict], rule: Rule, setting: RuleSetting) -> Sequence[Verdict]:
    assert rule.check_set is not None
    kept = {
        verdict.path: outcome.evidence
        for verdict in verdicts
        for outcome in verdict.outcomes
        if outcome.rule == rule.name and outcome.evidence is not None
    }
    if not kept:
        return verdicts
    more: dict[str, tuple[Finding, ...]] = {}
    failure = ""
    try:
        found = rule.check_set(MappingProxyType(kept), MappingProxyType(setting.options))
        more = {path: tuple(judged(f, rule, setting) for f in fs) for path, fs in found.items()}
    except (Exception, SystemExit) as error:
        failure = what_broke(error)

    if not (failure or any(more.values())):
        return verdicts

    def changed(outcome: Outcome, path: str) -> Outcome:
        if outcome.rule != rule.name or outcome.evidence is None:
            return outcome
        if failure:
            return replace(outcome, state=State.BROKEN, reason=failure)
        findings = (*outcome.findings, *more.get(path, ()))
        return replace(outcome, findings=findings, state=State.FOUND) if findings else outcome

    return Kept(
        replace(verdict, outcomes=tuple(changed(o, verdict.path) for o in verdict.outcomes))
        for verdict in verdicts
    )
