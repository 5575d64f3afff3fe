"""Proof: judge pictures and pull what a person is to see of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from pressworthy.files.memory import keep_freed
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.house import House
from pressworthy.jobs.gathering import of_house, report_on
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.pull import Pull, pull
from pressworthy.jobs.pull.packed import packed, unpacked
from pressworthy.jobs.run import Run
from pressworthy.jobs.running.cache import HashedFile, asked, hashed, judged_by, unchanged
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.tasks import Task, of_list, taken_in
from pressworthy.judge import broken_off, judge, unread
from pressworthy.measure.pixels import decode_now
from pressworthy.measure.provenance import file_hash
from pressworthy.prepare import Order
from pressworthy.prepare.amount import with_amount
from pressworthy.prepare.names import SUFFIX
from pressworthy.values.finding import Outcome, State, Unmeasured, Verdict
from pressworthy.values.machine import what_failed
from pressworthy.values.picture import preset
from pressworthy.values.report import Report

KEPT = 1 << 30
"""Bytes of freed memory that a worker keeps: many arrays take tens of megabytes for a moment."""


@dataclass(frozen=True)
class Sheet:
    """A marked proof's part for one house; a pull for every verdict of the report, in its order."""

    report: Report
    house: House
    pulls: tuple[Pull, ...]


Proofed = tuple[Verdict, Pull]


@dataclass(frozen=True)
class Pulled:
    """A picture that was judged and pulled.

    file: as it was then, None where this may not be recalled for it. packed: what is to be kept of
    it, b"" where an earlier run kept it already. trouble: see `Cache`.
    """

    task: Task
    verdict: Verdict
    pull: Pull
    file: HashedFile | None = None
    packed: bytes = b""
    trouble: str = ""


def proof(tasks: Sequence[Task], house: House, run: Run) -> Sheet:
    """Judge every picture, prepare a copy in a folder that goes again, and return what is shown.

    What an earlier run kept is shown again where nothing has changed.
    """
    house, cache = with_amount(house), run.cache
    judged = judged_by(house, run.registry.rules) if cache else ""

    def stream() -> Iterator[Pulled]:
        left = []
        for task in tasks:
            file = cache.hashed(task.path) if cache else None
            known = cache.recall_pull(file.content, asked(task, judged)) if cache and file else None
            if known:
                yield _again(known, task)
            else:
                left.append(task)
        for one in run.over(_proofed, left, partial(_lost, house), house, run, judged):
            if cache and one.trouble:
                cache.trouble = one.trouble
            if cache and one.file and one.packed:
                cache.keep_pull(one.file, asked(one.task, judged), one.packed)
            elif cache and one.file:
                cache.keep_hashed(one.file)
            yield one

    done = list(run.progress(stream(), len(tasks)))
    named = [of_house(of_list(one.verdict, one.task), house) for one in done]
    report = report_on("proof", house, judge_set(named, house, run.registry.rules), run)
    return Sheet(report, house, tuple(one.pull for one in done))


def proof_picture(task: Task, house: House, run: Run) -> Proofed:
    """Judge one picture and pull its proof, here and now."""
    verdict, pull, _ = _pulled(task, house, run)
    return of_list(verdict, task), pull


def _proofed(task: Task, house: House, run: Run, judged: str) -> Pulled:
    keep_freed(KEPT)
    cache = run.cache
    if cache is None:
        verdict, pull, _ = _pulled(task, house, run)
        return Pulled(task, verdict, pull)
    file = hashed(task.path)
    known = cache.recall_pull(file.content, asked(task, judged)) if file else None
    if known:
        return replace(_again(known, task), file=file)
    verdict, pull, lasts = _pulled(task, house, run, file.content.hex() if file else "")
    # not where the file changed while it was pulled
    if not (lasts and file and unchanged(file)):
        return Pulled(task, verdict, pull, trouble=cache.trouble)
    return Pulled(task, verdict, pull, file, packed(verdict, pull), cache.trouble)


def _again(known: bytes, task: Task) -> Pulled:
    verdict, pull = unpacked(known)
    return Pulled(task, replace(verdict, path=str(task.path)), pull)


def _lost(house: House, task: Task, reason: str, told: Sequence[Outcome]) -> Pulled:
    return Pulled(task, broken_off(str(task.path), reason, house, told), Pull(why=reason))


def _pulled(task: Task, house: House, run: Run, sha256: str = "") -> tuple[Verdict, Pull, bool]:
    """Return verdict and pull, and whether they rest on nothing but file, house and placement.

    sha256: of the file's bytes, where they were hashed just now.
    """
    try:
        picture = taken_in(task, house)
    except Unmeasured as reason:
        return unread(str(task.path), str(reason), house), Pull(why=str(reason)), False
    if sha256:
        preset(picture, file_hash, sha256)
    decode_now(picture)
    verdict = judge(picture, house, run.registry.rules, tell)
    section = house.prepare or {}
    scale = max(section.get("scales", [1])) if house.output.medium == "screen" else 0
    with TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as folder:
        target = Path(folder) / f"copy{SUFFIX[section.get('format', 'TIFF')]}"
        order = Order(task.path, target, task.request, scale, task.assume)
        try:
            done = pull(picture, order, house, run.registry.rules)
        except (Unmeasured, OSError) as reason:
            return verdict, Pull(why=str(reason)), False
        except Exception as error:
            # what the picture was judged to be still stands
            return verdict, Pull(why=what_failed(error)), False
    # a prepared copy is compared with its master, which may change without it
    alone = read_ticket(picture.header.xmp) is None
    return verdict, done, alone and not _broke(verdict, done)


def _broke(verdict: Verdict, pull: Pull) -> bool:
    """Tell whether anything of a proof broke: that may have been chance."""
    outcomes = [*verdict.outcomes, *(pull.copy.outcomes if pull.copy else ())]
    broken = any(outcome.state is State.BROKEN for outcome in outcomes)
    return broken or any(share is None for share, _ in pull.marked)
