"""What a page of ours sends, and the answer when it is not done."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request

MOST_ASKED_BYTES = 200_000
"""Of a decision; it is a few words."""


class Refused(Exception):  # noqa: N818 - an answer, not an error
    """What was asked is not done; the message is for the person."""

    def __init__(self, words: str, status: int = 400, **more: Any) -> None:
        super().__init__(words)
        self.status, self.more = status, more


@dataclass(frozen=True)
class Asked:
    """What a page sent."""

    fields: Mapping[str, Any]

    def text(self, name: str) -> str:
        value = self.fields.get(name, "")
        if not isinstance(value, str):
            raise Refused(f"{name} is no text")
        return value


async def asked_for(request: Request) -> Asked:
    """Return what a page sent as JSON, which a form on another page cannot."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise Refused("not sent by our own page", 415)
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_ASKED_BYTES:
            raise Refused("too long", 413)
    try:
        fields = json.loads(body or b"{}")
    except (ValueError, RecursionError):
        raise Refused("not JSON") from None
    if not isinstance(fields, dict):
        raise Refused("not an object")
    return Asked(fields)
