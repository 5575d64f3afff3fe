"""Printing conditions (ISO: press, paper and ink) and screen conditions, by name or ICC profile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.own_profile import condition_of_profile, with_gray
from pressworthy.values import cautions
from pressworthy.values.condition import Condition, Lab, Profile
from pressworthy.values.faults import Fault, SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import figure, quantity
from pressworthy.yamlfile import canonical, faults_against, is_there, read

WORDS = ("schema", "compare", "new")
"""Ask for something else where a condition may be named, so that none can be called so."""

_LAB = {
    "type": "array",
    "items": {"type": "number"},
    "minItems": 3,
    "maxItems": 3,
    "description": "CIELAB, D50",
}
_XY = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
_TEXT = {"type": "string", "minLength": 1}
_INKS = ("cyan", "magenta", "yellow", "black")


def _mapping(part: dict[str, Any], names: Sequence[str] = ()) -> dict[str, Any]:
    if not names:
        return {"type": "object", "additionalProperties": part}
    properties = dict.fromkeys(names, part)
    return {"type": "object", "properties": properties, "additionalProperties": False}


SCHEMA: dict[str, Any] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "pressworthy condition",
    "type": "object",
    "additionalProperties": False,
    "required": ["name", "title", "medium", "profiles", "source", "caution"],
    "properties": {
        "name": _TEXT,
        "title": _TEXT,
        "medium": {"enum": ["print", "screen"]},
        "standard": _TEXT,
        "paper class": _TEXT,
        "ruling": quantity("lines/cm", "of the halftone screen", least=10, most=200),
        "device resolution": quantity("dpi", "of the platesetter", least=100, most=10_000),
        "screen angles": _mapping(quantity("deg", "from the vertical"), _INKS),
        "dots": {
            "enum": ["euclidean", "round", "stochastic"],
            "description": "shape of the halftone dots; euclidean without it",
        },
        "press blur": quantity(
            "mm", "all that press and paper blur, d of exp(-r/d)", least=0, most=1
        ),
        "resolution": quantity("ppi", "of the CSS pixel"),
        "ink limit": quantity("%", "largest sum of all inks", least=100, most=400),
        "paper": _LAB,
        "measured under": {"enum": ["M0", "M1", "M2", "M3"], "description": "ISO 13655, the light"},
        "white": _LAB,
        "black": {**_LAB, "description": "CIELAB of solid black ink alone, or the screen's black"},
        "darkest": {**_LAB, "description": "CIELAB of the darkest print within the ink limit"},
        "solids": _mapping(_LAB),
        "tone value increase": _mapping(
            _mapping(quantity("%", "over the tone's own value")), _INKS
        ),
        "yule-nielsen n": {"type": "number", "minimum": 1},
        "gamut volume": {"type": "number", "description": "cubic CIELAB units"},
        "white luminance": _TEXT,
        "white point": _XY,
        "primaries": _mapping(_XY),
        "profiles": _mapping(
            {
                "type": "object",
                "additionalProperties": False,
                "required": ["file"],
                "properties": {"file": _TEXT, "sha256": _TEXT},
            },
            ("cmyk", "gray", "rgb"),
        ),
        "source": _mapping(_TEXT),
        "caution": _TEXT,
    },
    "if": {"properties": {"medium": {"const": "print"}}},
    "then": {"required": ["ruling", "device resolution", "ink limit", "paper", "black", "darkest"]},
}


def find_condition(asked: str, folders: Sequence[Path], near: Path) -> Condition:
    """Return the condition called `asked`, or the one of the folder or ICC profile at that path.

    near: the folder from which a relative path counts; what lies there comes first.
    Raises ValueError or SetupError.
    """
    if is_profile(asked):
        return condition_of_profile(near / asked)
    for folder in (near, *folders):
        if is_there(folder / asked / "condition.yaml"):
            return read_condition(folder / asked)
    names = [path.name for path in condition_paths(folders)]
    raise ValueError(
        f"no condition is called {asked!r}; there are {', '.join(names)}; "
        "or give the path of the printer's own ICC profile (.icc)"
    )


def is_profile(asked: str) -> bool:
    """Tell whether a condition is asked for by the path of an ICC profile."""
    return asked.lower().endswith((".icc", ".icm"))


def condition_paths(folders: Sequence[Path]) -> Iterator[Path]:
    """Yield the folder of every condition that can be named."""
    for folder in folders:
        for path in sorted(folder.glob("*/condition.yaml")):
            yield path.parent


def read_condition(folder: Path) -> Condition:
    """Return the condition in `folder`. Raises SetupError with every fault of its file."""
    document = read(folder / "condition.yaml")
    faults = faults_against(SCHEMA, document)
    if folder.name in WORDS:
        origin = document.origins.get(("name",))
        message = f"no condition can be called {folder.name!r}; rename its folder"
        faults = [*faults, Fault(origin, ("name",), message)]
    if faults:
        raise SetupError(faults)
    values = canonical(SCHEMA, document.value)
    profiles = {colour: folder / part["file"] for colour, part in values["profiles"].items()}
    for path in profiles.values():
        if not is_there(path):
            raise SetupError([f"{folder / 'condition.yaml'}: profiles: {path} is not there"])
    inks = folder / "inks.json"
    return Condition(
        name=folder.name,
        medium=values["medium"],
        paper=_lab(values.get("paper", values.get("white", (100, 0, 0)))),
        black=_lab(values.get("black", (0, 0, 0))),
        darkest=_lab(values.get("darkest", values.get("black", (0, 0, 0)))),
        profiles=_with_gray(profiles),
        values=values,
        inks=inks if is_there(inks) else None,
    )


def _with_gray(profiles: Mapping[str, Path]) -> dict[str, Profile]:
    try:
        return with_gray(profiles)
    except (DamagedProfile, Unmeasured, OSError):
        # told where the damaged one is used
        return dict(profiles)


def _lab(values: Sequence[float]) -> Lab:
    lightness, a, b = values
    return float(lightness), float(a), float(b)


def data_sheet(condition: Condition) -> str:
    """Return for a reader: name, paper, solids, tone value increase, gamut, ink limit."""
    values = condition.values
    lines = [f"{condition.name}: {values['title']}" if "title" in values else condition.name]
    if "standard" in values:
        lines.append(f"  {values['standard']}")
    for name, unit in (
        ("paper class", ""),
        ("ruling", "lines/cm"),
        ("device resolution", "dpi"),
        ("ink limit", "%"),
    ):
        if name in values:
            value = values[name]
            text = value if isinstance(value, str) else figure(value, unit)
            lines.append(f"  {name:<20} {text}")
    under = f"  measured under {values['measured under']}" if "measured under" in values else ""
    lines.append(f"  {'paper':<20} {_spelled(condition.paper)}{under}")
    if condition.medium == "print":
        lines.append(f"  {'black ink alone':<20} {_spelled(condition.black)}")
        lines.append(f"  {'darkest':<20} {_spelled(condition.darkest)}")
    for name, lab in values.get("solids", {}).items():
        lines.append(f"  {name:<20} {_spelled(lab)}")
    for ink, tones in values.get("tone value increase", {}).items():
        increases = ", ".join(f"{figure(gain, '%')} at {tone}" for tone, gain in tones.items())
        lines.append(f"  {f'TVI {ink}':<20} {increases}")
    if "gamut volume" in values:
        lines.append(f"  {'gamut volume':<20} {values['gamut volume']:,.0f} cubic CIELAB units")
    for colour, path in condition.profiles.items():
        lines.append(f"  {f'ICC profile, {colour}':<20} {path}")
    lines += [f"  {name:<20} {text}" for name, text in values.get("source", {}).items()]
    return "\n".join([*lines, f"  {values.get('caution', cautions.PROFILE_ALONE)}"]) + "\n"


def _spelled(lab: Sequence[float]) -> str:
    return f"L* {lab[0]:.1f}  a* {lab[1]:.1f}  b* {lab[2]:.1f}"
