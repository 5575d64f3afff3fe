"""The printer's own data, dropped on the house standard: what follows from it.

An ICC profile is taken as it is; of a file of measurements a condition is made first, see
`building`.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import AsyncIterator, Iterable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from pressworthy.colour.condition import condition_paths
from pressworthy.colour.own_profile import condition_of_profile
from pressworthy.colour.separation import most_asked_for
from pressworthy.house import House
from pressworthy.open_proof.names import safe
from pressworthy.prepare.amount import derived_amount
from pressworthy.prepare.store import put
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import figure

MOST_BYTES = 30_000_000
"""Of a profile; the largest of presses have some 10 MB."""

SUFFIXES = (".icc", ".icm")
CHARTS = (".txt", ".ti3", ".cgats", ".it8")
"""Of files of measurements that are read: CGATS.17, and ArgyllCMS's own."""

MEASUREMENTS = (".cxf", ".mxf", ".xml", ".csv")
_MEASURED = (
    "measurements of a press are read as CGATS.17 text or .ti3; have them written so, or drop the "
    "ICC profile that the printer made from them"
)


@dataclass(frozen=True)
class Dropped:
    """An ICC profile or a chart laid aside, or a condition's folder: no house names it yet.

    name: what it may be called beside the house profiles; path: where it lies until then.
    """

    name: str
    path: Path
    digest: str

    @property
    def is_chart(self) -> bool:
        """Whether it is of measurements, from which a condition is yet to be made."""
        return self.path.suffix.lower() in CHARTS


@dataclass(frozen=True)
class Row:
    """One thing that follows from the printer's data, as it stood and as it would."""

    what: str
    before: str
    after: str

    @property
    def differs(self) -> bool:
        return self.before != self.after


async def laid_aside(
    given: str, size: int | None, chunks: AsyncIterator[bytes], aside: Path
) -> Dropped:
    """Lay aside a profile, known to be one of a press or a screen, or a chart, and return it.

    given: what the browser calls it. Raises SetupError in words for the person.
    """
    name = profile_name(given)
    if size is None or size > MOST_BYTES:
        raise SetupError([f"{name}: larger than {MOST_BYTES // 10**6} MB, or of no size"])
    data = b""
    async for chunk in chunks:
        data += chunk
        if len(data) > size:
            raise SetupError([f"{name}: longer than was announced"])
    if len(data) < size:
        raise SetupError([f"{name}: broken off; drop it again"])
    digest = hashlib.sha256(data).hexdigest()
    if Path(name).suffix.lower() in CHARTS:
        # a condition made of it tells its name
        path = aside / f"chart-{digest[:32]}" / name
        path.parent.mkdir(exist_ok=True)
        put(data, path)
        return Dropped(name, path, digest)
    path = aside / f"{digest[:32]}.icc"
    if not path.exists():
        put(data, path)
    try:
        condition_of_profile(path)
    except ValueError as error:
        path.unlink(missing_ok=True)
        raise SetupError([str(error).replace(str(path), name)]) from None
    return Dropped(name, path, digest)


def profile_name(given: str) -> str:
    """Return a safe file name for what was dropped. Raises SetupError where it is no such thing."""
    name = safe(re.split(r"[/\\]", given)[-1])
    suffix = Path(name).suffix.lower()
    if suffix in MEASUREMENTS:
        raise SetupError([f"{name}: {_MEASURED}"])
    if suffix not in (*SUFFIXES, *CHARTS):
        message = "is no ICC profile (.icc, .icm) and no file of measurements (.txt, .ti3)"
        raise SetupError([f"{name or 'it'}: {message}"])
    # a name that YAML, a list and every system takes as it is
    stem = re.sub(r"[^A-Za-z0-9._-]+", "-", Path(name).stem).strip("-._")[:60]
    return f"{stem or 'press'}{suffix}"


