"""Check: judge pictures, remembering those that have not changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial

from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.cache import (
    Cache,
    HashedFile,
    asked,
    code_of,
    hashed,
    judged_by,
    measured_as,
    output_as,
    unchanged,
)
from pressworthy.jobs.running.measured import Reading, packed, restored
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.tasks import Task, of_list, taken_in
from pressworthy.judge import broken_off, judge, unread
from pressworthy.measure.provenance import file_hash
from pressworthy.values.finding import Outcome, Unmeasured, Verdict
from pressworthy.values.picture import preset
from pressworthy.values.report import Report
from pressworthy.values.watched import watched


def check(tasks: Sequence[Task], house: House, run: Run) -> Report:
    """Judge every task's picture by the house and return the report."""
    stream = (verdict for _, verdict in verdicts_on(tasks, house, run))
    return gathered("check", stream, len(tasks), house, run)


def verdicts_on(tasks: Sequence[Task], house: House, run: Run) -> Iterator[tuple[Task, Verdict]]:
    """Yield each task with the verdict on its picture alone, as they are done.

    What was judged before and has not changed comes first, where the run has a cache.
    """
    cache = run.cache
    judged = judged_by(house, run.registry.rules) if cache else ""
    code = code_of(run.registry.rules) if cache and run.measuring else ""
    left = []
    for task in tasks:
        known = earlier_verdict(task, judged, cache, cache.hashed(task.path)) if cache else None
        if known:
            yield task, of_list(known, task)
        else:
            left.append(task)
    checked = run.over(
        _checked,
        left,
        lambda task, why, told: Checked(task, broken_off(str(task.path), why, house, told)),
        house,
        run,
        judged,
        code,
    )
    for one in checked:
        if cache and one.trouble:
            cache.trouble = one.trouble
        if cache and one.file and one.measured:
            cache.keep_measured(one.file, measured_as(one.task, code), one.measured)
        if cache and one.file and not one.recalled:
            cache.keep(one.file, asked(one.task, judged), one.verdict)
        elif cache and one.file:
            cache.keep_hashed(one.file)
        yield one.task, of_list(one.verdict, one.task)


@dataclass(frozen=True)
class Checked:
    """A picture that was judged.

    file: as it was then, None where the verdict may not be recalled for it.
    recalled: whether the verdict is one of an earlier run, on the same bytes elsewhere.
    trouble: see `Cache`. measured: what was measured of it, packed, where that is to be kept.
    """

    task: Task
    verdict: Verdict
    file: HashedFile | None = None
    recalled: bool = False
    trouble: str = ""
    measured: bytes = b""


def earlier_verdict(
    task: Task, judged: str, cache: Cache, file: HashedFile | None
) -> Verdict | None:
    """Return the verdict of an earlier run on a task's file, None where there is none.

    judged: see `judged_by`; file: None where it cannot be read.
    """
    known = cache.recall(file.content, asked(task, judged)) if file else None
    return replace(known, path=str(task.path)) if known else None


def check_picture(task: Task, house: House, run: Run) -> Verdict:
    """Judge one picture here and now."""
    return of_list(_judged(task, house, run)[0], task)


def _judged(
    task: Task,
    house: House,
    run: Run,
    known: Callable[[], bytes | None] | None = None,
    sha256: str = "",
) -> tuple[Verdict, bool, bytes]:
    """Return the verdict, and whether it rests on nothing but the file, house and placement.

    known: what was measured of it earlier, where measurements are kept; then those made are
    returned too, packed, where they are not all kept already. sha256: of the file's bytes, where
    they were hashed just now.
    """
    try:
        picture = taken_in(task, house)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house), True, b""
    # a prepared copy is compared with its master, which may change without it
    alone = read_ticket(picture.header.xmp) is None
    watch = watched(house.output) if known and alone else None
    if watch:
        picture = replace(picture, output=watch)
    if sha256:
        preset(picture, file_hash, sha256)
    if known is None or watch is None:
        return judge(picture, house, run.registry.rules, tell), alone, b""
    output, told = output_as(house.output), known()
    before = None
    if told:
        with suppress(ValueError):
            before = restored(told, picture, output)
    rules: dict[str, frozenset[str]] = {}

    def noted(outcome: Outcome) -> None:
        rules[outcome.rule] = frozenset(watch.seen)
        watch.seen.clear()
        tell(outcome)

    watch.seen.clear()
    verdict = judge(picture, house, run.registry.rules, noted)
    kept_whole = before and before.output == output and rules.keys() <= before.rules.keys()
    # a few rules, tried with another output, leave what was kept of all of them
    if kept_whole or (before and rules.keys() < before.rules.keys()):
        return verdict, alone, b""
    return verdict, alone, packed(picture, Reading(output, rules))


def _checked(task: Task, house: House, run: Run, judged: str, code: str) -> Checked:
    cache = run.cache
    if cache is None:
        return Checked(task, _judged(task, house, run)[0])
    file = hashed(task.path)
    known = earlier_verdict(task, judged, cache, file)
    if known:
        return Checked(task, known, file, recalled=True)
    earlier = None
    if run.measuring and file:
        earlier = partial(cache.recall_measured, file.content, measured_as(task, code))
    sha256 = file.content.hex() if file else ""
    verdict, alone, measured = _judged(task, house, run, earlier, sha256)
    # not where the file changed while it was judged
    kept = file if file and alone and unchanged(file) else None
    return Checked(task, verdict, kept, trouble=cache.trouble, measured=measured)
