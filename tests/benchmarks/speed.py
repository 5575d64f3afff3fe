"""What the commands cost, as one table, by hand, on Linux:

    .venv/bin/python tests/benchmarks/speed.py [--before CHECKOUT] [--rounds N] [--only WORD]
    .venv/bin/python tests/benchmarks/speed.py --growth [--most PICTURES]

Every figure is of the command itself, in processes of its own: seconds of processor time (user and
system, of all its processes and threads) with seconds of the clock in brackets. What a picture
costs is the difference between many pictures and few, so that starting takes no part in it: few are
still as many as there are processes, and the program is compiled beforehand, by a run of each
command that is not measured. A copy is made with nothing kept of earlier runs.
CHECKOUT is a folder with an earlier state of the project; its figures are taken in turn with those
of this one and stand beside them. The median of N (3) rounds is told. --growth prints instead how
the cost of check grows with megapixels and with pictures.

A row of the table is a function that yields its cells; ROWS names them all.
"""

from __future__ import annotations

import argparse
import ctypes
import hashlib
import math
import os
import pty
import resource
import select
import statistics
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import takewhile
from pathlib import Path

import numpy as np
import psutil
import pyvips
from prepare import PLAIN

from pressworthy.house import load_house
from pressworthy.plugins import load
from pressworthy.prepare.charts import dead_leaves
from pressworthy.testing import CREDITED, draw, write_picture

HERE = Path(__file__).parents[2]
sys.path[:0] = [str(HERE / "tests"), str(HERE / "tests/open_proof")]
from paged import write_issue  # noqa: E402 - beside the tests

HOUSE = ("--house", "coated-magazine")
SUBREAPER = 36  # PR_SET_CHILD_SUBREAPER of <sys/prctl.h>
PLACEMENTS = 40
PAGES = 7
FEW, MANY = 20, 140
"""Small pictures whose difference tells what one costs."""
FEW_LARGE, MANY_LARGE = 2, 6


@dataclass(frozen=True)
class Spent:
    """Seconds of processor and clock, and the peak memory in MB of the largest process."""

    cpu: float
    wall: float
    peak: float


PACKED = """
house: packed
kind: title
stands on: coated-magazine
prepare:
  compression: lzw
  reason: to see what packing costs
"""

Figure = Callable[[Path], tuple[float, float]]
"""What a row asks of one checkout: the figure, and the seconds of the clock beside it."""


@dataclass(frozen=True)
class Cell:
    """One line of the table: what is measured, in which unit, the bar and the ambition for it."""

    work: str
    unit: str
    bar: float
    ambition: float
    figure: Figure


def spent(root: Path, *words: object, cache: Path | None = None) -> Spent:
    """Run the command of one checkout and return what it cost, its workers included.

    cache: the folder of the user's caches, where it matters.
    """
    call = [sys.executable, "-m", "pressworthy", *map(str, words)]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    environment = {**_environment(root), **({"XDG_CACHE_HOME": str(cache)} if cache else {})}
    process = subprocess.Popen(call, env=environment, stdout=subprocess.DEVNULL)
    peak = 0.0
    while process.poll() is None:
        peak = max(peak, *map(_high_water, psutil.Process().children(recursive=True)), 0.0)
        time.sleep(0.01)
    wall = time.perf_counter() - start
    if process.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(call)} ended with {process.returncode}")
    _wait_for_orphans()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Spent(cpu, wall, peak)


def _environment(root: Path) -> dict[str, str]:
    """Return the surroundings of a checkout's commands: as installed, compiled once, and alone."""
    paths = (str(root / part) for part in ("engine", "rules", "profiles"))
    own = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    scratch = Path(tempfile.gettempdir()) / "pressworthy-speed"
    places = {"PYTHONPYCACHEPREFIX": str(scratch / "compiled"), "XDG_CACHE_HOME": str(scratch)}
    return {**own, "PYTHONPATH": os.pathsep.join(paths), **places}


def _own(folder: Path, root: Path) -> Path:
    """Return the folder for what one checkout keeps: another state may not read it."""
    return folder / hashlib.sha256(bytes(root)).hexdigest()


