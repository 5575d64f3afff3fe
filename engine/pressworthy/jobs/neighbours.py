"""Judges pictures as a set, one against its neighbours, when all of a run are in."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import replace
from itertools import islice
from typing import Any

from pressworthy import judge
from pressworthy.house import House, RuleSetting
from pressworthy.jobs.running.kept import Kept
from pressworthy.values.finding import Finding, Outcome, State, Verdict
from pressworthy.values.machine import what_failed
from pressworthy.values.rule import Member, Rule
from pressworthy.values.words import shortened

MOST_LINES = 100
"""Of what one rule says of many pictures together."""


def judge_set(
    verdicts: Sequence[Verdict], house: House, rules: Mapping[str, Rule]
) -> Sequence[Verdict]:
    """Return the verdicts with what the rules find in the pictures as a set, in the same order."""
    for name, setting in house.rules.items():
        if rules[name].check_set is not None:
            verdicts = _with_set(verdicts, rules[name], setting)
    return verdicts


def members(verdicts: Iterable[Verdict]) -> Iterator[tuple[Member, Verdict]]:
    """Yield each verdict with the picture it is on, as a member of the set."""
    alike: Counter[Member] = Counter()
    for verdict in verdicts:
        first = Member(verdict.path, verdict.name, verdict.page, verdict.placement)
        alike[first] += 1
        yield replace(first, number=alike[first]), verdict


def told_once(
    verdicts: Sequence[Verdict], house: House, rules: Mapping[str, Rule]
) -> tuple[str, ...]:
    """Return what the rules say of many pictures together, in sentences."""
    sentences: list[str] = []
    for name, setting in house.rules.items():
        tell = rules[name].tell_once
        evidence = _evidence(verdicts, rules[name]) if tell else {}
        if not (tell and evidence):
            continue
        try:
            with redirect_stdout(sys.stderr):
                lines = islice(tell(evidence, setting.options), MOST_LINES)
                sentences += [shortened(f"{name}: {line}") for line in lines]
        except (Exception, SystemExit, KeyboardInterrupt) as error:
            sentences.append(
                f"{name}: what it says of all pictures together is broken: {what_failed(error)}"
            )
    return tuple(sentences)


def _evidence(verdicts: Iterable[Verdict], rule: Rule) -> dict[Member, Any]:
    return {
        member: outcome.evidence
        for member, verdict in members(verdicts)
        for outcome in verdict.outcomes
        if outcome.rule == rule.name and outcome.evidence is not None
    }


def _with_set(verdicts: Sequence[Verdict], rule: Rule, setting: RuleSetting) -> Sequence[Verdict]:
    evidence = _evidence(verdicts, rule)
    if not evidence:
        return verdicts
    more: dict[Member, tuple[Finding, ...]] = {}
    failure = ""
    try:
        with redirect_stdout(sys.stderr):
            found = judge.judge_set(rule, evidence, setting.options)
        for member, findings in found.items():
            more[member] = tuple(judge.judged(finding, setting) for finding in findings)
    except judge.ContractBroken as breach:
        failure = str(breach)
    except (Exception, SystemExit, KeyboardInterrupt) as error:
        failure = what_failed(error)

    if not (failure or any(more.values())):
        return verdicts

    def changed(outcome: Outcome, member: Member) -> Outcome:
        if outcome.rule != rule.name or outcome.evidence is None:
            return outcome
        if failure:
            return replace(outcome, state=State.BROKEN, reason=failure)
        findings = (*outcome.findings, *more.get(member, ()))
        return replace(outcome, findings=findings, state=State.FOUND) if findings else outcome

    return Kept(
        replace(verdict, outcomes=tuple(changed(o, member) for o in verdict.outcomes))
        for member, verdict in members(verdicts)
    )
