"""The prepare command: a dry run, and masters that are left for a person."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from damaged_files import jpegs, tiffs
from jsonschema import Draft202012Validator
from landscapes import R03, as_space, landscape

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.commands.main import main
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture


def test_a_dry_run_says_so_and_passes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED)
    bad = tmp_path / "q.jpg"
    bad.write_bytes(b"no picture")
    call = ["prepare", str(good), str(bad), "--house", "mono", "--into", str(tmp_path / "copies")]
    assert main([*call, "--dry-run", "--format", "json"]) == 1
    report = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema()).validate(report)
    assert report["dry run"] is True
    assert report["counts"] == {"stop": 0, "query": 0, "note": 0, "unjudged": 2, "passed": 0}
    assert main([*call, "--dry-run"]) == 1
    told = capsys.readouterr().out
    assert "1 would be made" in told and "1 not fully judged" in told and "passed" not in told


def test_a_dry_run_tells_what_cannot_be_read_or_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, cut, taken = (
        write_picture(tmp_path / f"{name}.jpg", draw(), words=CREDITED)
        for name in ("good", "cut", "taken")
    )
    # the head is whole, so that its size is told
    cut.write_bytes(cut.read_bytes()[: cut.stat().st_size // 2])
    into = tmp_path / "copies"
    call = ["prepare", str(good), str(cut), str(taken), "--house", "mono", "--into", str(into)]
    into.mkdir()
    (into / "taken-mono.tif").write_bytes(b"another's")
    reasons = {}
    for more in ([], ["--dry-run"], []):
        assert main([*call, *more, "--format", "json"]) == 1
        pictures = json.loads(capsys.readouterr().out)["pictures"]
        told = {
            Path(p["path"]).stem: o["reason"]
            for p in pictures for o in p["outcomes"] if o["rule"] == "prepare"
        }  # fmt: skip
        reasons[bool(more)] = told
        if more:
            (there,) = (p["facts"]["there"] for p in pictures if "plan" in p["facts"])
            assert there == "up to date"
            main([*call, *more])
            assert "0 would be made, 1 are there already" in capsys.readouterr().out
    # rules of pages judge masters as little as copies
    main(call)
    said = " ".join(capsys.readouterr().out.split())
    names = "compression, sharpening, source-profile, true-resolution"
    assert f"Judged by check on masters, and not on their copies: {names}." in said
    assert reasons[True].keys() == {"cut", "taken"}
    assert reasons[True]["taken"] == reasons[False]["taken"]
    assert "cut short" in reasons[True]["cut"] and "cut short" in reasons[False]["cut"]


PLAIN = draw(480, 360)


def written(**how: Any) -> Callable[[Path], Path]:
    """Return a writer of a master."""
    values = how.pop("values", PLAIN)
    return lambda path: write_picture(path, values, **{"words": CREDITED, **how})


def of_class(kind: bytes) -> Callable[[Path], Path]:
    """Return a writer of a master whose ICC profile has another class; libvips writes none such."""
    whole = rgb_profile("sRGB")[:40]

    def write(path: Path) -> Path:
        data = write_picture(path, PLAIN, words=CREDITED, Q=95).read_bytes()
        assert data.count(whole) == 1
        path.write_bytes(data.replace(whole, whole[:12] + kind + whole[16:]))
        return path

    return write


def of_bytes(data: bytes) -> Callable[[Path], Path]:
    def write(path: Path) -> Path:
        path.write_bytes(data)
        return path

    return write


WRONG = as_space(landscape(), "opRGB")
LEFT: dict[str, tuple[str, Callable[[Path], Path], str]] = {
    "opRGB tagged sRGB": (
        "p.jpg", written(values=WRONG, fields=R03, Q=95), "source-profile/wrong"
    ),
    "a device link": ("p.jpg", of_class(b"link"), "icc-profile/wrong-class"),
    "an abstract profile": ("p.jpg", of_class(b"abst"), "icc-profile/wrong-class"),
    "named colours": ("p.jpg", of_class(b"nmcl"), "icc-profile/wrong-class"),
    "no copyright": (
        "p.tif", written(words={**CREDITED, "copyright": ""}), "credit/no-copyright"
    ),
    "half grey": ("p.jpg", of_bytes(jpegs()["ended at 50%"][1]), "read-whole/damaged"),
    "out of step": ("p.jpg", of_bytes(jpegs()["changed at 50%"][1]), "read-whole/damaged"),
    "a changed TIFF": ("p.tif", of_bytes(tiffs()["tiles, changed"][1]), "read-whole/damaged"),
    "a cut TIFF": ("p.tif", of_bytes(tiffs()["cut at 60 %"][1]), ""),
    "missing strips": ("p.tif", of_bytes(tiffs()["strips missing"][1]), ""),
    "zstd": ("p.tif", of_bytes(tiffs()["zstd"][1]), ""),
}  # fmt: skip
"""A master -> its file, what writes it, and the stop it has, "" where it is not read at all."""


def prepared(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[Any, list[Path]]:
    """Return the report on a master for coated-magazine, and the copies made of it."""
    into = path.parent / "copies"
    call = ["prepare", str(path), "--house", "coated-magazine", "--size", "38x28mm"]
    status = main([*call, "--into", str(into), "--jobs", "1", "--format", "json", *more])
    report = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema()).validate(report)
    assert report["exit"] == status
    (picture,) = report["pictures"]
    return picture, list(into.glob("*"))


@pytest.mark.parametrize("name", LEFT)
def test_what_check_stops_is_not_prepared(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, write, stop = LEFT[name]
    path = write(tmp_path / file)
    picture, copies = prepared(path, capsys)
    assert copies == []
    (why,) = (o["reason"] for o in picture["outcomes"] if o["rule"] == "prepare")
    stops = {
        f"{o['rule']}/{f['code']}" for o in picture["outcomes"] for f in o["findings"]
        if f["severity"] == "stop"
    }  # fmt: skip
    if not stop:
        assert "cut short" in why or "compression, which is not read here" in why
        return
    assert stops == {stop}
    # where the profile itself is in doubt the words name the way out
    assert why.startswith("left for a person") or "ask which space it was made in" in why
    planned, _ = prepared(path, capsys, "--dry-run")
    assert "plan" not in planned["facts"]


def test_with_its_space_named_it_gets_the_copy_of_one_that_was_tagged_rightly(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    looks = []
    for icc, fields, more in (("sRGB", R03, ["--assume", "p.jpg=opRGB"]), ("opRGB", {}, [])):
        folder = tmp_path / icc
        folder.mkdir()
        path = written(values=WRONG, icc=icc, fields=fields, Q=95)(folder / "p.jpg")
        _, (copy,) = prepared(path, capsys, *more)
        looks.append(pyvips.Image.new_from_file(str(copy)).numpy().astype(int))
    assert np.abs(looks[0] - looks[1]).max() <= 1


def test_what_a_person_accepts_is_prepared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, write, stop = LEFT["half grey"]
    path, waivers = write(tmp_path / file), tmp_path / "w.yaml"
    waivers.write_text(
        f"waivers:\n  - {{finding: {stop}, picture: {path}, reason: only its top shows, "
        "by: A. Editor, until: 2999-01-01}\n"
    )
    _, copies = prepared(path, capsys, "--waivers", str(waivers))
    assert len(copies) == 1
    main(["prepare", str(path), "--house", "coated-magazine", "--size", "38x28mm", "--waivers",
          str(waivers), "--into", str(tmp_path / "copies")])  # fmt: skip
    assert "was not needed" not in capsys.readouterr().out


@pytest.mark.parametrize(
    "how",
    [
        {"values": draw(300, 225)},
        {"values": np.full((360, 480, 4), 250, np.uint8), "mode": "CMYK"},
    ],
)
def test_what_preparing_may_put_right_is_judged_on_the_copy(
    how: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str], coated: Any
) -> None:
    if how.get("mode") == "CMYK":
        how = {**how, "icc": coated.output.condition.profiles["cmyk"].read_bytes()}
    path = written(**how)(tmp_path / "p.tif")
    main(["check", str(path), "--house", "coated-magazine", "--size", "38x28mm"])
    assert " stop " in capsys.readouterr().out
    picture, (copy,) = prepared(path, capsys)
    assert Path(picture["path"]) == copy
    assert all(o["rule"] != "prepare" for o in picture["outcomes"])


def test_a_delivery_in_a_wrong_space_is_left_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    for n in range(1, 8):
        write_picture(masters / f"{n}.tif", as_space(landscape(n), "ROMM RGB"), words=CREDITED)
    into = tmp_path / "copies"
    main(["prepare", str(masters), "--house", "screen", "--into", str(into), "--format", "json"])
    pictures = json.loads(capsys.readouterr().out)["pictures"]
    stops = [
        {f["code"] for o in p["outcomes"] for f in o["findings"] if f["severity"] == "stop"}
        for p in pictures
    ]
    assert stops == [{"delivery-wrong"}] * 14
    assert not list(into.glob("*"))
