"""Printing conditions (ISO: press, paper and ink) and screen conditions, by name or ICC profile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pressworthy.units import quantity
from pressworthy.yamlfile import SetupError, canonical, faults_against, read

Lab = tuple[float, float, float]

_LAB = {
    "type": "array",
    "items": {"type": "number"},
    "minItems": 3,
    "maxItems": 3,
    "description": "CIELAB, D50",
}
_TEXT = {"type": "string", "minLength": 1}


@dataclass(frozen=True)
class Condition:
    """What the reader's page or screen is made of.

    paper, black: CIELAB (D50) of the bare paper and of the darkest print; 100 and 0 on a screen.
    profiles: ICC profile paths by colour, ``cmyk``, ``gray`` or ``rgb``.
    values: everything else its file states, quantities in canonical units.
    """

    name: str
    medium: str
    paper: Lab
    black: Lab
    profiles: dict[str, Path]
    values: dict[str, Any] = field(default_factory=dict, repr=False)


def find_condition(asked: str, folders: Sequence[Path], near: Path) -> Condition:
    """Return the condition called `asked`, or the one of the ICC profile at that path.

    near: the folder from which a relative path counts. Raises ValueError or SetupError.
    """
    if asked.lower().endswith((".icc", ".icm")):
        from pressworthy.colour.own_profile import condition_of_profile

        return condition_of_profile(near / asked)
    for folder in folders:
        if (folder / asked / "condition.yaml").is_file():
            return read_condition(folder / asked)
    names = [path.name for path in condition_paths(folders)]
    raise ValueError(
        f"no condition is called {asked!r}; there are {', '.join(names)}; "
        "or give the path of the printer's own ICC profile (.icc)"
    )


def condition_paths(folders: Sequence[Path]) -> Iterator[Path]:
    """Yield the folder of every condition that can be named."""
    for folder in folders:
        for path in sorted(folder.glob("*/condition.yaml")):
            yield path.parent


def read_condition(folder: Path) -> Condition:
    """Return the condition in `folder`. Raises SetupError with every fault of its file."""
    document = read(folder / "condition.yaml")
    if faults := faults_against(SCHEMA, document):
        raise SetupError(faults)
    values = canonical(SCHEMA, document.value)
    profiles = {colour: folder / name for colour, name in values["profiles"].items()}
    for path in profiles.values():
        if not path.is_file():
            raise SetupError([f"{folder / 'condition.yaml'}: profiles: {path} is not there"])
    return Condition(
        name=folder.name,
        medium=values["medium"],
        paper=tuple(values["paper"]),
        black=tuple(values["darkest"]),
        profiles=profiles,
        values=values,
    )
