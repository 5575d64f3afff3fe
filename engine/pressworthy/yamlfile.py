"""Declarative files, read strictly: YAML without surprises, every fault with file and line.

Scalars follow the YAML 1.2 core schema (`off` and `12:30` are text, `010` is refused); duplicate
keys, anchors, aliases, merge keys, tags and several documents in one file are refused.
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from pressworthy.values.faults import Fault, KeyPath, Origin, SetupError
from pressworthy.values.units import UNITS, parse

MOST_YAML_BYTES = 1_000_000
MOST_DEPTH = 20


@dataclass
class Document:
    """A YAML file's value, with the origin of each value and key by its path."""

    file: str
    value: dict[str, Any] = field(default_factory=dict)
    origins: dict[KeyPath, Origin] = field(default_factory=dict)


def read(path: Path, raw: bytes | None = None) -> Document:
    """Return the mapping in the YAML file at `path`. Raises SetupError with all its faults.

    raw: what stands in it, where that is known already.
    """
    name = str(path)
    try:
        if raw is None:
            with path.open("rb") as stream:
                raw = stream.read(MOST_YAML_BYTES + 1)
    except OSError as error:
        raise SetupError([f"{name}: cannot be read: {error.strerror}"]) from None
    if len(raw) > MOST_YAML_BYTES:
        raise SetupError([f"{name}: larger than {MOST_YAML_BYTES // 1000} kB, no set-up file is"])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SetupError([Fault(Origin(name, line), (), "not UTF-8 text")]) from None
    document = Document(name)
    builder = _Builder(document)
    try:
        builder.build(text)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        builder.fault(line, (), f"not YAML: {error.problem or error.context}")
    except yaml.YAMLError as error:
        line = text[: getattr(error, "position", 0)].count("\n") + 1
        builder.fault(line, (), f"not YAML: {getattr(error, 'reason', error)}")
    if builder.faults:
        raise SetupError(builder.faults)
    return document


def is_there(path: Path) -> bool:
    """Tell whether there is such a file or folder. A name no system could hold is there nowhere."""
    return os.path.exists(path)  # noqa: PTH110 - Path.exists() raises where a name is too long


