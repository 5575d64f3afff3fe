"""What earlier runs found, in one SQLite file, so that what has not changed is not done again.

Verdicts, and the pulls of proofs as bytes; of these no more than `MOST_PULLS`, the oldest go first.
What was measured too, where it is asked for (see `measured`), no more than `MOST_MEASURED`.
Each is found by what was judged (hash of the file's bytes, its name, placement) and by what judged
it (house profile, printing condition, rules, this program). Where a file's size, times, inode and
first 64 KiB are as they were, its bytes are taken to be; otherwise they are hashed again.
Nothing here is needed: any trouble with the file means that pictures are judged anew.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import stat
import sys
import time
import zlib
from collections.abc import Callable, Mapping, Set
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, is_dataclass
from functools import cache, partial
from importlib.metadata import entry_points, version
from io import BufferedReader
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from weakref import WeakSet

import platformdirs

from pressworthy import __version__
from pressworthy.house import House
from pressworthy.jobs.tasks import Task
from pressworthy.plugins import GROUP
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.output import Output
from pressworthy.values.rule import Rule
from pressworthy.values.watched import FIELDS as OUTPUT_FIELDS

if TYPE_CHECKING:
    from pressworthy.prepare import Order

HEAD_BYTES = 1 << 16
SETTLED_NS = 2_000_000_000
"""Younger changes are not told by times: two of them may fall into one tick of the file system."""

_MARKS = ("application_id", "user_version")
"""By which programs know their own files; this one sets none."""

KEPT_DAYS = 365
MOST_PULLS = 500_000_000
"""Bytes of all pulls that are kept: some 1 200 pictures, or several issues."""

MOST_MEASURED = 300_000_000
"""Bytes of all measurements that are kept: of some 2 000 pictures."""

WAIT_SECONDS = 30.0
CODE = (".py", ".json", ".yaml")
LIBRARIES = ("numpy", "Pillow", "pyvips-binary")
Answer = TypeVar("Answer")
_TABLES = (
    "CREATE TABLE files (path BLOB PRIMARY KEY, state TEXT, head BLOB, content BLOB)",
    "CREATE TABLE verdicts (key BLOB PRIMARY KEY, day INTEGER, verdict BLOB)",
    "CREATE TABLE pulls (key BLOB PRIMARY KEY, digest BLOB, pull BLOB)",
    "CREATE TABLE measured (key BLOB PRIMARY KEY, digest BLOB, pull BLOB)",
)

_TOO_MANY = """
DELETE FROM {0} WHERE rowid <= (
    SELECT max(rowid) FROM (
        SELECT rowid, sum(length(pull)) OVER (ORDER BY rowid DESC) AS bytes FROM {0}
    ) WHERE bytes > ?
)
"""


@dataclass(frozen=True)
class HashedFile:
    """A file as it was when its bytes were hashed.

    state: size, times and inode; head: hash of the first 64 KiB; content: of all bytes.
    """

    path: Path
    state: str
    head: bytes
    content: bytes


def hashed(path: Path) -> HashedFile | None:
    """Return the file as it is, its bytes hashed; None where it cannot be read."""
    try:
        with _opened(path) as stream:
            state = _stat(stream.fileno())
            head = hashlib.sha256(stream.read(HEAD_BYTES)).digest()
            stream.seek(0)
            return HashedFile(path, state, head, hashlib.file_digest(stream, "sha256").digest())
    except OSError:
        return None


def unchanged(file: HashedFile) -> bool:
    """Tell whether the file still looks as it did; its first 64 KiB are read for it."""
    try:
        with _opened(file.path) as stream:
            same = _stat(stream.fileno()) == file.state
            return same and hashlib.sha256(stream.read(HEAD_BYTES)).digest() == file.head
    except OSError:
        return False


def default_path() -> Path:
    """Return where the cache of this user lies: under XDG_CACHE_HOME on every system, if set."""
    home = os.environ.get("XDG_CACHE_HOME")
    own = platformdirs.user_cache_path("pressworthy", appauthor=False)
    return (Path(home, "pressworthy") if home else own) / "verdicts.sqlite"


_NOT_OF_OUTPUT = {"condition"}
"""Its figures and the bytes of its ICC profiles count instead."""

_NOT_OF_TASK = {
    "path",  # its bytes count instead, and its last part, which rules read
    "name",  # the list's own word and finding, laid over a verdict when it is recalled
    "twin",  # likewise
}


_NOT_OF_ORDER = {
    "master",  # its bytes count instead, and its last part
    "target",  # its last part: what stands there counts by its bytes
    "force",  # nothing is recalled then
}


def code_of(rules: Mapping[str, Rule]) -> str:
    """Return the hash of all code that judges: this program, its libraries, the rules' packages."""
    deciding: dict[str, Any] = {
        "program": [__version__, _code("pressworthy")],
        "libraries": {name: version(name) for name in LIBRARIES},
        "rules": {name: [rule.version, *_sources(rule)] for name, rule in rules.items()},
    }
    return _hash(json.dumps(deciding, sort_keys=True).encode())


