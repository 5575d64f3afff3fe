"""Bad input for as long as is asked, each case in a process of its own; what breaks is kept.

    fuzz.py --minutes 60 --seed 1 --folder finds
    fuzz.py --seed 1 --folder finds --only icc:123

A case is a kind and a number; with the seed they make the same input each time. It may end well:
read, or refused in words. A traceback, a signal, more than its time or memory, and a result that
another reader contradicts are finds: folder/KIND-NUMBER-END holds the input and tell.txt, which
says how to have it again. By hand, on Linux.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))
# a thread of its own would not live on in a case's process
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
import spoil
import yaml
from inputs import LISTS, ROOT
from PIL import Image

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import identify
from pressworthy.files.metadata import iim, xmp
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.metadata.words import read_iim, read_xmp
from pressworthy.files.opening import decode, read_header, upright
from pressworthy.files.pages import UnreadPages, survey
from pressworthy.files.picture_list import read_list
from pressworthy.files.waivers import read_waivers
from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.jobs.pages import check_places
from pressworthy.plugins import load
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.testing import xmp as packet_of
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import State, Unmeasured, Verdict
from pressworthy.values.machine import DISK, FILES, MEMORY, SYSTEM
from pressworthy.values.placement import PlacementRequest
from pressworthy.yamlfile import read

WALL_SECONDS = 30.0
CPU_SECONDS = 25
MEMORY_BYTES = 4_000_000_000
MOST_OFF = 3
"""Codes of 255 by which two readers may differ: their JPEG decoders round apart."""

READ, REFUSED = "read", "refused"
ENDS = (READ, REFUSED, "traceback", "signal", "overrun", "silent wrong")
TROUBLE = (MEMORY, DISK, FILES, SYSTEM, "to decode it takes")
PLACED = PlacementRequest((10, 7.5))
CONDITIONS = ROOT / "profiles" / "pressworthy_profiles" / "conditions"

REGISTRY = load()
HOUSE: House = load_house("coated-magazine", REGISTRY)
RUN = Run(REGISTRY, processes=1)


class SilentlyWrong(Exception):  # noqa: N818 - an end of a case
    """A result that was given without a word and is contradicted."""


def a_picture(folder: Path, rng: random.Random) -> str:
    """Open, decode and judge a spoiled picture; what is told as whole must be what Pillow reads."""
    kind = rng.choice(list(spoil.KINDS))
    path = folder / f"input{spoil.KINDS[kind][0]}"
    spoil.picture(path, kind, rng)
    verdict = check_picture(Task(path, PLACED), HOUSE, RUN)
    end = judged(verdict)
    told = [o for o in verdict.outcomes if o.rule == "read-whole"]
    if end == READ and all(o.state is State.PASSED for o in told):
        compare(path)
    return end


def judged(verdict: Verdict) -> str:
    """Return how a verdict ends a case. Raises AssertionError with what broke."""
    broken = [
        f"{o.rule}: {o.reason}"
        for o in verdict.outcomes
        if o.state is State.BROKEN and not o.reason.startswith(TROUBLE)
    ]
    assert not broken, "; ".join(broken)
    return READ if any(o.state is not State.UNMEASURED for o in verdict.outcomes) else REFUSED


def compare(path: Path) -> None:
    """Raise SilentlyWrong where Pillow reads other pixels, of the kinds that both give alike."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(path) as other:
                if other.mode not in ("L", "RGB") or other.format in ("MPO", "AVIF"):
                    return
                theirs = np.asarray(other, int)
        except Exception:
            return  # it reads less, or more strictly
    image = decode(path)
    if path.suffix == ".tif":
        image = upright(image, read_header(path).orientation)  # as Pillow does of these alone
    ours = image.numpy().astype(int)
    if theirs.shape[:2] != ours.shape[:2]:
        raise SilentlyWrong(f"{ours.shape} px, and Pillow reads {theirs.shape}")
    if theirs.size == ours.size and image.format == "uchar":
        off = np.abs(ours.reshape(theirs.shape) - theirs)
        if (off > MOST_OFF).mean() > 0.01:
            raise SilentlyWrong(f"{(off > MOST_OFF).mean():.0%} of the values differ from Pillow's")


def a_profile(folder: Path, rng: random.Random) -> str:
    """Parse a spoiled ICC profile, and judge a picture that carries it."""
    mode = rng.choice(("RGB", "RGB", "CMYK", "gray"))
    whole = rgb_profile(rng.choice(("sRGB", "opRGB", "ROMM RGB")))
    if mode != "RGB":
        name = {"CMYK": "cmyk.icc", "gray": "gray.icc"}[mode]
        whole = (CONDITIONS / rng.choice(("newsprint", "uncoated")) / name).read_bytes()
    data = spoil.any_bytes(whole, rng)
    if rng.random() < 0.7:
        # a wrong length alone would hide what stands behind it
        data = len(data).to_bytes(4, "big") + data[4:]
    (folder / "input.icc").write_bytes(data)
    end = READ
    try:
        profile = parse(data)
        identify(profile)
        profile.description()
    except DamagedProfile:
        end = REFUSED
    bands = {"RGB": 3, "CMYK": 4, "gray": 1}[mode]
    path = folder / "input.tif"
    write_picture(path, draw(48, 36, channels=bands), mode=mode, icc=None,
                  fields={"icc-profile-data": data or b"?"})  # fmt: skip
    judged(check_picture(Task(path, PLACED), HOUSE, RUN))
    return end


