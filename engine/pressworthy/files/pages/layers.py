"""Layers of a page PDF: optional content that is shown or not (ISO 32000-1, 8.11)."""

from __future__ import annotations

from typing import Any

import pikepdf

HIDDEN = "hidden"
DOUBTED = "doubted"
SHOWN = ""
"""How a layer stands: see `Layers.standing`."""


class Layers:
    """The layers of a document, as its default configuration has them."""

    def __init__(self, document: pikepdf.Pdf) -> None:
        properties = document.Root.get("/OCProperties")
        setting = properties.get("/D") if isinstance(properties, pikepdf.Dictionary) else None
        setting = setting if isinstance(setting, pikepdf.Dictionary) else pikepdf.Dictionary()
        self._base_off = setting.get("/BaseState") == "/OFF"
        self._on, self._off = (_numbers(setting.get(key)) for key in ("/ON", "/OFF"))
        self._printing: set[tuple[int, int]] = set()
        for usage in setting.get("/AS") or ():
            if usage.get("/Event") == "/Print" and "/Print" in _names(usage.get("/Category")):
                self._printing |= _numbers(usage.get("/OCGs"))

    def standing(self, layer: Any) -> tuple[str, str]:
        """Return how a layer, or a membership of several, stands, and its name in words.

        SHOWN; HIDDEN; or DOUBTED, where screen and print differ or nothing here tells.
        """
        if not isinstance(layer, pikepdf.Dictionary):
            return SHOWN, ""
        if layer.get("/Type") != "/OCMD":
            return self._group(layer), _name(layer)
        given = layer.get("/OCGs")
        held = given if isinstance(given, pikepdf.Array) else [given]
        groups = [one for one in held if isinstance(one, pikepdf.Dictionary)]
        named = " and ".join(_name(one) for one in groups)
        if "/VE" in layer:
            return DOUBTED, named
        stands = [self._group(one) for one in groups]
        if not stands:
            return SHOWN, ""
        if DOUBTED in stands:
            return DOUBTED, named
        shown = [stand == SHOWN for stand in stands]
        policy = str(layer.get("/P", "/AnyOn"))
        met = {
            "/AllOn": all(shown), "/AnyOff": not all(shown), "/AllOff": not any(shown)
        }.get(policy, any(shown))  # fmt: skip
        return SHOWN if met else HIDDEN, named

    def _group(self, group: Any) -> str:
        number = group.objgen
        off = number in self._off or (self._base_off and number not in self._on)
        usage = group.get("/Usage")
        printing = usage.get("/Print") if isinstance(usage, pikepdf.Dictionary) else None
        if not isinstance(printing, pikepdf.Dictionary) or number not in self._printing:
            return HIDDEN if off else SHOWN
        if (printing.get("/PrintState", "/ON") == "/OFF") != off:
            return DOUBTED
        return HIDDEN if off else SHOWN


def _numbers(groups: Any) -> set[tuple[int, int]]:
    return {one.objgen for one in groups} if isinstance(groups, pikepdf.Array) else set()


def _names(value: Any) -> set[str]:
    return {str(one) for one in value} if isinstance(value, pikepdf.Array) else {str(value)}


def _name(group: Any) -> str:
    return f"{str(group.get('/Name', ''))[:80]!r}"
