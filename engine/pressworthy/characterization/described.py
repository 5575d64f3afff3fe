"""condition.yaml and inks.json of a printing condition made from measured patches."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pressworthy.characterization.model import fit_yule_nielsen
from pressworthy.characterization.patches import INKS, OVERPRINTS, Array, Patches
from pressworthy.colour.own_profile import SOLIDS, USUAL_DOTS
from pressworthy.colour.tone_value import tone_value_increase
from pressworthy.values.units import figure

FULL = {
    "".join(ink for ink, share in zip(INKS, mix, strict=True) if share): name
    for name, mix in SOLIDS.items()
}
"""Inks of the solids and their overprints -> what they are called."""


@dataclass(frozen=True)
class Description:
    """What a condition's file states beyond the patches, each with its ground as a comment.

    notes: key -> the comment behind it. under: M0 to M3, "" where it is not known.
    """

    name: str
    title: str
    ruling: float
    resolution: float
    ink_limit: float
    source: Mapping[str, str]
    caution: str
    standard: str = ""
    paper_class: str = ""
    under: str = ""
    dots: str = ""
    notes: Mapping[str, str] = field(default_factory=dict)
    by: str = "pressworthy conditions new"


def describe(
    said: Description,
    patches: Patches,
    folder: Path,
    black: Array,
    darkest: Array,
    gamut: tuple[float, str],
) -> str:
    """Return condition.yaml of the patches and of the profiles that lie in `folder`.

    black: the inks (4,), %, to which the perceptual table sends L* 0; darkest: their CIELAB;
    gamut: its volume, and how that was found.
    """
    recipe = " ".join(f"{name}{value:.0f}" for name, value in zip(INKS, black, strict=True))
    n, error = fit_yule_nielsen(patches)
    angles = USUAL_DOTS["screen angles"]

    def line(key: str, value: str) -> str:
        note = said.notes.get(key)
        return f"{key}: {value}" + (f"  # {note}" if note else "")

    lines = [
        f"# Made by {said.by}; do not edit. Lab is CIELAB, D50, 2 degree observer.",
        f"name: {said.name}",
        f"title: {_quoted(said.title)}",
        "medium: print",
        *([f"standard: {_quoted(said.standard)}"] if said.standard else []),
        *([f"paper class: {_quoted(said.paper_class)}"] if said.paper_class else []),
        line("ruling", f"{said.ruling:g} lines/cm"),
        line("device resolution", f"{said.resolution:g} dpi"),
        "screen angles:  # common practice: black at 45, strong inks 30 apart, yellow between",
        *(f"  {name}: {angles[name]:g} deg" for name in INKS.values()),
        *([line("dots", said.dots)] if said.dots else []),
        line("ink limit", f"{said.ink_limit:g} %"),
        f"paper: {triple(patches.solid('')[1])}  # Lab, measured",
        *([line("measured under", said.under)] if said.under else []),
        f"black: {triple(patches.solid('K')[1])}  # Lab of solid black, measured",
        f"darkest: {triple(darkest)}  # Lab of black through the perceptual table: {recipe}",
        f"solids:  # {said.notes.get('solids', 'Lab, measured')}",
        *(f"  {name}: {triple(patches.solid(inks)[1])}" for inks, name in FULL.items()),
        "tone value increase:  # measured; Murray-Davies on colorimetric reflectance",
    ]
    for ink, name in INKS.items():
        gains = tone_value_increase(name, *patches.ramp(ink)[:2])
        told = ", ".join(f"{t} %: {gain:.1f} %" for t, gain in gains.items())
        lines.append(f"  {name}: {{{told}}}")
    lines += [
        f"yule-nielsen n: {n:.2f}"
        f"  # fitted: least mean dE00 ({error:.2f}) of the Neugebauer model over all patches",
        f"gamut volume: {gamut[0]:.0f}  # {gamut[1]}",
        *profiles_told(folder, {"cmyk": "cmyk.icc", "gray": "gray.icc"}),
        "source:",
        *(f"  {key}: {_quoted(text)}" for key, text in said.source.items()),
        f"caution: {_quoted(said.caution)}",
    ]
    return "\n".join(lines) + "\n"


def steps_at(resolution: float, ruling: float) -> str:
    """Return how many tone steps a platesetter's dots leave a screen, for a comment."""
    return f"{figure((resolution / (ruling * 2.54)) ** 2)} tone steps at this ruling"


def triple(lab: Iterable[float]) -> str:
    """Return CIELAB as a YAML sequence."""
    return "[" + ", ".join(f"{round(float(v), 2) + 0.0:.2f}" for v in lab) + "]"


def profiles_told(folder: Path, names: Mapping[str, str]) -> list[str]:
    """Return the ``profiles`` mapping: file and SHA-256 by colour space."""
    lines = ["profiles:"]
    for space, name in names.items():
        digest = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        lines += [f"  {space}:", f"    file: {name}", f"    sha256: {_quoted(digest)}"]
    return lines


def _quoted(text: str) -> str:
    return json.dumps(text)


def describe_inks(patches: Patches) -> str:
    """Return inks.json: primaries and ramps for simulating the print, a row a line."""

    def row(values: Iterable[float]) -> str:
        return json.dumps([round(float(v), 4) for v in values])

    def block(opening: str, items: Iterable[str], closing: str) -> str:
        return opening + "\n    " + ",\n    ".join(items) + "\n  " + closing

    names = sorted(OVERPRINTS, key=lambda name: (len(name), [*INKS].index(name[0]) if name else 0))
    primaries = (f"{_quoted(name)}: {row(patches.solid(name)[0])}" for name in names)
    ramps = (
        f"{_quoted(ink)}: "
        + block("[", (row((d, *v)) for d, v in zip(*patches.ramp(ink)[:2], strict=True)), "]")
        for ink in INKS
    )
    parts = [f'"primaries": {block("{", primaries, "}")}', f'"ramps": {block("{", ramps, "}")}']
    return "{\n  " + ",\n  ".join(parts) + "\n}\n"
