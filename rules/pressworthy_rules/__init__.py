"""The built-in rules, one module each. They enter by the same door as a stranger's."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

from pressworthy.hookspecs import hookimpl
from pressworthy.values.rule import Rule
from pressworthy_rules.sentences import SENTENCES

MODULES = (
    "prepared_copy",
    "read_whole",
    "printed_twice",
    "resolution",
    "line_art",
    "bleed",
    "luminance",
    "icc_profile",
    "colour_mode",
    "gamut",
    "ink",
    "tone_range",
    "grayscale",
    "foreign_condition",
    "acutance",
    "source_profile",
    "true_resolution",
    "sharpening",
    "compression",
    "credit",
    "file_weight",
    "page_printing",
    "page_inks",
)


@hookimpl
def pressworthy_rules() -> list[Rule]:
    rules: list[Rule] = [import_module(f"{__name__}.{module}").rule for module in MODULES]
    return [replace(rule, says=SENTENCES.get(rule.name, {})) for rule in rules]
