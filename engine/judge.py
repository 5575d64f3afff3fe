"""Runs a house's rules on one picture. A rule that fails is broken here and harms nothing else."""

from __future__ import annotations

import math
import time
import traceback
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from pressworthy.finding import Finding, Outcome, Severity, State, Unmeasured, Verdict
from pressworthy.house import House, RuleSetting
from pressworthy.measure.icc import describe_profile
from pressworthy.picture import Picture
from pressworthy.rule import Rule


def judge(picture: Picture, house: House, rules: Mapping[str, Rule]) -> Verdict:
    """Return the verdict of the house's rules, in the house's order."""
    return Verdict(
        path=str(picture.path),
        placement=picture.placement.describe() if picture.placement else "",
        page=picture.placement.page if picture.placement else "",
        facts=facts(picture),
        outcomes=tuple(
            _outcome(rules[name], setting, picture) for name, setting in house.rules.items()
        ),
    )


def unread(path: str, reason: str, house: House, state: State = State.UNMEASURED) -> Verdict:
    """Return the verdict on a file that could not be taken in: no rule has judged it."""
    return Verdict(path, tuple(Outcome(name, state, reason=reason) for name in house.rules))


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


def _outcome(rule: Rule, setting: RuleSetting, picture: Picture) -> Outcome:
    start = time.perf_counter()
    state, reason = State.PASSED, ""
    findings: tuple[Finding, ...] = ()
    try:
        found = tuple(rule.check(picture, MappingProxyType(setting.options)))
        findings = tuple(_judged(finding, rule, setting) for finding in found)
        state = State.FOUND if findings else State.PASSED
    except Unmeasured as cause:
        state, reason = State.UNMEASURED, str(cause)
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{where.filename.rsplit('/', 1)[-1]}:{where.lineno}"
        state, reason = State.BROKEN, f"{type(error).__name__}: {error} ({place})"
    return Outcome(rule.name, state, findings, reason, time.perf_counter() - start)


def _judged(finding: Any, rule: Rule, setting: RuleSetting) -> Finding:
    if not isinstance(finding, Finding):
        raise TypeError(f"the rule gave {type(finding).__name__} in place of a Finding")
    if finding.code not in rule.codes:
        raise ValueError(f"the rule gave the code {finding.code!r}, which it does not declare")
    for value in (finding.measured, finding.limit):
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"the rule measured {value} for {finding.code!r}")
    return replace(finding, severity=Severity(setting.severity[finding.code]))
