"""Runs a house's rules on one picture. A rule that fails is broken here and harms nothing else."""

from __future__ import annotations

import json
import math
import numbers
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from itertools import islice
from types import MappingProxyType
from typing import Any

import numpy as np

from pressworthy.house import House, RuleSetting
from pressworthy.measure.icc import describe_profile
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Finding, Outcome, Severity, State, Unmeasured, Verdict
from pressworthy.values.machine import what_failed
from pressworthy.values.picture import Picture
from pressworthy.values.rule import OF_MASTER, Marks, Member, Rule
from pressworthy.values.words import shortened

MOST_FINDINGS = 100
"""Of one rule on one picture; what a rule finds in more places is one thing to put right."""

MOST_EVIDENCE = 1_000_000
"""Characters of one rule's evidence on one picture, as JSON: the parent holds that of a run."""


def _silent(_: Outcome) -> None:
    return


def judge(
    picture: Picture,
    house: House,
    rules: Mapping[str, Rule],
    tell: Callable[[Outcome], None] = _silent,
) -> Verdict:
    """Return the verdict of the house's rules, in the house's order.

    tell: is handed each outcome at once, as a rule may end the process.
    """

    def outcome(name: str, setting: RuleSetting) -> Outcome:
        done = _outcome(rules[name], setting, picture)
        tell(done)
        return done

    return Verdict(
        path=str(picture.path),
        placement=picture.placement.size_and_bleed() if picture.placement else "",
        page=picture.placement.page if picture.placement else "",
        facts=facts(picture),
        outcomes=tuple(outcome(name, setting) for name, setting in house.rules.items()),
    )


def unread(path: str, reason: str, house: House, state: State = State.UNMEASURED) -> Verdict:
    """Return the verdict on a file that could not be taken in: no rule has judged it."""
    return Verdict(path, tuple(Outcome(name, state, reason=reason) for name in house.rules))


def broken_off(path: str, reason: str, house: House, told: Iterable[Outcome]) -> Verdict:
    """Return the verdict on a picture whose judging broke off: what was told stands."""
    done = {outcome.rule: outcome for outcome in told}
    at = next((name for name in house.rules if name not in done), "")
    why = f"{reason}; the rule {at} was under way" if done and at else reason
    broken = {name: Outcome(name, State.BROKEN, reason=why) for name in house.rules}
    return Verdict(path, tuple({**broken, **done}.values()))


def facts(picture: Picture) -> dict[str, Any]:
    """Return what the report says of the file itself."""
    header = picture.header
    width, height = header.upright()
    return {
        "format": header.format,
        "width": width,
        "height": height,
        "mode": header.mode,
        "depth": header.depth,
        "bytes": header.file_bytes,
        "icc": describe_profile(picture),
    }


class ContractBroken(Exception):  # noqa: N818 - an outcome, not an error
    """A rule gave what no rule may give; the message names the rule and its mend."""


def judge_set(
    rule: Rule, evidence: Mapping[Member, Any], options: Mapping[str, Any]
) -> dict[Member, tuple[Finding, ...]]:
    """Return what a rule finds in pictures as a set, each finding as the rule gave it.

    Raises ContractBroken, or whatever the rule raises.
    """
    assert rule.check_set is not None
    given = rule.check_set(MappingProxyType(evidence), MappingProxyType(options))
    if not isinstance(given, Mapping):
        raise ContractBroken(
            f"the rule {rule.name} returned {_kind(given)} for the set; return member -> findings"
        )
    for member in given:
        if member not in evidence:
            raise ContractBroken(
                f"the rule {rule.name} gave findings for {member!r}, which is no member of the "
                "set; use the keys of the evidence as they are"
            )
    return {member: findings_of(rule, findings) for member, findings in given.items()}


def findings_of(rule: Rule, given: Any) -> tuple[Finding, ...]:
    """Return what a rule's check gave, as findings of its own codes.

    Not more than can be told, and then the last one says so. Raises ContractBroken.
    """
    if not isinstance(given, Iterable):
        raise ContractBroken(
            f"the rule {rule.name} returned {_kind(given)}; yield findings or return a list"
        )
    findings = tuple(islice(given, MOST_FINDINGS + 1))
    for finding in findings:
        if not isinstance(finding, Finding):
            raise ContractBroken(
                f"the rule {rule.name} gave {_kind(finding)} in place of a Finding"
            )
        if finding.code not in rule.codes:
            raise ContractBroken(
                f"the rule {rule.name} gave the code {finding.code!r}, which it does not declare"
            )
    if len(findings) > MOST_FINDINGS:
        last = findings[MOST_FINDINGS - 1]
        told = f"{last.remedy} (There are more; {MOST_FINDINGS} are told.)".strip()
        return (*findings[: MOST_FINDINGS - 1], replace(last, remedy=told))
    return findings


