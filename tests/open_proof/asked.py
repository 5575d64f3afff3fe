"""Asks an ASGI application as a browser would, without a network."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping
from typing import Any

from starlette.types import ASGIApp

from pressworthy.open_proof.entry import Keys

PORT = 4711
HOME = f"127.0.0.1:{PORT}"
KEYS = Keys(PORT)
COOKIE = {"cookie": f"{KEYS.cookie}={KEYS.pass_}"}
OURS = {**COOKIE, "origin": f"http://{HOME}", "content-type": "application/json"}
"""The headers of what our own page asks for."""


def asked(
    app: ASGIApp,
    path: str = "/",
    method: str = "GET",
    headers: Mapping[str, str] | None = None,
    body: bytes = b"",
) -> tuple[int, dict[str, str], str]:
    """Return status, headers and text of what is answered."""
    bare, _, query = path.partition("?")
    sent = {"host": HOME, **(headers or {})}
    scope = {
        "type": "http", "http_version": "1.1", "method": method, "path": bare,
        "raw_path": bare.encode(), "root_path": "", "scheme": "http",
        "query_string": query.encode(), "server": ("127.0.0.1", PORT), "client": ("127.0.0.1", 1),
        "headers": [(name.encode(), value.encode("latin-1")) for name, value in sent.items()],
    }  # fmt: skip
    told: list[Any] = []
    parts = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> Any:
        return parts.pop(0) if parts else {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        told.append(message)

    asyncio.run(app(scope, receive, send))  # type: ignore[arg-type]
    heads = {name.decode(): value.decode() for name, value in told[0]["headers"]}
    text = b"".join(message.get("body", b"") for message in told[1:])
    return told[0]["status"], heads, text.decode("utf-8", "replace")


def sent(fields: Any) -> bytes:
    return json.dumps(fields).encode()
