"""Waivers: a person accepts a finding for a picture or a page, with reason, name and last day.

They are laid over the verdicts after judging, so that the report always shows what was found.
"""

from __future__ import annotations

import difflib
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Any

from pressworthy.finding import Finding, Outcome, State, Verdict
from pressworthy.yamlfile import Document, Fault, Origin, SetupError, faults_against, is_there, read

_FINDING = re.compile(r"[a-z0-9-]+/[a-z0-9-]+")

FIELDS: Mapping[str, Mapping[str, Any]] = {
    "finding": {
        "type": "string",
        "description": "rule and code of what is accepted, such as resolution/too-few-pixels; "
        "the code 'unmeasured' accepts that a rule could not measure",
    },
    "picture": {"type": "string", "description": "file, seen from here, or as the report calls it"},
    "page": {"type": ["string", "integer"], "description": "accepts it for this page only"},
    "reason": {"type": "string", "description": "why it is accepted"},
    "by": {"type": "string", "description": "who accepts it"},
    "until": {"type": "string", "description": "the last day it counts, such as 2026-12-31"},
}
SCHEMA: Mapping[str, Any] = {
    "type": "object",
    "properties": {
        "waivers": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": FIELDS,
                "required": ["finding", "reason", "by", "until"],
                "additionalProperties": False,
            },
        }
    },
    "required": ["waivers"],
    "additionalProperties": False,
}


MOST_NEAR = 3


class Use(StrEnum):
    """What became of a waiver in a run: no such finding, or not even such a picture, was there."""

    APPLIED = "applied"
    EXPIRED = "expired"
    UNUSED = "unused"
    ASTRAY = "astray"


@dataclass(frozen=True)
class Waiver:
    """One acceptance. finding: ``rule/code``; an empty `picture` or `page` stands for any.

    picture: the file's path, or what the report calls the picture; until: the last day it counts.
    unknown: what is wrong with its finding, where there is none of that name, see `named`.
    """

    finding: str
    reason: str
    by: str
    until: date
    picture: str = ""
    page: str = ""
    origin: Origin | None = None
    unknown: str = ""

    def describe(self) -> str:
        """Return who accepted it until when and why, in one line for a reader."""
        return f"accepted by {self.by} until {self.until.isoformat()}: {self.reason}"


@dataclass(frozen=True)
class WaiverUse:
    """A waiver and what became of it; near: pictures that have its picture's file name."""

    waiver: Waiver
    use: Use
    near: tuple[str, ...] = ()

    def describe(self) -> str:
        """Return what became of it, and what could have been meant, for a reader."""
        fate = {
            Use.APPLIED: "counts",
            Use.EXPIRED: "has expired and counts no more",
            Use.UNUSED: "was not needed",
            Use.ASTRAY: "is for no picture of this run",
        }[self.use]
        waiver = self.waiver
        hint = f" By its file name it fits {' and '.join(self.near)}: write the path."
        if waiver.unknown and self.use is not Use.EXPIRED:
            fate, hint = "is for no finding that there is", f" {waiver.unknown}"
        elif not self.near:
            hint = ""
        what = [waiver.finding, waiver.picture, f"page {waiver.page}" if waiver.page else ""]
        return f"A waiver {fate}: {', '.join(filter(None, what))}; {waiver.describe()}.{hint}"


def read_waivers(path: Path) -> tuple[Waiver, ...]:
    """Return the waivers in a YAML file. Raises SetupError with every fault."""
    document = read(path)
    faults = faults_against(SCHEMA, document)
    waivers = []
    entries = document.value.get("waivers")
    for index, entry in enumerate(entries if isinstance(entries, list) else []):
        if not isinstance(entry, dict):
            continue
        told = {key: str(value) for key, value in entry.items() if isinstance(value, (str, int))}
        wrong = faults_of(told)
        # the schema has told of what is missing or no text
        faults += [_fault(document, index, key, text) for key, text in wrong.items() if key in told]
        if not told.get("picture") and not told.get("page"):
            faults.append(_fault(document, index, "", "needs a 'picture' or a 'page'"))
        if not wrong:
            origin = document.origins.get(("waivers", index))
            waivers.append(waiver_of(told, told.get("picture", ""), path.parent, origin))
    if faults:
        unique = {str(fault): fault for fault in faults}
        raise SetupError(unique.values())
    return tuple(waivers)


def faults_of(told: Mapping[str, str]) -> dict[str, str]:
    """Return field -> what is wrong with it, for a waiver as a person wrote it."""
    wrong = {}
    for name in ("finding", "reason", "by", "until"):
        if not told.get(name, "").strip():
            about = FIELDS[name]["description"]
            wrong[name] = f"a waiver needs {name!r}: {about}"
    if "finding" not in wrong and not _FINDING.fullmatch(told["finding"].strip()):
        wrong["finding"] = f"{told['finding']!r} is not rule/code, as in resolution/too-few-pixels"
    if "until" not in wrong and _day(told["until"]) is None:
        wrong["until"] = f"{told['until']!r} is not a date such as 2026-12-31"
    return wrong


