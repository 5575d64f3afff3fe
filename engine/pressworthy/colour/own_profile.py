"""The condition that a printer's own ICC profile describes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.icc_writing import MATTE, black_ink_profile
from pressworthy.colour.lab import D50, laid_on, to_xyz
from pressworthy.colour.tone_value import INKS, tone_value_increase
from pressworthy.values.condition import Condition, Lab, MadeProfile, Profile
from pressworthy.values.finding import Unmeasured

_PAPER = {"CMYK": [0, 0, 0, 0], "gray": [255], "RGB": [255, 255, 255]}
_BLACK = {"CMYK": [0, 0, 0, 255], "gray": [0], "RGB": [0, 0, 0]}
# a usual rich black; the exact darkest colour depends on the press's ink limit
_DARKEST = {"CMYK": [178, 153, 153, 255], "gray": [0], "RGB": [0, 0, 0]}
SOLIDS = {
    "cyan": (100, 0, 0, 0),
    "magenta": (0, 100, 0, 0),
    "yellow": (0, 0, 100, 0),
    "black": (0, 0, 0, 100),
    "red": (0, 100, 100, 0),
    "green": (100, 0, 100, 0),
    "blue": (100, 100, 0, 0),
}
"""Colour -> cyan, magenta, yellow and black, %, of single inks and their overprints."""

USUAL_DOTS: dict[str, Any] = {
    "ruling": None,
    "device resolution": 2400.0,
    "screen angles": {"cyan": 75.0, "magenta": 15.0, "yellow": 0.0, "black": 45.0},
    "press blur": None,
}
"""What an ICC profile does not say of a press, and common practice; None where it differs."""

_LEVELS = 256
_HARDLY = 0.5
"""Light, paper 1, that the solid of an ink leaves which can print no picture alone."""
_ATTRIBUTES = 63
"""Place in an ICC header of the byte that tells matt from glossy."""

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
        values = _told(data) if profile.space == "CMYK" else {}
        profiles = with_gray({profile.space.lower(): path})
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
        profiles=profiles,
        values=values,
    )


def with_gray(profiles: Mapping[str, Path]) -> dict[str, Profile]:
    """Return a press's ICC profiles, and where none is for gray that of its black ink alone.

    That has the tone curve which the CMYK profile gives black on bare paper, and nothing of its
    hue. None is made of an ink that hardly darkens the paper. Raises Unmeasured where LittleCMS
    refuses the CMYK profile, DamagedProfile, OSError.
    """
    if "gray" in profiles or "cmyk" not in profiles:
        return dict(profiles)
    cmyk = profiles["cmyk"]
    data = cmyk.read_bytes()
    profile = parse(data)
    ramp = np.zeros((_LEVELS, len(INKS)))
    ramp[:, INKS.index("black")] = np.linspace(100, 0, _LEVELS)
    light = to_xyz(printed_lab(ramp, data))[:, 1]
    # darker at more ink, however a table is rounded
    curve = np.maximum.accumulate(light / light[-1])
    if curve[0] > _HARDLY:
        return dict(profiles)
    paper = profile.xyz("wtpt")
    gray = black_ink_profile(
        curve,
        D50 if paper is None else paper,
        f"{profile.description() or cmyk.stem}, black ink alone",
        "as of the profile it is made from",
        matte=bool(profile.data[_ATTRIBUTES] & MATTE),
    )
    made = f"made from the black ink of {cmyk}"
    return {**profiles, "gray": MadeProfile(f"the gray of {cmyk.name}", made, gray)}


def on_paper(lab: NDArray[np.float32], paper: NDArray[np.float64]) -> Lab:
    """Return media-relative CIELAB as absolute, on a paper of XYZ (PCS, D50, 0..1).

    ICC.1:2022 clause 6.3.2: absolute XYZ is the relative times media white over D50.
    """
    light, a, b = laid_on(lab.astype(np.float64), paper).tolist()
    return light, a, b


def printed_lab(inks: NDArray[Any], profile: bytes) -> NDArray[np.float64]:
    """Return absolute CIELAB (n, 3) of inks (n, 4), %, as a CMYK profile prints them.

    Raises Unmeasured where LittleCMS refuses the profile.
    """
    device = np.round(np.asarray(inks, np.float64) / 100 * 65535).astype(np.uint16)[None]
    relative = to_lab(device, "CMYK", profile)[0].astype(np.float64)
    paper = parse(profile).xyz("wtpt")
    return laid_on(relative, D50 if paper is None else paper)


def increases(profile: bytes) -> dict[str, dict[int, float]]:
    """Return ink -> tone -> tone value increase, %, as a CMYK profile prints tints of one ink."""
    tones = np.arange(0, 101, 5.0)
    found = {}
    for column, ink in enumerate(INKS):
        ramp = np.zeros((len(tones), len(INKS)))
        ramp[:, column] = tones
        found[ink] = tone_value_increase(ink, tones, to_xyz(printed_lab(ramp, profile)))
    return found


def solids(profile: bytes) -> dict[str, Lab]:
    """Return colour -> CIELAB of `SOLIDS` as a CMYK profile prints them."""
    labs = printed_lab(np.array([*SOLIDS.values()]), profile).tolist()
    return {name: (lab[0], lab[1], lab[2]) for name, lab in zip(SOLIDS, labs, strict=True)}


def _told(profile: bytes) -> dict[str, Any]:
    """Return what a condition's own file would state of the inks."""
    tones = {
        ink: {f"{tone} %": gain for tone, gain in gains.items()}
        for ink, gains in increases(profile).items()
    }
    return {"solids": solids(profile), "tone value increase": tones}
