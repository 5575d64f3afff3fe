"""JUnit XML and SARIF against their published schemas, with every kind of outcome in the report.

junit-10.xsd: the xUnit plug-in of Jenkins, by G. Boissinot, MIT, as the sources of pytest 9.2.0
carry it. sarif-2.1.0-rtm.5.json: OASIS SARIF 2.1.0, the schema as published at SchemaStore, as
the npm package @microsoft/jest-sarif 1.0.0-beta.0 (MIT) carries it.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator, Draft202012Validator
from lxml import etree

from pressworthy.jobs.accepting import accepted
from pressworthy.report import json_report, junit, sarif, text_report
from pressworthy.values.finding import Bound, Finding, Outcome, Severity, State, Verdict
from pressworthy.values.report import Report
from pressworthy.values.rule import notes_on
from pressworthy.values.waiver import Waiver
from pressworthy.values.words import readable
from pressworthy_rules import gamut, resolution

HERE = Path(__file__).parent
HOSTILE = "a\x1b[2J<&\udcff\"' b\u202e.jpg"


@pytest.fixture
def report() -> Report:
    stop = Finding(
        "too-few-pixels", 150.0, 300.0, "ppi", "Supply <more> & better.", Severity.STOP, Bound.LEAST
    )
    query = Finding("odd", "red \x00 \ufffe", "blue", "", "Look.", Severity.QUERY)
    kept = Finding("known", 1.0, (2.0, 3.0), "mm", "Leave it.", Severity.STOP, Bound.BETWEEN)
    outcomes = (
        Outcome("resolution", State.FOUND, (stop, query, kept)),
        Outcome("credit", State.PASSED),
        Outcome("gamut", State.UNMEASURED, reason="no profile"),
        Outcome("ink", State.UNMEASURED, reason="no profile", weight=Severity.NOTE),
        Outcome("bleed", State.BROKEN, reason="KeyError: 'x'"),
        Outcome("acutance", State.WAIVED, reason="a master"),
    )
    verdicts = (
        Verdict(HOSTILE, outcomes, page="3", house="one"),
        Verdict("/b.jpg", outcomes[:2], name="b.jpg", house="two"),
    )
    rules = tuple(notes_on(rule) for rule in (resolution.rule, gamut.rule))
    plain = Report("check", "one, two", "", "print", (), {}, verdicts, rules=rules,
                   told_once=(f"of all {HOSTILE}",))  # fmt: skip
    waivers = [
        Waiver("resolution/known", "why not", "A. Editor", date(2026, 1, 1), page="3"),
        Waiver("ink/unmeasured", "known", "A. Editor", date(2026, 1, 1), page="3"),
        Waiver("ink/too-much", HOSTILE, "A. Editor", date(2025, 1, 1), picture=HOSTILE),
    ]
    return accepted(plain, waivers, date(2026, 1, 1))


def parsed(text: str) -> Any:
    return etree.fromstring(text.encode("utf-8"))


def test_junit_fits_its_schema_and_counts(report: Report) -> None:
    root = parsed("".join(junit.render(report)))
    etree.XMLSchema(etree.parse(HERE / "junit-10.xsd")).assertValid(root)
    assert [suite.get("name") for suite in root] == ["one", "two"]
    assert dict(root[0].attrib) == {
        "name": "one", "tests": "7", "failures": "1", "errors": "2", "skipped": "3",
    }  # fmt: skip
    assert (root.get("tests"), root.get("failures"), root.get("errors")) == ("9", "2", "2")
    failure = root.find(".//failure")
    assert failure.get("message") == "too-few-pixels"
    assert "Supply <more> & better." in failure.text
    skipped = [node.get("message") for node in root.iter("skipped")]
    assert "accepted by A. Editor until 2026-01-01: why not" in skipped


def test_the_junit_schema_refuses_what_is_wrong(report: Report) -> None:
    root = parsed("".join(junit.render(report)))
    etree.SubElement(root[0][0], "finding")
    assert not etree.XMLSchema(etree.parse(HERE / "junit-10.xsd")).validate(root)


def test_sarif_fits_its_schema_and_tells_all(report: Report) -> None:
    log = json.loads("".join(sarif.render(report)))
    published = json.loads((HERE / "sarif-2.1.0-rtm.5.json").read_text("utf-8"))
    checker = Draft4Validator(published, format_checker=Draft4Validator.FORMAT_CHECKER)
    checker.validate(log)
    (run,) = log["runs"]
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    described = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    for code, meaning in resolution.rule.codes.items():
        rule = described[f"resolution/{code}"]
        assert rule["shortDescription"]["text"] == meaning
        assert rule["fullDescription"]["text"].startswith(resolution.rule.doc.splitlines()[0])
        assert "Put it right: ask for the picture at its full size" in rule["help"]["text"]
        assert rule["properties"] == {"rule": "resolution", "version": resolution.rule.version}
    assert "could not measure" in described["gamut/unmeasured"]["shortDescription"]["text"]
    told: dict[str, list[tuple[str, str]]] = {}
    for result in run["results"]:
        assert rules[result["ruleIndex"]] == result["ruleId"]
        kind = result.get("kind", "fail")
        told.setdefault(result["ruleId"], []).append((kind, result["level"]))
    assert told["resolution/too-few-pixels"] == [("fail", "error")] * 2
    assert told["resolution/odd"] == [("fail", "warning")] * 2
    assert told["gamut/unmeasured"] == [("open", "none")]
    assert told["bleed/broken"] == [("open", "none")]
    waived = {r["ruleId"] for r in run["results"] if r.get("suppressions")}
    assert waived == {"resolution/known", "ink/unmeasured"}
    prints = [tuple(r["partialFingerprints"].values()) for r in run["results"]]
    assert len(set(prints)) == len(prints)
    log["runs"][0]["results"][0]["level"] = "stop"
    assert not checker.is_valid(log)


def test_json_fits_its_schema_and_describes_the_rules(report: Report) -> None:
    data = json.loads("".join(json_report.render(report)))
    Draft202012Validator(json_report.schema()).validate(data)
    first = data["rules"][0]
    assert (first["name"], first["version"]) == ("resolution", resolution.rule.version)
    assert first["codes"] == resolution.rule.codes
    bounds = {
        finding["code"]: (finding["limit"], finding["bound"])
        for picture in data["pictures"]
        for outcome in picture["outcomes"]
        for finding in outcome["findings"]
    }
    assert bounds == {
        "too-few-pixels": (300.0, "least"),
        "odd": ("blue", None),
        "known": ([2.0, 3.0], "between"),
    }
    data["rules"][0]["words"] = 1
    assert not Draft202012Validator(json_report.schema()).is_valid(data)


def test_identifiers_are_the_same_in_every_run(report: Report) -> None:
    (_, two) = report.verdicts
    assert two.identifier("resolution", "odd") == "resolution/odd:b.jpg"
    assert [*sarif.render(report)] == [*sarif.render(report)]
    assert [*junit.render(report)] == [*junit.render(report)]


def test_what_is_told_once_stands_in_every_format(report: Report) -> None:
    said = readable(f"of all {HOSTILE}")
    assert said in " ".join("".join(text_report.render(report)).split())
    data = json.loads("".join(json_report.render(report)))
    assert data["told once"] == [f"of all {HOSTILE}"]
    for suite in parsed("".join(junit.render(report))):
        assert said in suite.findtext("system-out")
    (run,) = json.loads("".join(sarif.render(report)))["runs"]
    notices = run["invocations"][0]["toolExecutionNotifications"]
    assert said in [notice["message"]["text"] for notice in notices]
