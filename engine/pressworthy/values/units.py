"""Quantities as a house writes them: a number, a space, a unit.

Every dimension has one canonical unit, in which the code computes; the others convert to it. One
grammar reads them all, in house profiles, picture lists and options of commands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

MM_PER_INCH = 25.4
"""Exact, by the international definition of the inch (1959)."""

CSS_PX_MM = MM_PER_INCH / 96
"""One CSS pixel in mm: 1/96 in (W3C, CSS Values and Units, absolute lengths)."""

_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_STRICT_NUMBER = r"[-+]?(?:\d+(?:\.\d+)?|\.\d+)"
"""As a house profile writes it: there 1,500 kB must not pass for 1.5."""

UNITS: Mapping[str, Mapping[str, float]] = {
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "pt": MM_PER_INCH / 72},
    "ppi": {"ppi": 1.0, "px/cm": 2.54, "px/mm": 25.4},
    "lines/cm": {"lines/cm": 1.0, "lpi": 1 / 2.54},
    "dpi": {"dpi": 1.0, "dots/cm": 2.54},
    "kB": {"B": 0.001, "kB": 1.0, "MB": 1000.0},
    "%": {"%": 1.0},
    "L*": {"L*": 1.0},
    "dE00": {"dE00": 1.0},
    "px": {"px": 1.0},
    "deg": {"deg": 1.0},
    "rad": {"rad": 1.0},
}
"""Canonical unit -> accepted unit -> factor to the canonical one."""


PLACED: Mapping[str, float] = {**UNITS["mm"], "px": CSS_PX_MM}
"""Unit -> mm for what stands on a page: there a pixel is the one of CSS."""


def parse(text: str, unit: str | Mapping[str, float], *, bare: str = "") -> float:
    """Return `text`, such as ``"0.125 in"`` or ``"3,5mm"``, in the canonical unit.

    unit: the canonical unit, or accepted unit -> factor. bare: the unit of a number without one, ""
    where it must have one. Raises ValueError with a sentence for the person who wrote it.
    """
    accepted = UNITS[unit] if isinstance(unit, str) else unit
    match = re.fullmatch(rf"\s*({_NUMBER})\s*([^\s\d.,]\S*)?\s*", text)
    written = (match[2] or bare) if match else ""
    if match is None or written not in accepted:
        raise ValueError(f"{text!r} is not a quantity in {' or '.join(accepted)}")
    return float(match[1].replace(",", ".")) * accepted[written]


def parse_pair(text: str, accepted: Mapping[str, float]) -> tuple[float, float]:
    """Return the two quantities of ``210x148mm``; the first may leave its unit to the second.

    Raises ValueError as `parse` does.
    """
    spelled = "|".join(map(re.escape, accepted))
    one = rf"\s*{_NUMBER}\s*"
    match = re.fullmatch(rf"({one}(?:{spelled})?\s*)[x×]({one}({spelled})\s*)", text)
    if match is None:
        raise ValueError(f"{text!r} is not two quantities in {' or '.join(accepted)}")
    return parse(match[1], accepted, bare=match[3]), parse(match[2], accepted)


def quantity(
    unit: str, description: str, *, least: float | None = None, most: float | None = None
) -> dict[str, Any]:
    """Return the JSON Schema fragment of a quantity.

    `least` and `most` bound it, in the canonical `unit`.
    """
    spelled = "|".join(re.escape(name) for name in UNITS[unit])
    fragment: dict[str, Any] = {
        "type": "string",
        "description": description,
        "pattern": rf"^{_STRICT_NUMBER} ?({spelled})$",
        "unit": unit,
    }
    if least is not None:
        fragment["least"] = least
    if most is not None:
        fragment["most"] = most
    return fragment


def figure(value: float, unit: str = "") -> str:
    """Return `value` for a reader, with its unit: rounded to whole numbers from 100, to one
    decimal from 10, to two significant figures below."""
    if value != value or value in (float("inf"), float("-inf")):
        shown = str(value)
    elif abs(value) >= 100 or value == round(value):
        shown = f"{value:.0f}"
    elif abs(value) >= 10:
        shown = f"{value:.1f}"
    else:
        shown = f"{value:.2g}"
    return f"{shown} {unit}" if unit else shown
