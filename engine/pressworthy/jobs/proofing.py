"""Proof: judge pictures and pull what a person is to see of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from pressworthy.house import House
from pressworthy.jobs.gathering import of_house, report_on
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.pull import Pull, pull
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.tasks import Task, of_list, taken_in
from pressworthy.judge import broken_off, judge, unread
from pressworthy.prepare import Order
from pressworthy.prepare.amount import with_amount
from pressworthy.prepare.names import SUFFIX
from pressworthy.values.finding import Unmeasured, Verdict
from pressworthy.values.machine import what_failed
from pressworthy.values.report import Report


@dataclass(frozen=True)
class Sheet:
    """A marked proof's part for one house; a pull for every verdict of the report, in its order."""

    report: Report
    house: House
    pulls: tuple[Pull, ...]


Proofed = tuple[Verdict, Pull]


def proof(tasks: Sequence[Task], house: House, run: Run) -> Sheet:
    """Judge every picture, prepare a copy in a folder that goes again, and return what is shown."""
    house = with_amount(house)
    stream = run.over(
        proof_picture,
        tasks,
        lambda task, reason, told: (
            of_list(broken_off(str(task.path), reason, house, told), task),
            Pull(why=reason),
        ),
        house,
        run,
    )
    done = list(run.progress(stream, len(tasks)))
    named = [of_house(verdict, house) for verdict, _ in done]
    report = report_on("proof", house, judge_set(named, house, run.registry.rules), run)
    return Sheet(report, house, tuple(pull for _, pull in done))


def proof_picture(task: Task, house: House, run: Run) -> Proofed:
    """Judge one picture and pull its proof, here and now."""
    try:
        picture = taken_in(task, house)
    except Unmeasured as reason:
        return of_list(unread(str(task.path), str(reason), house), task), Pull(why=str(reason))
    verdict = of_list(judge(picture, house, run.registry.rules, tell), task)
    section = house.prepare or {}
    scale = max(section.get("scales", [1])) if house.output.medium == "screen" else 0
    with TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as folder:
        target = Path(folder) / f"copy{SUFFIX[section.get('format', 'TIFF')]}"
        order = Order(task.path, target, task.request, scale, task.assume)
        try:
            return verdict, pull(picture, order, house, run.registry.rules)
        except (Unmeasured, OSError) as reason:
            return verdict, Pull(why=str(reason))
        except Exception as error:
            # what the picture was judged to be still stands
            return verdict, Pull(why=what_failed(error))