def a_packet(folder: Path, rng: random.Random) -> str:
    """Read a spoiled XMP packet; what is read of it must be read again when it is written."""
    whole = packet_of(CREDITED)
    if rng.random() < 0.1:
        deep = rng.choice((90, 5000, 100_000))
        nested = b"<dc:a>" * deep + b"</dc:a>" * deep
        data = whole.replace(b"</rdf:Description>", nested + b"</rdf:Description>", 1)
    elif rng.random() < 0.5:
        odd = {rng.choice(list(CREDITED)): rng.choice(spoil.ODD) for _ in range(rng.choice((1, 2)))}
        data = packet_of({**CREDITED, **odd})
        for _ in range(rng.choice((0, 1, 2))):
            tag = rng.choice((b"rdf:Seq", b"rdf:Alt", b"rdf:li", b"dc:creator", b"rdf:Description"))
            data = data.replace(tag, rng.choice((b"rdf:Bag", b"dc:rights", b"rdf:RDF", b"dc:x")))
    elif rng.random() < 0.5:
        data = spoil.set_up(whole.decode(), rng)
    else:
        data = spoil.any_bytes(whole, rng)
    (folder / "input.xmp").write_bytes(data)
    read_ticket(data)
    words, found = read_xmp(data), xmp.properties(data)
    if found and (again := read_xmp(xmp.write(found))) != words:
        raise SilentlyWrong(f"written as {again}, read as {words}")
    return READ if found else REFUSED


def records(folder: Path, rng: random.Random) -> str:
    """Read spoiled IPTC-IIM records; a copy's must read the same."""
    data = spoil.any_bytes(spoil.iptc() * rng.choice((1, 1, 3)), rng)
    if rng.random() < 0.3:
        data = spoil.any_bytes(iim.for_copy(data, "JPEG") or data, rng)
    (folder / "input.iim").write_bytes(data)
    words = read_iim(data)
    for kind in ("TIFF", "JPEG"):
        carried = iim.for_copy(data, kind)
        if carried and (again := read_iim(carried)) != words:
            raise SilentlyWrong(f"carried into a {kind} as {again}, read as {words}")
    return READ if words else REFUSED


def a_list(folder: Path, rng: random.Random) -> str:
    """Read a spoiled picture list or waivers; no line that is not empty may be passed over."""
    kind = rng.choice(("csv", "csv", "yaml", "waivers"))
    data = text_of(LISTS[kind], rng)
    path = folder / f"input.{'csv' if kind == 'csv' else 'yaml'}"
    path.write_bytes(data)
    try:
        entries = len(read_waivers(path) if kind == "waivers" else read_list(path))
    except SetupError as error:
        assert error.faults and str(error).strip(), "refused without a word"
        return REFUSED
    if kind == "csv":
        text = data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        between = ";" if text.lstrip().startswith("picture;") else ","
        lines = list(csv.reader(io.StringIO(text), delimiter=between))
        there = sum(any(cell.strip() for cell in row) for row in lines) - 1
    else:
        there = len(next(v for v in plain(data).values() if isinstance(v, list)))
    if entries != there:
        raise SilentlyWrong(f"{entries} entries of {there} lines")
    return READ


def a_house(folder: Path, rng: random.Random) -> str:
    """Load a spoiled house profile; what is accepted has the keys that PyYAML sees."""
    files = sorted(ROOT.glob("profiles/pressworthy_profiles/[!h]*.yaml"))
    files += sorted(ROOT.glob("demo/houses/*.yaml"))
    chosen = rng.choice(files)
    path = folder / chosen.name
    data = text_of(chosen.read_text("utf-8"), rng)
    path.write_bytes(data)
    if chosen.stem == "house":
        # it has no output of its own: a title stands on it
        title = chosen.with_name("slack-tide.yaml")
        shutil.copy(title, folder)
    with contextlib.suppress(SetupError):
        value = read(path).value
        if keys(value) != keys(plain(data)):
            raise SilentlyWrong("other keys than PyYAML reads")
    try:
        load_house(str(folder / title.name if chosen.stem == "house" else path), REGISTRY)
    except SetupError as error:
        assert error.faults and str(error).strip(), "refused without a word"
        return REFUSED
    return READ


def text_of(text: str, rng: random.Random) -> bytes:
    """Return a text spoiled, or, in half of the cases, with other numbers in place of some."""
    if rng.random() < 0.5:
        return spoil.set_up(text, rng)
    numbers = list(re.finditer(r"\d+", text))
    for found in sorted(
        rng.sample(numbers, min(len(numbers), rng.choice((1, 2)))), key=lambda one: -one.start()
    ):
        other = rng.choice(
            ("0", "1", "7", "100", "0.5", "1e3", "-1", found[0] * 2, found[0] + ".5")
        )
        text = text[: found.start()] + other + text[found.end() :]
    return text.encode()


