"""What is wrong with a set-up: each fault with its file, its place and its mend."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pressworthy.values.words import readable

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True)
class Origin:
    """Where a value was written: file, and line counted from 1."""

    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a set-up file, with its place and, in `message`, its mend."""

    origin: Origin | None
    path: KeyPath
    message: str

    def __str__(self) -> str:
        origin = f"{self.origin}: " if self.origin else ""
        where = f"{' / '.join(map(str, self.path))}: " if self.path else ""
        return f"{origin}{where}{self.message}"


class SetupError(Exception):
    """The set-up is wrong and nothing was checked; carries every fault found."""

    def __init__(self, faults: Iterable[Fault | str]) -> None:
        self.faults = [f if isinstance(f, Fault) else Fault(None, (), f) for f in faults]
        super().__init__("\n".join(readable(str(fault)) for fault in self.faults))


class Stopped(BaseException):
    """A person or the system ends this process, by the signal of that number."""

    def __init__(self, signal: int) -> None:
        self.signal = signal


class FormatError(Exception):
    """A report format failed, perhaps a stranger's: its report is not whole."""
