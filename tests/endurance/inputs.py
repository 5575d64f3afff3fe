"""Bad pictures, set-up files, lists and pages, and what the program makes of them."""

from __future__ import annotations

import json
import random
import shutil
import statistics
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
import spoil
from place import HOUSE, SMALL, Place, place

from pressworthy.testing import CREDITED, draw, write_picture

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
HANG_SECONDS = 30
BATCH = 100
PICTURES = {"JPEG": 2000, "TIFF": 3000, "PNG": 1500, "WebP": 1000, "AVIF": 1000}
DIED = "its process ended"


@dataclass
class Row:
    """What came of one kind of input. Only the first four and `seconds` may be above 0.

    refused: pictures that were not read, with the reason told; set-up files named as wrong.
    damaged: pictures that were read and told as damaged by read-whole; otherwise: pictures that
    are neither, and show something else than before they were spoiled.
    lost: without a verdict; deaths: of a worker; broken: a rule that raised; crashed: a traceback,
    a signal or an exit status that is none of 0, 1 and 2; strays: files written where none belongs,
    and files changed; seconds: of each process, or call.
    """

    kind: str
    inputs: int = 0
    refused: int = 0
    damaged: int = 0
    otherwise: int = 0
    lost: int = 0
    deaths: int = 0
    broken: int = 0
    crashed: int = 0
    strays: int = 0
    ended: int = 0
    seconds: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def hung(self) -> int:
        """Return how many took 30 s longer than is usual, or were ended."""
        usual = statistics.median(self.seconds or [0])
        return self.ended + sum(took > usual + HANG_SECONDS for took in self.seconds)

    def bad(self) -> int:
        """Return how many faults there are."""
        return sum((self.lost, self.deaths, self.broken, self.crashed, self.strays, self.hung()))

    def fault(self, text: str) -> None:
        """Keep a fault to be printed."""
        self.faults.append(f"{self.kind}: {text}")


class Watched:
    """Sees what changed in a place while a row's inputs were worked on."""

    def __init__(self, where: Place, row: Row) -> None:
        self.where, self.row, self.before = where, row, where.tree()

    def look(self) -> None:
        """Count what is new, changed or gone."""
        after = self.where.tree()
        names = {name for name, _ in self.before.items() ^ after.items()}
        self.row.strays += len(names)
        if names:
            self.row.fault(f"written, changed or gone: {sorted(names)[:5]}")


def tell(row: Row) -> None:
    """Print how far a row has come."""
    print(f"  {row.kind}: {row.inputs} inputs, {row.bad()} faults", file=sys.stderr, flush=True)


def bad_pictures(seed: int, share: float, keep: Path | None) -> list[Row]:
    """Give spoiled pictures in batches to `check`, every fifth batch to `prepare` too."""
    rows = []
    prepared = Row("copies made of every fifth batch")
    number = 0
    for kind, count in PICTURES.items():
        row = Row(kind)
        suffix = spoil.KINDS[kind][0]
        for first in range(0, round(count * share), BATCH):
            number += 1
            with place() as where:
                folder = where.folder / "in"
                whole = {}
                for i in range(first, min(first + BATCH, round(count * share))):
                    rng = random.Random(f"{seed} {kind} {i}")
                    path = folder / f"{kind}{i:05}{suffix}"
                    whole[str(path)] = spoil.picture(path, kind, rng)
                passed = batch(where, row, "check", keep)
                row.otherwise += sum(shows_otherwise(path, whole[path]) for path in passed)
                if number % 5 == 0:
                    batch(where, prepared, "prepare", keep)
            tell(row)
        rows.append(row)
    return [*rows, prepared]


def shows_otherwise(path: str, whole: bytes) -> bool:
    """Tell whether a file's pixels, as its reader gives them, are visibly others than before."""
    try:
        images = [
            pyvips.Image.new_from_buffer(data, "", fail_on="none")
            for data in (Path(path).read_bytes(), whole)
        ]
        if len({(image.width, image.height, image.bands) for image in images}) > 1:
            return True
        now, before = (image.numpy().astype(float) for image in images)
    except (pyvips.Error, UnicodeDecodeError):
        return True
    return bool((np.abs(now - before) > 0.04 * max(before.max(), 1)).mean() > 0.01)


