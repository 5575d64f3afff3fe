"""Runs over many pictures: verdicts on disk, reports in parts, lines while the run goes on."""

from __future__ import annotations

import io
import json
import tracemalloc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pressworthy.commands.main import main
from pressworthy.jobs.running.kept import Kept
from pressworthy.plugins import Registry
from pressworthy.report.json_report import schema
from pressworthy.report.lines import Live
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report


def verdicts(count: int) -> Iterator[Verdict]:
    for number in range(count):
        remedy = f"Supply at least {number} pixels across, as a master, not from the web page."
        found = Finding(
            "too-few-pixels", float(number), 300.0, "ppi", remedy, Severity.QUERY, Bound.LEAST
        )
        outcomes = [Outcome(f"rule-{i}", State.PASSED) for i in range(16)]
        yield Verdict(f"/archive/{number:06}.jpg", (Outcome("a", State.FOUND, (found,)), *outcomes))


def a_report(count: int) -> Report:
    return Report("check", "h", "", "print", (), {}, Kept(verdicts(count)))


def test_kept_verdicts_are_a_sequence() -> None:
    kept, plain = Kept(verdicts(5)), list(verdicts(5))
    assert list(kept) == plain and len(kept) == 5
    assert kept[-1] == plain[-1] and kept[1:3] == plain[1:3]
    assert list(Kept()) == []
    with pytest.raises(IndexError):
        kept[5]


@pytest.mark.parametrize("name", ["text", "json", "lines", "junit", "sarif"])
def test_memory_does_not_grow_with_the_pictures(name: str, registry: Registry) -> None:
    def peak(count: int) -> int:
        tracemalloc.start()
        report = a_report(count)
        for _ in registry.report_formats[name](report):
            pass
        grown = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return grown

    peak(20)  # what is imported and cached once
    # a verdict takes more than 10 kB in memory, its line in the index less than 1 kB
    assert peak(160) - peak(40) < 120 * 1000


@pytest.mark.parametrize("count", [0, 1, 3])
def test_json_in_parts_is_json(count: int, registry: Registry) -> None:
    report = a_report(count)
    text = "".join(registry.report_formats["json"](report))
    data = json.loads(text)
    Draft202012Validator(schema()).validate(data)
    assert len(data["pictures"]) == count
    assert text == json.dumps(data, indent=2) + "\n"
    assert len(json.loads("".join(registry.report_formats["sarif"](report)))["runs"]) == 1


def lines(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


def test_lines_are_written_as_the_run_goes_and_again_where_more_is_known() -> None:
    file = io.StringIO()
    live = Live(file)
    for number, _ in enumerate(live.passing(verdicts(3)), start=1):
        assert len(lines(file.getvalue())) == number
    plain = list(verdicts(3))
    late = Finding("odd-one-out", 1.0, 2.0, "", "Look.", Severity.NOTE, Bound.MOST)
    plain[1] = Verdict(plain[1].path, (Outcome("a", State.FOUND, (late,)),))
    live.end(Report("check", "h", "", "print", (), {}, plain))
    told = lines(file.getvalue())
    assert [line["kind"] for line in told] == ["picture"] * 4 + ["run"]
    assert told[3]["path"] == told[1]["path"]
    assert told[3]["outcomes"][0]["findings"][0]["code"] == "odd-one-out"
    assert told[4]["counts"]["query"] == 2


def test_the_command_writes_lines(tmp_path: Path) -> None:
    folder, out = tmp_path / "in", tmp_path / "out.jsonl"
    folder.mkdir()
    for name in "ab":
        write_picture(folder / f"{name}.jpg", draw(320, 240), words=CREDITED)
    call = ["check", str(folder), "--house", "coated-magazine", "--format", "lines"]
    assert main([*call, "--output", str(out)]) == 0
    told = lines(out.read_text())
    assert [line["kind"] for line in told] == ["picture", "picture", "run"]
    published = schema()
    checker = Draft202012Validator({"$defs": published["$defs"], "$ref": "#/$defs/line"})
    checker.validate(told[0])
    checker.validate(told[2])
    assert list(tmp_path.glob("*.part")) == []


def test_an_output_that_cannot_be_written_is_told_before_the_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = write_picture(tmp_path / "a.jpg", draw(320, 240))
    out = tmp_path / "none" / "out.json"
    call = ["check", str(picture), "--house", "mono", "--output", str(out)]
    assert main(call) == 2
    assert "out.json: cannot be written" in capsys.readouterr().err
