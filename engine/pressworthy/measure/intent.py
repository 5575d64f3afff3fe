"""How far the printing that a page is meant for lies from the house's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.report import reading
from pressworthy.values.rule import Member

CHANNELS = {"gray": 1, "RGB": 3, "CMYK": 4}
MOST_INK = 240
"""Of the inks that are compared, %: no press is asked for less (ISO 12647-3, newsprint)."""


def intent_difference(picture: Picture) -> float | str | None:
    """Return the mean dE00 between the output intent of the picture's page and the house's press.

    Over mixtures of inks, each relative to its paper. None where the page has no such profile; in
    words where nothing can be compared: the profile is damaged, or for other colours.
    """
    there = picture.on_page
    if there is None or there.icc is None:
        return None
    try:
        mode = parse(there.icc).space
        own = picture.output.condition.profiles.get(mode.lower())
        if own is None or mode not in CHANNELS:
            return f"for {mode}"
        return _difference(there.icc, own.read_bytes(), mode)
    except DamagedProfile:
        return "a damaged ICC profile"
    except Unmeasured as reason:
        return str(reason)


def once(faults: Mapping[Member, Iterable[Finding]]) -> dict[Member, list[Finding]]:
    """Return each fault of pages once, with the first picture that stands on one that has it.

    On a page that is one whose size is known, if there is any. Its remedy says of which pages it is
    so.
    """
    bearers: dict[Finding, list[Member]] = {}
    for member, own in faults.items():
        for fault in own:
            bearers.setdefault(fault, []).append(member)
    told: dict[Member, list[Finding]] = {}
    for fault, members in bearers.items():
        first = min(members, key=_first)
        count = len({one.page for one in members})
        pages = f"page {first.page}" if count == 1 else f"{count} pages from {first.page} on"
        remedy = f"It is so of {pages}. {fault.remedy}"
        told.setdefault(first, []).append(replace(fault, remedy=remedy))
    return told


def _first(member: Member) -> tuple[tuple[int, str], bool, int, str]:
    return reading(member.page), not member.placement, len(member.path), member.path


@lru_cache(maxsize=8)
def _difference(one: bytes, other: bytes, mode: str) -> float:
    patches = _patches(mode)
    return float(delta_e_2000(to_lab(patches, mode, one), to_lab(patches, mode, other)).mean())


def _patches(mode: str) -> NDArray[np.uint8]:
    """Return mixtures of inks or lights, (1, n, channels)."""
    steps = {"gray": 21, "RGB": 9, "CMYK": 6}[mode]
    levels = np.linspace(0, 255, steps)
    mixed = np.array(list(product(levels, repeat=CHANNELS[mode])))
    if mode == "CMYK":
        mixed = mixed[mixed.sum(axis=1) <= MOST_INK * 2.55]
    return np.round(mixed).astype(np.uint8)[None]