def batch(where: Place, row: Row, command: str, keep: Path | None) -> list[str]:
    """Give a folder of pictures to one process and count what comes of it.

    Returns the pictures that were read and not told as damaged.
    """
    folder, report = where.folder / "in", where.folder / f"out-{command}.json"
    names = {str(path) for path in folder.iterdir()}
    more = (*SMALL, "--into", where.folder / "out") if command == "prepare" else ()
    watched = Watched(where, row)
    ran = where.run(
        command, folder, *HOUSE, *more, "--format", "json", "--jobs", "1", "--output", report
    )
    watched.look()
    row.inputs += len(names)
    row.seconds.append(ran.seconds)
    row.ended += ran.ended
    if ran.crashed() and not ran.ended:
        row.crashed += 1
        row.fault(f"{command} ended with {ran.status}: {ran.err[-2000:]}")
    pictures = json.loads(report.read_text("utf-8"))["pictures"] if report.exists() else []
    masters = Counter(one["facts"].get("master") or one["path"] for one in pictures)
    missing = names ^ masters.keys()
    row.lost += len(missing) + sum(masters.values()) - len(masters)
    kept = set(missing) | (names if ran.crashed() else set())
    passed = []
    for one in pictures:
        reasons = [o["reason"] for o in one["outcomes"] if o["state"] == "unmeasured"]
        refused = len(reasons) == len(one["outcomes"])
        told = [f for o in one["outcomes"] if o["rule"] == "read-whole" for f in o["findings"]]
        unread = any(
            o["rule"] in ("read-whole", "prepare") and o["state"] == "unmeasured"
            for o in one["outcomes"]
        )
        row.refused += refused or unread
        row.damaged += bool(told)
        if not (refused or unread or told):
            passed.append(one["path"])
        if said := broken(one, row):
            kept.add(one["facts"].get("master") or one["path"])
            row.fault(f"{one['path']}: {said}")
    keep_files(kept, keep)
    return passed


def broken(picture: Mapping[str, Any], row: Row) -> str:
    """Count a picture's broken outcomes, a dead worker once, and return what they say."""
    said = [(o["rule"], o["reason"]) for o in picture["outcomes"] if o["state"] == "broken"]
    if any(DIED in reason for _, reason in said):
        row.deaths += 1
    else:
        row.broken += len(said)
    return "; ".join(f"{rule}: {reason}" for rule, reason in said[:3])


def keep_files(paths: Iterable[str], keep: Path | None) -> None:
    """Copy the files that revealed something to where they stay."""
    for path in map(Path, paths):
        if keep and path.is_file():
            shutil.copy(path, keep)


def bad_files(seed: int, share: float, keep: Path | None) -> list[Row]:
    """Give spoiled house profiles, lists, waivers and pages to their commands, many a process."""
    rows = []
    for kind, count, make in (
        ("house YAML", 500, house_call),
        ("picture lists and waivers", 500, list_call),
        ("page PDFs", 500, page_call),
    ):
        row = Row(kind)
        with place() as where:
            folder = where.folder / "in"
            for i in range(3):
                write_picture(folder / f"pier {i}.jpg", draw(120, 90, seed=i), words=CREDITED)
            calls = [
                make(folder, i, random.Random(f"{seed} {kind} {i}"))
                for i in range(round(count * share))
            ]
            watched = Watched(where, row)
            for arguments, result in called(where, calls):
                told(row, arguments, result, keep)
            watched.look()
        tell(row)
        rows.append(row)
    return rows


def house_call(folder: Path, i: int, rng: random.Random) -> list[str]:
    """Write a spoiled house profile and return the command that reads it."""
    files = sorted(ROOT.glob("profiles/pressworthy_profiles/*.yaml"))
    files += sorted(ROOT.glob("demo/houses/*.yaml"))
    path = folder / f"h{i}.yaml"
    path.write_bytes(spoil.set_up(rng.choice(files).read_text("utf-8"), rng))
    return ["house", "validate", str(path)]


