"""A house profile as a style book tells it: sentences with a value in each, its place and ground.

What a rule's sentences are is the rule's own business (`Rule.says`); a rule that has none is told
by what its options are described as.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pressworthy.house import locks
from pressworthy.house.schema import OUTPUT, PREPARE, house_schema
from pressworthy.values.faults import KeyPath, Origin
from pressworthy.values.rule import Rule
from pressworthy.yamlfile import Document

WEIGHTS = {"stop": "stops it", "query": "is queried", "note": "is noted"}
ASKED = {"asked": "is asked about", "left out": "is not asked about"}
_SWITCH = {"true": "is", "false": "is not"}

OUTPUT_SAYS: Mapping[str, str] = {
    "medium": "The reader looks at {}.",
    "colour": "Copies leave the house in {}.",
    "ppi": "A picture prints at {}.",
    "bleed": "Where it bleeds, its copy runs {} beyond the trim.",
    "viewing distance": "It is read from {} away.",
    "median": "Its middle tone lies between {}, black being 0 and paper 100.",
    "condition": "Press, paper and ink are those of {}.",
    "ruling": "The press's screen has a ruling of {}.",
    "device resolution": "Its plates are made at {}.",
}
PREPARE_SAYS: Mapping[str, str] = {
    "name": "A copy is called {}.",
    "format": "It is a {} file.",
    "compression": "A TIFF is packed by {}.",
    "depth": "It has {} bits a channel.",
    "quality": "It is saved at a quality of {}.",
    "least quality": "To keep to its bytes the quality may go down to {}.",
    "byte budget": "It weighs at most {}.",
    "scales": "For screens one is made for each of {} device pixels to a CSS pixel.",
    "column": "On a screen, where no size is known, it is {} wide.",
    "intent": "Colours are converted by the {} intent.",
    "black point compensation": "Its black {} laid on the black that prints.",
    "steepest tone": "The tone curve is nowhere steeper than {}.",
    "amount": "It is sharpened by an amount of {}.",
    "radius": "The sharpening reaches {} far, as an angle to the eye.",
    "threshold": "Differences below {} are taken for noise and left alone.",
    "halo": "Sharpening moves no lightness by more than {}.",
    "upsampling": "Pixels may be stretched by {}.",
    "mirrored bleed": "A picture that fills its box {} mirrored into the bleed.",
    "keep position": "Where it was taken {} told in the copy.",
    "gray pictures": "A gray picture is printed in {}.",
    "gray mix": "Gray is mixed from its colours as {}.",
}


@dataclass(frozen=True)
class Sentence:
    """One value of a house profile, told.

    path: of the value; before, after: the sentence around it; text: the value as a person writes
    it, "" where none is set; choices: value -> words, where there are few. origin: where it was
    set; ground: why, as the file says it; own: set by this profile itself. sealed: who locked it,
    "". hint: what may be written.
    """

    path: KeyPath
    before: str
    after: str
    text: str
    choices: Mapping[str, str] = field(default_factory=dict)
    origin: Origin | None = None
    ground: str = ""
    own: bool = False
    sealed: str = ""
    hint: str = ""


@dataclass(frozen=True)
class Section:
    """What belongs together: the output, how copies are made, or a rule.

    name: as the file has it; about: one line; asked: whether a rule is asked about; weights: what
    each finding of it weighs.
    """

    name: str
    about: str
    values: tuple[Sentence, ...]
    asked: Sentence | None = None
    weights: tuple[Sentence, ...] = ()
    sealed: str = ""
    left_out: str = ""


def told(
    merged: Document, chain: Sequence[Document], rules: Mapping[str, Rule]
) -> Iterator[Section]:
    """Yield a house profile in effect, section by section, as `house.in_effect` gives it."""
    book = _Book(merged, chain)
    output, prepare = (merged.value.get(name) or {} for name in ("output", "prepare"))
    yield Section("output", "What the pictures are made for", tuple(
        book.sentence(("output", name), OUTPUT_SAYS[name], OUTPUT[name]) for name in OUTPUT
        if name in output
    ))  # fmt: skip
    yield Section("prepare", "How prepared copies are made", tuple(
        book.sentence(("prepare", name), PREPARE_SAYS[name], PREPARE[name]) for name in PREPARE
        if name in prepare or name == "amount"
    ))  # fmt: skip
    for name, setting in (merged.value.get("rules") or {}).items():
        if name in rules and isinstance(setting, dict):
            yield book.rule(rules[name], setting)


class _Book:
    """What sentences are told from."""

    def __init__(self, merged: Document, chain: Sequence[Document]) -> None:
        self._merged, self._own = merged, chain[-1].file
        self._locks = {
            name: f"sealed by {_named(origin)}"
            for name, origin in locks(chain).items()
            if origin and origin.file != self._own
        }
        self._lines: dict[str, list[str]] = {}

    def rule(self, rule: Rule, setting: Mapping[str, Any]) -> Section:
        path: KeyPath = ("rules", rule.name)
        about = rule.doc.strip().partition("\n")[0].rstrip(".")
        sealed = self._locks.get(rule.name, "")
        left = setting.get("left out")
        left = left if isinstance(left, str) else ""
        asked = self._made(
            (*path, "left out"), "This {}.", "left out" if left else "asked", ASKED, sealed
        )
        if left:
            return Section(rule.name, about, (), asked, (), sealed, left)
        values = tuple(
            self.sentence((*path, name), rule.says.get(name) or _generic(part), part, sealed)
            for name, part in rule.options.items()
            if name in setting
        )
        weights = tuple(
            self._made((*path, "severity", code), _found(rule, code), weight, WEIGHTS, sealed)
            for code, weight in (setting.get("severity") or {}).items()
        )
        return Section(rule.name, about, values, asked, weights, sealed)

    def sentence(
        self, path: KeyPath, says: str, part: Mapping[str, Any], sealed: str = ""
    ) -> Sentence:
        value: Any = self._merged.value
        for key in path:
            value = value.get(str(key), {}) if isinstance(value, dict) else {}
        choices = {str(one): str(one) for one in part.get("enum", ())}
        if part.get("type") == "boolean":
            choices = _SWITCH
        text = "" if value == {} else written(value)
        return self._made(path, says, text, choices, sealed, hint_of(part))

    def _made(
        self, path: KeyPath, says: str, text: str, choices: Mapping[str, str], sealed: str,
        hint: str = "",
    ) -> Sentence:  # fmt: skip
        before, _, after = says.partition("{}")
        origin = self._merged.origins.get(path)
        own = bool(origin) and origin is not None and origin.file == self._own
        ground = self._ground(origin, path) if origin else ""
        return Sentence(path, before, after, text, choices, origin, ground, own, sealed, hint)

    def _ground(self, origin: Origin, path: KeyPath) -> str:
        """Return why a value is what it is: the comment at it, or its section's reason."""
        lines = self._lines.setdefault(origin.file, _read(origin.file))
        said = comment_at(lines, origin.line)
        reason = self._merged.origins.get((*path[: 2 if path[0] == "rules" else 1], "reason"))
        if reason and reason.file == origin.file and not said:
            section: Any = self._merged.value[str(path[0])]
            section = section[path[1]] if path[0] == "rules" else section
            said = str(section.get("reason", ""))
        return said


