"""ICC profiles from measured patches: gray is written here, CMYK by ArgyllCMS's colprof."""

from __future__ import annotations

import shutil
import struct
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from pressworthy.characterization.model import black_curve
from pressworthy.characterization.patches import INKS, Array, Patches
from pressworthy.colour.icc_writing import DATE, ascii_of, black_ink_profile
from pressworthy.values.faults import SetupError

QUALITY = ("-qm", "-bh")
DRAFT = ("-ql", "-bl")
"""colprof's effort for the tables from inks to colours and back; a draft takes seconds."""


@dataclass(frozen=True)
class Separation:
    """How a CMYK profile is to mix inks: what the patches cannot say.

    limit: %; margin: % below it at colprof's grid points, since between them inks may pass it.
    black: colprof's black generation: ``-kp`` sets the black ink itself; then start level, start
    and end of the transition from white to black, end level, shape (below 1 is late).
    noise: average deviation that colprof expects of the data, %.
    """

    limit: float
    margin: float = 10
    black: str = "-kp 0 0.12 1 0.93 0.70"
    noise: float = 0.5


def gray_profile(patches: Patches, description: str, copyright_: str, *, matte: bool) -> bytes:
    """Return a monochrome output profile of the black ink, 0 full ink to 1 paper."""
    paper = patches.solid("")[0] / 100
    return black_ink_profile(black_curve(patches), paper, description, copyright_, matte=matte)


def cmyk_profile(
    patches: Patches,
    separation: Separation,
    source: bytes,
    description: str,
    copyright_: str,
    *,
    matte: bool,
    effort: tuple[str, ...] = QUALITY,
) -> bytes:
    """Return the profile that colprof makes of the patches as measured, with the fixed date.

    source: ICC profile of the pictures for which the perceptual table is made, seen on a typical
    screen and in practical viewing light (ISO 3664 P2). Raises SetupError where ArgyllCMS is not
    installed, or fails.
    """
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "data.ti3").write_text(_ti3(patches), encoding="ascii")
        (folder / "source.icc").write_bytes(source)
        argyll(
            "colprof",
            "-nc",
            *effort,
            f"-r{separation.noise}",
            f"-l{separation.limit - separation.margin:g}",
            *separation.black.split(),
            *("-s", "source.icc", "-cmt", "-dpp"),
            *(("-Zm",) if matte else ()),
            *("-D", ascii_of(description).decode()),
            *("-C", ascii_of(copyright_).decode()),
            *("-O", "cmyk.icc", "data"),
            cwd=folder,
        )
        profile = (folder / "cmyk.icc").read_bytes()
    return profile[:24] + struct.pack(">6H", *DATE) + profile[36:]


def has_argyll() -> bool:
    """Tell whether ArgyllCMS is installed."""
    return shutil.which("colprof") is not None


def argyll(*command: str, rows: Array | None = None, cwd: Path | None = None) -> str:
    """Return the standard output of an ArgyllCMS program, fed rows of numbers.

    Raises SetupError where it is not installed, or fails.
    """
    lines = "" if rows is None else "\n".join(" ".join(f"{v:.6f}" for v in r) for r in rows)
    try:
        done = subprocess.run(command, input=lines, capture_output=True, text=True, cwd=cwd)
    except FileNotFoundError:
        raise SetupError([f"{command[0]} is not installed; it is part of ArgyllCMS"]) from None
    if done.returncode:
        told = f"{done.stdout[-500:]} {done.stderr[-500:]}".strip()
        raise SetupError([f"ArgyllCMS's {command[0]} failed: {told}"])
    return done.stdout


def _ti3(patches: Patches) -> str:
    fields = [f"CMYK_{ink}" for ink in INKS] + [f"XYZ_{a}" for a in "XYZ"]
    fields += [f"LAB_{a}" for a in "LAB"]
    rows = [
        f"{number} " + " ".join(f"{value:.6g}" for value in (*ink, *xyz, *lab))
        for number, (ink, xyz, lab) in enumerate(
            zip(patches.ink, patches.xyz, patches.lab, strict=True), 1
        )
    ]
    head = [
        *("CTI3", "", 'KEYWORD "DEVICE_CLASS"', 'DEVICE_CLASS "OUTPUT"', 'KEYWORD "COLOR_REP"'),
        *('COLOR_REP "CMYK_LAB"', "", f"NUMBER_OF_FIELDS {len(fields) + 1}", "BEGIN_DATA_FORMAT"),
        f"SAMPLE_ID {' '.join(fields)}",
        *("END_DATA_FORMAT", "", f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA"),
    ]
    return "\n".join([*head, *rows, "END_DATA", ""])
