"""Speed and memory of `prepare`, by hand: .venv/bin/python tests/benchmarks/prepare.py [RUNS]

Makes a coated-magazine copy of 297 x 210 mm of a 36-megapixel JPEG and of a 16-bit TIFF, as a whole
process, in turn with libvips doing as much of the job as it has tools for: thumbnail to the size,
sharpen, ICC transform, LZW TIFF. Prints the ratio to libvips in linear light, as the copy is made
(`--linear` of its thumbnail tool), and to its quicker way in coded values; peak memory; and how
eight copies gain from --jobs.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyvips
from check import HEIGHT, WIDTH, large_picture

from pressworthy.house import load_house
from pressworthy.plugins import load

PLAIN = """
import sys, pyvips
source, target, profile, linear = sys.argv[1:]
image = pyvips.Image.thumbnail(source, 3508, height=2480, crop="centre", linear=linear == "linear")
image = image.sharpen(sigma=1.5)
image = image.icc_transform(
    profile, embedded=True, intent="relative", black_point_compensation=True)
image.tiffsave(target, compression="lzw", predictor="horizontal", xres=300 / 25.4, yres=300 / 25.4)
"""


def main() -> None:
    """Print the figures."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    profile = load_house("coated-magazine", load()).output.condition.profiles["cmyk"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        jpeg = large_picture(folder / "large.jpg")
        deep = folder / "deep.tif"
        image = pyvips.Image.new_from_file(str(jpeg))
        (image.cast("ushort") * 257).cast("ushort").copy(interpretation="rgb16").tiffsave(str(deep))
        for source in (jpeg, deep):
            print(f"{source.name}: {WIDTH} x {HEIGHT} px, {source.stat().st_size / 1e6:.0f} MB")
            compare(source, folder, str(profile), runs)
        for jobs in (1, os.cpu_count() or 1):
            print(f"eight copies, --jobs {jobs}: {eight(jpeg, folder, jobs):.1f} s")


def compare(source: Path, folder: Path, profile: str, runs: int) -> None:
    """Time the whole processes in turn and print their ratios."""
    plain = [sys.executable, "-c", PLAIN, str(source), str(folder / "plain.tif"), profile]
    ratios: dict[str, list[float]] = {"linear": [], "coded": []}
    for _ in range(runs):
        whole, peak = timed([*prepare(source, folder / "out"), "--force"])
        for way, found in ratios.items():
            seconds, _ = timed([*plain, way])
            found.append(whole / seconds)
            print(f"  prepare {whole:.2f} s, {peak:.0f} MB  libvips {way} {seconds:.2f} s")
    for way, found in ratios.items():
        print(f"  ratio to libvips {way}, median: {statistics.median(found):.2f}")


def eight(source: Path, folder: Path, jobs: int) -> float:
    """Return the seconds that eight copies of one master take."""
    masters = folder / "masters"
    masters.mkdir(exist_ok=True)
    for i in range(8):
        link = masters / f"{i}.jpg"
        if not link.exists():
            os.link(source, link)
    command = [*prepare(masters, folder / "many"), "--force", "--jobs", str(jobs)]
    return timed(command)[0]


def prepare(source: Path, into: Path) -> list[str]:
    """Return the command."""
    call = [sys.executable, "-m", "pressworthy", "prepare", str(source), "--into", str(into)]
    return [*call, "--house", "coated-magazine", "--size", "297x210mm", "--skip", "*.yaml"]


def timed(command: list[str]) -> tuple[float, float]:
    """Return seconds and peak memory, MB, of a process and those it waited for."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in (0, 1), command
    return time.perf_counter() - start, usage.ru_maxrss / 1024


if __name__ == "__main__":
    main()
