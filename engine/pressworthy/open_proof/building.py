"""A printing condition made of a dropped chart: in a process of its own, followed and stopped."""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressworthy.characterization.making import Press, make_from, report
from pressworthy.characterization.patches import read_measurements
from pressworthy.characterization.profiles import has_argyll
from pressworthy.jobs.running.standing import Lost, Standing
from pressworthy.jobs.running.worker import tell
from pressworthy.jobs.running.workers import Limits
from pressworthy.values.faults import SetupError

READ_SECONDS = 30.0
"""That reading a chart may take; thirty megabytes take a few."""

MOST_SECONDS = 3600.0
"""That making a condition may take; on a busy computer minutes become many."""

MEMORY = 1_500_000_000
ARGYLL = (
    "ArgyllCMS makes a condition's CMYK profile, and its colprof is not installed; install "
    "ArgyllCMS (Debian: argyll) and drop the measurements again"
)


@dataclass(frozen=True)
class Chart:
    """A file of measurements, read. patches: so many; under: M0 to M3, "" where it is not told."""

    path: Path
    patches: int
    descriptor: str
    under: str


@dataclass(frozen=True)
class Wanted:
    """A condition to be made of a chart, in a folder of its name within `into`."""

    chart: Path
    name: str
    press: Press
    into: Path

    @property
    def token(self) -> str:
        """Return its name towards the browser."""
        told = f"{self.chart}\0{self.name}\0{self.press}"
        return hashlib.sha256(told.encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Built:
    """A condition that was made. fit: in words; under: what light it was measured under, or ""."""

    path: Path
    fit: str
    under: str


def read_chart(path: Path) -> Chart:
    """Return what a dropped file of measurements holds. Raises SetupError in words for the person.

    A stranger's file is read in a process of its own with bounded means.
    """
    if not has_argyll():
        raise SetupError([ARGYLL])
    process = Standing(_done, Limits(READ_SECONDS, MEMORY))
    try:
        found: Chart | str = process.do(path)
    except Lost as lost:
        raise SetupError([f"{path.name}: not read: {lost}"]) from None
    finally:
        process.end()
    if isinstance(found, str):
        raise SetupError([found])
    return found


class Building:
    """One condition being made, or made, or not; `step` tells how far it is.

    told: is called whenever there is something new to be shown. house: id of the profile beside
    which it was dropped.
    """

    def __init__(self, wanted: Wanted, house: str, told: Callable[[], None]) -> None:
        self.wanted, self.house = wanted, house
        self.step = ""
        self.built: Built | None = None
        self.why = ""
        self._told = told
        self._stopped = threading.Event()
        self._begun = time.monotonic()
        self._shown = -1
        # the program waits for it to clear away when it ends
        self._thread = threading.Thread(target=self._run, name="condition")
        self._thread.start()

    @property
    def seconds(self) -> int:
        return int(time.monotonic() - self._begun)

    @property
    def is_under_way(self) -> bool:
        return self.built is None and not self.why

    def stop(self) -> None:
        """Stop it, and wait until nothing of it is left."""
        self._stopped.set()
        self._thread.join()

    def _run(self) -> None:
        process = Standing(_done, Limits(2 * MOST_SECONDS, MEMORY))
        try:
            found: Built | str = process.do(self.wanted, self._watch)
        except Lost as lost:
            found = f"{self.wanted.name} was not made: {lost}"
        finally:
            process.end()
        if isinstance(found, str):
            self.why = found
        else:
            self.built = found
        self._told()

    def _watch(self, told: Sequence[Any]) -> str:
        """Show how far it is; return why it is to stop, "" to go on."""
        self.step = str(told[-1]) if told else ""
        if self.seconds != self._shown:
            self._shown = self.seconds
            self._told()
        if self._stopped.is_set() or not threading.main_thread().is_alive():
            return "it was stopped"
        return "" if self.seconds < MOST_SECONDS else f"it took longer than {MOST_SECONDS:g} s"


def _done(asked: Path | Wanted) -> Chart | Built | str:
    """Read a chart or make a condition of it, as a worker; return a fault in words."""
    chart = asked if isinstance(asked, Path) else asked.chart
    try:
        if isinstance(asked, Path):
            measured = read_measurements(chart)
            return Chart(chart, len(measured.patches.ink), measured.descriptor, measured.under)
        path, fit, under = make_from(chart, asked.name, asked.press, asked.into, tell)
        return Built(path, report(fit, asked.press.limit), under)
    except SetupError as error:
        return str(error).replace(str(chart), chart.name)
