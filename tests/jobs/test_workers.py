"""Worker processes: results, deaths, hangs, endings; most in real runs of the command."""

from __future__ import annotations

import ctypes
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import pyvips
from commanded import commanded

from pressworthy.jobs.running import worker, workers
from pressworthy.jobs.running.workers import Limits
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError

QUICK = Limits(seconds=1.0)


def work(task: str) -> str:
    if task == "dies":
        os._exit(3)
    if task == "raises":
        raise KeyError("none foresaw it")
    if task == "tells":
        worker.tell("half of it")
        os.abort()
    if task == "interrupts":
        raise KeyboardInterrupt
    if task == "hangs":
        time.sleep(60)
    if task == "hangs in C":
        ctypes.PyDLL(None).sleep(60)  # which keeps Python's lock
    return task.upper()


def lost(task: str, why: str, told: Sequence[Any]) -> str:
    return f"lost {task}"


@pytest.mark.parametrize("processes", [1, 3])
def test_every_task_has_its_result_whatever_the_others_do(processes: int) -> None:
    tasks = ["a", "dies", "b", "hangs", "c", "d", "dies", "e"]
    results = workers.run(work, tasks, lost, processes=processes, limits=QUICK)
    assert sorted(results) == ["A", "B", "C", "D", "E", "lost dies", "lost dies", "lost hangs"]


@pytest.mark.skipif(os.name == "nt", reason="signals and sleep() are POSIX")
@pytest.mark.parametrize(
    ("task", "told"),
    [
        ("dies", "exit status 3), twice"),
        ("tells", "SIGABRT), twice"),
        ("hangs", "it took longer than 1 s; --time"),
        ("hangs in C", "it took longer than 1 s; --time"),
        ("raises", "KeyError: 'none foresaw it' (test_workers.py:"),
        ("interrupts", "KeyboardInterrupt"),
    ],
)
def test_the_reason_is_told(task: str, told: str) -> None:
    done = workers.run(
        work,
        ["a", task, "b"],
        lambda task, why, so_far: f"{why} {[*so_far]}",
        processes=1,
        limits=QUICK,
    )
    one, two, why = sorted(done, key=len)
    assert {one, two} == {"A", "B"}
    assert told in why
    assert why.endswith("['half of it']" if task == "tells" else "[]")


def test_no_tasks_are_no_work() -> None:
    assert list(workers.run(work, [], lost, processes=2)) == []


class Unfit:
    """Cannot be unpickled elsewhere."""

    def __init__(self, how: str) -> None:
        self.how = how

    def __reduce__(self) -> Any:
        return fails_there, (self.how,)


def fails_there(how: str) -> None:
    if how == "raises":
        raise ImportError("no module of that name")
    if how == "dies":
        os._exit(7)
    time.sleep(60)


@pytest.mark.parametrize(
    ("how", "why"),
    [("raises", "no module of that name"), ("dies", "exit status 7"), ("hangs", "within 1 s")],
)
def test_workers_that_cannot_start_are_told(
    how: str, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "START_SECONDS", 1.0 if how == "hangs" else 60.0)
    with pytest.raises(SetupError, match=f"no worker process can start: .*{why}"):
        list(workers.run(work, ["a", "b"], lost, processes=2, given=(Unfit(how),)))


PLUGIN = """
import ctypes, os, sys, threading, time
{above}
from pathlib import Path
from pressworthy.hookspecs import hookimpl
from pressworthy.values.finding import Finding
from pressworthy.values.rule import Rule

def check(picture, options):
    Path(__file__).with_suffix(".here").touch()
{body}
    return []

@hookimpl
def pressworthy_rules():
    return [Rule("own", check, {{}}, {{"odd": "something is odd"}}, "A rule of one's own.")]
"""
HOUSE = """
house: own-house
kind: output
stands on: mono
rules:
  own:
    severity:
      odd: note
"""


def call(folder: Path, body: str, *options: str, pictures: int = 1, above: str = "") -> list[str]:
    """Return the command that checks pictures by a house with a rule of that body.

    above: what the rule's module does when it is loaded.
    """
    plugin, house, masters = folder / "plug.py", folder / "own-house.yaml", folder / "in"
    lines = "\n".join(f"    {line}" for line in body.splitlines())
    plugin.write_text(PLUGIN.format(body=lines, above=above))
    house.write_text(HOUSE)
    masters.mkdir()
    for number in range(pictures):
        write_picture(masters / f"{number}.jpg", draw(160, 120, seed=number), words=CREDITED)
    return [sys.executable, "-m", "pressworthy", "check", str(masters), "--house", str(house),
            "--plugin", str(plugin), "--format", "json", *options]  # fmt: skip


def outcomes(stdout: str | bytes) -> dict[str, Any]:
    """Return rule -> outcome of the one picture of a report."""
    (picture,) = json.loads(stdout)["pictures"]
    return {outcome["rule"]: outcome for outcome in picture["outcomes"]}


