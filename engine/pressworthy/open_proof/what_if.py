"""What if: which verdicts of this issue, and of others opened lately, would change."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pressworthy.house import House, load_house
from pressworthy.house.sentences import WEIGHTS
from pressworthy.jobs import Run, listed, with_tones
from pressworthy.jobs.accepting import Accepting
from pressworthy.jobs.trying import Tried, recalled, tried
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import read_issue
from pressworthy.open_proof.standards import Draft
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Severity, State, Verdict
from pressworthy.values.rule import Rule
from pressworthy.values.waiver import Waiver

_WOULD = {"stop": "would stop", "query": "would be queried in", "note": "would be noted in"}
_NO_MORE = {"stop": "would no longer stop", "query": "would no longer be queried in",
            "note": "would no longer be noted in"}  # fmt: skip


@dataclass(frozen=True)
class Named:
    """A picture as the page names it; number: on the sheet, 0 for one of another issue."""

    name: str
    number: int
    page: str


@dataclass(frozen=True)
class Shift:
    """One way in which verdicts would change, and the pictures whose verdicts would.

    found: what is found; would: what it would do, the pictures following; now: how it stands.
    """

    found: str
    would: str
    now: str
    pictures: tuple[Named, ...]


@dataclass(frozen=True)
class WhatIf:
    """What would change in one issue.

    issue: its folder's name, "" for the one that is open; judged: pictures that were tried;
    unjudged: those that are yet to be judged as things are; changed: those judged otherwise;
    shifts: how, the worst first.
    """

    issue: str
    judged: int
    unjudged: int
    changed: int
    shifts: tuple[Shift, ...]


def what_if(desk: Desk, draft: Draft) -> Iterator[WhatIf]:
    """Yield what a draft would change: in this issue, then in others that stand on the profile.

    Nothing is written. Raises SetupError where a title that stands on it would be no whole house.
    """
    with desk.remembering() as run:
        yield _here(desk, draft, run)
        for folder in desk.others():
            try:
                there = _there(folder, desk, draft, run)
            except (SetupError, OSError):
                # what is wrong in another issue is told where that is opened
                continue
            if there:
                yield there


def _here(desk: Desk, draft: Draft, run: Run) -> WhatIf:
    with desk.still():
        lines = [line for line in desk.lines.values() if _stands_on(line.house, draft)]
        judged = [(line, desk.alone(line)) for line in lines]
        waivers = desk.issue.waivers
        names = {one.house for one in desk.issue.entries if one.house}
    houses = {line.house.name: line.house for line in lines}
    tally = _Tally(waivers, run)
    for now in houses.values():
        mine = [(ln, verdict) for ln, verdict in judged if ln.house is now and verdict]
        asked = next(name for name in names if Path(name).stem == now.name)
        then = load_house(asked, run.registry, desk.house_folder, draft.instead)
        given = [(line.task, verdict) for line, verdict in mine]
        for (line, _), one in zip(mine, tried(given, now, then, run), strict=True):
            tally.add(one, line.number)
    return tally.what_if("", len(lines))


def _there(folder: Path, desk: Desk, draft: Draft, run: Run) -> WhatIf | None:
    issue = read_issue(folder, run.registry, desk.house_folder)
    tally, total = _Tally(issue.waivers, run), 0
    for asked, tasks in listed(issue.entries).items():
        now = load_house(asked, run.registry, desk.house_folder) if asked else None
        if now is None or not _stands_on(now, draft):
            continue
        then = load_house(asked, run.registry, desk.house_folder, draft.instead)
        tasks = with_tones(tasks, issue.waivers, run.today)
        total += len(tasks)
        for one in tried(recalled(tasks, now, run), now, then, run):
            tally.add(one, 0)
    return tally.what_if(folder.name, total) if total else None


class _Tally:
    """Gathers how the verdicts of one issue would change."""

    def __init__(self, waivers: Sequence[Waiver], run: Run) -> None:
        self._accepting = Accepting(waivers, run.today)
        self._rules = run.registry.rules
        self._shifts: dict[tuple[int, str, str, str], list[Named]] = {}
        self._changed = self._done = 0

    def add(self, one: Tried, number: int) -> None:
        now, then = (_weights(self._accepting.waived(v)) for v in (one.now, one.then))
        named = Named(Path(one.task.name or one.task.path).name, number, one.task.request.page)
        told = [
            self._told(key, now.get(key, ""), then.get(key, ""))
            for key in dict.fromkeys([*now, *then])
            if now.get(key) != then.get(key)
        ]
        for shift in told:
            self._shifts.setdefault(shift, []).append(named)
        self._done += 1
        self._changed += bool(told)

    def _told(self, key: tuple[str, str], before: str, after: str) -> tuple[int, str, str, str]:
        """Return how weighty a change is, 0 the most, and the change in words."""
        found = _meaning(key, self._rules)
        if not after:
            return len(Severity), found, _NO_MORE[before], ""
        now = f"now it {WEIGHTS[before]}" if before else ""
        return list(map(str, Severity)).index(after), found, _WOULD[after], now

    def what_if(self, issue: str, total: int) -> WhatIf:
        ranked = sorted(self._shifts.items(), key=lambda one: one[0])
        shifts = [Shift(found, would, now, tuple(of)) for (_, found, would, now), of in ranked]
        return WhatIf(issue, self._done, total - self._done, self._changed, tuple(shifts))


def _stands_on(house: House, draft: Draft) -> bool:
    return draft.file.resolve() in {Path(file).resolve() for file in house.chain}


def _weights(verdict: Verdict) -> Mapping[tuple[str, str], str]:
    """Return (rule, code) -> its weight, of all that was found and not accepted."""
    found: dict[tuple[str, str], str] = {}
    for outcome in verdict.outcomes:
        if outcome.state is State.FOUND:
            for one in outcome.findings:
                found[outcome.rule, one.code] = str(one.severity or Severity.NOTE)
        elif outcome.state in (State.UNMEASURED, State.BROKEN):
            found[outcome.rule, "unmeasured"] = str(outcome.weight)
    return found


def _meaning(key: tuple[str, str], rules: Mapping[str, Rule]) -> str:
    rule, code = key
    known = rules.get(rule)
    words = known.codes.get(code, f"{rule} cannot be measured") if known else f"{rule}, {code}"
    return words[:1].upper() + words[1:]
