"""A house profile's YAML with one value changed: whatever stands around it keeps its bytes.

The parser tells where each value begins and ends; only these are written over, so that comments,
order, quotes and line ends are kept.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import yaml

from pressworthy.house.explain import inline
from pressworthy.open_proof.lines import behind_line, line_end
from pressworthy.values.faults import SetupError

_BOM = "\ufeff"
_STEP = 2
Keys = Sequence[str]


def value_at(text: str, path: Keys) -> str | None:
    """Return a value as it is written, None where there is none."""
    start, node = _root(text)
    for key in path:
        node = _of(node, key)
        if node is None:
            return None
    return text[start + node.start_mark.index : start + _end(node, text, start)]


def with_raw(text: str, path: Keys, raw: str) -> str:
    """Return the text with a value that is there written anew, as `value_at` told it once."""
    start, node = _root(text)
    for key in path:
        node = _of(node, key)
    if node is None:
        raise SetupError([f"{' / '.join(path)}: is not there"])
    begin, end = start + node.start_mark.index, start + _end(node, text, start)
    return text[:begin] + raw + text[end:]


def with_value(text: str, path: Keys, value: Any, ground: str = "") -> str:
    """Return the text with a value written, its sections made where they are not there.

    ground: why, for a comment above it; "" for none. Raises SetupError.
    """
    start, node = _root(text)
    node_key: Any = None
    for depth, key in enumerate(path):
        found = _pair(node, key)
        if found is None:
            if not isinstance(node, yaml.MappingNode):
                raise SetupError([f"{' / '.join(path[:depth])}: holds no further values"])
            return _added(text, start, node, path[depth:], value, ground)
        node_key, node = found
    begin, end = start + node.start_mark.index, start + _end(node, text, start)
    text = text[:begin] + inline(value) + text[end:]
    at = _line_start(text, start + node_key.start_mark.index)
    # in the braces of one line no comment can stand
    alone = text[at : start + node_key.start_mark.index].strip() == ""
    return _with_comment(text, at, ground) if alone else text


def without_value(text: str, path: Keys) -> str:
    """Return the text without a value, and without sections that hold nothing but a reason then."""
    start, node = _root(text)
    way: list[tuple[Any, Any, Any]] = []
    for key in path:
        found = _pair(node, key)
        if found is None:
            return text
        way.append((node, *found))
        node = found[1]
    gone = len(way) - 1
    while gone and not [
        key for key, _ in way[gone][0].value if key.value not in ("reason", path[gone])
    ]:
        gone -= 1
    within, key, value = way[gone]
    begin, end = start + key.start_mark.index, start + _end(value, text, start)
    if within.flow_style:
        after = re.compile(r"\s*,\s*").match(text, end)
        if after:
            return text[:begin] + text[after.end() :]
        return re.sub(r"\s*,\s*$", "", text[:begin]) + text[end:]
    return text[: _line_start(text, begin)] + text[behind_line(text, end) :]


def _added(
    text: str, start: int, node: yaml.MappingNode, keys: Keys, value: Any, ground: str
) -> str:
    """Return the text with a value in a mapping that lacks it, at the mapping's end."""
    end = line_end(text)
    if node.flow_style:
        nested = inline(value)
        for key in reversed(keys[1:]):
            nested = f"{{{inline(key)}: {nested}}}"
        at = start + node.end_mark.index - 1
        lead = ", " if node.value else ""
        return text[:at].rstrip() + f"{lead}{inline(keys[0])}: {nested}" + text[at:]
    indent = node.value[0][0].start_mark.column if node.value else 0
    lines = [f"{' ' * (indent + _STEP * deep)}{inline(key)}:" for deep, key in enumerate(keys)]
    lines[-1] += f" {inline(value)}"
    if ground:
        lines.insert(
            len(lines) - 1, f"{' ' * (indent + _STEP * (len(keys) - 1))}# {_plain(ground)}"
        )
    at = behind_line(text, start + _end(node, text, start)) if node.value else len(text)
    lead = "" if not text[:at] or text[:at].endswith(("\n", "\r")) else end
    return text[:at] + lead + "".join(line + end for line in lines) + text[at:]


def _with_comment(text: str, at: int, ground: str) -> str:
    if not ground:
        return text
    indent = re.compile(r"[ ]*").match(text, at)
    assert indent is not None
    end = line_end(text)
    before = text[_line_start(text, max(0, at - len(end))) : at].strip()
    # what stands above was said of the value before
    parted = f"{indent[0]}#{end}" if before.startswith("#") and before != "#" else ""
    return f"{text[:at]}{parted}{indent[0]}# {_plain(ground)}{end}{text[at:]}"


def _plain(words: str) -> str:
    """Return words for a comment, which ends with its line."""
    return " ".join("".join(c if c.isprintable() else " " for c in words).split())


def _root(text: str) -> tuple[int, Any]:
    """Return where the parser begins to count, and the mapping. Raises SetupError."""
    start = len(text) - len(text.removeprefix(_BOM))
    try:
        root = yaml.compose(text[start:], Loader=yaml.SafeLoader)
    except yaml.YAMLError as error:
        raise SetupError([f"has to be mended before anything is written in it: {error}"]) from None
    if not isinstance(root, yaml.MappingNode):
        raise SetupError(["is no mapping of keys and values; nothing is written in it"])
    return start, root


def _pair(node: Any, name: str) -> tuple[Any, Any] | None:
    found = node.value if isinstance(node, yaml.MappingNode) else []
    return next(((key, value) for key, value in found if key.value == name), None)


def _of(node: Any, name: str) -> Any:
    found = _pair(node, name)
    return found[1] if found else None


def _end(node: Any, text: str, start: int) -> int:
    """Return where a value ends, seen from where the parser counts; blank lines behind are none."""
    if isinstance(node, yaml.MappingNode) and not node.flow_style and node.value:
        return _end(node.value[-1][1], text, start)
    if isinstance(node, yaml.SequenceNode) and not node.flow_style and node.value:
        return _end(node.value[-1], text, start)
    end = int(node.end_mark.index)
    block = getattr(node, "style", None) in ("|", ">")
    return len(text[start : start + end].rstrip()) if block else end


def _line_start(text: str, at: int) -> int:
    return max(text.rfind("\n", 0, at), text.rfind("\r", 0, at)) + 1
