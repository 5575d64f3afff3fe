"""A printing condition (ISO: press, paper and ink) or a screen condition."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Lab = tuple[float, float, float]

_FOR_PEOPLE = ("name", "title", "standard", "profiles", "source", "caution")


@dataclass(frozen=True)
class Condition:
    """What the reader's page or screen is made of.

    paper, black, darkest: CIELAB (D50) of the bare paper, of solid black ink alone and of the
    darkest print in all inks; on a screen its white and its black.
    profiles: ICC profile paths by colour, ``cmyk``, ``gray`` or ``rgb``.
    values: everything else its file states, quantities in canonical units.
    """

    name: str
    medium: str
    paper: Lab
    black: Lab
    darkest: Lab
    profiles: dict[str, Path]
    values: dict[str, Any] = field(default_factory=dict, repr=False)

    def span(self, *, in_black: bool) -> tuple[float, float]:
        """Return L* of the darkest print, in black ink alone or in all, and of the paper.

        On a screen 0 and 100.
        """
        return (self.black if in_black else self.darkest)[0], self.paper[0]

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