def copied(dropped: Dropped, home: Path) -> str:
    """Copy a profile or a condition beside the house profiles, never over another.

    Returns its name there. Raises SetupError where it cannot be written, or a condition's name is
    taken.
    """
    if dropped.path.is_dir():
        return _copied_whole(dropped, home)
    data = dropped.path.read_bytes()
    stem, suffix = Path(dropped.name).stem, Path(dropped.name).suffix
    others = (f"{stem}-{number}{suffix}" for number in count(2))
    for name in (dropped.name, *(next(others) for _ in range(99))):
        target = home / name
        try:
            if target.exists() and target.read_bytes() != data:
                continue
            if not target.exists():
                put(data, target)
        except OSError as error:
            raise SetupError([f"{target.name}: {error.strerror}"]) from None
        return name
    raise SetupError([f"{dropped.name}: a hundred profiles are called so already"])


def _copied_whole(dropped: Dropped, home: Path) -> str:
    refuse_taken(dropped.name, home, ())
    target = home / dropped.name
    try:
        with TemporaryDirectory(prefix=".", dir=home) as scratch:
            folder = Path(scratch) / dropped.name
            folder.mkdir()
            for file in dropped.path.iterdir():
                put(file.read_bytes(), folder / file.name)
            folder.rename(target)
    except OSError as error:
        raise SetupError([f"{target.name}: {error.strerror}"]) from None
    return dropped.name


def refuse_taken(name: str, home: Path, conditions: Iterable[Path]) -> None:
    """Raise SetupError where a condition of that name would be taken for another.

    conditions: the folders that conditions are sought in.
    """
    taken = {path.name for path in condition_paths(tuple(conditions))}
    if name in taken or (home / name).exists():
        raise SetupError([f"{name} is taken; give the condition another name"])


def beside(now: House, then: House) -> Iterator[Row]:
    """Yield what follows from two conditions of one house, side by side."""
    old, new = now.output.condition, then.output.condition
    yield Row("press, paper and ink", old.name, new.name)
    yield Row("bare paper, L* a* b*", _lab(old.paper), _lab(new.paper))
    yield Row("black ink alone", _lab(old.black), _lab(new.black))
    yield Row("darkest print", _lab(old.darkest), _lab(new.darkest))
    yield Row("middle tones lie, in printed L*,", *(_window(one) for one in (now, then)))
    if now.output.colour == "cmyk":
        limits = (_limit(one) for one in (now, then))
        yield Row("ink limit of the house", *limits)
        yield Row("most ink its profile asks for", *(_asked(one) for one in (now, then)))
    if now.output.medium == "print":
        yield Row("dots", _dots(now), _dots(then))
    if now.prepare is not None and now.output.medium == "print":
        yield Row("amount of sharpening", *(_amount(one) for one in (now, then)))


def _lab(lab: tuple[float, float, float]) -> str:
    return " ".join(f"{part:.1f}" for part in lab)


def _window(house: House) -> str:
    (low, high), (black, paper) = house.output.median, house.output.span
    ends = (black + share / 100 * (paper - black) for share in (low, high))
    return " to ".join(f"{end:.0f}" for end in ends)


def _limit(house: House) -> str:
    limit = house.output.most_ink
    return figure(limit, "%") if limit else "none"


def _asked(house: House) -> str:
    profile = house.output.condition.profiles.get("cmyk")
    try:
        return f"{most_asked_for(profile):.0f} %" if profile else "no profile"
    except (Unmeasured, OSError) as error:
        return f"not told: {error}"


def _amount(house: House) -> str:
    stated = (house.prepare or {}).get("amount")
    if stated is None:
        return f"{derived_amount(house):.2f}, derived"
    if house.output.condition.values.get("ruling"):
        return f"{stated:g}, as stated"
    return f"{stated:g}, as it stood: no ruling is stated; a test strip settles it"


def _dots(house: House) -> str:
    values, assumed = (
        house.output.condition.values,
        house.output.condition.values.get("assumed", {}),
    )
    if "ruling" not in values:
        return "not stated: write the press's ruling under output"
    parts = []
    for name, unit in (("ruling", "lines/cm"), ("device resolution", "dpi")):
        if name in values:
            source = f", assumed {assumed[name]}" if name in assumed else ""
            parts.append(f"{figure(values[name], unit)}{source}")
    return "; ".join(parts)
