"""Speed and memory of `check`, by hand: .venv/bin/python tests/benchmarks/check.py [RUNS]

Prints, for a 36-megapixel JPEG, the time libvips needs to decode it and take its average, the time
of the whole check in one process (start-up apart) and their ratio, run in turn; each rule's share;
peak memory of a worker; and the start-up of `pressworthy --help`.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyvips

from pressworthy.house import load_house
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.plugins import load
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.finding import Verdict
from pressworthy.values.placement import PlacementRequest

WIDTH, HEIGHT = 7360, 4912


def main() -> None:
    """Print the figures."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        path = large_picture(Path(folder) / "large.jpg")
        print(f"{WIDTH} x {HEIGHT} px, {path.stat().st_size / 1e6:.1f} MB JPEG, {runs} runs")
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        registry = load()
        house = load_house("coated-magazine", registry)
        task = Task(path, PlacementRequest((620, 414)))
        check_picture(task, house, Run(registry))  # loads libraries; start-up is not counted
        ratios, verdict = [], None
        for _ in range(runs):
            decode = timed(lambda: pyvips.Image.new_from_file(str(path), access="sequential").avg())
            start = time.perf_counter()
            verdict = check_picture(task, house, Run(registry))
            whole = time.perf_counter() - start
            ratios.append(whole / decode)
            print(f"  decode {decode:.3f} s  check {whole:.3f} s  ratio {whole / decode:.2f}")
        print(f"ratio, median: {statistics.median(ratios):.2f} (wanted: at most 3)")
        assert isinstance(verdict, Verdict)
        for outcome in verdict.outcomes:
            print(f"  {outcome.rule:<18} {outcome.state:<11} {outcome.seconds * 1000:7.1f} ms")
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        print(f"peak memory {peak / 1024:.0f} MB (before {before / 1024:.0f}; wanted: under 600)")
    starts = [timed(help_) for _ in range(runs)]
    print(f"--help: {statistics.median(starts):.3f} s (wanted: under 0.3)")


def large_picture(path: Path) -> Path:
    """Write a picture with soft tones, texture and noise, as heavy as a camera's."""
    rng = np.random.default_rng(3)
    tile = rng.normal(0, 1, (512, 736, 3)).astype(np.float32)
    texture = pyvips.Image.new_from_array(tile).gaussblur(0.8).replicate(10, 10)
    clouds = pyvips.Image.perlin(WIDTH, HEIGHT, cell_size=512, seed=5)
    image = clouds * 90 + 128 + texture.crop(0, 0, WIDTH, HEIGHT) * 20
    small = image.cast("uchar").copy(interpretation="srgb")
    return write_picture(path, small.numpy(), words=CREDITED, Q=92)


def timed(work: object) -> float:
    """Return the seconds of one call."""
    start = time.perf_counter()
    work()  # type: ignore[operator]
    return time.perf_counter() - start


def help_() -> None:
    """Start the program for its help."""
    subprocess.run([sys.executable, "-m", "pressworthy", "--help"], check=True, capture_output=True)


if __name__ == "__main__":
    main()
