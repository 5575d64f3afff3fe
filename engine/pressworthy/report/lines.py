"""The report as JSON Lines: a line a picture as soon as it is judged, a last line for the run.

A line is one JSON object with `kind`. ``picture``: as in the JSON report's `pictures`. What can be
said only when all are in (neighbours, waivers) comes as a further line for the same picture, and
the later line counts. ``run``: the JSON report without its pictures; where it is missing, the run
did not end.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

from pressworthy.report.json_report import picture_data, run_data
from pressworthy.values.finding import Verdict
from pressworthy.values.report import Report


def render(report: Report) -> Iterator[str]:
    """Yield the lines of a run that has ended."""
    yield from map(_of_picture, report.verdicts)
    yield _of_run(report)


class Live:
    """Writes the lines to a file while the run goes on."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._written = array("q")

    def passing(self, verdicts: Iterable[Verdict]) -> Iterator[Verdict]:
        """Yield the verdicts as they come, each with its line written."""
        for verdict in verdicts:
            line = _of_picture(verdict)
            self._written.append(hash(line))
            self._write(line)
            yield verdict

    def end(self, report: Report) -> None:
        """Write the lines of the pictures of which more is known now, and that of the run."""
        for verdict, written in zip(report.verdicts, self._written, strict=True):
            line = _of_picture(verdict)
            if hash(line) != written:
                self._write(line)
        self._write(_of_run(report))

    def _write(self, line: str) -> None:
        self._file.write(line)
        self._file.flush()


def _of_picture(verdict: Verdict) -> str:
    return _line({"kind": "picture", **picture_data(verdict)})


def _of_run(report: Report) -> str:
    return _line({"kind": "run", **run_data(report)})


def _line(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=True, allow_nan=False) + "\n"