def evidence_of(rule: Rule, picture: Picture) -> Any:
    """Return a picture's evidence as it comes back from a file, so that every run sees the same.

    None where the rule keeps none. Raises ContractBroken where JSON cannot hold it.
    """
    if rule.evidence is None:
        return None
    evidence = rule.evidence(picture)
    try:
        written = json.dumps(evidence)
        if len(written) > MOST_EVIDENCE:
            raise ContractBroken(
                f"the rule {rule.name} gave {len(written):,} characters of evidence; more than "
                f"{MOST_EVIDENCE:,} are not kept"
            )
        return json.loads(written)
    except (TypeError, ValueError) as error:
        raise ContractBroken(
            f"the rule {rule.name} gave evidence that JSON cannot hold: {error}"
        ) from None


def marks_of(rule: Rule, setting: RuleSetting, picture: Picture) -> Marks | None:
    """Return what a rule marks in a picture; None where it marks nothing or does not judge it.

    Raises Unmeasured, ContractBroken, or whatever the rule raises.
    """
    if rule.marks is None or _why_not_judged(rule, picture):
        return None
    marks = rule.marks(picture, MappingProxyType(setting.options))
    if marks is None:
        return None
    if not isinstance(marks, Marks):
        raise ContractBroken(f"the rule {rule.name} marked {_kind(marks)}; return Marks or None")
    mask = np.asarray(marks.mask)
    if mask.ndim != 2 or mask.dtype != np.bool_ or not mask.size or not 0 <= marks.share <= 1:
        raise ContractBroken(
            f"the rule {rule.name} gave marks that cannot be drawn: the mask is boolean, (height, "
            "width), and the share is 0 to 1"
        )
    return marks


def _kind(value: Any) -> str:
    return "None" if value is None else f"a value of type {type(value).__name__}"


def _outcome(rule: Rule, setting: RuleSetting, picture: Picture) -> Outcome:
    start = time.perf_counter()
    state, reason = State.PASSED, ""
    findings: tuple[Finding, ...] = ()
    evidence = None
    if reason := _why_not_judged(rule, picture):
        return Outcome(rule.name, State.WAIVED, reason=reason)
    try:
        given = rule.check(picture, MappingProxyType(setting.options))
        findings = tuple(judged(one, setting) for one in findings_of(rule, given))
        evidence = evidence_of(rule, picture)
        state = State.FOUND if findings else State.PASSED
    except Unmeasured as cause:
        state, reason = State.UNMEASURED, shortened(str(cause))
    except ContractBroken as breach:
        state, reason, findings = State.BROKEN, shortened(str(breach)), ()
    except (Exception, SystemExit, KeyboardInterrupt) as error:
        state, reason, findings = State.BROKEN, what_failed(error), ()
    weight = Severity(setting.severity.get("unmeasured", Severity.STOP))
    seconds = time.perf_counter() - start
    return Outcome(rule.name, state, findings, reason, seconds, weight, evidence)


def _why_not_judged(rule: Rule, picture: Picture) -> str:
    """Return why a rule is not for such a picture, or ""."""
    if rule.files_only and picture.page_object:
        return "a picture on a page: its file is judged"
    if rule.pages_only and picture.on_page is None:
        return "a file of its own: pages are judged"
    if rule.masters_only and ticket(picture):
        return OF_MASTER
    if rule.copies_only and not ticket(picture):
        return "a master: its prepared copy is judged"
    return ""


def judged(finding: Finding, setting: RuleSetting) -> Finding:
    """Return the finding with the house's severity, its numbers as reports and caches hold them.

    Raises TypeError and ValueError.
    """
    measured, limit = finding.measured, finding.limit
    return replace(
        finding,
        measured=_plain(measured, finding.code),
        limit=tuple(_plain(part, finding.code) for part in limit)
        if isinstance(limit, tuple)
        else _plain(limit, finding.code),
        unit=shortened(finding.unit),
        remedy=shortened(finding.remedy),
        severity=Severity(setting.severity[finding.code]),
    )


def _plain(value: Any, code: str) -> Any:
    """Return a number of Python's own, or the words. Raises TypeError and ValueError."""
    if isinstance(value, str):
        return shortened(value)
    if not isinstance(value, numbers.Real):
        raise TypeError(f"the rule measured a {type(value).__name__} for {code!r}")
    if not math.isfinite(value):
        raise ValueError(f"the rule measured {value} for {code!r}")
    # numpy's numbers are no numbers to JSON
    return int(value) if isinstance(value, numbers.Integral) else float(value)