def judged_by(house: House, rules: Mapping[str, Rule]) -> str:
    """Return the hash of all that decides a verdict but the picture and its place."""
    condition = house.output.condition
    deciding: dict[str, Any] = {
        "code": code_of({name: rules[name] for name in house.rules}),
        "house": house.fingerprint(),
        "output": _fields(house.output, _NOT_OF_OUTPUT),
        "condition": [condition.name, condition.fingerprint(condition.profiles)],
    }
    return _hash(json.dumps(deciding, sort_keys=True, default=str).encode())


def asked(task: Task, judged: str) -> str:
    """Return all that decides the verdict on a task's bytes. judged: see `judged_by`."""
    deciding = [judged, task.path.name, _fields(task, _NOT_OF_TASK)]
    return json.dumps(deciding, sort_keys=True)


def measured_as(task: Task, code: str) -> str:
    """Return all that decides what is measured of a task's bytes, but the output. code: `code_of`.

    What of the output decides it is kept beside each measurement.
    """
    return json.dumps(
        [code, task.path.name, _fields(task, _NOT_OF_TASK), "measured"], sort_keys=True
    )


def output_as(output: Output) -> dict[str, str]:
    """Return the fields of an output, each by a hash of all that it stands for."""
    condition = output.condition
    values = {name: _written(getattr(output, name)) for name in OUTPUT_FIELDS - _NOT_OF_OUTPUT}
    values["condition"] = [condition.name, condition.fingerprint(condition.profiles)]
    return {
        name: _hash(json.dumps(value, sort_keys=True, default=str).encode())[:16]
        for name, value in values.items()
    }


def ordered(order: Order, became: str, judged: str) -> str:
    """Return all that decides what becomes of an order, but its master's bytes.

    became: of what is asked whether it was so: hash of the copy that stands there, or what stops
    the master; judged: see `judged_by`.
    """
    names = order.master.name, order.target.name
    return json.dumps([judged, *names, _fields(order, _NOT_OF_ORDER), became], sort_keys=True)


def _fields(value: Any, left_out: Set[str] = frozenset()) -> list[Any]:
    """Return a dataclass's fields as JSON holds them, whatever is added to it one day."""
    names = [field.name for field in fields(value) if field.name not in left_out]
    return [type(value).__name__, {name: _written(getattr(value, name)) for name in names}]


def _written(value: Any) -> Any:
    if is_dataclass(value):
        return _fields(value)
    if isinstance(value, (set, frozenset)):
        return sorted(value)
    return value


