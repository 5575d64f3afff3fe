"""Waivers: what a person accepts stays in the report, counts again once expired, unused is told."""

from __future__ import annotations

import json
import textwrap
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pressworthy.commands.main import main
from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import read_header
from pressworthy.files.waivers import read_waivers
from pressworthy.jobs import Task
from pressworthy.jobs.accepting import accepted, judged_here, with_tones
from pressworthy.report import json_report, junit, sarif, text_report
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.report import Report
from pressworthy.values.waiver import Use, Waiver
from pressworthy_rules import credit, page_printing, resolution

DAY = date(2026, 6, 15)
LET_STAND = "luminance", "waived"


def a_waiver(finding: str = "resolution/too-few-pixels", **more: Any) -> Waiver:
    facts = {"reason": "archive print", "by": "A. Editor", "until": DAY, "picture": "a.jpg"}
    return Waiver(finding, **{**facts, **more})


def a_report() -> Report:
    few = Finding("too-few-pixels", 150.0, 300.0, "ppi", "Supply more.", Severity.STOP, Bound.LEAST)
    bent = Finding("distorted", 5.0, 2.0, "%", "Crop it.", Severity.QUERY, Bound.MOST)
    outcomes = (
        Outcome("resolution", State.FOUND, (few, bent)),
        Outcome("luminance", State.UNMEASURED, reason="no profile"),
        Outcome("credit", State.BROKEN, reason="KeyError"),
    )
    verdicts = (Verdict("a.jpg", outcomes, page="3"), Verdict("b.jpg", outcomes[:1], page="4"))
    return Report("check", "h", "", "print", (), {}, verdicts)


def text(report: Report) -> str:
    return "".join(text_report.render(report))


def states(report: Report, index: int = 0) -> list[tuple[str, str, list[str]]]:
    return [
        (o.rule, str(o.state), [f.code for f in o.findings])
        for o in report.verdicts[index].outcomes
    ]


def test_only_what_is_accepted_is_waived_and_the_rest_stands() -> None:
    report = accepted(a_report(), [a_waiver()], DAY)
    assert states(report)[:2] == [
        ("resolution", "found", ["distorted"]),
        ("resolution", "waived", ["too-few-pixels"]),
    ]
    assert states(report, 1) == [("resolution", "found", ["too-few-pixels", "distorted"])]
    assert report.verdicts[0].worst() is Severity.QUERY
    assert [use.use for use in report.waivers] == [Use.APPLIED]


def test_the_last_day_counts_and_the_day_after_does_not() -> None:
    assert accepted(a_report(), [a_waiver()], DAY).waivers[0].use is Use.APPLIED
    after = accepted(a_report(), [a_waiver()], DAY + timedelta(1))
    assert after.waivers[0].use is Use.EXPIRED
    assert tuple(after.verdicts) == a_report().verdicts
    assert "has expired and counts no more" in text(after)


@pytest.mark.parametrize(
    ("waiver", "use"),
    [
        (a_waiver(picture="", page="3"), Use.APPLIED),
        (a_waiver(page="4"), Use.ASTRAY),
        (a_waiver(picture="c.jpg"), Use.ASTRAY),
        (a_waiver("resolution/too-many-pixels"), Use.UNUSED),
        (a_waiver("luminance/unmeasured"), Use.APPLIED),
        (a_waiver("credit/unmeasured"), Use.UNUSED),
    ],
)
def test_what_a_waiver_is_for(waiver: Waiver, use: Use) -> None:
    report = accepted(a_report(), [waiver], DAY)
    assert report.waivers[0].use is use
    assert (report.verdicts[0] != a_report().verdicts[0]) is (use is Use.APPLIED)
    assert ("was not needed" in text(report)) is (use is Use.UNUSED)
    assert ("is for no picture of this run" in text(report)) is (use is Use.ASTRAY)


