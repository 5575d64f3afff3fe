"""The condition that a printer's own ICC profile describes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pressworthy.colour.condition import Condition, Lab
from pressworthy.colour.convert import to_lab
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.finding import Unmeasured

_PAPER = {"CMYK": [0, 0, 0, 0], "gray": [255], "RGB": [255, 255, 255]}
_BLACK = {"CMYK": [0, 0, 0, 255], "gray": [0], "RGB": [0, 0, 0]}
# a usual rich black; the exact darkest colour depends on the press's ink limit
_DARKEST = {"CMYK": [178, 153, 153, 255], "gray": [0], "RGB": [0, 0, 0]}
MISSING = "it has no table from colours to inks (B2A); ask the printer for an output profile"


def condition_of_profile(path: Path) -> Condition:
    """Return the condition of an output or display profile at `path`.

    Paper and blacks are its absolute colorimetric CIELAB. Raises ValueError with the reason.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ValueError(f"{path}: cannot be read: {error.strerror}") from None
    try:
        profile = parse(data)
    except DamagedProfile as error:
        raise ValueError(f"{path}: no usable ICC profile: {error}") from None
    if profile.kind not in ("output", "display", "colour space") or profile.space not in _PAPER:
        raise ValueError(
            f"{path}: an {profile.kind} profile for {profile.space}; a condition needs an output "
            "profile for CMYK or gray, or a display profile for RGB"
        )
    if profile.space == "CMYK" and not {"B2A0", "B2A1"} & profile.tags.keys():
        raise ValueError(f"{path}: {MISSING}")

    def seen(values: list[int]) -> Lab:
        device = np.array([[values]], np.uint8)
        lab = to_lab(device, profile.space, data, intent="absolute")[0, 0]
        return float(lab[0]), float(lab[1]), float(lab[2])

    try:
        paper, black, darkest = (
            seen(colour[profile.space]) for colour in (_PAPER, _BLACK, _DARKEST)
        )
    except Unmeasured as error:
        raise ValueError(f"{path}: {error}") from None
    return Condition(
        name=profile.description() or path.stem,
        medium="screen" if profile.kind == "display" else "print",
        paper=paper,
        black=black,
        darkest=darkest,
        profiles={profile.space.lower(): path},
    )
