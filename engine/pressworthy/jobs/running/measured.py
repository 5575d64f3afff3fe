"""What was measured of a picture as bytes, to be kept: changed limits then need no pixels.

JSON, and arrays in it as numbers of their own type. Kept is what such a reader can build again:
figures, words, dataclasses of them, arrays of whole numbers (sampled pixels), small ones of others.
Larger ones are worked out from these again, sooner than they could be read.
"""

from __future__ import annotations

import base64
import json
import sys
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measured, preset_as_measured

MOST_SAMPLED = 700_000
"""Bytes of an array of whole numbers: the sample of a picture so small that it is not reduced."""

MOST_FIGURES = 40_000
"""Bytes of any other array, of a text, and of bytes."""


@dataclass(frozen=True)
class Reading:
    """What kept measurements rest on.

    output: field of the output -> what it was; rules: rule -> fields that it read.
    """

    output: Mapping[str, str]
    rules: Mapping[str, frozenset[str]]


class _NotKept(Exception):  # noqa: N818 - no error: it is measured again
    """A value that is too large, or of a kind that is not kept."""


def packed(picture: Picture, reading: Reading) -> bytes:
    """Return what was measured of a picture, with what it rests on."""
    kept = []
    for one, result, failure, read in measured(picture):
        name = f"{one.__module__}:{one.__qualname__}"
        if _named(name) is not one or not isinstance(failure, Unmeasured | None):
            continue
        try:
            kept.append([name, _plain(result), failure and str(failure), sorted(read)])
        except _NotKept:
            continue
    rules = {name: sorted(read) for name, read in reading.rules.items()}
    return zlib.compress(json.dumps([dict(reading.output), rules, kept]).encode(), 1)


def reading_of(data: bytes) -> Reading:
    """Return what kept measurements rest on. Raises ValueError where they are damaged."""
    return _opened(data)[0]


def restored(data: bytes, picture: Picture, output: Mapping[str, str]) -> Reading:
    """Let a picture have what was measured of it, where it rests on nothing that is otherwise now.

    output: as `Reading` has it, of the picture's own. Raises ValueError.
    """
    reading, kept = _opened(data)
    changed = changed_between(reading.output, output)
    for name, result, failure, read in kept:
        one = _named(name)
        if one is None or changed.intersection(read):
            continue
        told = None if failure is None else Unmeasured(failure)
        preset_as_measured(picture, one, _whole(result), told, frozenset(read))
    return reading


def changed_between(before: Mapping[str, str], after: Mapping[str, str]) -> frozenset[str]:
    """Return the fields of two outputs that differ."""
    names = before.keys() | after.keys()
    return frozenset(name for name in names if before.get(name) != after.get(name))


def _opened(data: bytes) -> tuple[Reading, list[Any]]:
    try:
        output, rules, kept = json.loads(zlib.decompress(data))
        return Reading(output, {name: frozenset(read) for name, read in rules.items()}), kept
    except (zlib.error, TypeError, AttributeError) as error:
        raise ValueError(str(error)) from None


def _named(name: str) -> Any:
    """Return what a loaded module calls so, None where nothing is."""
    module, _, called = name.partition(":")
    return getattr(sys.modules.get(module), called, None)


def _plain(value: Any) -> Any:
    """Return a value as JSON holds it. Raises _NotKept."""
    if value is None or (isinstance(value, bool | int | float) and not isinstance(value, Enum)):
        return value
    if isinstance(value, str) and not isinstance(value, Enum) and len(value) <= MOST_FIGURES:
        return value
    if isinstance(value, tuple):
        return {"tuple": [_plain(part) for part in value]}
    if isinstance(value, bytes) and len(value) <= MOST_FIGURES:
        return {"bytes": base64.b64encode(value).decode()}
    if isinstance(value, np.generic):
        return {"number": str(value.dtype), "of": value.item()}
    if isinstance(value, np.ndarray):
        most = MOST_SAMPLED if value.dtype.kind == "u" else MOST_FIGURES
        if value.dtype.kind in "uifb" and value.nbytes <= most:
            raw = base64.b64encode(np.ascontiguousarray(value).tobytes()).decode()
            return {"array": str(value.dtype), "shape": list(value.shape), "of": raw}
    if isinstance(value, dict) and all(isinstance(key, str | int) for key in value):
        return {"map": [[key, _plain(part)] for key, part in value.items()]}
    kind = type(value)
    name = f"{kind.__module__}:{kind.__qualname__}"
    if is_dataclass(value) and _named(name) is kind and all(one.init for one in fields(kind)):
        return {
            "made": name,
            "of": {one.name: _plain(getattr(value, one.name)) for one in fields(kind)},
        }
    raise _NotKept


def _whole(value: Any) -> Any:
    """Return the value that `_plain` was given. Raises ValueError."""
    if not isinstance(value, dict):
        return value
    match value:
        case {"tuple": parts}:
            return tuple(map(_whole, parts))
        case {"bytes": raw}:
            return base64.b64decode(raw)
        case {"number": kind, "of": item}:
            return np.dtype(kind).type(item)
        case {"array": kind, "shape": shape, "of": raw}:
            return np.frombuffer(base64.b64decode(raw), np.dtype(kind)).reshape(shape)
        case {"map": pairs}:
            return {key: _whole(part) for key, part in pairs}
        case {"made": name, "of": parts}:
            kind = _named(name)
            if isinstance(kind, type) and is_dataclass(kind):
                return kind(**{key: _whole(part) for key, part in parts.items()})
    raise ValueError("of no known kind")
