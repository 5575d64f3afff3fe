"""The check command on real files: formats, bad input, parallel runs, reports, exit status."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commanded import commanded
from jsonschema import Draft202012Validator
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.commands.main import main
from pressworthy.files.intake import walk
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture

# these look for detail and colour that a drawn picture need not have
PIXEL_RULES = {"sharpening", "true-resolution", "source-profile"}
DYING_RULE = """
import os
from pressworthy.hookspecs import hookimpl
from pressworthy.values.rule import Rule

def check(picture, options):
    if "deadly" in picture.path.name:
        os.kill(os.getpid(), 9)
    return []

@hookimpl
def pressworthy_rules():
    return [Rule("deadly", check, {}, {"code": "never"}, "Kills its worker.")]
"""


def run(*arguments: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
    if not more:
        return commanded(*arguments)
    call = [sys.executable, "-m", "pressworthy", *map(str, arguments)]
    return subprocess.run(call, capture_output=True, text=True, check=False, **more)


def check_json(*arguments: str | Path) -> dict[str, Any]:
    """Run check and return its JSON, which must fit the published schema."""
    done = run("check", *arguments, "--format", "json")
    assert done.stdout, done.stderr
    report: dict[str, Any] = json.loads(done.stdout)
    Draft202012Validator(schema()).validate(report)
    assert report["exit"] == done.returncode
    return report


def outcomes(report: dict[str, Any], name: str) -> dict[str, str]:
    picture = next(p for p in report["pictures"] if Path(p["path"]).name == name)
    return {o["rule"]: o["state"] for o in picture["outcomes"]}


def reasons(report: dict[str, Any]) -> dict[str, str]:
    return {Path(p["path"]).name: p["outcomes"][0]["reason"] for p in report["pictures"]}


@pytest.fixture(scope="module")
def formats(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one picture of every kind that is read."""
    folder = tmp_path_factory.mktemp("formats")
    tiffs: dict[str, dict[str, Any]] = {
        "lzw": {"compression": "lzw"},
        "deflate": {"compression": "deflate", "tile": True},
        "bigtiff": {"bigtiff": True},
        "plain": {},
    }
    for name, save in tiffs.items():
        write_picture(folder / f"rgb8 {name}.tif", draw(), **save)
        write_picture(folder / f"rgb16 {name}.tif", draw(depth=16), **save)
    write_picture(folder / "cmyk8.tif", draw(channels=4), mode="CMYK", icc=None)
    write_picture(folder / "cmyk16.tif", draw(channels=4, depth=16), mode="CMYK", icc=None)
    write_picture(folder / "gray8.tif", draw(channels=1), mode="gray", icc=None)
    write_picture(folder / "gray16.tif", draw(channels=1, depth=16), mode="gray", icc=None)
    write_picture(folder / "rgb.jpg", draw())
    write_picture(folder / "gray.jpg", draw(channels=1), mode="gray", icc=None)
    write_picture(folder / "cmyk.jpg", draw(channels=4), mode="CMYK", icc=None)
    inverted = Image.fromarray(draw(channels=4), "CMYK")
    inverted.save(folder / "cmyk inverted.jpg", quality=95, dpi=(300, 300))
    write_picture(folder / "rgb8.png", draw())
    write_picture(folder / "rgb16.png", draw(depth=16))
    write_picture(folder / "rgb.webp", draw())
    write_picture(folder / "rgb.avif", draw(), compression="av1", effort=0)
    return folder


def test_every_format_is_read(formats: Path) -> None:
    report = check_json(formats, "--house", "coated-magazine", "--size", "54.2x40.6mm")
    assert len(report["pictures"]) == len(list(formats.iterdir())) == 20
    for picture in report["pictures"]:
        unread = [o for o in picture["outcomes"] if o["state"] not in ("passed", "found", "waived")]
        # inks without a profile belong to no condition; nothing else may stay unmeasured
        assert [o for o in unread if o["weight"] != "note"] == []
        assert "CMYK" in picture["facts"]["mode"] or not {o["rule"] for o in unread} - PIXEL_RULES
        depth = 16 if "16" in Path(picture["path"]).name else 8
        assert picture["facts"]["depth"] == depth
    modes = {Path(p["path"]).name: p["facts"]["mode"] for p in report["pictures"]}
    assert all(mode == ("CMYK" if "cmyk" in n else "gray" if "gray" in n else "RGB")
               for n, mode in modes.items())  # fmt: skip