class Cache:
    """The file at `path`; `trouble` tells what is wrong with it, and what is done without it.

    A file that holds anything else is another program's, and stays as it is.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trouble = ""
        self._base: sqlite3.Connection | None = None
        self._rests = False
        self._open()
        _all.add(self)

    def _open(self) -> None:
        self._rests = False
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._base = sqlite3.connect(self.path, timeout=WAIT_SECONDS, isolation_level=None)
            if _is_foreign(self._base):
                self._give_up("it is another program's, or damaged; name another file")
                return
            self._base.execute("PRAGMA journal_mode=WAL")
            self._base.execute("PRAGMA synchronous=NORMAL")
            for table in _TABLES:
                self._base.execute(table.replace("TABLE", "TABLE IF NOT EXISTS", 1))
        except Exception as error:  # of a damaged file sqlite3 does not even decode the text
            self._give_up(error)

    def rest(self) -> None:
        """Let go of the file until it is asked for again."""
        if self._base:
            with suppress(sqlite3.Error):
                self._base.close()
                self._base, self._rests = None, True

    def __reduce__(self) -> tuple[type[Cache], tuple[Path]]:
        """Pickled, it is its path: another process opens the file for itself."""
        return Cache, (self.path,)

    def hashed(self, path: Path) -> HashedFile | None:
        """Return the file as it was hashed in an earlier run, where it has not changed since."""
        row = self._try(
            lambda base: base.execute(
                "SELECT state, head, content FROM files WHERE path = ?", (_bytes(path),)
            ).fetchone()
        )
        file = HashedFile(path, *row) if row else None
        # of a damaged row any part may have become anything
        whole = file and isinstance(file.content, bytes)
        return file if file and whole and unchanged(file) else None

    def recall(self, content: bytes, judged: str) -> Verdict | None:
        """Return the verdict on these bytes, without its path. judged: see `asked`."""
        key = _key(content, judged)
        row = self._try(
            lambda base: base.execute(
                "SELECT verdict, day < ? FROM verdicts WHERE key = ?", (_today() - 30, key)
            ).fetchone()
        )
        if row is None:
            return None
        try:
            verdict = verdict_of(json.loads(zlib.decompress(row[0])))
        except Exception as error:
            # flipped bits make errors of many kinds; the next verdict takes the place of this one
            self.trouble = f"{self.path}: damaged, some pictures are judged anew: {error}"
            return None
        if row[1]:
            self._try(
                lambda base: base.execute(
                    "UPDATE verdicts SET day = ? WHERE key = ?", (_today(), key)
                )
            )
        return verdict

    def keep(self, file: HashedFile, judged: str, verdict: Verdict) -> None:
        """Keep a verdict for later runs, unless a rule broke: that may have been chance."""
        if any(outcome.state is State.BROKEN for outcome in verdict.outcomes):
            return
        packed = zlib.compress(json.dumps(asdict(verdict)).encode())
        row = (_key(file.content, judged), _today(), packed)
        self._try(lambda base: base.execute("REPLACE INTO verdicts VALUES (?, ?, ?)", row))
        self.keep_hashed(file)

    def recall_pull(self, content: bytes, judged: str) -> bytes | None:
        """Return what `keep_pull` was given for these bytes. judged: see `asked`."""
        return self._recalled("pulls", content, judged, "pulled")

    def recall_measured(self, content: bytes, asked: str) -> bytes | None:
        """Return what `keep_measured` was given for these bytes. asked: see `measured_as`."""
        return self._recalled("measured", content, asked, "measured")

    def _recalled(self, table: str, content: bytes, asked: str, done: str) -> bytes | None:
        row = self._try(
            lambda base: base.execute(
                f"SELECT digest, pull FROM {table} WHERE key = ?", (_key(content, asked),)
            ).fetchone()
        )
        if row is None:
            return None
        if not isinstance(row[1], bytes) or hashlib.sha256(row[1]).digest() != row[0]:
            self.trouble = f"{self.path}: damaged, some pictures are {done} anew"
            return None
        return row[1]

    def keep_pull(self, file: HashedFile, judged: str, pull: bytes) -> None:
        """Keep a pull, packed, for later runs; the oldest go where there are too many."""
        self._keep("pulls", file, judged, pull, MOST_PULLS)
        self.keep_hashed(file)

    def keep_measured(self, file: HashedFile, asked: str, measured: bytes) -> None:
        """Keep what was measured, packed, likewise."""
        self._keep("measured", file, asked, measured, MOST_MEASURED)

    def _keep(self, table: str, file: HashedFile, asked: str, data: bytes, most: int) -> None:
        row = (_key(file.content, asked), hashlib.sha256(data).digest(), data)
        self._try(lambda base: base.execute(f"REPLACE INTO {table} VALUES (?, ?, ?)", row))
        self._try(lambda base: base.execute(_TOO_MANY.format(table), (most,)))

    def keep_hashed(self, file: HashedFile) -> None:
        """Keep what the file's bytes were, where its times are old enough to tell a change."""
        if max(int(part) for part in file.state.split()[1:3]) > time.time_ns() - SETTLED_NS:
            return
        row = (_bytes(file.path), file.state, file.head, file.content)
        self._try(lambda base: base.execute("REPLACE INTO files VALUES (?, ?, ?, ?)", row))

    def close(self) -> None:
        """Forget what no run has asked for in a year, and let go of the file."""
        old = (_today() - KEPT_DAYS,)
        self._try(lambda base: base.execute("DELETE FROM verdicts WHERE day < ?", old))
        if self._base:
            with suppress(sqlite3.Error):
                self._base.close()
            self._base = None

    def _try(self, ask: Callable[[sqlite3.Connection], Answer]) -> Answer | None:
        if self._rests:
            self._open()
        if self._base is None:
            return None
        try:
            return ask(self._base)
        except Exception as error:
            self._give_up(error)
            return None

    def _give_up(self, why: Exception | str) -> None:
        if self._base:
            with suppress(sqlite3.Error):
                self._base.close()
        self._base = None
        mend = "; delete it, or name another file" if type(why) is sqlite3.DatabaseError else ""
        self.trouble = f"{self.path}: not used, every picture is judged anew: {why}{mend}"


