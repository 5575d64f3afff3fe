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
