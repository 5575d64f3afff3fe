"""The report: one value for all that a run has to say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pressworthy.values.finding import Severity, Verdict
from pressworthy.values.waiver import Use, WaiverUse


@dataclass(frozen=True)
class RuleNotes:
    """What a report says of a rule that ran.

    about: one line; help: why it matters, what is measured, how to put it right.
    codes: finding code -> what it means.
    """

    name: str
    version: str
    about: str
    help: str
    codes: Mapping[str, str]


@dataclass(frozen=True)
class Report:
    """All that a run has to say.

    command: check, prepare or proof; output: the output in one line.
    left_out: rules that the house leaves out, with the reason.
    verdicts: in the order they were done; they may lie on disk, so read each once and let it go.
    waivers: what became of each; an expired one counts no more.
    dry_run: nothing was made; what would be made is not judged.
    rules: those that ran; told_once: what they say of many pictures together, in sentences.
    """

    command: str
    house: str
    publisher: str
    output: str
    chain: tuple[str, ...]
    left_out: Mapping[str, str]
    verdicts: Sequence[Verdict]
    waivers: tuple[WaiverUse, ...] = ()
    dry_run: bool = False
    rules: tuple[RuleNotes, ...] = ()
    told_once: tuple[str, ...] = ()

    def exit_status(self) -> int:
        """Return 1 where anything is at severity stop, unmeasured or broken, else 0."""
        return int(any(v.worst() is Severity.STOP or v.unjudged() for v in self.verdicts))

    def worst_first(self) -> Iterator[Verdict]:
        """Yield the verdicts, the picture that is worst off first."""
        weights = [weight(verdict) for verdict in self.verdicts]
        for index in sorted(range(len(weights)), key=weights.__getitem__):
            yield self.verdicts[index]

    def counts(self) -> dict[str, int]:
        """Return how many pictures there are, by the weightiest thing said of each."""
        return _counts(self.verdicts)

    def left_over(self) -> list[str]:
        """Return a sentence on each waiver that accepted nothing: expired, not needed, astray."""
        return [use.fate() for use in self.waivers if use.use is not Use.APPLIED]

    def sums(self) -> list[tuple[str, str, dict[str, int]]]:
        """Return (house, page, counts as `counts` gives them), pages in reading order."""
        pages: dict[tuple[str, str], dict[str, int]] = {}
        for verdict in self.verdicts:
            counts = pages.setdefault((verdict.house, verdict.page), _counts(()))
            counts[_kind(verdict)] += 1
        order = sorted(pages, key=lambda of: (of[0], reading(of[1])))
        return [(house, page, pages[house, page]) for house, page in order]


def _counts(verdicts: Iterable[Verdict]) -> dict[str, int]:
    counts = {str(s): 0 for s in Severity} | {"unjudged": 0, "passed": 0}
    for verdict in verdicts:
        counts[_kind(verdict)] += 1
    return counts


def _kind(verdict: Verdict) -> str:
    worst = verdict.worst()
    if worst is Severity.STOP or (worst and not verdict.unjudged()):
        return str(worst)
    return "unjudged" if verdict.unjudged() or "plan" in verdict.facts else "passed"


def reading(page: str) -> tuple[int, str]:
    """Return the sorting key that puts pages in reading order."""
    return (int(page) if page.isdecimal() else 0), page


def weight(verdict: Verdict) -> tuple[int, tuple[str, ...]]:
    """Return the sorting key that puts the worst picture first."""
    order = [Severity.STOP, None, Severity.QUERY, Severity.NOTE]
    worst = verdict.worst()
    name_order = (verdict.path, verdict.page, verdict.house, verdict.placement)
    if worst is not Severity.STOP and verdict.unjudged():
        return order.index(None), name_order
    return (order.index(worst) if worst else len(order)), name_order