def named(waivers: Iterable[Waiver], codes: Mapping[str, Collection[str]]) -> list[Waiver]:
    """Return the waivers, those of a finding that there is not with what is wrong about it.

    codes: rule -> codes of its findings.
    """
    known = {f"{rule}/{code}" for rule in codes for code in (*codes[rule], "unmeasured")}

    def wrong(finding: str) -> str:
        rule, _, code = finding.partition("/")
        if rule in codes:
            return f"{rule} has no code {code!r}; it has {', '.join(codes[rule])}."
        near = difflib.get_close_matches(rule, codes, n=2)
        text = f"No rule is called {rule!r}"
        return f"{text}; did you mean {' or '.join(near)}?" if near else f"{text}."

    return [w if w.finding in known else replace(w, unknown=wrong(w.finding)) for w in waivers]


def waiver_of(
    told: Mapping[str, str], picture: str, root: Path, origin: Origin | None = None
) -> Waiver:
    """Return the waiver of fields without faults; `picture` is sought from the folder `root`."""
    day = _day(told["until"])
    assert day is not None
    near = root / picture
    return Waiver(
        finding=told["finding"].strip(),
        reason=told["reason"].strip(),
        by=told["by"].strip(),
        until=day,
        picture=str(near) if picture and is_there(near) else picture,
        page=told.get("page", "").strip(),
        origin=origin,
    )


class Accepting:
    """Applies waivers to one verdict after another, and knows in the end which were of use."""

    def __init__(self, waivers: Sequence[Waiver], today: date) -> None:
        self._waivers = waivers
        self._valid = [waiver for waiver in waivers if waiver.until >= today]
        self._met: set[int] = set()
        self._used: set[int] = set()
        self._near: defaultdict[int, list[str]] = defaultdict(list)

    def waived(self, verdict: Verdict) -> Verdict:
        """Return the verdict with accepted findings waived.

        Where only some findings of a rule are accepted, it has two outcomes: found, and waived.
        """
        mine = [waiver for waiver in self._valid if _is_for(waiver, verdict)]
        self._met.update(map(id, mine))
        # what could have been meant matters only where a waiver is for no picture
        for waiver in (w for w in self._valid if id(w) not in self._met):
            near = self._near[id(waiver)]
            if len(near) < MOST_NEAR and _is_near(waiver, verdict):
                near.append(verdict.name or verdict.path)
        if not mine:
            return verdict
        outcomes: list[Outcome] = []
        for outcome in verdict.outcomes:
            outcomes += _split(outcome, mine, self._used)
        return replace(verdict, outcomes=tuple(outcomes))

    def uses(self) -> tuple[WaiverUse, ...]:
        """Return what became of each waiver."""
        uses = ((waiver, self._use(waiver)) for waiver in self._waivers)
        return tuple(
            WaiverUse(waiver, use, tuple(self._near[id(waiver)]) if use is Use.ASTRAY else ())
            for waiver, use in uses
        )

    def _use(self, waiver: Waiver) -> Use:
        if waiver not in self._valid:
            return Use.EXPIRED
        if id(waiver) in self._used:
            return Use.APPLIED
        return Use.UNUSED if id(waiver) in self._met else Use.ASTRAY


def _split(outcome: Outcome, waivers: Sequence[Waiver], used: set[int]) -> list[Outcome]:
    def accepted(code: str) -> str:
        # every waiver that fits counts as used, so that none is called unused beside its twin
        fitting = [w for w in waivers if w.finding == f"{outcome.rule}/{code}"]
        used.update(id(waiver) for waiver in fitting)
        return fitting[0].describe() if fitting else ""

    if outcome.state is State.UNMEASURED:
        reason = accepted("unmeasured")
        if not reason:
            return [outcome]
        told = f"{outcome.reason}; {reason}"
        return [replace(outcome, state=State.WAIVED, reason=told, waiver=reason)]
    if outcome.state is not State.FOUND:
        return [outcome]
    by_reason: dict[str, list[Finding]] = {}
    for finding in outcome.findings:
        by_reason.setdefault(accepted(finding.code), []).append(finding)
    return [
        replace(outcome, state=State.WAIVED, reason=reason, waiver=reason, findings=tuple(findings))
        if reason
        else replace(outcome, findings=tuple(findings))
        for reason, findings in sorted(by_reason.items())
    ]


def _is_for(waiver: Waiver, verdict: Verdict) -> bool:
    if waiver.page and waiver.page != verdict.page:
        return False
    if not waiver.picture or waiver.picture in (verdict.path, verdict.name):
        return True
    # a copy is known by its master too: that is the picture a person accepts
    # and a picture on a page by the files it was found to come from
    found = verdict.facts.get("found", {})
    paths = (verdict.path, verdict.facts.get("master"), found.get("master"), found.get("file"))
    mine = {Path(path).resolve() for path in paths if path}
    return Path(waiver.picture).resolve() in mine


def _is_near(waiver: Waiver, verdict: Verdict) -> bool:
    if not waiver.picture or waiver.page not in ("", verdict.page):
        return False
    return Path(waiver.picture).name == Path(verdict.facts.get("master", verdict.path)).name


def _day(text: str) -> date | None:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()):
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def _fault(document: Document, index: int, key: str, message: str) -> Fault:
    entry = ("waivers", index)
    path = (*entry, key) if key else entry
    return Fault(document.origins.get(path) or document.origins.get(entry), path, message)
