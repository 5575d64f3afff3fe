"""HTML in which text cannot become markup: what is not `Markup` is escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from pressworthy.values.words import readable

VOID = frozenset({"br", "img", "input", "meta", "link"})


class Markup(str):
    """Text that is HTML already."""


def text(value: object) -> Markup:
    """Return any text as HTML: escaped, in one line, no character that hides or moves others."""
    if isinstance(value, Markup):
        return value
    line = str(value).replace("\r\n", " ").replace("\n", " ").replace("\t", " ")
    return Markup(escape(readable(line), quote=True))


def joined(parts: Iterable[object], between: str = "") -> Markup:
    """Return the parts, each as `text` gives it, one after the other."""
    return Markup(between.join(text(part) for part in parts))


def tag(name: str, /, *content: object, **attributes: object) -> Markup:
    """Return an element.

    Attribute names: a trailing underscore is dropped, others become hyphens; None and False leave
    the attribute out, True gives it without a value.
    """
    given = "".join(
        f" {_name(key)}" if value is True else f' {_name(key)}="{text(value)}"'
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    if name in VOID:
        return Markup(f"<{name}{given}>")
    return Markup(f"<{name}{given}>{joined(content)}</{name}>")


def _name(key: str) -> str:
    return key.rstrip("_").replace("_", "-")
