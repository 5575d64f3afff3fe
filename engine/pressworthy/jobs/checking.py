"""Check: judge pictures, remembering those that have not changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pressworthy.house import House
from pressworthy.jobs.cache import Cache, Seen, judged_by, see, unchanged
from pressworthy.jobs.kept import Kept
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.running import Progress, of_house, report_on, run, set_up, worker
from pressworthy.jobs.tasks import Task, of_list, taken_in
from pressworthy.judge import judge, unread
from pressworthy.measure.ticket import read_ticket
from pressworthy.plugins import Registry, load
from pressworthy.values.finding import State, Unmeasured, Verdict
from pressworthy.values.report import Report


def check(
    tasks: Sequence[Task],
    house: House,
    *,
    plugins: Sequence[str] = (),
    jobs: int = 0,
    scheduler: str = "",
    cache: Cache | None = None,
    progress: Progress = lambda verdicts, total: verdicts,
) -> Report:
    """Judge every task's picture by the house and return the report.

    plugins: extra plug-ins the workers must load, as given to `plugins.load`.
    jobs: worker processes, 0 for one a processor; scheduler: of other machines' workers, see
    `cluster.run`; cache: verdicts of earlier runs, which then count where nothing has changed.
    """
    registry = load(plugins)
    judged = judged_by(house, registry.rules) if cache else ""

    def stream() -> Iterator[Verdict]:
        left = []
        for task in tasks:
            seen = cache.seen(task.path) if cache else None
            known = cache.recall(seen.content, _asked(task, judged)) if cache and seen else None
            if known:
                yield of_list(replace(known, path=str(task.path)), task)
            else:
                left.append(task)
        checked = run(
            _check_one,
            left,
            lambda task, why: Checked(task, unread(str(task.path), why, house, State.BROKEN)),
            jobs=jobs,
            scheduler=scheduler,
            setup=_set_up_check,
            setup_args=(house, tuple(plugins), judged, cache.path if cache else None),
        )
        for one in checked:
            if cache and one.seen and not one.recalled:
                cache.keep(one.seen, _asked(one.task, judged), one.verdict)
            elif cache and one.seen:
                cache.keep_seen(one.seen)
            yield of_list(one.verdict, one.task)

    verdicts = Kept(progress(of_house(stream(), house), len(tasks)))
    return report_on("check", house, judge_set(verdicts, house, registry.rules))


@dataclass(frozen=True)
class Checked:
    """A picture that was judged.

    seen: the file as it was then, None where the verdict may not be recalled for it.
    recalled: whether the verdict is one of an earlier run, on the same bytes elsewhere.
    """

    task: Task
    verdict: Verdict
    seen: Seen | None = None
    recalled: bool = False


def check_picture(task: Task, house: House, registry: Registry) -> Verdict:
    """Judge one picture here and now."""
    return of_list(_judged(task, house, registry)[0], task)


def _judged(task: Task, house: House, registry: Registry) -> tuple[Verdict, bool]:
    """Return the verdict, and whether it rests on nothing but the file, house and placement."""
    try:
        picture = taken_in(task, house)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house), True
    # a prepared copy is compared with its master, which may change without it
    alone = read_ticket(picture.header.xmp) is None
    return judge(picture, house, registry.rules), alone


def _asked(task: Task, judged: str) -> str:
    return repr((judged, task.path.name, task.request.size, task.request.bleed,
                 sorted(task.request.edges), task.request.crop, task.request.tone,
                 task.assume))  # fmt: skip


def _set_up_check(house: House, plugins: tuple[str, ...], judged: str, cache: Path | None) -> None:
    set_up(house, plugins)
    worker["judged"], worker["cache"] = judged, Cache(cache) if cache else None


def _check_one(task: Task) -> Checked:
    cache: Cache | None = worker["cache"]
    if cache is None:
        return Checked(task, _judged(task, worker["house"], worker["registry"])[0])
    seen = see(task.path)
    known = cache.recall(seen.content, _asked(task, worker["judged"])) if seen else None
    if known:
        return Checked(task, replace(known, path=str(task.path)), seen, recalled=True)
    verdict, alone = _judged(task, worker["house"], worker["registry"])
    # not where the file changed while it was judged
    return Checked(task, verdict, seen if seen and alone and unchanged(seen) else None)