def test_inverted_cmyk_jpegs_read_like_plain_ones(tmp_path: Path) -> None:
    from pressworthy.measure.pixels import small_copy
    from pressworthy.testing import a_picture

    inks = np.zeros((64, 64, 4), np.uint8)
    inks[..., 0] = 200  # cyan ink
    plain = write_picture(tmp_path / "plain.tif", inks, mode="CMYK", icc=None)
    # Pillow writes CMYK JPEGs with inverted values and the marker that says so
    inverted = tmp_path / "inverted.jpg"
    Image.fromarray(inks, "CMYK").save(inverted, quality=100)
    for path in (plain, inverted):
        mean = small_copy(a_picture(path)).reshape(-1, 4).mean(axis=0)
        assert mean == pytest.approx([200, 0, 0, 0], abs=2)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are POSIX")
def test_bad_input_gets_a_line_each_and_harms_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    good = write_picture(folder / "good.jpg", draw(), words=CREDITED)
    data = good.read_bytes()
    (folder / "cut.jpg").write_bytes(data[: len(data) // 2])
    tiff = write_picture(tmp_path / "t.tif", draw()).read_bytes()
    (folder / "cut.tif").write_bytes(tiff[: len(tiff) // 2])
    png = write_picture(tmp_path / "t.png", draw()).read_bytes()
    (folder / "cut.png").write_bytes(png[: len(png) // 2])
    (folder / "empty.jpg").touch()
    (folder / "words.jpg").write_text("no picture at all\n")
    (folder / "page.pdf").write_bytes(b"%PDF-1.7\n")
    (folder / "noise.tif").write_bytes(bytes(range(256)) * 8)
    (folder / "gone.jpg").symlink_to(tmp_path / "nowhere.jpg")
    os.mkfifo(folder / "pipe.jpg")
    # a small PNG whose header states 60 000 x 60 000 px
    Image.new("1", (8, 8)).save(tmp_path / "small.png")
    small = (tmp_path / "small.png").read_bytes()
    stated = b"IHDR" + struct.pack(">II", 60_000, 60_000) + small[24:29]
    bomb = small[:12] + stated + struct.pack(">I", zlib.crc32(stated)) + small[33:]
    (folder / "bomb.png").write_bytes(bomb)
    report = check_json(folder, "--house", "coated-magazine")
    told = reasons(report)
    assert len(told) == 11
    assert {p["path"]: p for p in report["pictures"]}[str(good)]["worst"] in (None, "note")
    assert "empty" in told["empty.jpg"]
    assert "text" in told["words.jpg"]
    assert "PDF" in told["page.pdf"]
    assert "not a picture format" in told["noise.tif"]
    assert "link to nothing" in told["gone.jpg"]
    assert "not a regular file" in told["pipe.jpg"]
    assert "megapixels" in told["bomb.png"]
    for name in ("cut.jpg", "cut.tif", "cut.png"):
        states = outcomes(report, name)
        assert states["luminance"] == "unmeasured", name
    assert report["exit"] == 1


NAMES = ["two words.jpg", "it's \"quoted\".jpg", "line\nbreak.jpg", "Zoë – 東京.jpg", "a[1].jpg",
         "-dash.jpg", "\x1b[31mred.jpg", "%s{0}.jpg"]  # fmt: skip


def test_any_name_will_do(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    for name in NAMES:
        write_picture(tmp_path / "p.jpg", draw(), words=CREDITED).rename(folder / name)
    report = check_json(folder, "--house", "coated-magazine")
    assert {p["path"] for p in report["pictures"]} == {str(folder / name) for name in NAMES}
    assert report["exit"] == 0
    text = run("check", folder, "--house", "coated-magazine").stdout
    assert "\x1b" not in text
    assert "line\nbreak" not in text


def test_names_that_are_not_unicode(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    path.rename(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.jpg"))
    assert check_json(tmp_path, "--house", "coated-magazine")["exit"] == 0
    assert run("check", tmp_path, "--house", "coated-magazine").returncode == 0


def test_a_dying_worker_is_one_broken_picture(tmp_path: Path) -> None:
    plugin = tmp_path / "plug.py"
    plugin.write_text(DYING_RULE)
    house = tmp_path / "h.yaml"
    house.write_text(
        "house: h\nkind: output\nstands on: coated-magazine\n"
        "rules: {deadly: {severity: {code: note}}}\n"
    )
    folder = tmp_path / "in"
    folder.mkdir()
    for name in ("a", "deadly b", "c", "d", "deadly e", "f"):
        write_picture(folder / f"{name}.jpg", draw(64, 64), words=CREDITED)
    report = check_json(folder, "--house", house, "--plugin", plugin, "--jobs", "2")
    for picture in report["pictures"]:
        broken = [o["rule"] for o in picture["outcomes"] if o["state"] == "broken"]
        assert broken == (["deadly"] if "deadly" in picture["path"] else [])
    assert len(report["pictures"]) == 6
    assert report["exit"] == 1


def test_exit_status_and_placement(tmp_path: Path) -> None:
    good = write_picture(tmp_path / "good.jpg", draw(), words=CREDITED, ppi=300)
    assert run("check", good, "--house", "coated-magazine").returncode == 0
    done = run("check", good, "--house", "coated-magazine", "--size", "210x158mm")
    assert done.returncode == 1
    assert "too-few-pixels" in done.stdout
    assert "size stated by the file" not in done.stdout
    assert "no contract proof" in done.stdout
    quiet = write_picture(tmp_path / "quiet.jpg", draw(), words=CREDITED, ppi=None)
    report = check_json(quiet, "--house", "coated-magazine")
    assert outcomes(report, "quiet.jpg")["resolution"] == "unmeasured"
    assert report["exit"] == 1


def test_a_stated_size_is_said_to_be_so(tmp_path: Path) -> None:
    write_picture(tmp_path / "p.jpg", draw(), ppi=300)
    report = check_json(tmp_path, "--house", "coated-magazine")
    assert report["pictures"][0]["placement"].endswith("size stated by the file")


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--house", "nowhere"], "no house profile"),
        (["--house", "mono", "--format", "xml"], "no report format"),
        (["--house", "mono", "--size", "big"], "not a size"),
        (["--house", "mono", "--jobs", "0"], "not a whole number"),
        (["--house", "mono", "--plugin", "none"], "none"),
        ([], "--house"),
    ],
)
def test_a_wrong_set_up_checks_nothing(tmp_path: Path, arguments: list[str], word: str) -> None:
    write_picture(tmp_path / "p.jpg", draw())
    done = run("check", tmp_path, *arguments)
    assert done.returncode == 2
    assert word in done.stderr
    assert done.stdout == ""


def test_an_empty_folder_is_no_pass(tmp_path: Path) -> None:
    done = run("check", tmp_path, "--house", "mono")
    assert done.returncode == 2
    assert "nothing was checked" in done.stderr


def test_reports_are_never_overwritten_unasked(tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    target = tmp_path / "report.json"
    call: list[str | Path] = [
        "check",
        picture,
        "--house",
        "mono",
        "--format",
        "json",
        "--output",
        target,
    ]
    assert run(*call).returncode == 0
    first = target.read_bytes()
    assert run(*call).returncode == 2
    assert run(*call, "--replace").returncode == 0
    assert target.read_bytes() == first
    assert run(*call[:-1], tmp_path / "no" / "r.json").returncode == 2


def test_folders_are_walked_and_patterns_skipped(tmp_path: Path) -> None:
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / ".hidden").mkdir()
    (tmp_path / "a" / "loop").symlink_to(tmp_path)
    picture = write_picture(tmp_path / "a" / "b" / "p.jpg", draw(), words=CREDITED)
    (tmp_path / ".hidden" / "q.jpg").write_bytes(picture.read_bytes())
    (tmp_path / "notes.txt").write_text("words")
    report = check_json(tmp_path, "--house", "mono", "--skip", "*.txt")
    assert [p["path"] for p in report["pictures"]] == [str(picture)]
    assert reasons(check_json(tmp_path, "--house", "mono"))["notes.txt"].endswith(": text")


def test_an_unreadable_icc_profile_leaves_colour_unmeasured(tmp_path: Path) -> None:
    path = tmp_path / "p.jpg"
    Image.fromarray(draw()).save(path, icc_profile=rgb_profile("sRGB")[:300], dpi=(300, 300))
    states = outcomes(check_json(path, "--house", "coated-magazine"), "p.jpg")
    assert states["icc-profile"] == "found"
    assert states["luminance"] == "unmeasured"
    assert states["resolution"] == "passed"


def test_jobs_do_not_change_the_report(formats: Path) -> None:
    some = sorted(formats.glob("*.jpg"))
    one = check_json(*some, "--house", "newsprint", "--jobs", "1")
    many = check_json(*some, "--house", "newsprint", "--jobs", "4")
    assert one == many


def test_output_never_lands_on_what_the_run_works_on(tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    listed, waivers = tmp_path / "list.csv", tmp_path / "waivers.yaml"
    listed.write_text("picture,house\np.jpg,ours.yaml\n")
    waivers.write_text("waivers: []\n")
    (tmp_path / "ours.yaml").write_text("house: ours\nkind: output\nstands on: mono\n")
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    (tmp_path / "linked.jpg").symlink_to(picture)
    (tmp_path / "folder").mkdir()
    call: list[str | Path] = ["--list", listed, "--waivers", waivers, "--replace", "--output"]
    for target in (*before, tmp_path / "linked.jpg", tmp_path / "folder", Path(os.devnull)):
        done = run("check", *call, target)
        assert done.returncode == 2, done.stdout
        assert f"{target} is " in done.stderr
    into = tmp_path / "copies"
    for target in (picture, into / "p-ours.tif"):
        done = run("prepare", "--into", into, *call, target)
        assert (done.returncode, "works on" in done.stderr) == (2, True)
    assert {path: path.read_bytes() for path in before} == before
    assert not into.exists()


def test_several_houses_judge_by_each(tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    report = check_json(picture, "--house", "mono", "--house", "newsprint")
    assert [p["house"] for p in report["pictures"]] == ["mono", "newsprint"]
    (tmp_path / "mono.yaml").write_text("house: mono\nkind: output\nstands on: mono\n")
    done = run("check", picture, "--house", "mono", "--house", tmp_path / "mono.yaml")
    assert (done.returncode, "same name" in done.stderr) == (2, True)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to write to")
def test_a_full_disk_is_told_in_a_sentence(tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    for call in (["check", picture, "--house", "mono"], ["rules", "show"]):
        words = [sys.executable, "-m", "pressworthy", *map(str, call)]
        with Path("/dev/full").open("w") as full:
            done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, text=True)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1), done.stderr
        assert "No space left" in done.stderr


def test_a_folder_that_cannot_be_looked_into_ends_no_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("open", "shut", "gone"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "p.jpg").touch()
    look, asked = os.stat, False

    def guarded(path: Any, *more: Any, **options: Any) -> os.stat_result:
        nonlocal asked
        # as where the folder's mode is r--, and where it went while the run began
        if str(path).endswith("shut/p.jpg"):
            raise PermissionError(13, "Permission denied", str(path))
        if str(path).endswith("gone") and asked:
            raise FileNotFoundError(2, "No such file or directory", str(path))
        asked = str(path).endswith("gone") or asked
        return look(path, *more, **options)

    monkeypatch.setattr("os.stat", guarded)
    named = [str(path.relative_to(tmp_path)) for path in walk([tmp_path])]
    assert named == ["gone", "open/p.jpg", "shut/p.jpg"]


def test_a_file_named_twice_is_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "in").mkdir()
    for name in ("in/a.jpg", "in/b.jpg", "c.jpg"):
        (tmp_path / name).touch()
    (tmp_path / "in" / "linked.jpg").symlink_to(tmp_path / "c.jpg")
    (tmp_path / "way").symlink_to(tmp_path / "in")
    ways: list[str | Path] = [
        "c.jpg",
        "./c.jpg",
        "in/../c.jpg",
        tmp_path / "c.jpg",
        "in",
        "way/b.jpg",
        "in/b.jpg",
    ]
    named = [str(path) for path in walk(map(Path, ways))]
    assert named == ["c.jpg", "in/a.jpg", "in/linked.jpg", "way/b.jpg"]


@pytest.mark.parametrize(
    ("option", "value", "why"),
    [
        ("--time", "0", "is not a number of seconds above 0"),
        ("--time", "a while", "is not a number of seconds above 0"),
        ("--time", "nan", "is not a number of seconds above 0"),
        ("--memory", "much", "is not a size of 100MB or more"),
        ("--memory", "99MB", "is not a size of 100MB or more"),
        ("--memory", "2", "is not a size of 100MB or more"),
    ],
)
def test_limits_that_are_none(
    option: str, value: str, why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["check", "p.jpg", "--house", "mono", option, value])
    assert ended.value.code == 2
    assert why in capsys.readouterr().err
