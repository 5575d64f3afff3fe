"""One JSON Schema for house profiles, composed from what all loaded rules declare."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pressworthy.values.finding import Severity
from pressworthy.values.rule import Rule
from pressworthy.values.units import quantity

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
    "median": {
        "type": "array",
        "items": quantity("L*", "L* between black and paper", least=0, most=100),
        "minItems": 2,
        "maxItems": 2,
        "description": "darkest and lightest median of a picture, L* between the output's black "
        "(0) and its paper (100): luminance judges by them",
    },
    "condition": {
        "type": "string",
        "description": "a printing or screen condition by name, or the path of its folder or of an "
        "ICC profile",
    },
    "ruling": quantity(
        "lines/cm",
        "of the press's halftone screen, where the condition does not state it or states another",
        least=10,
        most=200,
    ),
    "device resolution": quantity(
        "dpi",
        "of the platesetter, where the condition does not state it or states another",
        least=100,
        most=10_000,
    ),
}
_OF_DOTS = {"ruling", "device resolution"}

_SHARE = {"type": "number", "minimum": 0, "maximum": 1}
PREPARE: dict[str, dict[str, Any]] = {
    "name": {
        "type": "string",
        "pattern": r"^(?=.*\{stem\})([^{}/\\]|\{(stem|folder|house|page|size|scale)\})+$",
        "description": "what a copy is called, with {stem}, {folder}, {house}, {page}, {size} or "
        "{scale}; the suffix comes from the format",
    },
    "format": {"enum": ["TIFF", "JPEG", "WebP", "AVIF"], "description": "of the copy's file"},
    "compression": {
        "enum": ["lzw if smaller", "lzw", "deflate", "none"], "description": "of a TIFF",
    },
    "depth": {"enum": [8, 16], "description": "bits a channel of a copy; 16 in a TIFF alone"},
    "quality": {
        "type": "integer", "minimum": 1, "maximum": 100, "description": "of any other format",
    },
    "least quality": {
        "type": "integer", "minimum": 1, "maximum": 100,
        "description": "how far the quality may be lowered to meet the byte budget",
    },
    "byte budget": quantity("kB", "most bytes of a copy; without it none is kept to", least=1),
    "scales": {
        "type": "array", "items": {"type": "number", "minimum": 0.5, "maximum": 4},
        "minItems": 1, "uniqueItems": True,
        "description": "screens: one copy for each, in device pixels to a CSS pixel",
    },
    "column": quantity("px", "screens: width in CSS pixels of a picture whose size is not given"),
    "intent": {
        "enum": ["relative", "perceptual", "saturation"],
        "description": "ICC rendering intent of the conversion",
    },
    "black point compensation": {
        "type": "boolean", "description": "lay the picture's black on the print's (ISO 18619)",
    },
    "steepest tone": {
        "type": "number", "minimum": 1, "maximum": 3,
        "description": "greatest slope of the tone curve anywhere; 1 leaves tones as supplied",
    },
    "amount": {
        "type": "number", "minimum": 0, "maximum": 5,
        "description": "sharpening: share of the difference from the blurred lightness; without "
        "it, or where paper, distance, colour or ppi are stated further down, it is derived",
    },
    "radius": quantity(
        "rad",
        "sharpening: the Gaussian's sigma as an angle at the viewing distance",
        least=0,
        most=0.01,
    ),
    "threshold": quantity("L*", "sharpening: differences near or below it are noise", least=0),
    "halo": quantity("L*", "sharpening: no lightness is moved by more", least=0),
    "upsampling": quantity("%", "how far pixels may be stretched", least=0, most=100),
    "mirrored bleed": {
        "type": "boolean",
        "description": "whether a picture that fills its box may be mirrored into the bleed",
    },
    "keep position": {
        "type": "boolean", "description": "whether a copy says where the picture was taken",
    },
    "gray pictures": {
        "enum": ["one ink", "four inks"],
        "description": "CMYK outputs: what prints a picture that is delivered in gray mode: black "
        "alone, or the inks its conversion asks for",
    },
    "gray mix": {
        "oneOf": [
            {"const": "picture"},
            {
                "type": "object",
                "properties": {"red": _SHARE, "green": _SHARE, "blue": _SHARE},
                "required": ["red", "green", "blue"],
                "additionalProperties": False,
            },
        ],
        "description": "gray outputs: shares of linear red, green and blue (sRGB), or 'picture' "
        "for the mildest mix that clears its grayscale finding; without a finding or without this "
        "every colour keeps its lightness",
    },
}  # fmt: skip
_SOMETIMES = {
    "compression", "quality", "least quality", "byte budget", "scales", "column", "gray mix",
    "amount",
}  # fmt: skip


def _prepare_schema(complete: bool) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "type": "object",
        "description": "how prepared copies are made",
        "properties": {**PREPARE, "reason": _REASON},
        "additionalProperties": False,
    }
    if complete:
        schema["required"] = [name for name in PREPARE if name not in _SOMETIMES]
        schema["if"] = {"properties": {"format": {"const": "TIFF"}}}
        schema["then"] = {"required": ["compression"]}
        schema["else"] = {"required": ["quality"], "properties": {"depth": {"const": 8}}}
    return schema


_REASON = {"type": "string", "minLength": 1, "description": "why this differs from the parent"}


def house_schema(rules: Mapping[str, Rule], *, complete: bool) -> dict[str, Any]:
    """Return the schema of a house profile.

    complete: for the profile in effect, after `stands on`; else for one file, where everything that
    may come from its parent may be absent.
    """
    document = {
        "house": {"type": "string", "description": "the file's name without .yaml", "minLength": 1},
        "kind": {"enum": list(KINDS), "description": "house standard, output type or title"},
        "stands on": {"type": "string", "description": "the parent: a name, or a path to a file"},
        "about": {"type": "string", "description": "one sentence for people"},
        "publisher": {"type": "string", "description": "who sets this standard"},
        "lock": {
            "type": "array",
            "items": {"enum": sorted(rules)},
            "description": "rules that a publisher's profiles standing on this may not change",
        },
        "output": {
            "type": "object",
            "description": "what the pictures are made for",
            "properties": {**OUTPUT, "reason": _REASON},
            "additionalProperties": False,
            "required": [name for name in OUTPUT if name not in _OF_DOTS] if complete else [],
        },
        "prepare": _prepare_schema(complete),
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
        "formerly": {"extends": "stands on"},
        "type": "object",
        "properties": document,
        "additionalProperties": False,
        "required": ["house", "kind"] + (["output", "rules"] if complete else []),
    }


def _rule_schema(rule: Rule, complete: bool) -> dict[str, Any]:
    properties: dict[str, Any] = {name: dict(part) for name, part in rule.options.items()}
    severities = [str(s) for s in Severity]
    unmeasured = "weight where the rule cannot measure a picture; a stop unless written here"
    properties["severity"] = {
        "type": "object",
        "description": "how much each finding weighs in this house",
        "properties": {
            code: {"enum": severities, "description": meaning}
            for code, meaning in {**rule.codes, "unmeasured": unmeasured}.items()
        },
        "additionalProperties": False,
        "required": list(rule.codes) if complete else [],
    }
    properties["left out"] = {
        "anyOf": [{"type": "string", "minLength": 1}, {"const": False}],
        "description": "left out: write the reason, or false to take the rule in again",
    }
    properties["reason"] = _REASON
    schema: dict[str, Any] = {
        "type": "object",
        "description": rule.doc.strip().splitlines()[0],
        "formerly": {"off": "left out"},
        "properties": properties,
        "additionalProperties": False,
    }
    if complete:
        schema["if"] = {
            "required": ["left out"],
            "properties": {"left out": {"type": "string"}},
        }
        schema["else"] = {
            "properties": properties,
            "required": [*rule.options, "severity"],
        }
    return schema
