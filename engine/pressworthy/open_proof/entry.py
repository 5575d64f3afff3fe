"""Who may enter: this computer's own browser, by a key that only its person was given.

Every request is looked at before any route sees it. The key stands in the first address alone; from
then on a cookie counts, which no page of another site can send and no script can read. Whatever
came to us by a name of somebody else's, or from a page of somebody else's, is turned away: a name
server that points a stranger's name at this computer gains nothing, nor does a form on a stranger's
page.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = "127.0.0.1"
READING = ("GET", "HEAD")
OURS = ("same-origin", "none")
"""What a browser says of a request that our own page makes, or a person at the address line."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
"""Nothing is loaded but from here, and no script or style sheet stands in the page itself."""

_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_STRANGER = "Open the address that `pressworthy open` printed: this one lacks its key."


@dataclass(frozen=True)
class Keys:
    """What a server hands out once: the key of its first address, and what its cookie holds."""

    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    pass_: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    @property
    def address(self) -> str:
        """The first address, key and all: for this person's browser only."""
        return f"http://{LOOPBACK}:{self.port}/?key={self.key}"

    @property
    def cookie(self) -> str:
        """Its name: cookies know no ports, and two sheets may be open at once."""
        return f"pressworthy-{self.port}"


class Entry:
    """Hands on to `app` what may enter, and turns all else away."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self._app = app
        self._keys = keys
        names = (f"{LOOPBACK}:{keys.port}", f"localhost:{keys.port}")
        self._origins = {name: f"http://{name}" for name in names}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        turned = self._turned_away(scope)
        await (turned or self._app)(scope, receive, guarded)

    def _turned_away(self, scope: Scope) -> Response | None:
        """Return the answer to who may not enter, or who has only just shown the key."""
        headers, reading = Headers(scope=scope), scope["method"] in READING
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0] not in self._origins:
            return PlainTextResponse("This is no address of the open proof.", 421)
        origins = headers.getlist("origin")
        if origins and origins != [self._origins[hosts[0]]]:
            return PlainTextResponse("Asked for by another page.", 403)
        if not reading and not origins:
            return PlainTextResponse("Says not from which page it comes.", 403)
        if headers.get("sec-fetch-site", "none") not in OURS:
            return PlainTextResponse("Asked for by another site.", 403)
        if given := parse_qs(scope["query_string"].decode("latin-1")).get("key"):
            if scope["path"] == "/" and reading and _same(given[0], self._keys.key):
                answer = RedirectResponse("/", 303)
                answer.set_cookie(
                    self._keys.cookie, self._keys.pass_, httponly=True, samesite="strict"
                )
                return answer
            return PlainTextResponse(_STRANGER, 403)
        if not _same(_cookie(headers.get("cookie", ""), self._keys.cookie), self._keys.pass_):
            return PlainTextResponse(_STRANGER, 403)
        return None


def _cookie(text: str, name: str) -> str:
    try:
        morsel = SimpleCookie(text).get(name)
    except CookieError:
        return ""
    return morsel.value if morsel else ""


def _same(given: str, wanted: str) -> bool:
    """Tell whether they are equal, in a time that tells nothing of where they differ."""
    return hmac.compare_digest(given.encode(), wanted.encode())
