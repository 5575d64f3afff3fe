"""A printing condition (ISO: press, paper and ink) or a screen condition."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class MadeProfile:
    """An ICC profile that lies in no file, since it was made here from another.

    name: what an error calls it; made: from what, in words.
    """

    name: str
    made: str
    data: bytes = field(repr=False)

    def read_bytes(self) -> bytes:
        """Return its bytes, as of a file."""
        return self.data

    def __str__(self) -> str:
        return self.made


Profile = Path | MadeProfile
"""Where an ICC profile is read from."""

_FOR_PEOPLE = (
    "name",
    "title",
    "standard",
    "profiles",
    "source",
    "caution",
    "assumed",
    "measured under",
)


@dataclass(frozen=True)
class Condition:
    """What the reader's page or screen is made of.

    paper, black, darkest: CIELAB (D50) of the bare paper, of solid black ink alone and of the
    darkest print in all inks; on a screen its white and its black.
    profiles: ICC profiles by colour, ``cmyk``, ``gray`` or ``rgb``: the path of each, or one made
        from another of them.
    values: everything else its file states, quantities in canonical units; ``assumed`` gives, for
        each that neither it nor the house states, where it was taken from.
    inks: file of its inks' measured colours; None where its ICC profile alone tells of them.
    """

    name: str
    medium: str
    paper: Lab
    black: Lab
    darkest: Lab
    profiles: dict[str, Profile]
    values: dict[str, Any] = field(default_factory=dict, repr=False)
    inks: Path | None = None

    def span(self, *, in_black: bool) -> tuple[float, float]:
        """Return L* of the darkest print, in black ink alone or in all, and of the paper.

        On a screen 0 and 100.
        """
        return (self.black if in_black else self.darkest)[0], self.paper[0]

    def sentence(self) -> str:
        """Return for a reader which press and paper is shown, how measured, and what is assumed."""
        lab = " ".join(f"{part:.1f}" for part in self.paper)
        title = f"{self.values['title']} ({self.name})" if "title" in self.values else self.name
        if self.medium != "print":
            return f"Shown for: {title}."
        under = self.values.get("measured under")
        how = f"measured under {under}" if under else "its measuring condition (M0 to M3) not told"
        parts = [f"Shown as printed by: {title}. Its paper is L* a* b* {lab}, {how}."]
        if assumed := self.assumption():
            parts.append(assumed)
        return " ".join(parts)

    def assumption(self) -> str:
        """Return a sentence on what is assumed of its dots, "" where nothing is."""
        assumed: dict[str, str] = self.values.get("assumed", {})
        if not assumed:
            return ""
        sources = dict.fromkeys(assumed.values())
        parts = [
            f"{_listed([name for name, source in assumed.items() if source == one])} {one}"
            for one in sources
        ]
        return (
            f"An ICC profile says nothing of dots. Assumed: {'; '.join(parts)}. "
            "What the printer says of them is written under output."
        )

    def fingerprint(self, colours: Iterable[str]) -> str:
        """Return the SHA-256 of its figures and of the bytes of its ICC profiles for `colours`.

        What only people read of it does not count. Raises OSError.
        """
        figures = {name: value for name, value in self.values.items() if name not in _FOR_PEOPLE}
        figures_text = json.dumps([self.paper, self.black, self.darkest, figures], sort_keys=True)
        digest = hashlib.sha256(figures_text.encode())
        for colour in sorted(colours):
            digest.update(hashlib.sha256(self.profiles[colour].read_bytes()).digest())
        return digest.hexdigest()


def _listed(names: list[str]) -> str:
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else names[0]
