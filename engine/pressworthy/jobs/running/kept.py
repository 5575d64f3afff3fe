"""The verdicts of a run, kept on disk: memory holds a number for each, however many there are."""

from __future__ import annotations

import os
import pickle
import tempfile
import zlib
from array import array
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import overload

from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Verdict
from pressworthy.values.machine import machine_trouble


class Kept(Sequence[Verdict]):
    """What `verdicts` yields, written to a nameless temporary file as it comes.

    Raises SetupError where there is no room for it.
    """

    def __init__(self, verdicts: Iterable[Verdict] = ()) -> None:
        with _scratch():
            self._file = tempfile.TemporaryFile()  # noqa: SIM115 - it lives as long as this
        self._ends = array("Q", [0])
        for verdict in verdicts:
            self._append(verdict)

    def _append(self, verdict: Verdict) -> None:
        # level 1: a verdict is mostly words that many verdicts share, and time counts
        packed = zlib.compress(pickle.dumps(verdict, pickle.HIGHEST_PROTOCOL), 1)
        with _scratch():
            self._file.seek(self._ends[-1])
            self._file.write(packed)
        self._ends.append(self._ends[-1] + len(packed))

    def __len__(self) -> int:
        return len(self._ends) - 1

    @overload
    def __getitem__(self, index: int) -> Verdict: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Verdict]: ...
    def __getitem__(self, index: int | slice) -> Verdict | Sequence[Verdict]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        number = range(len(self))[index]
        with _scratch():  # what was written last may go to the disk only now
            self._file.seek(self._ends[number])
            packed = self._file.read(self._ends[number + 1] - self._ends[number])
        verdict: Verdict = pickle.loads(zlib.decompress(packed))
        return verdict


@contextmanager
def _scratch() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        why = f"verdicts cannot be kept: {error.strerror}; set TMPDIR to a folder with room"
        fault = _why_none_opens() or f"{tempfile.tempdir or 'TMPDIR'}: {why}"
        raise SetupError([fault]) from None


def _why_none_opens() -> str:
    """Return why no file can be opened, or "": tempfile tells of no usable folder instead."""
    try:
        os.close(os.open(os.devnull, os.O_RDONLY))
    except OSError as error:
        return machine_trouble(error)
    return ""