def of_group(group: int) -> list[str]:
    """Return what still runs of a process group: of each process its number and state."""
    left = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            number, _, rest = status.read_text().partition(" (")
        except OSError:  # it has just ended
            continue
        state, _, of, *_ = rest.rpartition(") ")[2].split()
        if int(of) == group and state != "Z":
            left.append(f"{number} {state}")
    return left


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are seen in /proc")
@pytest.mark.parametrize("body", ["time.sleep(60)", "ctypes.PyDLL(None).sleep(60)"])
@pytest.mark.parametrize(
    ("signals", "statuses"),
    [
        ([signal.SIGINT], {130}),
        ([signal.SIGTERM], {143}),
        ([signal.SIGHUP], {129}),
        # by the second, unless the first was quicker
        ([signal.SIGINT, signal.SIGINT], {-signal.SIGINT, 130}),
        ([signal.SIGKILL], {-signal.SIGKILL}),
    ],
)
def test_nothing_outlives_the_parent(
    signals: Sequence[int], statuses: set[int], body: str, tmp_path: Path
) -> None:
    out = tmp_path / "out.json"
    run = subprocess.Popen(
        call(tmp_path, body, "--output", str(out), "--jobs", "2", pictures=3),
        stdout=-1,
        stderr=-1,
        start_new_session=True,
    )
    end = time.monotonic() + 60
    while not (tmp_path / "plug.here").exists():
        assert time.monotonic() < end and run.poll() is None, "it did not begin"
        time.sleep(0.02)
    assert len(of_group(run.pid)) >= 3  # the parent, a worker, and what starts workers
    for number in signals:
        run.send_signal(number)  # to the parent alone
        time.sleep(0.2)
    end = time.monotonic() + 5
    while of_group(run.pid) and time.monotonic() < end:
        time.sleep(0.05)
    assert of_group(run.pid) == []
    _, told = run.communicate(timeout=5)
    assert run.returncode in statuses
    assert b"Traceback" not in told
    assert not out.exists()
    if run.returncode > 0:
        assert told == b"stopped; nothing was left half written\n"
        assert not list(tmp_path.glob("*.part"))


@pytest.mark.skipif(os.name == "nt", reason="sleep() and descriptors are POSIX")
@pytest.mark.parametrize(
    ("body", "state", "told"),
    [
        ("print('no JSON')", "passed", ""),
        ("os.write(1, b'no JSON')", "passed", ""),
        ("raise KeyboardInterrupt", "broken", "KeyboardInterrupt"),
        ("raise MemoryError", "broken", "too little memory"),
        ("raise OSError(28, 'No space left on device')", "broken", "disk"),
        ("time.sleep(60)", "broken", "longer than 4 s; --time gives each picture more; the rule "),
        ("ctypes.PyDLL(None).sleep(60)", "broken", "longer than 4 s; --time"),
        ("os.abort()", "broken", "SIGABRT), twice"),
        ("threading.Thread(target=time.sleep, args=(60,)).start()", "passed", ""),
    ],
)
def test_a_rule_harms_neither_the_report_nor_other_rules(
    body: str, state: str, told: str, tmp_path: Path
) -> None:
    command = call(tmp_path, body, "--time", "4")
    if "no JSON" in body or "Thread" in body:
        done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    else:
        done = commanded(*command[3:])
    seen = outcomes(done.stdout)
    assert (seen["own"]["state"], told in seen["own"]["reason"]) == (state, True)
    assert seen["resolution"]["state"] != "broken"
    assert "Traceback" not in done.stderr
    assert ("no JSON" in done.stderr) == ("no JSON" in body)


@pytest.mark.parametrize(
    "above", ["print('no JSON')", "threading.Thread(target=time.sleep, args=(60,)).start()"]
)
def test_a_plug_in_harms_no_report_when_it_is_loaded(above: str, tmp_path: Path) -> None:
    command = call(tmp_path, "pass", above=above)
    done = subprocess.run(command, capture_output=True, text=True, timeout=40)
    assert outcomes(done.stdout)["own"]["state"] == "passed"


def limited(size: int) -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


# most rules look at a picture while it streams by, and need neither disk nor memory for it whole
WHOLE = "from pressworthy.measure.pixels import pixels\npixels(picture)\nreturn []"


@pytest.mark.skipif(os.name == "nt", reason="the size of files is bounded by POSIX only")
def test_a_full_scratch_disk_is_the_machines_and_is_not_kept(tmp_path: Path) -> None:
    above = "from pressworthy.files import opening\nopening.IN_MEMORY_BYTES = 0"
    command = call(tmp_path, WHOLE, "--cache", str(tmp_path / "cache"), above=above)
    full = subprocess.run(
        command, capture_output=True, text=True, preexec_fn=lambda: limited(50_000)
    )
    assert full.returncode == 1, full.stderr
    seen = outcomes(full.stdout)
    broken = {one["reason"] for one in seen.values() if one["state"] == "broken"}
    assert len(broken) == 1 and "the disk is full" in broken.pop()
    assert "damaged or cut short" not in full.stdout
    mended = commanded(*command[3:])
    assert mended.returncode == 0, mended.stderr
    assert not [one for one in outcomes(mended.stdout).values() if one["state"] == "broken"]


