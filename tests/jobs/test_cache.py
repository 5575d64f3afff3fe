"""Verdicts of earlier runs: recalled where nothing changed, and never where anything did."""

from __future__ import annotations

import importlib
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import fields, replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from pressworthy import jobs
from pressworthy.commands.main import main
from pressworthy.house import House
from pressworthy.jobs import proofing
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.running import cache as caching
from pressworthy.jobs.running import workers
from pressworthy.jobs.running.cache import (
    _NOT_OF_ORDER,
    _NOT_OF_TASK,
    Cache,
    asked,
    hashed,
    judged_by,
    ordered,
    unchanged,
)
from pressworthy.jobs.tasks import Task
from pressworthy.plugins import Registry
from pressworthy.prepare import Made, Order
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Crop, Focus, Placement, PlacementRequest

FEW = Finding("too-few-pixels", 150.0, "words", "ppi", "Supply more.", Severity.STOP)
BOUND = Finding("too-dark", 30.0, (38.0, 80.0), "L*", "Lift it.", Severity.STOP, Bound.BETWEEN)
VERDICT = Verdict(
    "a.jpg",
    (
        Outcome("resolution", State.FOUND, (FEW, BOUND)),
        Outcome("gamut", State.UNMEASURED, reason="why", weight=Severity.NOTE),
        Outcome("source-profile", State.PASSED, evidence={"tag": "sRGB", "log_p": [0.1, 1 / 3]}),
    ),
    placement="27 x 20 mm",
    facts={"width": 320, "on page": {"ppi": [300.0, 299.7]}},
)