def _help(root: Path, command: str) -> str:
    call = [sys.executable, "-m", "pressworthy", command, "--help"]
    return subprocess.run(
        call, env=_environment(root), capture_output=True, text=True, check=True
    ).stdout


def _high_water(process: psutil.Process) -> float:
    try:
        told = Path(f"/proc/{process.pid}/status").read_text()
    except OSError:  # it has just ended
        return 0.0
    lines = [line for line in told.splitlines() if line.startswith("VmHWM")]
    return int(lines[0].split()[1]) / 1024 if lines else 0.0


def _wait_for_orphans() -> None:
    """Wait for the processes that start workers: they outlive the command by a moment."""
    try:
        while True:
            os.wait()
    except ChildProcessError:
        return


def _check(root: Path, pictures: Sequence[Path], jobs: int) -> Spent:
    return spent(root, "check", *pictures, *HOUSE, "--no-cache", "--jobs", jobs)


def _each(root: Path, pictures: Sequence[Path], few: int, jobs: int) -> tuple[float, float]:
    """Return the seconds of processor and clock that one more picture costs."""
    some, all_ = _check(root, pictures[:few], jobs), _check(root, pictures, jobs)
    return _one_more(some, all_, len(pictures) - few)


def _one_more(some: Spent, all_: Spent, more: int) -> tuple[float, float]:
    """Return the seconds of processor and clock of one of `more` pictures; NaN where noise has it.

    Many cannot cost less than few.
    """
    if all_.cpu <= some.cpu:
        return math.nan, math.nan
    return (all_.cpu - some.cpu) / more, (all_.wall - some.wall) / more


def small(folder: Path) -> Iterator[Cell]:
    """Yield what a picture of 120 x 80 px costs, in one process and in two."""
    pictures = _many(folder / "small", MANY, 120)
    for jobs in (1, 2):
        work = f"check, 120 x 80 px JPEG, a picture, --jobs {jobs}"
        yield Cell(work, "s", 0.03, 0.015, partial(_each, pictures=pictures, few=FEW, jobs=jobs))


def large(folder: Path) -> Iterator[Cell]:
    """Yield what a picture of 30 megapixels costs over its decoding, in one process and in two."""
    first = camera_picture(folder / "large.jpg", 6720, 4480)
    pictures = [first, *(_linked(first, number) for number in range(MANY_LARGE - 1))]

    def ratio(root: Path, jobs: int) -> tuple[float, float]:
        cpu, wall = _each(root, pictures, FEW_LARGE, jobs)
        return cpu / decoding(first), wall

    for jobs in (1, 2):
        work = f"check, 30 megapixels / its decode, --jobs {jobs}"
        yield Cell(work, "x", 1.6, 1.3, partial(ratio, jobs=jobs))


def memory(folder: Path) -> Iterator[Cell]:
    """Yield the peak memory of the largest process over a picture of 36 megapixels."""
    path = camera_picture(folder / "largest.jpg", 7360, 4912)

    def peak(root: Path) -> tuple[float, float]:
        done = _check(root, [path], 1)
        return done.peak, done.wall

    yield Cell("peak memory, check, 36 megapixels", "MB", 250, 150, peak)


def first_line(folder: Path) -> Iterator[Cell]:
    """Yield the seconds of the clock until a terminal shows that a check is under way."""
    path = camera_picture(folder / "large.jpg", 6720, 4480)
    yield Cell("first line on a terminal", "s", 1, 1, lambda root: (_first_line(root, path),) * 2)


def start(folder: Path) -> Iterator[Cell]:
    """Yield what it costs to be told the help, and to check a single small picture."""
    (path,) = _many(folder / "one", 1, 120)

    def one(root: Path) -> tuple[float, float]:
        done = _check(root, [path], 1)
        return done.cpu, done.wall

    def help_(root: Path) -> tuple[float, float]:
        done = spent(root, "--help")
        return done.cpu, done.wall

    yield Cell("--help", "s", 0.12, 0.12, help_)
    yield Cell("check, one small picture, starting included", "s", 1.2, 0.6, one)


