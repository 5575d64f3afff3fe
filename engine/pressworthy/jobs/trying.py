"""What if: which verdicts a changed house profile would change, judged anew only where it matters.

A rule is judged anew on a picture where its options differ, or where it read a part of the output
that differs. Another weight is laid over what was found; all else stands as it was judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from pressworthy.house import House
from pressworthy.jobs.checking import earlier_verdict, verdicts_on
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.cache import (
    Cache,
    HashedFile,
    code_of,
    hashed,
    judged_by,
    measured_as,
    output_as,
)
from pressworthy.jobs.running.measured import changed_between, reading_of
from pressworthy.jobs.tasks import LIST, Task, of_list
from pressworthy.values.finding import Outcome, Severity, State, Verdict


@dataclass(frozen=True)
class Tried:
    """A picture's verdicts as things are and as they would be, its neighbours' word in both."""

    task: Task
    now: Verdict
    then: Verdict


def recalled(tasks: Sequence[Task], house: House, run: Run) -> list[tuple[Task, Verdict]]:
    """Return the tasks whose verdict by a house is known from earlier runs, each with that."""
    if run.cache is None:
        return []
    judged, found = judged_by(house, run.registry.rules), []
    for task in tasks:
        if known := earlier_verdict(task, judged, run.cache, _file(task, run.cache)):
            found.append((task, of_list(known, task)))
    return found


def tried(
    judged: Sequence[tuple[Task, Verdict]], now: House, then: House, run: Run
) -> Iterator[Tried]:
    """Yield each picture with its verdicts by two houses, in the order given.

    judged: the verdicts of `now` on each picture alone, no waiver laid over them.
    """
    hanging = _hanging_on_output([task for task, _ in judged], now, then, run)
    by_rules: dict[frozenset[str], list[Task]] = {}
    for task, rules in hanging.items():
        by_rules.setdefault(rules, []).append(task)
    anew: dict[Task, Mapping[str, Outcome]] = {}
    for rules, tasks in by_rules.items():
        if not rules:
            continue
        few = replace(then, rules={name: then.rules[name] for name in then.rules if name in rules})
        for task, verdict in verdicts_on(tasks, few, run):
            anew[task] = {outcome.rule: outcome for outcome in verdict.outcomes}
    alone = [_together(verdict, anew.get(task, {}), then) for task, verdict in judged]
    before = judge_set([verdict for _, verdict in judged], now, run.registry.rules)
    after = judge_set(alone, then, run.registry.rules)
    for (task, _), old, new in zip(judged, before, after, strict=True):
        yield Tried(task, old, new)


def _hanging_on_output(
    tasks: Sequence[Task], now: House, then: House, run: Run
) -> dict[Task, frozenset[str]]:
    """Return the rules that are to be judged anew on each picture."""
    options = {
        name
        for name, setting in then.rules.items()
        if name not in now.rules or now.rules[name].options != setting.options
    }
    changed = changed_between(output_as(now.output), output_as(then.output))
    if not changed:
        return dict.fromkeys(tasks, frozenset(options))
    code = code_of(run.registry.rules)
    found = {}
    for task in tasks:
        rules = set(then.rules)
        if known := _kept(task, code, run):
            reads = reading_of(known).rules
            rules = {name for name in then.rules if name not in reads or reads[name] & changed}
        found[task] = frozenset(rules | options)
    return found


def _kept(task: Task, code: str, run: Run) -> bytes | None:
    if run.cache is None:
        return None
    file = _file(task, run.cache)
    return run.cache.recall_measured(file.content, measured_as(task, code)) if file else None


def _file(task: Task, cache: Cache) -> HashedFile | None:
    """Return a picture's file with the hash of its bytes, as it was kept or made now."""
    return cache.hashed(task.path) or hashed(task.path)


def _together(verdict: Verdict, anew: Mapping[str, Outcome], then: House) -> Verdict:
    """Return a verdict with what was judged anew in its place, and every weight as it then is."""
    old = {outcome.rule: outcome for outcome in verdict.outcomes}
    outcomes = [
        _weighed(anew.get(name) or old[name], then)
        for name in then.rules
        if name in anew or name in old
    ]
    # what is said of the list itself no house weighs
    lists = [outcome for outcome in verdict.outcomes if outcome.rule == LIST]
    return replace(verdict, outcomes=(*lists, *outcomes), house=then.name)


def _weighed(outcome: Outcome, house: House) -> Outcome:
    if outcome.state is State.WAIVED:
        # the picture is none for this rule
        return outcome
    severity = house.rules[outcome.rule].severity
    weight = Severity(severity.get("unmeasured", Severity.STOP))
    findings = tuple(
        replace(one, severity=Severity(severity[one.code])) for one in outcome.findings
    )
    return replace(outcome, findings=findings, weight=weight)