def test_a_broken_rule_cannot_be_waived() -> None:
    waivers = [a_waiver(f"credit/{code}") for code in ("unmeasured", "broken")]
    report = accepted(a_report(), waivers, DAY)
    assert ("credit", "broken", []) in states(report)
    assert report.exit_status() == 1


def test_every_report_shows_it() -> None:
    waivers = [a_waiver(), a_waiver("luminance/unmeasured", page="3")]
    report = accepted(a_report(), waivers, DAY)
    shown = " ".join(text(report).split())
    assert "waived resolution too-few-pixels: 150 ppi" in shown
    assert "no profile; accepted by A. Editor until 2026-06-15: archive print" in shown
    data = json.loads("".join(json_report.render(report)))
    Draft202012Validator(schema()).validate(data)
    assert [w["use"] for w in data["waivers"]] == ["applied", "applied"]
    waived = [o for p in data["pictures"] for o in p["outcomes"] if o["state"] == "waived"]
    assert len(waived) == 2
    assert waived[0]["findings"][0]["id"] == "resolution/too-few-pixels:a.jpg:3"


def test_every_report_tells_of_waivers_that_did_nothing() -> None:
    waivers = [a_waiver("credit/unmeasured"), a_waiver(picture="<c>.jpg")]
    report = accepted(a_report(), waivers, DAY)
    not_needed = "A waiver was not needed: credit/unmeasured, a.jpg;"
    astray = "A waiver is for no picture of this run: resolution/too-few-pixels, <c>.jpg;"
    shown = " ".join(text(report).split())
    assert not_needed in shown and astray in shown
    uses = [w["use"] for w in json.loads("".join(json_report.render(report)))["waivers"]]
    assert uses == ["unused", "astray"]
    run = json.loads("".join(sarif.render(report)))["runs"][0]
    notices = run["invocations"][0]["toolExecutionNotifications"]
    assert [notice["level"] for notice in notices] == ["note", "note"]
    assert notices[1]["message"]["text"].startswith(astray)
    output = ET.fromstring("".join(junit.render(report))).findtext("testsuite/system-out") or ""
    assert not_needed in output and astray in output


def test_a_picture_by_its_file_name_alone_is_told_where_it_could_be() -> None:
    outcome = a_report().verdicts[0].outcomes[:1]
    pictures = [Verdict(f"{folder}/cloth.jpg", outcome, page="3") for folder in "ab"]
    report = replace(a_report(), verdicts=pictures)
    here, elsewhere = a_waiver(picture="cloth.jpg"), a_waiver(picture="cloth.jpg", page="9")
    alone, other = accepted(report, [here, elsewhere], DAY).left_over()
    assert "is for no picture of this run: resolution/too-few-pixels, cloth.jpg;" in alone
    assert alone.endswith("By its file name it fits a/cloth.jpg and b/cloth.jpg: write the path.")
    assert other.endswith("archive print.")