def proof_large(folder: Path) -> Iterator[Cell]:
    """Yield what the proof of 30 megapixels at A5 costs over their decoding."""
    first = camera_picture(folder / "large.jpg", 6720, 4480)
    pictures = [first, *(_linked(first, number) for number in range(10, 13))]

    def ratio(root: Path) -> tuple[float, float]:
        few, all_ = (
            _proof(root, Path(tempfile.mkdtemp(dir=folder)), some, "--size", "210x148mm")
            for some in (pictures[:1], pictures)
        )
        cpu, wall = _one_more(few, all_, len(pictures) - 1)
        return cpu / decoding(first), wall

    yield Cell("proof, 30 megapixels at A5 / its decode", "x", 6, 4, ratio)


def proof_issue(folder: Path) -> Iterator[Cell]:
    """Yield what the proof of an issue costs, and once more when one picture has changed."""
    scene = np.clip(dead_leaves(1772, 1240, seed=1), 0, 255).astype(np.uint8)
    (folder / "issue").mkdir()
    pictures = [folder / "issue" / f"{number}.jpg" for number in range(PLACEMENTS)]
    for number, path in enumerate(pictures):
        write_picture(path, np.roll(scene, 40 * number, axis=1), words=CREDITED)
    lies: dict[Path, Path] = {}

    def first(root: Path) -> tuple[float, float]:
        lies[root] = Path(tempfile.mkdtemp(dir=folder))
        done = _proof(root, lies[root], pictures)
        return done.cpu, done.wall

    def again(root: Path) -> tuple[float, float]:
        turned = np.roll(scene, np.random.default_rng().integers(1000), axis=0)
        write_picture(pictures[0], turned, words=CREDITED)
        done = _proof(root, lies[root], pictures)
        return done.cpu, done.wall

    yield Cell(f"proof, {PLACEMENTS} placements of 150 x 105 mm", "s", 30, 15, first)
    yield Cell("proof again, one of them changed, page and all", "s", 2, 2, again)


def _proof(root: Path, lies: Path, pictures: Sequence[Path], *more: str) -> Spent:
    """Proof pictures; what is kept of earlier proofs lies beside the page, in `lies`."""
    call = ("proof", *pictures, *HOUSE, "--into", lies, "--replace", "--jobs", 2, *more)
    return spent(root, *call, cache=lies)


def pages(folder: Path) -> Iterator[Cell]:
    """Yield what it costs to check seven pages with a picture each, among whose masters it is."""
    masters = folder / "masters of pages"
    masters.mkdir()
    spots = []
    for number in range(PAGES):
        path = masters / f"{number}.jpg"
        write_picture(path, draw(1772, 1240, seed=number), words=CREDITED)
        spots.append([(path, 30.0, 40.0, 150.0, 105.0)])
    pdf = write_issue(folder / "pages.pdf", spots)

    def check(root: Path) -> tuple[float, float]:
        done = spent(root, "check", "--pages", pdf, masters, *HOUSE, "--no-cache")
        return done.cpu, done.wall

    yield Cell(f"check --pages, {PAGES} pages", "s", 6, 3, check)


def prepare_again(folder: Path) -> Iterator[Cell]:
    """Yield what it costs to prepare once more what has not changed."""
    pictures = _many(folder / "issue of copies", 19, 1200)

    def again(root: Path) -> tuple[float, float]:
        mine = _own(folder, root) / "again"
        call: tuple[object, ...] = ("prepare", *pictures, *HOUSE, "--into", mine / "copies")
        if "--cache" in _help(root, "prepare"):  # an earlier state may know of none here
            call += ("--cache", mine / "kept")
        if not mine.exists():
            # the second run hashes the copies that the first has made
            for _ in range(2):
                spent(root, *call)
        done = spent(root, *call)
        return done.cpu, done.wall

    yield Cell("prepare again, 19 copies, nothing changed", "s", 0.5, 0.2, again)


