"""Waivers: a person accepts a finding for a picture or a page, with reason, name and last day.

They are laid over the verdicts after judging, so that the report always shows what was found.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from pressworthy.values.faults import Fault, Origin, SetupError
from pressworthy.values.waiver import Waiver
from pressworthy.yamlfile import Document, faults_against, is_there, read

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


def read_waivers(path: Path, raw: bytes | None = None) -> tuple[Waiver, ...]:
    """Return the waivers in a YAML file. Raises SetupError with every fault.

    raw: what stands in it, where that is known already.
    """
    document = read(path, raw)
    faults = faults_against(SCHEMA, document)
    waivers = []
    entries = document.value.get("waivers")
    for index, entry in enumerate(entries if isinstance(entries, list) else []):
        if not isinstance(entry, dict):
            continue
        texts = {key: str(value) for key, value in entry.items() if isinstance(value, (str, int))}
        wrong = faults_of(texts)
        # the schema has told of what is missing or no text
        faults += [
            _fault(document, index, key, text) for key, text in wrong.items() if key in texts
        ]
        if not texts.get("picture") and not texts.get("page"):
            faults.append(_fault(document, index, "", "needs a 'picture' or a 'page'"))
        if not wrong:
            origin = document.origins.get(("waivers", index))
            waivers.append(waiver_of(texts, texts.get("picture", ""), path.parent, origin))
    if faults:
        unique = {str(fault): fault for fault in faults}
        raise SetupError(unique.values())
    return tuple(waivers)


def faults_of(texts: Mapping[str, str]) -> dict[str, str]:
    """Return field -> what is wrong with it, for a waiver as a person wrote it."""
    wrong = {}
    for name in ("finding", "reason", "by", "until"):
        if not texts.get(name, "").strip():
            about = FIELDS[name]["description"]
            wrong[name] = f"a waiver needs {name!r}: {about}"
    if "finding" not in wrong and not _FINDING.fullmatch(texts["finding"].strip()):
        wrong["finding"] = f"{texts['finding']!r} is not rule/code, as in resolution/too-few-pixels"
    if "until" not in wrong and _day(texts["until"]) is None:
        wrong["until"] = f"{texts['until']!r} is not a date such as 2026-12-31"
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
    texts: Mapping[str, str], picture: str, root: Path, origin: Origin | None = None
) -> Waiver:
    """Return the waiver of fields without faults; `picture` is sought from the folder `root`."""
    day = _day(texts["until"])
    assert day is not None
    near = root / picture
    return Waiver(
        finding=texts["finding"].strip(),
        reason=texts["reason"].strip(),
        by=texts["by"].strip(),
        until=day,
        picture=str(near) if picture and is_there(near) else picture,
        page=texts.get("page", "").strip(),
        origin=origin,
    )


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