def plain(data: bytes) -> Any:
    """Return YAML as PyYAML reads it, every scalar as text."""
    return yaml.load(data.decode("utf-8-sig"), yaml.BaseLoader)


def keys(value: Any) -> Any:
    """Return the shape of a value: keys and lengths."""
    if isinstance(value, dict):
        return {str(key): keys(item) for key, item in value.items()}
    return [keys(item) for item in value] if isinstance(value, list) else None


def a_page(folder: Path, rng: random.Random) -> str:
    """Read a spoiled PDF and judge what is placed on it."""
    path = spoil.pages(folder / "input.pdf", rng)
    try:
        placed = survey(path)
    except UnreadPages:
        return REFUSED
    for one in placed[:10]:
        for verdict in check_places([one], HOUSE, RUN):
            judged(verdict)
    return READ


KINDS: dict[str, Callable[[Path, random.Random], str]] = {
    "opening": a_picture, "icc": a_profile, "xmp": a_packet, "iim": records, "lists": a_list,
    "yaml": a_house, "pdf": a_page,
}  # fmt: skip
TURN = ("opening", "opening", "opening", "icc", "icc", "xmp", "iim", "lists", "yaml", "pdf")


def run(kind: str, number: int, seed: int, folder: Path) -> tuple[str, str]:
    """Run one case in a process of its own; return its end and what was told."""
    told = folder / "tell.txt"
    child = os.fork()
    if not child:
        _case(kind, number, seed, folder, told)
    end, status = time.monotonic() + WALL_SECONDS, None
    while status is None and time.monotonic() < end:
        done, code = os.waitpid(child, os.WNOHANG)
        status = code if done else None
        time.sleep(0.003)
    if status is None:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return "overrun", f"more than {WALL_SECONDS:g} s"
    said = told.read_text("utf-8", "replace") if told.exists() else ""
    if os.WIFSIGNALED(status):
        by = os.WTERMSIG(status)
        over = by in (signal.SIGXCPU, signal.SIGKILL)
        return "overrun" if over else "signal", f"signal {by}\n{said}"
    way, _, said = said.partition("\n")
    return (way if way in ENDS else "traceback"), said


def _case(kind: str, number: int, seed: int, folder: Path, told: Path) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with told.open("w") as words:
        os.dup2(words.fileno(), 2)  # what libraries say of their end
        os.dup2(words.fileno(), 1)
    try:
        said = KINDS[kind](folder, random.Random(f"{seed} {kind} {number}"))
    except SilentlyWrong as wrong:
        said = f"silent wrong\n{wrong}"
    except Unmeasured:
        said = REFUSED
    except BaseException:
        said = f"traceback\n{traceback.format_exc()}"
    told.write_text(said, "utf-8", "backslashreplace")
    os._exit(0)


def cases(minutes: float) -> Iterator[tuple[str, int]]:
    """Yield kinds and numbers until the time is up."""
    end, numbers = time.monotonic() + 60 * minutes, Counter[str]()
    while True:
        for kind in TURN:
            if time.monotonic() > end:
                return
            yield kind, numbers[kind]
            numbers[kind] += 1


def main() -> int:
    """Run cases, keep what breaks, and print a table of how they ended."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=Path("finds"))
    parser.add_argument("--only", metavar="KIND:NUMBER", help="one case, as tell.txt names it")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    if asked.only:
        kind, _, number = asked.only.partition(":")
        wanted: Iterator[tuple[str, int]] = iter([(kind, int(number))])
    else:
        wanted = cases(asked.minutes)
    table = {kind: Counter[str]() for kind in KINDS}
    with tempfile.TemporaryDirectory(prefix="pw-fuzz-") as name:
        os.environ.update(TMPDIR=name, XDG_CACHE_HOME=name)
        for kind, number in wanted:
            folder = Path(name) / "case"
            folder.mkdir()
            end, said = run(kind, number, asked.seed, folder)
            table[kind][end] += 1
            if end not in (READ, REFUSED):
                keep(asked.folder, folder, f"{kind}-{number}-{end.replace(' ', '-')}", said)
                again = f"fuzz.py --seed {asked.seed} --only {kind}:{number}"
                print(f"{again}: {end}: {said.strip()[-200:]}", file=sys.stderr, flush=True)
            shutil.rmtree(folder)
    print(f"| input | cases | {' | '.join(ENDS)} |\n|{' --- |' * (len(ENDS) + 2)}")
    for kind, ends in table.items():
        print(f"| {kind} | {ends.total()} | {' | '.join(str(ends[end]) for end in ENDS)} |")
    return int(any(end not in (READ, REFUSED) for ends in table.values() for end in ends))


def keep(finds: Path, folder: Path, name: str, said: str) -> None:
    """Copy a case's input to where finds stay, with what was told."""
    shutil.copytree(folder, finds / name, dirs_exist_ok=True)
    told = {"case": name, "python": sys.version.split()[0]}
    (finds / name / "tell.txt").write_text(f"{json.dumps(told)}\n{said}", "utf-8")


if __name__ == "__main__":
    raise SystemExit(main())
