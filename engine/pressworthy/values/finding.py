"""What is said of a picture: findings by rules, outcomes of rules, the verdict on a picture."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from pressworthy.values.units import figure


class Severity(StrEnum):
    """How much a finding weighs: it must not go to press, a person must look, or to be known."""

    STOP = "stop"
    QUERY = "query"
    NOTE = "note"


class Bound(StrEnum):
    """What a figure must be beside its limit, so that nothing is found."""

    LEAST = "least"
    MOST = "most"
    EXACTLY = "exactly"
    BETWEEN = "between"


PAGE = "page"
"""What stands in a rule's place where a page shows nothing that could be judged."""


class State(StrEnum):
    """How a rule ended on a picture. Unmeasured and broken are never a pass."""

    PASSED = "passed"
    FOUND = "found"
    UNMEASURED = "unmeasured"
    BROKEN = "broken"
    WAIVED = "waived"


class Unmeasured(Exception):  # noqa: N818 - an outcome, not an error
    """Raised by a rule or measurement that cannot judge this picture, with the reason."""


@dataclass(frozen=True)
class Finding:
    """One thing a rule found. `severity` is empty until the house profile has judged it.

    measured, limit: numbers in `unit`, or words where nothing is counted.
    remedy: what to do, in one or two sentences.
    bound: what `measured` must be beside `limit`, where both are numbers, else None; with
        ``between`` the limit is the pair (lowest, highest).

    Raises ValueError where bound and limit do not go together.
    """

    code: str
    measured: float | str
    limit: float | str | tuple[float, float]
    unit: str = ""
    remedy: str = ""
    severity: Severity | None = None
    bound: Bound | None = None

    def __post_init__(self) -> None:
        words = isinstance(self.measured, str) or isinstance(self.limit, str)
        numbers = len(self.limit) if isinstance(self.limit, tuple) else 1
        if words and (self.bound or numbers != 1):
            raise ValueError(f"{self.code!r}: words are bound by no limit; leave bound out")
        if not words and self.bound is None:
            raise ValueError(f"{self.code!r}: a number needs a bound: {', '.join(Bound)}")
        if numbers != (2 if self.bound is Bound.BETWEEN else 1):
            raise ValueError(
                f"{self.code!r}: with 'between' the limit is (lowest, highest), else one number"
            )

    def in_words(self) -> tuple[str, str]:
        """Return what was measured and what the house wants: ``150 ppi``, ``at least 300 ppi``."""
        measured, wanted = _in_words(self.measured, self.unit), _in_words(self.limit, self.unit)
        if measured == wanted and self.measured != self.limit:
            # 299.7 and 300 are both 300 to whole numbers
            measured = _told_apart(self.measured, self.limit, self.unit)
        if self.bound in (Bound.LEAST, Bound.MOST):
            wanted = f"at {self.bound} {wanted}"
        elif self.bound:
            wanted = f"{self.bound} {wanted}"
        return measured, wanted


def _told_apart(value: Any, limit: Any, unit: str) -> str:
    """Return a number with the decimals that tell it from its limit."""
    decimals = next(n for n in range(1, 18) if n == 17 or round(value, n) != round(limit, n))
    return f"{value:.{decimals}f} {unit}".strip()


def _in_words(value: float | str | tuple[float, float], unit: str) -> str:
    if isinstance(value, tuple):
        return f"{figure(value[0])} and {figure(value[1], unit)}"
    return value if isinstance(value, str) else figure(value, unit)


@dataclass(frozen=True)
class Outcome:
    """How one rule ended on one picture; `reason` tells why where nothing was measured.

    weight: how much it weighs in this house that the rule could not measure.
    evidence: what the rule keeps to judge the picture by its neighbours, see `Rule.check_set`.
    waiver: who accepts the findings until when and why, where a person does.
    """

    rule: str
    state: State
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    seconds: float = 0.0
    weight: Severity = Severity.STOP
    evidence: Any = field(default=None, repr=False, compare=False)
    waiver: str = ""


@dataclass(frozen=True)
class Verdict:
    """All that was said of one picture.

    facts: what the file is (format, pixels, mode, ICC profile), for the report.
    name: what the picture list or the page calls it, "" where only its path names it.
    house: the house profile it was judged by.
    """

    path: str
    outcomes: tuple[Outcome, ...]
    placement: str = ""
    page: str = ""
    facts: dict[str, Any] = field(default_factory=dict)
    name: str = ""
    house: str = ""

    def identifier(self, rule: str, code: str) -> str:
        """Return what names a finding in every run: rule, code, picture and page."""
        return f"{rule}/{code}:{self.name or self.path}" + (f":{self.page}" if self.page else "")

    def findings(self) -> list[tuple[str, Finding]]:
        """Return (rule, finding) pairs, worst first."""
        order = list(Severity)
        pairs = [(o.rule, f) for o in self.outcomes if o.state is State.FOUND for f in o.findings]
        return sorted(pairs, key=lambda pair: order.index(pair[1].severity or Severity.NOTE))

    def worst(self) -> Severity | None:
        """Return the weightiest severity found, or None.

        An outcome without measurement counts where the house lets it weigh less than a stop.
        """
        weights = [finding.severity for _, finding in self.findings()]
        weights += [o.weight for o in self.unmeasured() if o.weight is not Severity.STOP]
        return min((w for w in weights if w), key=list(Severity).index, default=None)

    def not_judged(self) -> str:
        """Return why nothing was judged but the page it stands on, "" where the picture was."""
        return next((o.reason for o in self.outcomes if o.rule == PAGE), "")

    def unmeasured(self) -> list[Outcome]:
        """Return the outcomes that are neither a pass nor a finding."""
        return [o for o in self.outcomes if o.state in (State.UNMEASURED, State.BROKEN)]

    def accepted(self) -> list[Outcome]:
        """Return what persons accepted; a rule that does not judge such a picture is not told."""
        return [o for o in self.outcomes if o.state is State.WAIVED and (o.findings or o.waiver)]

    def unjudged(self) -> list[Outcome]:
        """Return those of them that keep the picture from press, as all do unless the house
        weighs them lower; a broken rule always does."""
        return [
            o for o in self.unmeasured() if o.state is State.BROKEN or o.weight is Severity.STOP
        ]