@pytest.mark.parametrize(
    ("finding", "told"),
    [
        ("gamut/out-of-gamutt", "gamut has no code 'out-of-gamutt'; it has "),
        ("gamutt/out-of-gamut", "No rule is called 'gamutt'; did you mean gamut?"),
        ("xyzzy/a", "No rule is called 'xyzzy'."),
        ("luminance/unmeasured", "A waiver was not needed"),
        ("picture-list/listed-twice", "A waiver was not needed"),
    ],
)
def test_a_finding_that_there_is_not_is_told(
    finding: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    listed = tmp_path / "list.csv"
    until = date.today() + timedelta(30)
    listed.write_text(f"picture,waive,reason,by,until\na.jpg,{finding},old,A. Editor,{until}\n")
    main(["check", "--list", str(listed), "--house", "mono"])
    shown = " ".join(capsys.readouterr().out.split())
    assert told in shown
    assert ("is for no finding that there is" in shown) == ("not needed" not in shown)


def test_what_is_accepted_of_pages_is_no_matter_of_files_nor_the_other_way_round() -> None:
    rules = {one.name: one for one in (page_printing.rule, credit.rule, resolution.rule)}
    page = a_waiver("page-printing/no-intent", picture="", page="3")
    words, both, typo = a_waiver("credit/unmeasured"), a_waiver(), a_waiver("gamutt/a")
    every = [page, words, both, typo]
    assert judged_here(every, rules) == [words, both, typo]
    assert judged_here(every, rules, pages=True) == [page, both, typo]


def test_files_say_nothing_of_a_waiver_for_their_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    until = date.today() + timedelta(30)
    waived = "waive,reason,by,until\na.jpg,4,page-printing/no-intent,old,A. Editor"
    (tmp_path / "list.csv").write_text(f"picture,page,{waived},{until}\n")
    main(["check", "--list", str(tmp_path / "list.csv"), "--house", "mono"])
    assert "A waiver" not in capsys.readouterr().out


def test_every_fault_of_a_waiver_file(tmp_path: Path) -> None:
    path = tmp_path / "w.yaml"
    path.write_text(
        textwrap.dedent("""\
        waivers:
          - {finding: too-few-pixels, picture: a.jpg, reason: r, by: b, until: 2026-01-01}
          - {finding: a/b, picture: a.jpg, reason: "", by: b, until: 2026-02-30}
          - {finding: a/b, reason: r, by: b, until: 2026-01-01}
          - {finding: a/b, picture: a.jpg, reason: r, until: tomorrow, who: me}
          - {finding: a/b, picture: a.jpg, reason: 12, by: b, until: 2026-01-01}
        """)
    )
    with pytest.raises(SetupError) as caught:
        read_waivers(path)
    told = [str(fault) for fault in caught.value.faults]
    for line, words in (
        (2, "is not rule/code"),
        (3, "'2026-02-30' is not a date"),
        (3, "a waiver needs 'reason'"),
        (6, "12 is not text"),
        (4, "needs a 'picture' or a 'page'"),
        (5, "'tomorrow' is not a date"),
        (5, "who: unknown"),
        (5, "'by' is missing"),
    ):
        assert any(f"w.yaml:{line}:" in fault and words in fault for fault in told), words
    assert len(told) == 8


def test_from_a_file_and_from_the_list(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    until = date.today() + timedelta(30)
    waivers = tmp_path / "w.yaml"
    waivers.write_text(
        "waivers:\n  - {finding: resolution/too-few-pixels, picture: a.jpg, "
        f"reason: only print there is, by: A. Editor, until: {until}}}\n"
    )
    listed = tmp_path / "list.csv"
    listed.write_text(
        "picture,width,height,waive,reason,by,until\n"
        f"a.jpg,120,90,resolution/too-few-pixels,old,A. Editor,{until}\n"
    )
    plain = tmp_path / "plain.csv"
    plain.write_text("picture,width,height\na.jpg,120,90\n")

    def few(*call: str) -> str:
        main(["check", "--house", "mono", "--format", "json", *call])
        report = json.loads(capsys.readouterr().out)
        Draft202012Validator(schema()).validate(report)
        outcomes = [o for o in report["pictures"][0]["outcomes"] if o["rule"] == "resolution"]
        return str(outcomes[0]["state"])

    picture = str(tmp_path / "a.jpg")
    assert few("--list", str(plain)) == "found"
    assert few("--list", str(listed)) == "waived"
    assert few("--list", str(plain), "--waivers", str(waivers)) == "waived"
    assert few(picture, "--size", "120x90mm", "--waivers", str(waivers)) == "waived"


def test_copies_are_waived_by_the_same_rules(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_picture(tmp_path / "a.jpg", draw(), words=CREDITED)
    states = {}
    for name, days in (("valid", 30), ("expired", -1)):
        waivers = tmp_path / f"{name}.yaml"
        waivers.write_text(
            "waivers:\n  - {finding: resolution/too-few-pixels, picture: a.jpg, "
            f"reason: only print, by: A. Editor, until: {date.today() + timedelta(days)}}}\n"
        )
        call = ["prepare", str(tmp_path / "a.jpg"), "--house", "mono", "--size", "120x90mm"]
        call += ["--into", str(tmp_path / name), "--waivers", str(waivers), "--format", "json"]
        status = main(call)
        (picture,) = json.loads(capsys.readouterr().out)["pictures"]
        (resolution,) = [o for o in picture["outcomes"] if o["rule"] == "resolution"]
        states[name] = resolution["state"], status
    assert states == {"valid": ("waived", 0), "expired": ("found", 1)}


def test_a_waiver_in_the_list_needs_all_its_fields(tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text("picture,waive,reason,by,until\na.jpg,a/b,,,soon\nb.jpg,,why,,\n")
    with pytest.raises(SetupError) as caught:
        from pressworthy.files.picture_list import read_list

        read_list(listed)
    told = [str(fault) for fault in caught.value.faults]
    assert any("list.csv:2: column 3 (reason)" in fault for fault in told)
    assert any("list.csv:2: column 4 (by)" in fault for fault in told)
    assert any("list.csv:2: column 5 (until): 'soon' is not a date" in fault for fault in told)
    assert any("list.csv:3: column 3 (reason): stands without" in fault for fault in told)


def test_who_waives_a_finding_of_luminance_keeps_the_tones_as_supplied() -> None:
    def tone(waiver: Waiver, said: str = "", page: str = "3") -> str:
        task = Task(Path("a.jpg"), PlacementRequest(page=page, tone=said))
        return with_tones([task], [waiver], DAY)[0].request.tone

    assert tone(a_waiver("luminance/too-dark")) == "as supplied"
    assert tone(a_waiver("luminance/too-dark"), "house") == "house"
    assert tone(a_waiver("luminance/too-dark"), "+6 L*") == "+6 L*"
    assert tone(a_waiver("luminance/too-dark", page="4")) == ""
    assert tone(a_waiver("luminance/too-dark", picture="b.jpg")) == ""
    assert tone(a_waiver("luminance/too-dark", until=DAY - timedelta(1))) == ""
    assert tone(a_waiver("resolution/too-few-pixels")) == ""


def test_a_waived_dark_picture_is_not_lifted_and_its_copy_is_accepted(tmp_path: Path) -> None:
    """Its note names the master's own L*; one that the list leaves to the house is lifted."""
    for name in ("night.tif", "dusk.tif"):
        # L* 14 and no lights: the house would lift it, though not far enough
        write_picture(tmp_path / name, draw(720, 480) // 25 * 7, words=CREDITED)
    text = "picture,house,width,height,tone,waive,reason,by,until\n"
    for name, tone in (("night.tif", ""), ("dusk.tif", "house")):
        text += f"{name},newsprint,60,40,{tone},luminance/too-dark,meant,A. Editor,2999-01-01\n"
    (tmp_path / "list.csv").write_text(text)
    out = tmp_path / "r.json"
    into = tmp_path / "copies"
    main(["prepare", "--list", str(tmp_path / "list.csv"), "--into", str(into), "--format", "json",
          "--output", str(out)])  # fmt: skip

    def slip(name: str) -> Ticket:
        read = read_ticket(read_header(into / f"{name}-newsprint.tif").xmp)
        assert read
        return read

    assert (slip("night").tone, slip("night").lift) == ("as supplied", "0.0")
    assert slip("dusk").tone == "house" and float(slip("dusk").lift) > 3
    for picture in json.loads(out.read_text())["pictures"]:
        (mine,) = (o for o in picture["outcomes"] if (o["rule"], o["state"]) == LET_STAND)
        (dark,) = (f for f in mine["findings"] if f["code"] == "too-dark")
        name = Path(picture["facts"]["master"]).stem
        master = float(slip(name).supplied.split()[1])
        assert f"its master is at L* {master:.0f}, " in dark["remedy"]
