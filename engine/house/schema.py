"""One JSON Schema for house profiles, composed from what all loaded rules declare."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pressworthy.finding import Severity
from pressworthy.rule import Rule
from pressworthy.units import quantity

KINDS = ("standard", "output", "title")

OUTPUT: dict[str, dict[str, Any]] = {
    "medium": {"enum": ["print", "screen"], "description": "what the reader looks at"},
    "colour": {
        "enum": ["cmyk", "gray", "rgb"],
        "description": "the colours of the copy that leaves the house",
    },
    "ppi": quantity("ppi", "pixels per inch at the placed size", least=36, most=2400),
    "bleed": quantity("mm", "bleed beyond the trim on edges that bleed", least=0, most=50),
    "viewing distance": quantity("mm", "from the eye to the page", least=50, most=100_000),
    "condition": {
        "type": "string",
        "description": "a printing or screen condition by name, or the path of an ICC profile",
    },
}


def house_schema(rules: Mapping[str, Rule], *, complete: bool) -> dict[str, Any]:
    """Return the schema of a house profile.

    complete: for the profile in effect, after `extends`; else for one file, where everything that
    may come from its parent may be absent.
    """
    document = {
        "house": {"type": "string", "description": "the profile's name", "minLength": 1},
        "kind": {"enum": list(KINDS), "description": "house standard, output type or title"},
        "extends": {"type": "string", "description": "the parent: a name, or a path to a file"},
        "about": {"type": "string", "description": "one sentence for people"},
        "publisher": {"type": "string", "description": "who sets this standard"},
        "lock": {
            "type": "array",
            "items": {"enum": sorted(rules)},
            "description": "rules that profiles extending this one may not change",
        },
        "output": {
            "type": "object",
            "description": "what the pictures are made for",
            "properties": {**OUTPUT, "reason": _REASON},
            "additionalProperties": False,
            "required": list(OUTPUT) if complete else [],
        },
        "rules": {
            "type": "object",
            "description": "the rules that run, each with the house's values",
            "properties": {name: _rule_schema(rule, complete) for name, rule in rules.items()},
            "additionalProperties": False,
            "minProperties": 1 if complete else 0,
        },
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "pressworthy house profile",
        "type": "object",
        "properties": document,
        "additionalProperties": False,
        "required": ["house", "kind"] + (["output", "rules"] if complete else []),
    }


_REASON = {"type": "string", "minLength": 1, "description": "why this differs from the parent"}


def _rule_schema(rule: Rule, complete: bool) -> dict[str, Any]:
    properties: dict[str, Any] = {name: dict(part) for name, part in rule.options.items()}
    properties["severity"] = {
        "type": "object",
        "description": "how much each finding weighs in this house",
        "properties": {
            code: {"enum": [str(s) for s in Severity], "description": meaning}
            for code, meaning in rule.codes.items()
        },
        "additionalProperties": False,
        "required": list(rule.codes) if complete else [],
    }
    properties["off"] = {
        "anyOf": [{"type": "string", "minLength": 1}, {"const": False}],
        "description": "off: write the reason, or false to switch the rule on again",
    }
    properties["reason"] = _REASON
    schema: dict[str, Any] = {
        "type": "object",
        "description": rule.doc.strip().splitlines()[0],
        "properties": properties,
        "additionalProperties": False,
    }
    if complete:
        schema["if"] = {"required": ["off"], "properties": {"off": {"type": "string"}}}
        schema["else"] = {
            "properties": properties,
            "required": [*rule.options, "severity"],
        }
    return schema
