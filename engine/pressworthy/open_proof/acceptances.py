"""Acceptances in waivers.yaml, put in and taken out; whatever stands around them stays as it is.

The parser tells where each entry and value begins and ends; only these are written over, so that
comments, order, quotes and line ends are kept to the byte.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import yaml

from pressworthy.files.waivers import FIELDS
from pressworthy.open_proof.lines import behind_line, line_end
from pressworthy.values.faults import SetupError

_BOM = "\ufeff"
_PLAIN = ("finding", "until")


@dataclass(frozen=True)
class Kept:
    """An acceptance as the file has it: its place among them, and what its fields say."""

    index: int
    fields: Mapping[str, str]


def kept(text: str) -> list[Kept]:
    """Return the acceptances in the text of a file that `read_waivers` has found no fault in."""
    _, waivers = _node(text)
    return [
        Kept(index, {key.value: value.value for key, value in node.value})
        for index, node in enumerate(waivers.value)
    ]


def with_more(text: str | None, more: Sequence[Mapping[str, str]]) -> str:
    """Return the text with further acceptances at the end of its list.

    text: None where there is no file yet.
    """
    if text is None:
        return "waivers:\n" + "".join(_block(fields, 2, 4, "\n") for fields in more)
    start, waivers = _node(text)
    end = line_end(text)
    if not waivers.value:
        # an empty list can only be written [ ]
        place = slice(start + waivers.start_mark.index, start + waivers.end_mark.index)
        blocks = "".join(_block(fields, 2, 4, end) for fields in more)
        return text[: place.start].rstrip(" ") + end + blocks.removesuffix(end) + text[place.stop :]
    last = waivers.value[-1]
    at = _end_of(last, text, start)
    if waivers.flow_style:
        at = start + last.end_mark.index
        return text[:at] + "".join(f", {_flow(fields)}" for fields in more) + text[at:]
    dash, key = waivers.start_mark.column, last.start_mark.column
    at = behind_line(text, at)
    lead = "" if text[:at].endswith(("\n", "\r")) else end
    blocks = "".join(_block(fields, dash, max(key, dash + 2), end) for fields in more)
    if last.flow_style:
        blocks = "".join(f"{' ' * dash}- {_flow(fields)}{end}" for fields in more)
    return text[:at] + lead + blocks + text[at:]


def with_fields(text: str, anew: Mapping[int, Mapping[str, str]]) -> str:
    """Return the text with values of acceptances written anew.

    anew: index -> fields, which it has already.
    """
    start, waivers = _node(text)
    values = [
        (value, key.value, anew[index][key.value])
        for index, node in enumerate(waivers.value)
        for key, value in node.value
        if value.value != anew.get(index, {}).get(key.value, value.value)
    ]
    for node, name, said in reversed(values):
        begin, end = start + node.start_mark.index, start + node.end_mark.index
        # a folded text ends with the line end that parts it from the next
        tail = line_end(text) if text[begin:end].endswith(("\n", "\r")) else ""
        text = text[:begin] + _scalar(name, said) + tail + text[end:]
    return text


def without(text: str, indices: Collection[int]) -> str:
    """Return the text without some of its acceptances. Comments around them stay."""
    if not indices:
        return text
    start, waivers = _node(text)
    nodes = waivers.value
    gone = sorted(indices)
    if waivers.flow_style:
        left = [node for index, node in enumerate(nodes) if index not in indices]
        parts = (text[start + n.start_mark.index : start + n.end_mark.index] for n in left)
        begin, end = start + waivers.start_mark.index, start + waivers.end_mark.index
        return f"{text[:begin]}[{', '.join(parts)}]{text[end:]}"
    behind = start + waivers.start_mark.index
    for index in reversed(gone):
        node = nodes[index]
        dash = text.rfind("-", 0, start + node.start_mark.index)
        begin = max(text.rfind("\n", 0, dash), text.rfind("\r", 0, dash)) + 1
        text = text[:begin] + text[behind_line(text, _end_of(node, text, start)) :]
    if len(gone) == len(nodes):
        # a key without a list is no list
        keys = re.finditer(r"waivers['\"]?[ ]*:", text[:behind])
        at = list(keys)[-1].end()
        text = f"{text[:at]} []{text[at:]}"
    return text


def _node(text: str) -> tuple[int, Any]:
    """Return where the parser begins to count, and the list of acceptances."""
    start = len(text) - len(text.removeprefix(_BOM))
    root = yaml.compose(text[start:], Loader=yaml.SafeLoader)
    found = root.value if isinstance(root, yaml.MappingNode) else []
    for key, value in found:
        if key.value == "waivers" and isinstance(value, yaml.SequenceNode):
            return start, value
    raise SetupError(["waivers.yaml: has no list 'waivers' to write in"])


def _end_of(node: Any, text: str, start: int) -> int:
    """Return where an entry's last value ends, the blank and comment lines behind it left out."""
    if node.flow_style:
        return start + int(node.end_mark.index)
    _, last = node.value[-1]
    end = start + int(last.end_mark.index)
    return len(text[:end].rstrip()) if last.style in ("|", ">") else end


def _block(fields: Mapping[str, str], dash: int, key: int, end: str) -> str:
    lines = [f"{name}: {_scalar(name, fields[name])}" for name in FIELDS if fields.get(name)]
    first = " " * dash + "-" + " " * (key - dash - 1)
    return first + f"{end}{' ' * key}".join(lines) + end


def _flow(fields: Mapping[str, str]) -> str:
    pairs = (f"{name}: {_scalar(name, fields[name])}" for name in FIELDS if fields.get(name))
    return f"{{{', '.join(pairs)}}}"


def _scalar(name: str, value: str) -> str:
    if name in _PLAIN:
        return value
    quoted: str = yaml.safe_dump(value, default_style='"', allow_unicode=True, width=10**9)
    return quoted.strip()