def comment_at(lines: Sequence[str], line: int) -> str:
    """Return the comment on the lines right above a line, counted from 1, and at its end.

    What an empty comment line parts stands on lines of its own.
    """
    if line > len(lines):  # the file was written anew since its values were read
        return ""
    above: list[str] = []
    at = line - 2
    while at >= 0 and (text := lines[at].strip()).startswith("#"):
        above.insert(0, text.lstrip("# "))
        at -= 1
    behind = re.search(r"(?:^|\s)#\s?(.*)$", re.sub(r"\"[^\"]*\"|'[^']*'", "", lines[line - 1]))
    said = [*above, *([behind[1].strip()] if behind else [])]
    return re.sub(r" *\n *", "\n", " ".join(line or "\n" for line in said)).strip()


def written(value: Any) -> str:
    """Return a value as a person writes it in a field."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return ", ".join(map(written, value))
    if isinstance(value, dict):
        return ", ".join(f"{name} {written(part)}" for name, part in value.items())
    return str(value)


def meant(text: str, part: Mapping[str, Any]) -> Any:
    """Return the value that a person wrote in a field; what it cannot be stays text.

    part: its JSON Schema, which then tells what is wrong.
    """
    text = text.strip()
    kind = part.get("type")
    if kind == "array":
        return [meant(one, part.get("items", {})) for one in text.split(",") if one.strip()]
    if kind == "boolean":
        return {"true": True, "false": False}.get(text, text)
    numbers = all(isinstance(one, int) for one in part.get("enum", ["words"]))
    if kind in ("number", "integer") or numbers:
        return _number(text)
    if "oneOf" in part and len(pairs := re.findall(r"([a-z]+)\s+(\S+?)(?:,|\s|$)", text)) > 1:
        return {name: _number(share) for name, share in pairs}
    return text


def _number(text: str) -> Any:
    if re.fullmatch(r"[-+]?\d{1,15}", text):
        return int(text)
    return float(text) if re.fullmatch(r"[-+]?(\d+\.\d*|\.\d+)", text) else text


def part_of(path: KeyPath, rules: Mapping[str, Rule]) -> Mapping[str, Any] | None:
    """Return the JSON Schema of the value at a path of a house profile, None for no value."""
    part: Mapping[str, Any] = house_schema(rules, complete=False)
    for key in path:
        part = part.get("properties", {}).get(key, {})
    return part or None


def hint_of(part: Mapping[str, Any]) -> str:
    """Return what may be written, in a few words."""
    if "unit" in part:
        least, most = part.get("least"), part.get("most")
        ends = [f"from {least:g}"] if least is not None else []
        ends += [f"to {most:g}"] if most is not None else []
        return " ".join([*ends, part["unit"]])
    if "items" in part and "enum" in part["items"]:
        return "some of " + ", ".join(map(str, part["items"]["enum"]))
    ends = [f"from {part['minimum']:g}"] if "minimum" in part else []
    ends += [f"to {part['maximum']:g}"] if "maximum" in part else []
    return " ".join(ends)


def _found(rule: Rule, code: str) -> str:
    return f"{_capital(rule.codes.get(code, 'It cannot be measured'))}: this {{}}."


def _generic(part: Mapping[str, Any]) -> str:
    """Return the sentence of an option whose rule has none for it."""
    return f"{_capital(str(part['description']))}: {{}}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".")


def _named(origin: Origin) -> str:
    return f"{Path(origin.file).name}, line {origin.line}"


def _read(file: str) -> list[str]:
    try:
        return Path(file).read_text("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
