"""Check: judge pictures, remembering those that have not changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.cache import HashedFile, asked, hashed, judged_by, unchanged
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.tasks import Task, of_list, taken_in
from pressworthy.judge import broken_off, judge, unread
from pressworthy.values.finding import Unmeasured, Verdict
from pressworthy.values.report import Report


def check(tasks: Sequence[Task], house: House, run: Run) -> Report:
    """Judge every task's picture by the house and return the report."""
    cache = run.cache
    judged = judged_by(house, run.registry.rules) if cache else ""

    def stream() -> Iterator[Verdict]:
        left = []
        for task in tasks:
            file = cache.hashed(task.path) if cache else None
            known = cache.recall(file.content, asked(task, judged)) if cache and file else None
            if known:
                yield of_list(replace(known, path=str(task.path)), task)
            else:
                left.append(task)
        checked = run.over(
            _checked,
            left,
            lambda task, why, told: Checked(task, broken_off(str(task.path), why, house, told)),
            house,
            run,
            judged,
        )
        for one in checked:
            if cache and one.trouble:
                cache.trouble = one.trouble
            if cache and one.file and not one.recalled:
                cache.keep(one.file, asked(one.task, judged), one.verdict)
            elif cache and one.file:
                cache.keep_hashed(one.file)
            yield of_list(one.verdict, one.task)

    return gathered("check", stream(), len(tasks), house, run)


@dataclass(frozen=True)
class Checked:
    """A picture that was judged.

    file: as it was then, None where the verdict may not be recalled for it.
    recalled: whether the verdict is one of an earlier run, on the same bytes elsewhere.
    trouble: see `Cache`.
    """

    task: Task
    verdict: Verdict
    file: HashedFile | None = None
    recalled: bool = False
    trouble: str = ""


def check_picture(task: Task, house: House, run: Run) -> Verdict:
    """Judge one picture here and now."""
    return of_list(_judged(task, house, run)[0], task)


def _judged(task: Task, house: House, run: Run) -> tuple[Verdict, bool]:
    """Return the verdict, and whether it rests on nothing but the file, house and placement."""
    try:
        picture = taken_in(task, house)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house), True
    # a prepared copy is compared with its master, which may change without it
    alone = read_ticket(picture.header.xmp) is None
    return judge(picture, house, run.registry.rules, tell), alone


def _checked(task: Task, house: House, run: Run, judged: str) -> Checked:
    if run.cache is None:
        return Checked(task, _judged(task, house, run)[0])
    file = hashed(task.path)
    known = run.cache.recall(file.content, asked(task, judged)) if file else None
    if known:
        return Checked(task, replace(known, path=str(task.path)), file, recalled=True)
    verdict, alone = _judged(task, house, run)
    # not where the file changed while it was judged
    kept = file if file and alone and unchanged(file) else None
    return Checked(task, verdict, kept, trouble=run.cache.trouble)