class _Builder:
    """Builds the value from YAML's events; a stack, not recursion, so depth cannot hurt."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.faults: list[Fault] = []
        self.stack: list[tuple[dict[str, Any] | list[Any], KeyPath, list[str]]] = []
        self.documents = 0

    def fault(self, line: int, path: KeyPath, message: str) -> None:
        self.faults.append(Fault(Origin(self.document.file, line), path, message))

    def build(self, text: str) -> None:
        for event in yaml.parse(text, Loader=yaml.SafeLoader):
            line = event.start_mark.line + 1 if event.start_mark else 1
            if isinstance(event, yaml.DocumentStartEvent):
                self.documents += 1
                if self.documents > 1:
                    self.fault(line, (), "a second document; one file holds one")
                    return
            elif isinstance(event, yaml.AliasEvent):
                self.fault(line, self.path(), "aliases are not used here; write the value out")
                self.put(None, line)
            elif isinstance(event, yaml.ScalarEvent):
                self.refuse_extras(event, line)
                self.put(self.scalar(event, line), line, scalar=True)
            elif isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
                self.refuse_extras(event, line)
                if len(self.stack) >= MOST_DEPTH:
                    self.fault(line, self.path(), f"nested deeper than {MOST_DEPTH} levels")
                    return
                value: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
                self.put(value, line)
                self.stack.append((value, self.key_path, []))
            elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
                self.stack.pop()
        if self.documents == 0:
            self.fault(1, (), "empty; a mapping of keys and values was expected")

    def refuse_extras(self, event: Any, line: int) -> None:
        if event.anchor:
            self.fault(line, self.path(), "anchors are not used here; write the value out")
        if event.tag not in (None, "!"):
            self.fault(line, self.path(), f"tag {event.tag} is not used here")

    def path(self) -> KeyPath:
        if not self.stack:
            return ()
        container, path, keys = self.stack[-1]
        if isinstance(container, list):
            return (*path, len(container))
        return (*path, keys[0]) if keys else path

    def put(self, value: Any, line: int, scalar: bool = False) -> None:
        self.key_path = self.path()
        origin = Origin(self.document.file, line)
        if not self.stack:
            self.document.origins[()] = origin
            if isinstance(value, dict):
                self.document.value = value
            else:
                self.fault(line, (), "a mapping of keys and values was expected")
            return
        container, path, keys = self.stack[-1]
        if isinstance(container, list):
            self.document.origins[self.key_path] = origin
            container.append(value)
        elif keys:
            container[keys.pop()] = value
        else:
            if not scalar or not isinstance(value, str):
                self.fault(line, path, f"key {value!r} is not text; put it in quotes")
                value = str(value)
            if value == "<<":
                self.fault(line, path, "merge keys are not used here; write the values out")
            if value in container:
                first = self.document.origins[(*path, value)].line
                self.fault(line, (*path, value), f"written twice; first on line {first}")
            self.document.origins[(*path, value)] = origin
            keys.append(value)
            self.key_path = (*path, value)

    def scalar(self, event: Any, line: int) -> Any:
        text = event.value
        if "\0" in text:
            self.fault(line, self.path(), "a NUL character, which no name and no text holds")
            return ""
        if event.style is not None:
            return text
        if text in ("", "~", "null", "Null", "NULL"):
            return None
        if text in ("true", "True", "TRUE"):
            return True
        if text in ("false", "False", "FALSE"):
            return False
        if re.fullmatch(r"[-+]?0\d+", text):
            self.fault(line, self.path(), f"{text} is ambiguous: write it without the leading 0")
            return 0
        if re.fullmatch(r"[-+]?\d{1,18}", text):
            return int(text)
        if re.fullmatch(r"[-+]?(\d+\.\d*|\.\d+|\d+)([eE][-+]?\d+)?", text):
            return float(text)
        return text


def faults_against(schema: Mapping[str, Any], document: Document) -> list[Fault]:
    """Return every fault of `document` against the JSON Schema, in the order of the file."""
    from jsonschema.validators import validator_for

    faults: list[Fault] = []
    validator: Any = validator_for(schema)(schema)
    for error in validator.iter_errors(document.value):
        path = tuple(error.absolute_path)
        if error.validator == "additionalProperties":
            known = list(error.schema.get("properties", {}))
            for key in error.instance:
                if key not in known:
                    faults.append(
                        _fault(document, (*path, key), _unknown(key, known, error.schema))
                    )
        else:
            faults.append(_fault(document, path, _message(error)))
    faults += _quantity_faults(schema, document)
    unique = {(f.origin, f.path, f.message): f for f in faults}
    return sorted(unique.values(), key=lambda f: (f.origin is None, f.origin and f.origin.line))


def _fault(document: Document, path: KeyPath, message: str) -> Fault:
    nearest: KeyPath = path
    while nearest and nearest not in document.origins:
        nearest = nearest[:-1]
    return Fault(document.origins.get(nearest), path, message)


def _unknown(key: str, known: list[str], schema: Mapping[str, Any]) -> str:
    if key in schema.get("formerly", {}):
        return f"is now called {schema['formerly'][key]!r}"
    near = difflib.get_close_matches(str(key), known, n=1)
    if near:
        return f"unknown; did you mean {near[0]!r}?"
    return f"unknown; known here: {', '.join(known) or 'nothing'}"


def _message(error: Any) -> str:
    schema, value = error.schema, error.instance
    if error.validator == "required":
        missing = next(key for key in error.validator_value if f"'{key}'" in error.message)
        about = schema.get("properties", {}).get(missing, {}).get("description", "")
        return f"{missing!r} is missing{f' ({about})' if about else ''}"
    if "unit" in schema and error.validator in ("pattern", "type"):
        return f"{value!r} is not a quantity: write a number, a space and {_units(schema)}"
    if error.validator == "enum":
        return f"{value!r} is not one of {', '.join(map(str, schema['enum']))}"
    if error.validator in ("anyOf", "oneOf") and schema.get("description"):
        return f"{value!r} does not fit: {schema['description']}"
    if error.validator == "type":
        kinds = error.validator_value
        kinds = [kinds] if isinstance(kinds, str) else kinds
        names = {"object": "a mapping", "array": "a list", "string": "text", "null": "nothing"}
        names |= {"integer": "a whole number", "boolean": "true or false"}
        wanted = " or ".join(names.get(kind, f"a {kind}") for kind in kinds)
        return f"{value!r} is not {wanted}"
    return str(error.message)


def _units(schema: Mapping[str, Any]) -> str:
    return " or ".join(UNITS[schema["unit"]])


def _quantity_faults(schema: Mapping[str, Any], document: Document) -> list[Fault]:
    return [
        _fault(document, path, f"{value!r} is {side} than {bound:g} {fragment['unit']}")
        for path, value, fragment in quantities(schema, document.value)
        for side, bound in [("less", fragment.get("least")), ("more", fragment.get("most"))]
        if bound is not None and (value < bound if side == "less" else value > bound)
    ]


def quantities(
    schema: Mapping[str, Any], value: Any, path: KeyPath = ()
) -> Iterable[tuple[KeyPath, float, Mapping[str, Any]]]:
    """Yield path, value in the canonical unit, and schema fragment of each well-formed quantity."""
    if "unit" in schema and isinstance(value, str):
        try:
            yield path, parse(value, schema["unit"]), schema
        except ValueError:
            return
    elif isinstance(value, dict):
        for key, part in value.items():
            fragment = schema.get("properties", {}).get(key) or schema.get("additionalProperties")
            if isinstance(fragment, Mapping):
                yield from quantities(fragment, part, (*path, key))
    elif isinstance(value, list) and isinstance(schema.get("items"), Mapping):
        for index, part in enumerate(value):
            yield from quantities(schema["items"], part, (*path, index))


def canonical(schema: Mapping[str, Any], value: Any) -> Any:
    """Return a copy of a valid `value` with its quantities as floats in canonical units."""
    if "unit" in schema and isinstance(value, str):
        return parse(value, schema["unit"])
    if isinstance(value, dict):
        parts = schema.get("properties", {})
        other = schema.get("additionalProperties")
        other = other if isinstance(other, Mapping) else {}
        return {key: canonical(parts.get(key, other), part) for key, part in value.items()}
    if isinstance(value, list):
        return [canonical(schema.get("items", {}), part) for part in value]
    return value
