"""A pull and the verdict on its picture as bytes, to be kept: JSON, and after it the pictures."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from pressworthy.jobs.pull.value import Pull
from pressworthy.jobs.running.cache import verdict_of
from pressworthy.print.transfer import Transfer
from pressworthy.values.finding import Verdict

_PART = "bytes from, to"
_HEAD = 8


def packed(verdict: Verdict, pull: Pull) -> bytes:
    parts = bytearray()

    def bare(value: Any) -> Any:
        if isinstance(value, bytes):
            parts.extend(value)
            return {_PART: [len(parts) - len(value), len(parts)]}
        return np.asarray(value).tolist()

    text = json.dumps([asdict(verdict), asdict(pull)], default=bare).encode()
    return len(text).to_bytes(_HEAD, "big") + text + parts


def unpacked(data: bytes) -> tuple[Verdict, Pull]:
    """Return what `packed` was given."""
    end = _HEAD + int.from_bytes(data[:_HEAD], "big")

    def whole(found: dict[str, Any]) -> Any:
        if _PART not in found:
            return found
        first, last = found[_PART]
        return data[end + first : end + last]

    verdict, pull = json.loads(data[_HEAD:end], object_hook=whole)
    copy, sharp, plain = (pull.pop(name) for name in ("copy", "sharp", "plain"))
    return verdict_of(verdict), Pull(
        **{name: _tupled(value) for name, value in pull.items()},
        sharp=sharp and _transfer(sharp),
        plain=plain and _transfer(plain),
        copy=copy and verdict_of(copy),
    )


def _tupled(value: Any) -> Any:
    return tuple(map(_tupled, value)) if isinstance(value, list) else value


def _transfer(data: Mapping[str, Any]) -> Transfer:
    curve = {name: np.array(data[name], np.float64) for name in ("frequencies", "response")}
    return Transfer(**{**data, "values": tuple(data["values"]), **curve})
