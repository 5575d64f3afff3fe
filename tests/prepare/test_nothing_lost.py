"""Runs that are killed, disks that are full, folders that are wrong: no master and no copy lost."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import pyvips
from commanded import commanded

from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.opening import hash_pixels, read_header
from pressworthy.house import House
from pressworthy.jobs import Task
from pressworthy.jobs.preparing import orders, vouched
from pressworthy.prepare import Made, store
from pressworthy.prepare.names import Named, collisions, name_for
from pressworthy.testing import draw
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import Focus, PlacementRequest

Master = Callable[..., Path]
Prepared = Callable[..., Made]
SIZE = ("--size", "40x30mm")


def call(*arguments: str | Path) -> list[str]:
    return [sys.executable, "-m", "pressworthy", "prepare", *map(str, arguments)]


def run(*arguments: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
    if not more:
        return commanded("prepare", *arguments)
    return subprocess.run(call(*arguments), capture_output=True, text=True, check=False, **more)


def hashes(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }


@pytest.fixture
def master(master: Master) -> Master:
    """Return a writer of small masters."""

    def write(name: str = "pier.jpg", **written: Any) -> Path:
        return master(name, **{"values": draw(600, 450), **written})

    return write


@pytest.fixture
def masters(master: Master) -> Path:
    """Return a folder of four masters."""
    paths = [master(f"plate {i}.jpg", values=draw(600, 450, seed=i)) for i in range(4)]
    return paths[0].parent


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="a group of processes is POSIX")
def test_a_killed_run_leaves_whole_copies_and_is_taken_up_again(
    masters: Path, tmp_path: Path
) -> None:
    whole, cut = tmp_path / "whole", tmp_path / "cut"
    before = hashes(masters)
    assert run(masters, "--house", "coated-magazine", *SIZE, "--into", whole).returncode == 0
    wanted = hashes(whole)
    assert len(wanted) == 4
    # when the first copy is there, and in the middle of writing one
    for moment in ("*.tif", ".*"):
        left = killed(masters, cut, moment)
        assert left.items() <= wanted.items()
        # what is there under a copy's name is that copy, to the last byte
        assert moment == ".*" or 0 < len(left) < 4
    done = run(masters, "--house", "coated-magazine", *SIZE, "--into", cut)
    assert done.returncode == 0, done.stderr
    assert hashes(cut) == wanted
    assert not list(cut.glob(".*")), "an unfinished copy was left lying"
    assert hashes(masters) == before


def killed(masters: Path, into: Path, moment: str) -> dict[str, str]:
    """Make all copies anew, kill that when a file like `moment` is there; return what is left."""
    command = call(masters, "--house", "coated-magazine", *SIZE, "--into", into)
    # one after another, so that there is time between the first and the last
    command += ["--force", "--jobs", "1"]
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
    while not any(into.glob(moment)):
        assert process.poll() is None, "it ended before it could be killed"
        time.sleep(0.002)
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    return hashes(into)


def test_a_second_run_makes_nothing_anew(masters: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    run(masters, "--house", "mono", *SIZE, "--into", into)
    times = {path: path.stat().st_mtime_ns for path in into.iterdir()}
    again = run(masters, "--house", "mono", *SIZE, "--into", into)
    assert again.stdout.count("was up to date") == len(times) == 4
    assert {path: path.stat().st_mtime_ns for path in into.iterdir()} == times


def test_a_full_disk_is_named_and_leaves_nothing(
    master: Master, prepared: Prepared, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(OSError) as caught:
            prepared(master(), size=(40, 30))
    assert "disk is full" in store.why(caught.value)
    assert list((tmp_path / "copies").iterdir()) == []
    assert prepared(master(), size=(40, 30)).fresh


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the limit on file size is POSIX")
def test_what_the_system_refuses_is_reported_by_picture(master: Master, tmp_path: Path) -> None:
    import resource

    def small_files() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    into = tmp_path / "out"
    done = run(
        master(), "--house", "coated-magazine", *SIZE, "--into", into, preexec_fn=small_files
    )
    assert done.returncode == 1
    assert "not made" in done.stdout and "File too large" in done.stdout
    assert list(into.iterdir()) == []


def test_wrong_folders_are_refused_before_anything_is_made(masters: Path, tmp_path: Path) -> None:
    among = run(masters, "--house", "mono", *SIZE, "--into", masters)
    assert among.returncode == 2 and "among masters" in among.stderr
    path = masters / "plate 1.jpg"
    beside = run(path, "--house", "mono", *SIZE, "--into", masters)
    assert beside.returncode == 2 and "among masters" in beside.stderr
    other = run(path, "--house", "mono", "--into", tmp_path / "o", "--assume", "peir.jpg=sRGB")
    assert other.returncode == 2 and "no picture is called 'peir.jpg'" in other.stderr
    file = tmp_path / "file"
    file.write_text("not a folder")
    assert "cannot be written to" in run(path, "--house", "mono", *SIZE, "--into", file).stderr
    assert len(list(masters.iterdir())) == 4


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_refused(master: Master, tmp_path: Path) -> None:
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    done = run(master(), "--house", "mono", *SIZE, "--into", locked)
    assert done.returncode == 2 and "Permission denied" in done.stderr


@pytest.mark.parametrize("victim", ["a master", "a folder"])
@pytest.mark.parametrize(
    "name, made", [("pier.tif", False), (f".pier.tif{store.UNFINISHED}", True),
                   (f".probe{store.UNFINISHED}", True), (store.LOCK, True), ("report.part", True)],
)  # fmt: skip
def test_nothing_is_written_through_a_planted_link(
    name: str, made: bool, victim: str, master: Master, tmp_path: Path
) -> None:
    picture, into, kept = master(), tmp_path / "out", tmp_path / "kept"
    (kept / "folder").mkdir(parents=True)
    (kept / "folder" / "words.txt").write_text("a stranger's")
    into.mkdir()
    (into / name).symlink_to(picture if victim == "a master" else kept / "folder")
    before = {**hashes(kept), **hashes(picture.parent)}
    house = tmp_path / "plain.yaml"
    house.write_text(
        "house: plain\nkind: title\nstands on: mono\n"
        'prepare:\n  name: "{stem}"\n  reason: shorter\n'
    )
    report = into / "report"
    done = run(picture, "--house", house, *SIZE, "--into", into, "--jobs", "1", "--output", report)
    assert {**hashes(kept), **hashes(picture.parent)} == before, done
    assert done.returncode == (0 if made else 1), done
    assert made or "is no prepared copy; it is left alone" in report.read_text("utf-8")
    assert (into / "pier.tif").is_symlink() is not made and (into / "pier.tif").exists() >= made


def test_two_runs_do_not_share_a_folder(master: Master, tmp_path: Path) -> None:
    into = tmp_path / "out"
    with store.folder_for_copies(into):
        done = run(master(), "--house", "mono", *SIZE, "--into", into)
    assert done.returncode == 2 and "another run" in done.stderr


def test_a_file_system_without_locks_will_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fcntl = pytest.importorskip("fcntl")

    def without(*_: Any) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "flock", without)
    with (
        store.folder_for_copies(tmp_path / "out"),
        pytest.raises(SetupError, match="another run"),
        store.folder_for_copies(tmp_path / "out"),
    ):
        pass
    with pytest.raises(OSError, match="in the run"), store.folder_for_copies(tmp_path / "out"):
        raise OSError("in the run")
    assert list((tmp_path / "out").iterdir()) == []


def test_several_houses_have_a_folder_each(master: Master, tmp_path: Path) -> None:
    into = tmp_path / "out"
    houses = ("--house", "coated-magazine", "--house", "mono", "--house", "screen")
    done = run(master(), *houses, *SIZE, "--into", into, "--format", "json")
    assert done.returncode == 0, done.stdout + done.stderr
    assert sorted(hashes(into)) == [
        "coated-magazine/pier-coated-magazine.tif",
        "mono/pier-mono.tif",
        "screen/pier-screen-1x.jpg",
        "screen/pier-screen-2x.jpg",
    ]
    report = json.loads(done.stdout)
    assert report["house"] == "coated-magazine, mono, screen"
    assert [p["house"] for p in report["pictures"]].count("screen") == 2
    for picture in report["pictures"]:
        copy = Path(picture["path"])
        ticket = read_ticket(read_header(copy).xmp)
        assert ticket and ticket.pixels == hash_pixels(pyvips.Image.new_from_file(str(copy)))
        assert picture["facts"]["master"].endswith("pier.jpg")


def test_a_line_that_stands_twice_in_the_list_is_made_once(master: Master, tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    line = f"{master().relative_to(tmp_path)},mono,80,60\n"
    listed.write_text("picture,house,width,height\n" + line + line)
    done = run("--list", listed, "--into", tmp_path / "out", "--format", "json")
    assert [Path(p["path"]).name for p in json.loads(done.stdout)["pictures"]] == ["pier-mono.tif"]


def test_a_dry_run_touches_nothing(master: Master, tmp_path: Path) -> None:
    into = tmp_path / "out"
    done = run(master(), "--house", "coated-magazine", *SIZE, "--into", into, "--dry-run")
    assert done.returncode == 0
    assert ": 472 x 354 px at 300 ppi" in " ".join(done.stdout.split())
    assert "to make" in done.stdout
    assert "1 would be made; nothing was written, and nothing judged." in done.stdout
    assert "passed" not in done.stdout
    assert not into.exists()


def test_one_bad_master_does_not_stop_the_others(masters: Path, tmp_path: Path) -> None:
    (masters / "plate 3.jpg").write_bytes((masters / "plate 3.jpg").read_bytes()[:-30_000])
    (masters / "notes.txt").write_text("call the printer")
    into = tmp_path / "out"
    done = run(masters, "--house", "coated-magazine", *SIZE, "--into", into)
    assert done.returncode == 1
    assert len(list(into.iterdir())) == 3
    assert done.stdout.count("not made") == 2
    assert "damaged or cut short" in done.stdout and "not a picture format" in done.stdout


class TestVouching:
    TASKS = (
        Task(Path("a/cloth.jpg"), PlacementRequest()),
        Task(Path("b/cloth.jpg"), PlacementRequest(), name="issue/cloth.jpg"),
        Task(Path("b/mole.jpg"), PlacementRequest(), assume="sRGB"),
    )

    @pytest.mark.parametrize("name", ["b/cloth.jpg", "./b/cloth.jpg", "issue/cloth.jpg"])
    def test_names_and_paths(self, name: str) -> None:
        said = vouched(self.TASKS, [(name, "opRGB"), ("mole.jpg", "sRGB")])
        told = {Path("b/cloth.jpg").resolve(): "opRGB", Path("b/mole.jpg").resolve(): "sRGB"}
        assert said == told

    @pytest.mark.parametrize(
        "said, fault",
        [
            ([("a/mole.jpg", "sRGB")], "no picture is called 'a/mole.jpg'"),
            ([("cloth.jpg", "sRGB")], "say which: a/cloth.jpg, b/cloth.jpg"),
            ([("mole.jpg", "opRGB")], "b/mole.jpg: opRGB and sRGB are both vouched for"),
            ([("a/cloth.jpg", s) for s in ("sRGB", "opRGB")], "a/cloth.jpg: opRGB and sRGB are"),
        ],
    )
    def test_doubt_is_refused(self, said: list[tuple[str, str]], fault: str) -> None:
        with pytest.raises(SetupError, match=fault):
            vouched(self.TASKS, said)

    def test_the_command_takes_a_path_and_any_case(self, master: Master, tmp_path: Path) -> None:
        path, into = master("bare.png", icc=None), tmp_path / "out"
        vouch = ("--assume", f"{path}=oprgb")
        done = run(path, path, "--house", "mono", *SIZE, "--into", into, *vouch)
        assert "1 picture for" in done.stdout and "read as opRGB" in done.stdout, done.stderr


FIELDS = {"stem": "pier", "folder": "may", "house": "tide", "page": "12", "size": "", "scale": "2"}


class TestNames:
    def test_the_pattern_is_filled_in(self) -> None:
        assert name_for("{page}-{stem}@{scale}x", "WebP", FIELDS) == "12-pier@2x.webp"
        nasty = {**FIELDS, "stem": "a/b\nc:d"}
        assert name_for("{stem}", "TIFF", nasty) == "a_b_c_d.tif"
        with pytest.raises(ValueError, match="longer than"):
            name_for("{stem}", "TIFF", {**FIELDS, "stem": "é" * 126})

    @pytest.mark.parametrize("how", ["--dry-run", "--force"])
    def test_one_that_cannot_be_is_its_pictures_matter(
        self, how: str, master: Master, tmp_path: Path
    ) -> None:
        whole = master().read_bytes()
        made = {"x" * 210: True, "é" * 105: True, "y" * 248: False, "é" * 124: False}
        folder, into = tmp_path / "long", tmp_path / "out"
        folder.mkdir()
        for stem in made:
            (folder / f"{stem}.jpg").write_bytes(whole)
        done = run(
            folder, "--house", "mono", *SIZE, "--into", into, "--format", "json", "--jobs", "1", how
        )
        assert done.returncode == 1
        told = {}
        for one in json.loads(done.stdout)["pictures"]:
            reasons = [o["reason"] for o in one["outcomes"] if o["rule"] == "prepare"]
            told[Path(one["facts"].get("master", one["path"])).stem] = not reasons
            assert all("longer than 250 bytes; rename the master" in one for one in reasons)
        assert told == made
        names = [] if how == "--dry-run" else [f"{stem}-mono.tif" for stem in made if made[stem]]
        assert sorted(one.name for one in into.glob("*")) == sorted(names)

    def test_a_system_may_take_fewer_bytes(self) -> None:
        refused = OSError(errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG))
        assert "rename the master" in store.why(refused)

    def test_collisions_are_found_before_a_file_is_written(self, tmp_path: Path) -> None:
        copies = [
            Named(Path("a/pier.jpg"), tmp_path / "pier.tif", {**FIELDS, "folder": "a"}),
            Named(Path("b/Pier.jpg"), tmp_path / "Pier.tif", {**FIELDS, "folder": "b"}),
            Named(Path("c/mole.jpg"), tmp_path / "mole.tif", FIELDS),
        ]
        (fault,) = collisions(copies, "{stem}")
        assert "a/pier.jpg and b/Pier.jpg would both become" in fault
        assert fault.endswith("rename one, or put {folder} in the house's naming pattern")
        (fault,) = collisions(copies, "{stem} of {folder}")
        assert fault.endswith("; rename one")

    @pytest.mark.parametrize(
        "pattern, two, mend",
        [
            ("{stem}", {}, None),
            ("{stem}", {"page": "14"}, None),
            ("{stem} {page}", {"page": "14"}, ["pier 12.tif", "pier 14.tif"]),
            ("{stem}", {"size": (60, 45)}, "put {size} in the house's naming pattern"),
            ("{stem}", {"size": (60, 45), "page": "14"}, "put {page} or {size} in the"),
            ("{stem} {size}", {"size": (60, 45)}, ["pier 80x60mm.tif", "pier 60x45mm.tif"]),
            ("{stem}", {"crop": Focus(0.1, 0.2)}, "two runs, each with another --into"),
        ],
    )
    def test_one_master_in_two_places(
        self, pattern: str, two: dict[str, Any], mend: Any, coated: House, tmp_path: Path
    ) -> None:
        house = replace(coated, prepare={**(coated.prepare or {}), "name": pattern})
        first = PlacementRequest((80, 60), page="12")
        tasks = [Task(Path("pier.jpg"), request) for request in (first, replace(first, **two))]
        if isinstance(mend, str):
            with pytest.raises(SetupError, match=re.escape(mend)) as told:
                orders(tasks, house, tmp_path)
            assert "rename" not in str(told.value)
        else:
            made = [order.target.name for order in orders(tasks, house, tmp_path)]
            assert made == (mend or ["pier.tif"])

    def test_the_command_refuses_them(self, master: Master, tmp_path: Path) -> None:
        paths = master("pier.jpg"), master("pier.png")
        done = run(*paths, "--house", "mono", *SIZE, "--into", tmp_path / "out")
        assert done.returncode == 2 and "would both become pier-mono.tif" in done.stderr
        assert not (tmp_path / "out").exists()