def test_what_takes_too_much_memory_is_told_before(tmp_path: Path) -> None:
    command = call(tmp_path, WHOLE, "--memory", "100MB")
    white = pyvips.Image.black(4000, 3000, bands=3) + 255
    white.cast("uchar").copy(interpretation="srgb").jpegsave(
        str(tmp_path / "in" / "0.jpg"), interlace=True, subsample_mode="off"
    )
    little = commanded(*command[3:])
    reasons = {o["reason"] for o in outcomes(little.stdout).values() if o["state"] == "broken"}
    assert len(reasons) == 1
    # 36 MB of pixels, and twice as many of coefficients
    assert "about 0.2 GB of memory" in (*reasons,)[0] and "give --memory 0.2GB" in (*reasons,)[0]
    command[command.index("100MB")] = "0.2GB"
    enough = commanded(*command[3:])
    assert not [o for o in outcomes(enough.stdout).values() if o["state"] == "broken"]


ODD = 'Finding("odd", "this", "that", remedy={remedy})'


@pytest.mark.parametrize(
    ("body", "findings", "told"),
    [
        (f"return [{ODD.format(remedy='chr(97) * 150_000_000')}]", 1, "(cut: 150,000,000 char"),
        (f"return [{ODD.format(remedy='str()')}] * 100_000", 100, "(There are more; 100 are told"),
        (f"while True: yield {ODD.format(remedy='str()')}", 100, "(There are more; 100 are told"),
    ],
)
def test_what_a_rule_says_too_much_is_cut_and_told(
    body: str, findings: int, told: str, tmp_path: Path
) -> None:
    done = commanded(*call(tmp_path, body)[3:])
    (*_, last) = found = outcomes(done.stdout)["own"]["findings"]
    assert len(found) == findings and told in last["remedy"]
    assert len(done.stdout) < 200_000


ASKED = """
import os, sys, threading
from pathlib import Path
from pressworthy.jobs.running import birth
from pressworthy.jobs.running.cache import Cache
from pressworthy.jobs.running.worker import Worker, packed
from pressworthy.plugins import load

def tell(pipe, wanted):
    birth.as_new({})
    files = "/proc/self/fd"
    links = [f"{files}/{number}" for number in os.listdir(files)] if os.path.isdir(files) else []
    opened = [os.readlink(link) for link in links if os.path.islink(link)]
    pipe.send(([name for name in wanted if name in sys.modules], opened))

if __name__ == "__main__":
    load()
    if sys.argv[1] == "two threads":
        threading.Thread(target=threading.Event().wait, daemon=True).start()
    cache = Cache(Path(sys.argv[2]))
    worker = Worker(packed(str, (), 1_500_000_000))
    context = birth.context("")
    ours, theirs = context.Pipe()
    held = os.readlink(f"/proc/self/fd/{worker.pipe.fileno()}") if os.path.isdir("/proc") else ""
    child = birth.begin(context, tell, (theirs, sys.argv[3:]), (ours,))
    loaded, opened = ours.recv()
    child.join()
    print(context.get_start_method())
    print(*loaded)
    print(held in opened, any(name.startswith(sys.argv[2]) for name in opened))
    cache._try(lambda base: base.execute("SELECT 1 FROM files"))
    print(cache.trouble)
    worker.end(at_once=True)
"""
"""A process that is begun as a worker is, and does nothing else, tells what it is born with."""


@pytest.mark.skipif(os.name == "nt", reason="nothing is forked here")
@pytest.mark.parametrize("threads", ["one thread", "two threads"])
def test_workers_are_born_with_what_they_need_and_nothing_of_their_parents(
    threads: str, tmp_path: Path
) -> None:
    script = tmp_path / "asked.py"
    script.write_text(ASKED)
    wanted = ["pressworthy.jobs", "pressworthy_rules.sharpening", "numpy.fft", "PIL.Image"]
    call = [sys.executable, str(script), threads, str(tmp_path / "kept"), *wanted, "not.there"]
    told = subprocess.run(call, capture_output=True, text=True, check=True, timeout=60).stdout
    method, loaded, held, trouble = told.split("\n")[:4]
    alone = sys.platform == "linux" and threads == "one thread"
    assert method == ("fork" if alone else "forkserver")
    assert loaded.split() == wanted
    # neither the pipe to another worker nor the cache's file
    assert (held, trouble) == ("False False", "")
