"""An archive of many pictures, by hand: time, memory, and what a second run costs.

    .venv/bin/python tests/benchmarks/archive.py [PICTURES] [WIDTH]

Draws PICTURES (20,000) JPEGs of WIDTH (480) px, checks them with a cache of their own, then again,
as the command does it, and prints seconds, pictures a second, the peak memory of the command and
of its largest worker, bytes of the cache, and the bytes that the second run read.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import psutil

from pressworthy.jobs.running.cache import HEAD_BYTES
from pressworthy.testing import CREDITED, draw, write_picture


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    width = int(sys.argv[2]) if len(sys.argv) > 2 else 480
    with tempfile.TemporaryDirectory() as folder:
        pictures = Path(folder) / "archive"
        size = draw_archive(pictures, count, width)
        print(f"{count} pictures of {width} px, {size / 1e6:.0f} MB")
        time.sleep(2)
        seconds = []
        for name in ("first", "second"):
            took, own, workers = run(pictures, Path(folder), name)
            seconds.append(took)
            print(
                f"{name} run: {took:.1f} s, {count / took:.0f} pictures a second; "
                f"peak {own:.0f} MB, largest worker {workers:.0f} MB"
            )
        same = (Path(folder) / "first").read_bytes() == (Path(folder) / "second").read_bytes()
        cache = sum(path.stat().st_size for path in Path(folder).glob("cache*"))
        heads = sum(min(p.stat().st_size, HEAD_BYTES) for p in pictures.rglob("*.jpg"))
        print(f"second / first {seconds[1] / seconds[0]:.3f}; reports the same: {same}")
        print(f"cache {cache / count:.0f} bytes a picture; heads {heads / 1e6:.0f} MB")


def draw_archive(folder: Path, count: int, width: int) -> int:
    """Draw the pictures, every one with other bytes, a thousand a folder; return their bytes."""
    values = draw(width, width * 2 // 3)
    size = 0
    for number in range(count):
        place = folder / f"{number // 1000:03}"
        place.mkdir(parents=True, exist_ok=True)
        path = place / f"{number:06}.jpg"
        write_picture(path, np.roll(values, number, axis=1), words=CREDITED)
        size += path.stat().st_size
    return size


def run(pictures: Path, folder: Path, name: str) -> tuple[float, float, float]:
    """Return the seconds of one run, and the peak memory in MB of it and of its largest worker."""
    call: list[str | Path] = [
        sys.executable, "-m", "pressworthy", "check", pictures, "--house", "coated-magazine",
        "--format", "json", "--output", folder / name, "--cache", folder / "cache",
    ]  # fmt: skip
    start = time.perf_counter()
    process = subprocess.Popen(call)
    peaks: dict[int, int] = {}
    thread = threading.Thread(target=watch, args=(psutil.Process(process.pid), peaks))
    thread.start()
    process.wait()
    seconds = time.perf_counter() - start
    thread.join()
    own = peaks.pop(process.pid, 0)
    return seconds, own / 1e6, max(peaks.values(), default=0) / 1e6


def watch(process: psutil.Process, peaks: dict[int, int]) -> None:
    """Note the largest resident memory of the process and each of its children while it runs."""
    while process.is_running() and process.status() != psutil.STATUS_ZOMBIE:
        try:
            for one in [process, *process.children(recursive=True)]:
                peaks[one.pid] = max(peaks.get(one.pid, 0), one.memory_info().rss)
        except psutil.NoSuchProcess:
            continue
        time.sleep(0.2)


if __name__ == "__main__":
    main()
