"""A real dask scheduler with two workers on this machine, one of them killed in the middle."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import pytest

import pressworthy
from pressworthy.testing import CREDITED, draw, write_picture

if not os.environ.get("CI") and not find_spec("distributed"):
    pytest.skip("distributed is not installed", allow_module_level=True)

PICTURES = 24
Start = Callable[..., "subprocess.Popen[bytes]"]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Yield that of a scheduler; each test has workers of its own."""
    folder = tmp_path_factory.mktemp("scheduler")
    told = folder / "scheduler.json"
    with started_in(folder) as start:
        start(f"dask_scheduler --host 127.0.0.1 --port 0 --scheduler-file {told} --no-dashboard")
        end = time.monotonic() + 90
        while not told.exists() or not told.read_text().endswith("}"):
            assert time.monotonic() < end, "the scheduler did not start"
            time.sleep(0.05)
        yield str(json.loads(told.read_text())["address"])


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    with started_in(tmp_path) as start:
        yield start


@contextmanager
def started_in(folder: Path) -> Iterator[Start]:
    """Yield what starts dask's commands, which end with the block; their logs lie in the folder."""
    started: list[subprocess.Popen[bytes]] = []

    def run(command: str, path: str = "") -> subprocess.Popen[bytes]:
        name, *arguments = command.split()
        call = [sys.executable, "-m", f"distributed.cli.{name}", *arguments]
        log = (folder / f"{len(started)}.log").open("wb")
        # a folder of its own: pictures must be found all the same
        env = {**os.environ, "PYTHONPATH": path}
        process = subprocess.Popen(call, stdout=log, stderr=log, cwd="/", env=env)
        started.append(process)
        return process

    try:
        yield run
    finally:
        for process in started:
            process.kill()
            process.wait()


def test_a_killed_worker_loses_nothing_and_doubles_nothing(
    address: str, start: Start, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, out = tmp_path / "shared", tmp_path / "out.jsonl"
    folder.mkdir()
    for number in range(PICTURES):
        write_picture(folder / f"{number}.jpg", draw(320, 240, seed=number), words=CREDITED)
    (folder / "notes.jpg").write_text("no picture")
    two = [start(f"dask_worker {address} --nthreads 1 --no-nanny --no-dashboard") for _ in "ab"]
    monkeypatch.chdir(tmp_path)
    call = [sys.executable, "-m", "pressworthy", "check", "shared", "--house", "coated-magazine",
            "--format", "lines", "--no-cache", "--output", out, "--scheduler", address]  # fmt: skip
    run = subprocess.Popen([str(part) for part in call], stdout=-1, stderr=-1)
    part, end = out.with_name(out.name + ".part"), time.monotonic() + 90
    while not part.exists() or part.read_text().count("\n") < 4:
        assert time.monotonic() < end and run.poll() is None, "it ended before it was disturbed"
        time.sleep(0.02)
    two[0].send_signal(signal.SIGKILL)
    _, told = run.communicate(timeout=120)
    assert run.returncode == 1, told.decode()
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    seen = Counter(Path(line["path"]).name for line in lines if line["kind"] == "picture")
    names = [f"{number}.jpg" for number in range(PICTURES)]
    assert seen == Counter([*names, "notes.jpg"])
    run_line = lines[-1]
    assert run_line["counts"]["unjudged"] == 1
    states = {o["state"] for line in lines[:-1] for o in line["outcomes"]}
    assert "broken" not in states


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no worker can be stopped here")
@pytest.mark.parametrize(
    ("file", "before", "after", "why"),
    [
        ("judge.py", 'State.PASSED, ""', 'State.WAIVED, ""', "its code is another"),
        ("jobs/running/cluster.py", "def _there(", "def _there(more: int, ", "it has 0.0.1"),
    ],
)
def test_a_worker_of_other_code_that_joins_later_judges_nothing(
    file: str, before: str, after: str, why: str, address: str, start: Start, tmp_path: Path
) -> None:
    theirs = tmp_path / "theirs"
    program = Path(pressworthy.__file__).parent
    shutil.copytree(program, theirs / "pressworthy", ignore=shutil.ignore_patterns("*.pyc"))
    for name, old, new in (
        (file, before, after),
        ("__init__.py", pressworthy.__version__, "0.0.1"),
    ):
        changed = theirs / "pressworthy" / name
        text = changed.read_text(encoding="utf-8")
        assert old in text
        if name == file or why == "it has 0.0.1":
            changed.write_text(text.replace(old, new), encoding="utf-8")
    folder, out, told = tmp_path / "shared", tmp_path / "out.jsonl", tmp_path / "told"
    folder.mkdir()
    for number in range(8):
        write_picture(folder / f"{number}.jpg", draw(320, 240, seed=number), words=CREDITED)
    options = "--nthreads 1 --no-nanny --no-dashboard"
    ours = start(f"dask_worker {address} {options}")
    call = [sys.executable, "-m", "pressworthy", "check", folder, "--house", "coated-magazine",
            "--format", "lines", "--output", out, "--scheduler", address]  # fmt: skip
    with told.open("wb") as errors:
        run = subprocess.Popen([str(part) for part in call], stdout=errors, stderr=errors)
    part, end = out.with_name(out.name + ".part"), time.monotonic() + 120
    while not part.exists() or not part.read_text():
        assert time.monotonic() < end and run.poll() is None, told.read_text()
        time.sleep(0.01)
    ours.send_signal(signal.SIGSTOP)
    start(f"dask_worker {address} {options}", path=str(theirs))
    while b"is refused" not in told.read_bytes():
        assert time.monotonic() < end and run.poll() is None, told.read_text()
        time.sleep(0.05)
    ours.send_signal(signal.SIGCONT)
    run.wait(timeout=120)
    assert told.read_text().count("is refused") == 1 and why in told.read_text()
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    seen = Counter(Path(line["path"]).name for line in lines if line["kind"] == "picture")
    assert seen == Counter(f"{number}.jpg" for number in range(8))
    states = Counter(o["state"] for line in lines[:-1] for o in line["outcomes"])
    assert states["passed"] > 8 and not states["broken"]


IMPATIENT = """
import sys
from pressworthy.jobs.running import cluster
from pressworthy.commands.main import main
cluster.JOIN_SECONDS = 1
sys.exit(main(sys.argv[1:]))
"""


def test_a_scheduler_without_workers_or_none_at_all(address: str, tmp_path: Path) -> None:
    # in processes of their own: the client leaves threads that look into every other test
    picture = write_picture(tmp_path / "a.jpg", draw(320, 240))
    call = [sys.executable, "-c", IMPATIENT, "check", str(picture), "--house", "mono"]
    for where, why in (
        (address, "no worker has joined"),
        ("tcp://127.0.0.1:1", "does not answer"),
        ("the desk", "not an address"),
    ):
        done = subprocess.run([*call, "--scheduler", where], capture_output=True, text=True)
        assert done.returncode == 2
        assert why in done.stderr and "Traceback" not in done.stderr