_all: WeakSet[Cache] = WeakSet()


def _let_all_rest() -> None:
    for one in list(_all):
        one.rest()


if hasattr(os, "register_at_fork"):
    # SQLite's locks do not hold in a process that was forked from one with the file open
    os.register_at_fork(before=_let_all_rest)


def _is_foreign(base: sqlite3.Connection) -> bool:
    """Tell whether the file holds what this program does not write. Raises errors of many kinds."""
    made = {sql for (sql,) in base.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL")}
    marks = [base.execute(f"PRAGMA {mark}").fetchone()[0] for mark in _MARKS]
    return any(marks) or not made <= set(_TABLES)


def _opened(path: Path) -> BufferedReader:
    """Return the file, open to read; a pipe or device, which may never answer, is an OSError."""
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise OSError(f"{path} is not a regular file")
    return os.fdopen(descriptor, "rb")


def _stat(descriptor: int) -> str:
    status = os.fstat(descriptor)
    return f"{status.st_size} {status.st_mtime_ns} {status.st_ctime_ns} {status.st_ino}"


def _bytes(path: Path) -> bytes:
    return os.fsencode(path.absolute())


def _today() -> int:
    return int(time.time()) // 86_400


def _key(content: bytes, judged: str) -> bytes:
    return hashlib.sha256(content + judged.encode("utf-8", "surrogateescape")).digest()


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _sources(rule: Rule) -> list[str]:
    """Return the hashes of the packages that the rule's functions are from."""
    tops = set()
    for function in (rule.check, rule.evidence, rule.check_set):
        while isinstance(function, partial):
            function = function.func
        tops.add((getattr(function, "__module__", None) or "").partition(".")[0])
    return [_code(top) for top in sorted(tops)]


@cache
def _code(top: str) -> str:
    """Return the hash of the code and data of a module, or of all modules of a package.

    With them counts the version of the distribution, where one enters it as a plug-in.
    """
    module = sys.modules.get(top)
    files = {
        path.relative_to(folder).as_posix(): path
        for folder in map(Path, getattr(module, "__path__", ()))
        for path in folder.rglob("*")
        if path.suffix in CODE
    }
    alone = getattr(module, "__file__", None)
    if not files and alone:
        files = {Path(alone).name: Path(alone)}
    hashes = {name: _hash(path.read_bytes()) for name, path in files.items() if path.is_file()}
    return _hash(json.dumps([top, hashes, _versions().get(top, [])], sort_keys=True).encode())


@cache
def _versions() -> dict[str, list[str]]:
    """Return top-level package -> versions of the distributions that enter it as a plug-in."""
    versions: dict[str, list[str]] = {}
    for point in entry_points(group=GROUP):
        if point.dist:
            versions.setdefault(point.module.partition(".")[0], []).append(point.dist.version)
    return {top: sorted(of_top) for top, of_top in versions.items()}


def verdict_of(data: dict[str, Any]) -> Verdict:
    """Return the verdict that `dataclasses.asdict` made these of."""
    outcomes = tuple(_outcome(part) for part in data.pop("outcomes"))
    return Verdict(outcomes=outcomes, **data)


def _outcome(data: dict[str, Any]) -> Outcome:
    findings = tuple(map(_finding, data["findings"]))
    restored = {
        "state": State(data["state"]),
        "weight": Severity(data["weight"]),
        "findings": findings,
    }
    return Outcome(**{**data, **restored})


def _finding(data: dict[str, Any]) -> Finding:
    limit, bound = data["limit"], data["bound"]
    return Finding(**{
        **data,
        "limit": tuple(limit) if isinstance(limit, list) else limit,
        "bound": Bound(bound) if bound else None,
        "severity": Severity(data["severity"]),
    })  # fmt: skip
