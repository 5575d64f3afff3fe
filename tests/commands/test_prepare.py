"""The prepare command: a dry run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

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
    assert reasons[True].keys() == {"cut", "taken"}
    assert reasons[True]["taken"] == reasons[False]["taken"]
    assert "cut short" in reasons[True]["cut"] and "cut short" in reasons[False]["cut"]
