"""The condition that a printer's own ICC profile describes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.lab import D50, laid_on
from pressworthy.values.condition import Condition, Lab
from pressworthy.values.finding import Unmeasured

_PAPER = {"CMYK": [0, 0, 0, 0], "gray": [255], "RGB": [255, 255, 255]}
_BLACK = {"CMYK": [0, 0, 0, 255], "gray": [0], "RGB": [0, 0, 0]}
# a usual rich black; the exact darkest colour depends on the press's ink limit
_DARKEST = {"CMYK": [178, 153, 153, 255], "gray": [0], "RGB": [0, 0, 0]}
_SOLIDS = {
    "cyan": [255, 0, 0, 0],
    "magenta": [0, 255, 0, 0],
    "yellow": [0, 0, 255, 0],
    "black": [0, 0, 0, 255],
    "red": [0, 255, 255, 0],
    "green": [255, 0, 255, 0],
    "blue": [255, 255, 0, 0],
}
USUAL_DOTS: dict[str, Any] = {
    "ruling": None,
    "device resolution": 2400.0,
    "screen angles": {"cyan": 75.0, "magenta": 15.0, "yellow": 0.0, "black": 45.0},
    "press blur": None,
}
"""What an ICC profile does not say of a press, and common practice; None where it differs."""

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

    # a screen's white is what the eye adapts to; paper is seen under the room's light
    white = None if profile.kind == "display" else profile.xyz("wtpt")

    def lab_of(values: list[int]) -> Lab:
        lab = to_lab(np.array([[values]], np.uint8), profile.space, data)[0, 0]
        return on_paper(lab, D50 if white is None else white)

    try:
        solids = (
            {name: lab_of(inks) for name, inks in _SOLIDS.items()}
            if profile.space == "CMYK"
            else {}
        )
        paper, black, darkest = (
            lab_of(colour[profile.space]) for colour in (_PAPER, _BLACK, _DARKEST)
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
        values={"solids": solids} if solids else {},
    )


def on_paper(lab: NDArray[np.float32], paper: NDArray[np.float64]) -> Lab:
    """Return media-relative CIELAB as absolute, on a paper of XYZ (PCS, D50, 0..1).

    ICC.1:2022 clause 6.3.2: absolute XYZ is the relative times media white over D50.
    """
    light, a, b = laid_on(lab.astype(np.float64), paper).tolist()
    return light, a, b