@pytest.fixture
def settled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let files that were written just now count as settled."""
    monkeypatch.setattr(caching, "SETTLED_NS", 0)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return write_picture(tmp_path / "a.jpg", draw(320, 240), words=CREDITED)


def kept(path: Path, base: Path, verdict: Verdict = VERDICT, judged: str = "by") -> None:
    file = hashed(path)
    assert file
    cache = Cache(base)
    cache.keep(file, judged, verdict)
    cache.close()


def recalled(path: Path, base: Path, judged: str = "by") -> Verdict | None:
    with closing(Cache(base)) as cache:
        file = cache.hashed(path)
        return cache.recall(file.content, judged) if file else None


@pytest.mark.usefixtures("settled")
def test_a_verdict_comes_back_as_it_was(picture: Path, tmp_path: Path) -> None:
    kept(picture, tmp_path / "c")
    back = recalled(picture, tmp_path / "c")
    assert back == VERDICT
    assert back.outcomes[2].evidence == VERDICT.outcomes[2].evidence
    assert recalled(picture, tmp_path / "c", judged="otherwise") is None


@pytest.mark.usefixtures("settled")
@pytest.mark.parametrize("kept_time", [False, True])
def test_changed_bytes_are_seen(picture: Path, tmp_path: Path, kept_time: bool) -> None:
    kept(picture, tmp_path / "c")
    before, data = picture.stat(), bytearray(picture.read_bytes())
    data[-3] ^= 1
    picture.write_bytes(data)
    if kept_time:  # as a copy that keeps times does; the change of the file itself still tells
        os.utime(picture, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert recalled(picture, tmp_path / "c") is None


def test_what_was_changed_just_now_is_not_told_by_its_times(picture: Path, tmp_path: Path) -> None:
    kept(picture, tmp_path / "c")
    assert Cache(tmp_path / "c").hashed(picture) is None
    file = hashed(picture)
    assert file and Cache(tmp_path / "c").recall(file.content, "by") == VERDICT


def test_a_broken_rule_is_tried_again(picture: Path, tmp_path: Path) -> None:
    broken = replace(VERDICT, outcomes=(Outcome("resolution", State.BROKEN, reason="memory"),))
    kept(picture, tmp_path / "c", broken)
    file = hashed(picture)
    assert file and Cache(tmp_path / "c").recall(file.content, "by") is None


def test_a_file_that_changes_is_told(picture: Path) -> None:
    file = hashed(picture)
    assert file and unchanged(file)
    picture.write_bytes(picture.read_bytes() + b"more")
    assert not unchanged(file)
    assert hashed(picture.with_name("none.jpg")) is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are POSIX")
def test_a_pipe_is_not_waited_for(picture: Path, tmp_path: Path) -> None:
    file = hashed(picture)
    pipe = tmp_path / "pipe.jpg"
    os.mkfifo(pipe)
    assert hashed(pipe) is None
    assert file and not unchanged(replace(file, path=pipe))


def test_where_it_lies_on_any_system(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    own = tmp_path / "Library" / "Caches" / "pressworthy"
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: own)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert caching.default_path() == tmp_path / "pressworthy" / "verdicts.sqlite"
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert caching.default_path() == own / "verdicts.sqlite"


def test_all_that_judges_counts(coated: House, registry: Registry, tmp_path: Path) -> None:
    def changed(**changes: Any) -> Mapping[str, Any]:
        return {**registry.rules, "ink": replace(registry.rules["ink"], **changes)}

    own = tmp_path / "own.icc"
    own.write_bytes(coated.output.condition.profiles["cmyk"].read_bytes() + b"changed")
    profiles = {**coated.output.condition.profiles, "cmyk": own}
    condition = replace(coated.output.condition, profiles=profiles)
    document = {**coated.document, "about": "another"}
    hashes = {
        judged_by(coated, registry.rules),
        judged_by(coated, changed(version="another")),
        judged_by(coated, changed(check=lambda picture, options: [])),
        judged_by(replace(coated, document=document), registry.rules),
        judged_by(replace(coated, output=replace(coated.output, condition=condition)),
                  registry.rules),
    }  # fmt: skip
    assert len(hashes) == 5
    assert judged_by(coated, registry.rules) in hashes


@pytest.mark.parametrize("harm", ["no database", "a folder", "locked away"])
def test_a_useless_cache_only_costs_time(
    harm: str, picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    base = tmp_path / "c"
    if harm == "no database":
        base.write_bytes(b"no database" * 1000)
    elif harm == "a folder":
        base.mkdir()
    else:
        base = picture / "c"
    call = ["check", str(picture), "--house", "coated-magazine", "--cache", str(base)]
    assert main(call) == 0
    told = capsys.readouterr()
    assert "every picture is judged anew" in told.err
    assert "1 with a note" in told.out


@pytest.mark.usefixtures("settled")
def test_a_flipped_bit_ends_no_run_and_changes_no_verdict(picture: Path, tmp_path: Path) -> None:
    base = tmp_path / "c"
    kept(picture, base)
    whole = base.read_bytes()
    recalls = 0
    for place in range(0, len(whole), 61):
        harmed = bytearray(whole)
        harmed[place] ^= 1 << place % 8
        base.write_bytes(harmed)
        back = recalled(picture, base)
        assert back in (None, VERDICT), place
        recalls += back is not None
        for rest in tmp_path.glob("c-*"):  # of the journal
            rest.unlink()
    assert 0 < recalls < len(whole) // 61


def test_a_damaged_verdict_is_told_once_and_replaced(
    picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    base = tmp_path / "c"
    call = ["check", str(picture), "--house", "coated-magazine", "--cache", str(base)]
    main(call)
    first = capsys.readouterr()
    with sqlite3.connect(base) as harmed:
        (verdict,) = harmed.execute("SELECT verdict FROM verdicts").fetchone()
        flipped = bytearray(verdict)
        flipped[len(flipped) // 2] ^= 4
        harmed.execute("UPDATE verdicts SET verdict = ?", (bytes(flipped),))
    harmed.close()
    assert main(call) == 0
    second = capsys.readouterr()
    assert second.out == first.out
    assert second.err.count("damaged, some pictures are judged anew") == 1
    assert main(call) == 0
    third = capsys.readouterr()
    assert third.out == first.out and third.err == ""


@pytest.mark.parametrize(
    "theirs",
    [
        ["CREATE TABLE notes (words)", "INSERT INTO notes VALUES ('theirs')"],
        ["CREATE TABLE files (path TEXT)"],
        ["CREATE VIEW one AS SELECT 1"],
        ["PRAGMA application_id = 7"],
        ["PRAGMA user_version = 3"],
    ],
)
def test_another_programs_file_is_refused_and_left_alone(
    theirs: list[str], picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    base = tmp_path / "c"
    with sqlite3.connect(base) as made:
        for statement in theirs:
            made.execute(statement)
    made.close()
    before = base.read_bytes()
    call = ["check", str(picture), "--house", "coated-magazine", "--cache", str(base)]
    assert main(call) == 0
    told = capsys.readouterr()
    assert told.err.count("it is another program's, or damaged; name another file") == 1
    assert base.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.jpg", "c"]


def opened(log: Path) -> set[str]:
    return {line for line in log.read_text().splitlines() if line.endswith(".jpg")}


@pytest.mark.usefixtures("settled")
def test_a_second_run_decodes_nothing(
    tmp_path: Path, coated: House, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [
        write_picture(tmp_path / f"{i}.jpg", draw(320, 240, seed=i), words=CREDITED)
        for i in range(3)
    ]
    tasks = [jobs.Task(path, PlacementRequest()) for path in paths]

    def run() -> list[Verdict]:
        cache = Cache(tmp_path / "c")
        report = jobs.check(tasks, coated, jobs.Run(registry, processes=1, cache=cache))
        cache.close()
        return sorted(report.verdicts, key=lambda verdict: verdict.path)

    first = run()
    work = workers.run
    given = []

    def watched(work_of: Any, left: Any, *more: Any, **named: Any) -> Any:
        given.extend(left)
        return work(work_of, left, *more, **named)

    monkeypatch.setattr(workers, "run", watched)
    assert run() == first
    assert given == []
    write_picture(paths[1], draw(320, 240, seed=9), words=CREDITED)
    paths[2].rename(tmp_path / "moved.jpg")
    tasks[2] = jobs.Task(tmp_path / "moved.jpg", PlacementRequest((40, 30)))
    assert {v.path: v.placement for v in run()}[str(tmp_path / "moved.jpg")].startswith("40 x 30")
    assert [task.path.name for task in given] == ["1.jpg", "moved.jpg"]


@pytest.mark.usefixtures("settled")
def test_a_second_proof_pulls_only_what_changed(
    tmp_path: Path, coated: House, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [
        write_picture(tmp_path / f"{i}.jpg", draw(320, 240, seed=i), words=CREDITED)
        for i in range(2)
    ]
    tasks = [jobs.Task(path, PlacementRequest()) for path in paths]
    pulled: list[Any] = []

    def here(work: Any, left: Any, *_: Any, given: Any, **named: Any) -> Any:
        pulled.extend(left)
        return (work(task, *given) for task in left)

    monkeypatch.setattr(workers, "run", here)

    def run() -> dict[str, tuple[Verdict, Pull]]:
        pulled.clear()
        cache = Cache(tmp_path / "c")
        sheet = proofing.proof(tasks, coated, jobs.Run(registry, cache=cache))
        cache.close()
        assert cache.trouble == ""
        return {v.path: (v, p) for v, p in zip(sheet.report.verdicts, sheet.pulls, strict=True)}

    first = run()
    assert [task.path for task in pulled] == paths
    again = run()
    assert pulled == []
    for path, (verdict, pull) in first.items():
        assert again[path][0] == verdict
        assert told(again[path][1]) == told(pull)
    write_picture(paths[1], draw(320, 240, seed=9), words=CREDITED)
    changed = run()
    assert [task.path for task in pulled] == paths[1:]
    assert told(changed[str(paths[0])][1]) == told(first[str(paths[0])][1])
    assert changed[str(paths[1])][1].views != first[str(paths[1])][1].views


def told(pull: Pull) -> list[Any]:
    """Return all that a pull holds, arrays as lists, so that two can be compared."""
    curves = [
        one
        and [one.values, one.acutance, one.doubt, one.frequencies.tolist(), one.response.tolist()]
        for one in (pull.sharp, pull.plain)
    ]
    assert pull.views and pull.copy and all(curves)
    return [replace(pull, sharp=None, plain=None), curves]


def test_what_broke_or_rests_on_another_file_is_pulled_again(
    picture: Path, tmp_path: Path, coated: House, registry: Registry,
    prepared: Callable[..., Made], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    run = jobs.Run(registry, cache=Cache(tmp_path / "c"))

    def packed_of(path: Path) -> bytes:
        return proofing._proofed(jobs.Task(path, PlacementRequest()), coated, run, "").packed

    assert packed_of(picture)
    assert packed_of(prepared(picture).copy.path) == b""
    monkeypatch.setattr(proofing, "pull", lambda *_: Pull(marked=((None, "it broke"),)))
    assert packed_of(picture) == b""
    broken = replace(VERDICT, outcomes=(Outcome("resolution", State.BROKEN, reason="memory"),))
    monkeypatch.setattr(proofing, "pull", lambda *_: Pull(copy=broken))
    assert packed_of(picture) == b""
    monkeypatch.setattr(proofing, "pull", lambda *_: 1 / 0)
    assert packed_of(picture) == b""


def test_the_oldest_pulls_go_first(
    picture: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(caching, "MOST_PULLS", 1000)
    cache, file = Cache(tmp_path / "c"), hashed(picture)
    assert file
    for name in "abcab":
        cache.keep_pull(file, name, name.encode() * 400)
    kept = {name: cache.recall_pull(file.content, name) for name in "abc"}
    assert kept == {"a": b"a" * 400, "b": b"b" * 400, "c": None}
    cache.keep_pull(file, "all", bytes(1001))
    assert cache.recall_pull(file.content, "all") is None
    assert cache.trouble == ""


def test_a_damaged_pull_is_told_once_and_replaced(
    picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    base = tmp_path / "c"
    call = ["proof", str(picture), "--house", "coated-magazine", "--into", str(tmp_path / "p"),
            "--replace", "--cache", str(base), "--jobs", "1"]  # fmt: skip
    pages = []
    for round in range(3):
        if round == 1:
            with sqlite3.connect(base) as harmed:
                (pull,) = harmed.execute("SELECT pull FROM pulls").fetchone()
                flipped = bytearray(pull)
                flipped[-1] ^= 4
                harmed.execute("UPDATE pulls SET pull = ?", (bytes(flipped),))
            harmed.close()
        assert main(call) == 0
        pages.append((tmp_path / "p" / "marked-proof.html").read_text())
        said = capsys.readouterr().err.count("damaged, some pictures are pulled anew")
        assert said == (round == 1)
    assert pages[0] == pages[1] == pages[2]
    with sqlite3.connect(base) as read:
        (again,) = read.execute("SELECT pull FROM pulls").fetchone()
    read.close()
    assert again[-1] == pull[-1]


OTHERWISE: dict[type, dict[str, Any]] = {
    Task: {
        "path": Path("b.jpg"),
        "request": PlacementRequest((41, 30)),
        "name": "b",
        "assume": "sRGB",
        "twin": "list:3",
    },
    Order: {
        "master": Path("b.jpg"),
        "target": Path("b.tif"),
        "request": PlacementRequest((41, 30)),
        "scale": 2.0,
        "assume": "sRGB",
        "force": True,
        "unnamed": "no name fits it",
    },
    PlacementRequest: {
        "size": (40, 31),
        "bleed": 2.0,
        "edges": frozenset({"top"}),
        "crop": Focus(),
        "page": "4",
        "fit": "stretch",
        "sharpen": False,
        "gray_mix": (0.3, 0.6, 0.1),
        "tone": "as supplied",
    },
    Output: {
        "medium": "screen",
        "colour": "gray",
        "ppi": 200.0,
        "bleed": 5.0,
        "viewing_distance": 400.0,
        "median": (40.0, 80.0),
        "gray_mix": (0.3, 0.6, 0.1),
        "gray_pictures": "four inks",
        "ink_limit": 250.0,
        "steepest": 1.2,
    },
}
"""Another value for every field. A new one needs it too, or in cache.py a reason not to count."""


def test_every_field_of_what_was_asked_counts() -> None:
    request = PlacementRequest((40, 30), 3.0, frozenset({"left"}), Crop(0, 0, 0.5, 1), "3")
    task = Task(Path("a.jpg"), request)
    first = asked(task, "judged")
    assert {field.name for field in fields(Task)} == OTHERWISE[Task].keys()
    for name, other in OTHERWISE[Task].items():
        # a file is known by its bytes and its last part
        counts = name == "path" or name not in _NOT_OF_TASK
        assert (asked(replace(task, **{name: other}), "judged") != first) is counts, name
    assert {field.name for field in fields(PlacementRequest)} == OTHERWISE[PlacementRequest].keys()
    for name, other in OTHERWISE[PlacementRequest].items():
        changed = replace(task, request=replace(request, **{name: other}))
        assert asked(changed, "judged") != first, name
    assert asked(replace(task, path=Path("elsewhere/a.jpg")), "judged") == first
    edges = replace(request, edges=frozenset({"top", "left", "right"}))
    again = replace(request, edges=frozenset({"right", "top", "left"}))
    assert asked(replace(task, request=edges), "") == asked(replace(task, request=again), "")


def test_every_field_of_an_order_counts() -> None:
    order = Order(Path("a.jpg"), Path("a.tif"), PlacementRequest((40, 30)), 1.0)
    first = ordered(order, "copy", "judged")
    assert {field.name for field in fields(Order)} == OTHERWISE[Order].keys()
    for name, other in OTHERWISE[Order].items():
        counts = name in ("master", "target") or name not in _NOT_OF_ORDER
        changed = replace(order, **{name: other})
        assert (ordered(changed, "copy", "judged") != first) is counts, name
    moved = replace(order, master=Path("in/a.jpg"), target=Path("out/a.tif"))
    assert ordered(moved, "copy", "judged") == first
    assert ordered(order, "another copy", "judged") != first
    assert ordered(order, "copy", "judged otherwise") != first


def test_every_field_of_the_output_counts(coated: House, registry: Registry) -> None:
    first = judged_by(coated, registry.rules)
    assert {field.name for field in fields(Output)} == OTHERWISE[Output].keys() | {"condition"}
    for name, other in OTHERWISE[Output].items():
        output = replace(coated.output, **{name: other})
        assert judged_by(replace(coated, output=output), registry.rules) != first, name


def test_a_placement_is_made_of_what_was_asked_and_of_the_file() -> None:
    of_copy = {"sharpen", "gray_mix", "tone"}
    assert of_copy <= {field.name for field in fields(Picture)}
    asked_for = {field.name for field in fields(PlacementRequest)} - {"size"} - of_copy
    # the size asked for, or else the file's; `source` says which, and only pages are exact
    made = {"width", "height", "source", "exact"}
    assert {field.name for field in fields(Placement)} == asked_for | made


PACK = {
    "theirs/__init__.py": "",
    "theirs/rule.py": "import theirs.limits\ndef check(picture, options):\n    return []\n",
    "theirs/limits.py": "MOST = 1\n",
    "theirs/weights.json": "{}",
    "theirs/notes.txt": "no code",
}


@pytest.mark.parametrize(
    ("changed", "counts"),
    [
        ({}, False),
        ({"theirs/notes.txt": "still none"}, False),
        ({"theirs/limits.py": "MOST = 2\n"}, True),
        ({"theirs/weights.json": "[]"}, True),
        ({"theirs/deeper/more.py": ""}, True),
        ({"theirs-1.dist-info/METADATA": "Name: theirs\nVersion: 2\n"}, True),
    ],
)
def test_a_strangers_whole_package_counts(
    changed: Mapping[str, str],
    counts: bool,
    tmp_path: Path,
    coated: House,
    registry: Registry,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    entry = {
        "theirs-1.dist-info/METADATA": "Name: theirs\nVersion: 1\n",
        "theirs-1.dist-info/entry_points.txt": "[pressworthy]\ntheirs = theirs\n",
    }
    monkeypatch.syspath_prepend(str(tmp_path))

    def hashed(files: Mapping[str, str]) -> str:
        for name, text in files.items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        for module in [name for name in sys.modules if name.partition(".")[0] == "theirs"]:
            monkeypatch.delitem(sys.modules, module)
        importlib.invalidate_caches()
        caching._code.cache_clear()
        caching._versions.cache_clear()
        check = importlib.import_module("theirs.rule").check
        rules = {**registry.rules, "ink": replace(registry.rules["ink"], check=partial(check))}
        return judged_by(coated, rules)

    try:
        assert (hashed(PACK | entry) != hashed(changed)) is counts
    finally:
        caching._code.cache_clear()
        caching._versions.cache_clear()


def test_the_whole_program_counts() -> None:
    root = Path(caching.__file__).parents[2]
    assert root.name == "pressworthy"
    caching._code.cache_clear()
    read: list[Path] = []
    read_bytes = Path.read_bytes

    def watched(path: Path) -> bytes:
        read.append(path)
        return read_bytes(path)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "read_bytes", watched)
        caching._code("pressworthy")
    expected = ("judge.py", "measure/icc.py", "jobs/running/cache.py")
    assert {root / name for name in expected} <= set(read)


@pytest.mark.usefixtures("settled")
def test_what_is_recalled_stands_on_the_page_of_this_run(
    picture: Path, tmp_path: Path, coated: House, registry: Registry
) -> None:
    def pages(*wanted: str) -> list[str]:
        tasks = [jobs.Task(picture, PlacementRequest(page=page)) for page in wanted]
        cache = Cache(tmp_path / "c")
        report = jobs.check(tasks, coated, jobs.Run(registry, processes=1, cache=cache))
        cache.close()
        return sorted(verdict.page for verdict in report.verdicts)

    assert pages("3") == ["3"]
    assert pages("3", "7") == ["3", "7"]
    assert pages("") == [""]


@pytest.mark.usefixtures("settled")
def test_a_copy_is_judged_anew_when_its_master_changes(
    master: Callable[..., Path],
    prepared: Callable[..., Any],
    coated: House,
    registry: Registry,
    tmp_path: Path,
) -> None:
    path = master()
    copy = prepared(path).copy.path
    path.rename(copy.parent / path.name)  # where the rule looks for it
    task = jobs.Task(copy, PlacementRequest((80, 60)))

    def codes() -> list[str]:
        cache = Cache(tmp_path / "c")
        report = jobs.check([task], coated, jobs.Run(registry, processes=1, cache=cache))
        cache.close()
        return [finding.code for _, finding in report.verdicts[0].findings()]

    assert "master-changed" not in codes()
    write_picture(copy.parent / path.name, draw(600, 450, seed=5), words=CREDITED)
    assert "master-changed" in codes()


def test_two_runs_at_once(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    for number in range(6):
        write_picture(folder / f"{number}.jpg", draw(320, 240, seed=number), words=CREDITED)
    call = [sys.executable, "-m", "pressworthy", "check", str(folder), "--house",
            "coated-magazine", "--format", "json", "--cache", str(tmp_path / "c")]  # fmt: skip
    runs = [subprocess.Popen(call, stdout=-1, stderr=-1) for _ in range(2)]
    (one, told), (two, _) = (process.communicate() for process in runs)
    assert told == b"" and one == two
    assert [process.returncode for process in runs] == [0, 0]
    with sqlite3.connect(tmp_path / "c") as base:
        assert base.execute("SELECT count(*) FROM verdicts").fetchone() == (6,)


def test_what_none_asked_for_in_a_year_goes(
    picture: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept(picture, tmp_path / "c")
    day = caching._today() + 366
    monkeypatch.setattr(caching, "_today", lambda: day)
    Cache(tmp_path / "c").close()
    file = hashed(picture)
    assert file and Cache(tmp_path / "c").recall(file.content, "by") is None
