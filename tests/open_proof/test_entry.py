"""Who may enter the open proof: each way in that a stranger may try, and the one that is ours."""

from __future__ import annotations

import pytest
from asked import COOKIE, HOME, KEYS, OURS, asked
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from pressworthy.open_proof.entry import Entry, Keys


async def inside(request: Request) -> Response:
    return PlainTextResponse("inside")


APP = Entry(Starlette(routes=[Route("/{rest:path}", inside, methods=["GET", "POST", "PUT"])]), KEYS)


def test_the_key_in_the_first_address_gives_a_cookie_that_no_script_reads_and_no_site_sends() -> (
    None
):
    status, heads, _ = asked(APP, f"/?key={KEYS.key}")
    assert status == 303 and heads["location"] == "/"
    cookie = heads["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie
    assert KEYS.key not in heads["set-cookie"]


def test_with_the_cookie_our_own_page_reads_and_decides() -> None:
    assert asked(APP, "/", headers=COOKIE)[2] == "inside"
    assert asked(APP, "/decide", "POST", OURS)[2] == "inside"
    assert asked(APP, "/", headers={**COOKIE, "host": "localhost:4711"})[2] == "inside"


ATTACKS = {
    "no key, no cookie": ("/", "GET", {}),
    "a guessed key": ("/?key=guess", "GET", {}),
    "an empty key": ("/?key=", "GET", {}),
    "a guessed key beside the cookie": ("/?key=guess", "GET", COOKIE),
    "the key on another path": (f"/decide?key={KEYS.key}", "GET", {}),
    "the key to write with": (f"/?key={KEYS.key}", "POST", {"origin": f"http://{HOME}"}),
    "the key as the cookie": ("/", "GET", {"cookie": f"{KEYS.cookie}={KEYS.key}"}),
    "a cookie for another port": ("/", "GET", {"cookie": f"pressworthy-1={KEYS.pass_}"}),
    "a broken cookie": ("/", "GET", {"cookie": "=;;\"{}\x00" + KEYS.cookie}),
    "a name pointed at this computer": ("/", "GET", {**COOKIE, "host": "evil.example:4711"}),
    "that name and the key": (f"/?key={KEYS.key}", "GET", {"host": "evil.example:4711"}),
    "another port's name": ("/", "GET", {**COOKIE, "host": "127.0.0.1:80"}),
    "no port": ("/", "GET", {**COOKIE, "host": "127.0.0.1"}),
    "our name within another": ("/", "GET", {**COOKIE, "host": f"{HOME}.evil.example"}),
    "a form on another page": ("/decide", "POST", {**COOKIE, "origin": "http://evil.example"}),
    "a form on another port": ("/decide", "POST", {**COOKIE, "origin": "http://127.0.0.1:1"}),
    "a form in a frame without origin": ("/decide", "POST", {**COOKIE, "origin": "null"}),
    "a form that hides its origin": ("/decide", "POST", COOKIE),
    "the other name's origin": ("/decide", "POST", {**COOKIE, "origin": "http://localhost:4711"}),
    "an image on another site": ("/seen/a", "GET", {**COOKIE, "sec-fetch-site": "cross-site"}),
    "a script on another port": ("/", "GET", {**COOKIE, "sec-fetch-site": "same-site"}),
    "reading from another page": ("/", "GET", {**COOKIE, "origin": "http://evil.example"}),
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_a_stranger_is_turned_away(attack: str) -> None:
    status, heads, text = asked(APP, *ATTACKS[attack])
    assert status in (403, 421), attack
    assert "inside" not in text
    assert "set-cookie" not in heads
    assert KEYS.key not in text and KEYS.pass_ not in text


def test_every_answer_forbids_what_is_not_ours() -> None:
    for path, headers in (("/", COOKIE), ("/", {}), (f"/?key={KEYS.key}", {})):
        heads = asked(APP, path, headers=headers)[1]
        policy = heads["content-security-policy"]
        scripts = next(part for part in policy.split(";") if "script-src" in part)
        assert "unsafe" not in scripts and "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert heads["x-content-type-options"] == "nosniff"
        assert heads["referrer-policy"] == "no-referrer"
        assert heads["cache-control"] == "no-store"
    assert "access-control-allow-origin" not in asked(APP, "/", headers=COOKIE)[1]


def test_keys_are_new_for_every_server_and_not_shown() -> None:
    other = Keys(4711)
    assert other.key != KEYS.key and other.pass_ != KEYS.pass_ and len(KEYS.key) >= 40
    assert KEYS.key not in repr(KEYS)