def list_call(folder: Path, i: int, rng: random.Random) -> list[str]:
    """Write a spoiled picture list, or waivers, and return the command that reads it."""
    kind = ("csv", "csv", "yaml", "waivers")[i % 4]
    path = folder / f"l{i}.{kind.replace('waivers', 'yaml')}"
    path.write_bytes(spoil.set_up(LISTS[kind], rng))
    asked = ["--format", "json", "--jobs", "1", *HOUSE]
    if kind == "waivers":
        return ["check", str(folder / "pier 0.jpg"), "--waivers", str(path), *asked]
    return ["check", "--list", str(path), *asked]


def page_call(folder: Path, i: int, rng: random.Random) -> list[str]:
    """Write a spoiled PDF and return the command that reads it."""
    path = spoil.pages(folder / f"p{i}.pdf", rng)
    return ["check", "--pages", str(path), *HOUSE, "--format", "json", "--jobs", "1"]


LISTS = {
    "csv": """picture,page,house,width,height,bleed,edges,focus,waive,reason,by,until
pier 0.jpg,1,coated-magazine,10,7.5,3,top left,0.5 0.5,,,,
pier 1.jpg,2,mono,10 mm,7.5 mm,,,,bleed/thin-bleed,the binder agreed,A. Editor,2099-12-31
"pier 2.jpg",3,newsprint,10mm,7.5mm,0,,0.1 0.9,,,,
""",
    "yaml": """house: coated-magazine
pictures:
  - picture: pier 0.jpg
    page: 1
    width: 10 mm
    height: 7.5 mm
    bleed: 3 mm
    edges: [top, left]
  - picture: pier 1.jpg
    page: 2
    house: mono
    crop: [0.1, 0.1, 0.5, 0.5]
    waive: bleed/thin-bleed
    reason: the binder agreed
    by: A. Editor
    until: 2099-12-31
""",
    "waivers": """waivers:
  - finding: bleed/thin-bleed
    picture: pier 0.jpg
    reason: the binder agreed
    by: A. Editor
    until: 2099-12-31
  - finding: resolution/too-few-pixels
    page: 3
    reason: no better one exists
    by: A. Editor
    until: 2099-12-31
""",
}


def called(
    where: Place, calls: Sequence[list[str]]
) -> Iterator[tuple[list[str], dict[str, Any] | None]]:
    """Yield each call and its result, None where the process died or was ended over it."""
    asked, answers = where.folder / "out-calls", where.folder / "out-results"
    program = (str(HERE / "calls.py"), str(asked), str(answers), str(HANG_SECONDS + 5))
    left = list(calls)
    while left:
        now, answered = left[:BATCH], []
        asked.write_text("\n".join(map(json.dumps, now)))
        answers.unlink(missing_ok=True)
        ran = where.run(program=program)
        if answers.exists():
            answered = [json.loads(line) for line in answers.read_text().splitlines()]
        yield from zip(now, answered, strict=False)
        left = left[len(answered) :]
        if len(answered) < len(now):
            yield left.pop(0), None
        elif "Traceback" in ran.err:
            # from a worker, or at the end of the process
            yield now[-1], {"status": None, "out": "", "err": ran.err, "seconds": 0.0}


def told(row: Row, arguments: list[str], result: dict[str, Any] | None, keep: Path | None) -> None:
    """Count what one call gave."""
    row.inputs += 1
    before = row.bad()
    if result is None:
        row.ended += 1
        row.fault(f"{arguments}: the process died, or took longer than {HANG_SECONDS} s")
    else:
        status, err = result["status"], result["err"]
        row.seconds.append(result["seconds"])
        row.refused += status == 2
        if status not in (0, 1, 2) or "Traceback" in err or (status == 2 and not err.strip()):
            row.crashed += 1
            row.fault(f"{arguments}: {status}: {err[-1500:]}")
        if status in (0, 1) and arguments[0] == "check":
            pictures = json.loads(result["out"])["pictures"]
            row.lost += not pictures
            for one in pictures:
                if said := broken(one, row):
                    row.fault(f"{arguments} {one['path']}: {said}")
    if row.bad() > before:
        keep_files((word for word in arguments if Path(word).is_absolute()), keep)
