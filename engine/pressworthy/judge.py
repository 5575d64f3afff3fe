"""Runs a house's rules on one picture. A rule that fails is broken here and harms nothing else."""

from __future__ import annotations

import json
import math
import numbers
import signal
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from pressworthy.house import House, RuleSetting
from pressworthy.measure.icc import describe_profile
from pressworthy.measure.ticket import ticket
from pressworthy.values.finding import Finding, Outcome, Severity, State, Unmeasured, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Rule
from pressworthy.values.words import what_broke

RULE_SECONDS = 60.0


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
    evidence = None
    if rule.files_only and picture.page_object:
        return Outcome(rule.name, State.WAIVED, reason="a picture on a page: its file is judged")
    if rule.masters_only and ticket(picture):
        return Outcome(rule.name, State.WAIVED, reason="a prepared copy: its master is judged")
    if rule.copies_only and not ticket(picture):
        return Outcome(rule.name, State.WAIVED, reason="a master: its prepared copy is judged")
    try:
        with _limited(RULE_SECONDS):
            found = tuple(rule.check(picture, MappingProxyType(setting.options)))
            findings = tuple(judged(finding, rule, setting) for finding in found)
            evidence = _plain(rule.evidence(picture)) if rule.evidence else None
        state = State.FOUND if findings else State.PASSED
    except Unmeasured as cause:
        state, reason = State.UNMEASURED, str(cause)
    except (Exception, SystemExit) as error:
        state, reason, findings = State.BROKEN, what_broke(error), ()
    weight = Severity(setting.severity.get("unmeasured", Severity.STOP))
    seconds = time.perf_counter() - start
    return Outcome(rule.name, state, findings, reason, seconds, weight, evidence)


@contextmanager
def _limited(seconds: float) -> Iterator[None]:
    """Raise TimeoutError in a rule that runs longer; only where signals reach this thread."""
    main = threading.current_thread() is threading.main_thread()
    if not main or not hasattr(signal, "setitimer"):
        yield
        return

    def ring(*_: object) -> None:
        raise TimeoutError(f"it ran longer than {seconds:g} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _plain(evidence: Any) -> Any:
    """Return the evidence as it comes back from a file, so that it is the same in every run."""
    return json.loads(json.dumps(evidence))


def judged(finding: Any, rule: Rule, setting: RuleSetting) -> Finding:
    if not isinstance(finding, Finding):
        raise TypeError(f"the rule gave {type(finding).__name__} in place of a Finding")
    if finding.code not in rule.codes:
        raise ValueError(f"the rule gave the code {finding.code!r}, which it does not declare")
    return replace(
        finding,
        measured=_told(finding.measured, finding.code),
        limit=_told(finding.limit, finding.code),
        severity=Severity(setting.severity[finding.code]),
    )


def _told(value: Any, code: str) -> float | str:
    """Return what a rule measured as reports and the cache can hold it. Raises ValueError."""
    if isinstance(value, str):
        return value
    if not isinstance(value, numbers.Real):
        raise TypeError(f"the rule measured a {type(value).__name__} for {code!r}")
    if not math.isfinite(value):
        raise ValueError(f"the rule measured {value} for {code!r}")
    # numpy's numbers are no numbers to JSON
    return int(value) if isinstance(value, numbers.Integral) else float(value)