def prepare_large(folder: Path) -> Iterator[Cell]:
    """Yield an A4 copy of 36 megapixels over libvips' own tools in linear light, and its memory.

    Those pack it by LZW. The house leaves one plain that LZW makes longer, as it does this noisy
    one; what packing costs where it pays is told by a title that packs all.
    """
    jpeg = camera_picture(folder / "largest.jpg", 7360, 4912)
    deep = folder / "deep.tif"
    image = pyvips.Image.new_from_file(str(jpeg))
    wide = (image.cast("ushort") * 257).cast("ushort").copy(interpretation="rgb16")
    wide.tiffsave(str(deep))
    profile = load_house(HOUSE[1], load()).output.condition.profiles["cmyk"]

    packed = folder / "packed.yaml"
    packed.write_text(PACKED)

    def one(root: Path, source: Path, house: object = HOUSE[1]) -> Spent:
        more = ("--size", "297x210mm", "--force", "--jobs", 1)
        call = ("prepare", source, "--house", house, "--into", folder / "large copies", *more)
        return spent(root, *call, cache=Path(tempfile.mkdtemp(dir=folder)))

    def ratio(root: Path, source: Path, house: object = HOUSE[1]) -> tuple[float, float]:
        done = one(root, source, house)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        tools = [sys.executable, "-c", PLAIN, source, folder / "plain.tif", profile, "linear"]
        subprocess.run([str(word) for word in tools], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        return done.cpu / cpu, done.wall

    def peak(root: Path) -> tuple[float, float]:
        done = one(root, jpeg)
        return done.peak, done.wall

    for source, name in ((jpeg, "JPEG"), (deep, "TIFF of 16 bits")):
        work = f"prepare, 36-megapixel {name} to A4 / libvips in linear light"
        yield Cell(work, "x", 0.9, 0.8, partial(ratio, source=source))
        yield Cell(f"{work}, packed", "x", 0.9, 0.8, partial(ratio, source=source, house=packed))
    yield Cell("peak memory, prepare, 36 megapixels", "MB", 250, 150, peak)


ROWS = (
    small,
    large,
    memory,
    first_line,
    start,
    proof_large,
    proof_issue,
    pages,
    prepare_again,
    prepare_large,
)


def main() -> None:
    """Print the table, or how the cost grows."""
    options = _options()
    ctypes.CDLL(None).prctl(SUBREAPER, 1, 0, 0, 0)
    with tempfile.TemporaryDirectory() as folder:
        roots = [root for root in (options.before, HERE) if root]
        _compiled(roots, Path(folder))
        if options.growth:
            _growth(Path(folder), options.most)
            return
        print("| work | " + "before | " * (len(roots) - 1) + "now | bar | ambition |")
        print("|---" * (len(roots) + 3) + "|")
        for row in ROWS:
            if options.only not in row.__name__:
                continue
            for cell in row(Path(folder)):
                told = " | ".join(_medians(cell, roots, options.rounds))
                limits = f"{cell.bar:g} {cell.unit} | {cell.ambition:g} {cell.unit}"
                print(f"| {cell.work} | {told} | {limits} |", flush=True)


def _compiled(roots: Sequence[Path], folder: Path) -> None:
    """Run each command once, so that no row pays for compiling it."""
    (path,) = _many(folder / "before all", 1, 400)
    for root in roots:
        spent(root, "check", path, *HOUSE, "--no-cache")
        for command in ("prepare", "proof"):
            into = Path(tempfile.mkdtemp(dir=folder))
            spent(root, command, path, *HOUSE, "--into", into, "--size", "30x20mm", cache=into)


def _medians(cell: Cell, roots: Sequence[Path], rounds: int) -> list[str]:
    """Return the median figure of each checkout, taken in turn."""
    taken: dict[Path, list[tuple[float, float]]] = {root: [] for root in roots}
    for _ in range(rounds):
        for root in roots:
            taken[root].append(cell.figure(root))
    return [_median(figures, cell.unit) for figures in taken.values()]


def _median(figures: Sequence[tuple[float, float]], unit: str) -> str:
    known = [pair for pair in figures if not math.isnan(pair[0])]
    if not known:
        return "lost in noise"
    value, clock = map(statistics.median, zip(*known, strict=True))
    return f"{value:.3g} {unit} ({clock:.2g} s)"


def _growth(folder: Path, most: int) -> None:
    print("| megapixels | processor | over its decode | peak |\n|---|---|---|---|")
    for width in (1200, 2400, 3800, 6720, 9000, 12_240):
        path = camera_picture(folder / f"{width}.jpg", width, width * 2 // 3)
        pictures = [path, *(_linked(path, number) for number in range(2))]
        cpu, _ = _each(HERE, pictures, 1, 1)
        peak = _check(HERE, [path], 1).peak
        size, times = width * (width * 2 // 3) / 1e6, cpu / decoding(path)
        print(f"| {size:.1f} | {cpu:.3f} s | {times:.2f} x | {peak:.0f} MB |", flush=True)
        for one in pictures:
            one.unlink()
    print("\n| pictures of 480 px | processor | a picture | peak |\n|---|---|---|---|")
    pictures = _many(folder / "archive", most, 480)
    for count in [*takewhile(lambda count: count < most, (10, 100, 1000, 10_000)), most]:
        done = _check(HERE, [folder / "archive"] if count == most else pictures[:count], 2)
        each = done.cpu / count * 1000
        print(f"| {count} | {done.cpu:.1f} s | {each:.1f} ms | {done.peak:.0f} MB |", flush=True)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--before", type=Path, metavar="CHECKOUT")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", default="", metavar="WORD")
    parser.add_argument("--growth", action="store_true")
    parser.add_argument("--most", type=int, default=1000, metavar="PICTURES")
    return parser.parse_args()


def _many(folder: Path, count: int, width: int) -> list[Path]:
    """Return that many JPEGs of a width in px, every one with other bytes."""
    folder.mkdir()
    values = draw(width, width * 2 // 3)
    return [
        write_picture(folder / f"{number:06}.jpg", np.roll(values, number, 1), words=CREDITED)
        for number in range(count)
    ]


def _linked(path: Path, number: int) -> Path:
    other = path.with_name(f"{path.stem}-{number}{path.suffix}")
    os.link(path, other)
    return other


def camera_picture(path: Path, width: int, height: int) -> Path:
    """Return a JPEG with soft tones, texture and noise, as heavy as a camera's; drawn once."""
    if path.exists():
        return path
    rng = np.random.default_rng(3)
    tile = rng.normal(0, 1, (512, 736, 3)).astype(np.float32)
    texture = pyvips.Image.new_from_array(tile).gaussblur(0.8)
    texture = texture.replicate(-(-width // 736), -(-height // 512)).crop(0, 0, width, height)
    clouds = pyvips.Image.perlin(width, height, cell_size=512, seed=5)
    image = (clouds * 90 + 128 + texture * 20).cast("uchar").copy(interpretation="srgb")
    return write_picture(path, image.numpy(), words=CREDITED)


def decoding(path: Path) -> float:
    """Return the processor seconds that libvips takes to decode a picture and take its average."""

    def once() -> float:
        before = time.process_time()
        pyvips.Image.new_from_file(str(path), access="sequential").avg()
        return time.process_time() - before

    return statistics.median(once() for _ in range(3))


def _first_line(root: Path, path: Path) -> float:
    leader, terminal = pty.openpty()
    termios.tcsetwinsize(terminal, (25, 100))
    call = [sys.executable, "-m", "pressworthy", "check", str(path), *HOUSE, "--no-cache"]
    start = time.perf_counter()
    quiet = subprocess.DEVNULL
    process = subprocess.Popen(call, stderr=terminal, stdout=quiet, env=_environment(root))
    select.select([leader], [], [], 60)
    seconds = time.perf_counter() - start
    process.wait()
    os.close(terminal)
    os.close(leader)
    _wait_for_orphans()
    return seconds


if __name__ == "__main__":
    main()
