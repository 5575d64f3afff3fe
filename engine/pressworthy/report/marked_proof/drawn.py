"""The small parts that several parts of the page draw: signs, links, counts, pictures."""

from __future__ import annotations

import base64

from pressworthy.report.marked_proof.markup import Markup, tag

SIGNS = {
    "stop": "M4.2 4.8C9 9.2 14.4 14.4 20 19.4M19.4 4.2C15 9.6 9.2 14.8 4.6 20",
    "query": "M12 2.6C6 2.3 2.4 6.7 2.6 12.1 2.8 17.8 7 21.6 12.4 21.4 18 21.2 21.6 17 21.3 11.6"
    " 21 6 17 2.3 10.6 3M9 9.4c.2-2 1.6-3.2 3.2-3.1 1.8.1 3 1.3 2.9 2.9-.2 2.2-2.9 2.5-3 4.8"
    "M12.1 17v.5",
    "note": "M4.6 17.4C7.4 14 9.6 10.4 12 6.8 14.4 10.2 16.6 13.8 19.6 17.2",
    "unjudged": "M2.6 13.4C5 8.6 7.4 8.8 9.6 12.2 12 16 14.4 15.8 16.4 12.2 18 9.4 19.8 9 21.6"
    " 10.6",
    "passed": "M4 13.2C6 14.8 7.6 16.8 9 19.6 12 13 15.6 8.2 20.6 4.2",
    "waived": "M5 17.2h.6M12 17.4h.6M19 17.1h.6M4 12.4C9 11.8 15 12.6 20.4 12",
}


def sign(kind: str) -> Markup:
    return tag("svg", tag("use", href=f"#sign-{kind}"), class_="sign", aria_hidden="true")


def link(number: int) -> Markup:
    return tag("a", number, href=f"#p{number}")


def many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def uri(data: bytes) -> Markup:
    kind = (
        "png" if data.startswith(b"\x89PNG") else "jpeg" if data.startswith(b"\xff\xd8") else "avif"
    )
    return Markup(f"data:image/{kind};base64,{base64.b64encode(data).decode()}")
