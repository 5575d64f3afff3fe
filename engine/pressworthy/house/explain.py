"""Prints a house profile as it takes effect, with the file and line each value comes from."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pressworthy.values.faults import KeyPath, Origin

_PLAIN = re.compile(r"[A-Za-z][\w ./-]*|\d+(\.\d+)? [\w%*/]+")


def explain(document: Mapping[str, Any], origins: Mapping[KeyPath, Origin], *, origin: bool) -> str:
    """Return the values as YAML; with `origin`, each followed by ``# file:line``."""
    lines = list(_lines(document, (), origins))
    width = min(max((len(text) for text, _ in lines), default=0), 60)
    if not origin:
        return "".join(f"{text}\n" for text, _ in lines)
    return "".join(
        f"{text:<{width}}  # {source}\n" if source else f"{text}\n" for text, source in lines
    )


def _lines(
    value: Mapping[str, Any], path: KeyPath, origins: Mapping[KeyPath, Origin]
) -> Iterator[tuple[str, str]]:
    indent = "  " * len(path)
    for key, part in value.items():
        key_path = (*path, key)
        if isinstance(part, dict):
            yield f"{indent}{_scalar(key)}:", ""
            yield from _lines(part, key_path, origins)
        else:
            origin = origins.get(key_path)
            shown = f"{Path(origin.file).name}:{origin.line}" if origin else ""
            yield f"{indent}{_scalar(key)}: {inline(part)}", shown


def inline(value: Any) -> str:
    """Return a value as a house profile writes it in one line."""
    if isinstance(value, list):
        return f"[{', '.join(map(inline, value))}]"
    return _scalar(value)


def _scalar(value: Any) -> str:
    if isinstance(value, str) and _PLAIN.fullmatch(value) and value not in ("true", "null"):
        return value
    return json.dumps(value, ensure_ascii=False)
