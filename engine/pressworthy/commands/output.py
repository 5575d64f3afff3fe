"""What a command writes: over nothing unasked, whole or not at all; and how far it has come."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, redirect_stdout, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

from pressworthy.values.faults import FormatError, SetupError
from pressworthy.values.words import readable, what_broke

if TYPE_CHECKING:
    from pressworthy.plugins import Registry
    from pressworthy.values.report import Report

BAR = "{n_fmt}/{total_fmt} {bar:24} {remaining} left{postfix}"
USUAL_WIDTH = 80
BEGIN = "starting"
"""Shorter than the line that takes its place."""

Done = TypeVar("Done")
Writer = Callable[["Report", TextIO], None]


def report_writer(name: str, registry: Registry) -> Writer:
    """Return what writes a report in the format of that name. Raises SetupError where none is."""
    render = registry.report_formats.get(name)
    if render is None:
        names = ", ".join(registry.report_formats)
        raise SetupError([f"no report format is called {name!r}; there are {names}"])

    def parts(report: Report) -> Iterator[str]:
        try:
            # what a plug-in prints is no part of its report
            with redirect_stdout(sys.stderr):
                written = render(report)
                for part in [written] if isinstance(written, str) else written:
                    if not isinstance(part, str):
                        raise TypeError(f"{part!r:.40} is no text")
                    yield part
        except (Exception, SystemExit, KeyboardInterrupt) as error:
            message = f"the report format {name!r} failed, and its report is not whole"
            raise FormatError(readable(f"{message}: {what_broke(error)}")) from error

    def write(report: Report, file: TextIO) -> None:
        file.writelines(parts(report))

    return write


def refuse_to_replace(target: Path | None, *, replace: bool) -> None:
    """Refuse to write over a file unasked, and over what is no file ever."""
    if target is None or not os.path.exists(target):  # noqa: PTH110 - Path.exists() may raise
        return
    if not target.is_file():
        raise SetupError([f"{target} is no file that could be written over; name another"])
    if not replace:
        raise SetupError([f"{target} exists; give --replace to write over it"])


def refuse_to_lose(target: Path | None, files: Iterable[str | Path | None]) -> None:
    """Refuse to write where one of the files lies that the command reads or makes."""
    for file in files:
        if target and file and _is_one(target, file):
            raise SetupError([f"{target} is a file that this command works on; name another"])


def _is_one(one: Path, other: str | Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return os.path.realpath(one) == os.path.realpath(other)


def fill_in_streams() -> None:
    """Open what was closed of standard input, output and error, on nothing.

    Or else the next file opened takes its number, and what is meant for the stream goes into it.
    `sys.stdout` stays None where it was closed. Raises OSError.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            # the system gives the lowest that is free
            os.set_inheritable(os.open(os.devnull, os.O_RDWR), True)
    if sys.stderr is None:
        # print() would turn to standard output
        sys.stderr = nowhere()


def nowhere() -> TextIO:
    """Return a stream of which nothing is kept."""
    return open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123


@contextmanager
def own_output() -> Iterator[None]:
    """Keep standard output for what the program writes.

    What others write to its descriptor meanwhile, plug-ins, libraries and worker processes, goes to
    standard error.
    """
    ours = sys.__stdout__
    if ours is None or sys.stdout is not ours or ours.fileno() != 1:  # it is turned elsewhere
        yield
        return
    ours.flush()
    kept = os.dup(1)
    with suppress(OSError):  # there is no standard error
        os.dup2(2, 1)
    lines = 1 if ours.isatty() else -1
    sys.stdout = os.fdopen(kept, "w", lines, encoding=ours.encoding, errors="backslashreplace")
    with sys.stdout:
        try:
            yield
        finally:
            sys.stdout.flush()
            os.dup2(kept, 1)
            sys.stdout = ours


@contextmanager
def output(path: Path | None, *, keep: bool = False) -> Iterator[TextIO]:
    """Give the file to write to, which gets its name when it is whole, or standard output.

    keep: leave what was written beside it, as NAME.part, where the run is broken off.
    """

    if path is None:
        yield sys.stdout
        return
    part = path.with_name(path.name + ".part")
    try:
        part.unlink(missing_ok=True)
        with part.open("x", encoding="utf-8") as file:  # through no link that somebody laid there
            yield file
        part.replace(path)
    except OSError as error:
        raise SetupError([f"{path}: cannot be written: {error.strerror or error}"]) from None
    finally:
        if not keep:
            part.unlink(missing_ok=True)


def write(text: str, path: Path | None) -> None:
    with output(path) as file:
        file.write(text)


def make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError([f"{folder}: cannot be made: {error.strerror}"]) from None


def begin() -> None:
    """Tell a person who looks on that the command is at work, before its libraries are loaded."""
    if sys.stderr.isatty():
        print(BEGIN, end="\r", file=sys.stderr, flush=True)


def progress(done: Iterable[Done], total: int) -> Iterable[Done]:
    """Return what is done as it comes, with a line for a person who looks on.

    It stands from the start, before anything is done, and tells count, time left and the picture
    that was done last.
    """
    return _shown(done, total) if sys.stderr.isatty() else done


def _shown(done: Iterable[Done], total: int) -> Iterator[Done]:
    from tqdm import tqdm

    # its thread would keep workers from being forked from this process
    tqdm.monitor_interval = 0
    # a terminal may not tell how wide it is, and then would show nothing
    width = {"dynamic_ncols": True} if _knows_width() else {"ncols": USUAL_WIDTH}
    # every picture is told: few are done within the tenth of a second that tqdm waits for
    with tqdm(total=total, bar_format=BAR, leave=False, mininterval=0, **width) as bar:
        for one in done:
            bar.set_postfix_str(_name(one), refresh=False)
            bar.update()
            yield one


def _knows_width() -> bool:
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns > 0
    except (OSError, ValueError):  # no descriptor, as where standard error is replaced
        return True


def _name(one: Any) -> str:
    """Return the name of the picture that was done, "" where it has none."""
    first = one[0] if isinstance(one, tuple) and one else one
    return readable(Path(getattr(first, "path", "")).name)
