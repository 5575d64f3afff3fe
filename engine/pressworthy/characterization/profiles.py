"""ICC profiles from measured patches: gray is written here, CMYK by ArgyllCMS's colprof."""

from __future__ import annotations

import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pressworthy.characterization.model import black_curve
from pressworthy.characterization.patches import INKS, Array, Patches
from pressworthy.colour.lab import D50
from pressworthy.values.faults import SetupError

DATE = (2025, 1, 1, 0, 0, 0)
"""In every ICC header, not the day of building: the same data give the same bytes."""

MATTE = 2
"""ICC.1, device attributes in the header: bit 1."""

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


def xyz_tag(values: Iterable[float]) -> bytes:
    """Return an XYZType."""
    return b"XYZ \0\0\0\0" + fixed(values)


def fixed(values: Iterable[float]) -> bytes:
    """Return s15Fixed16Numbers."""
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def curve_tag(values: Array) -> bytes:
    """Return a curveType: values 0 to 1, evenly spaced."""
    steps = np.round(np.clip(values, 0, 1) * 65535).astype(">u2").tobytes()
    return b"curv\0\0\0\0" + struct.pack(">I", len(values)) + steps


def text_tag(text: str) -> bytes:
    """Return a textType, ASCII only."""
    return b"text\0\0\0\0" + _ascii(text) + b"\0"


def description_tag(text: str) -> bytes:
    """Return a textDescriptionType, ASCII only."""
    data = _ascii(text) + b"\0"
    head = b"desc\0\0\0\0" + struct.pack(">I", len(data)) + data
    return head + bytes(4 + 4 + 2 + 1 + 67)


def _ascii(text: str) -> bytes:
    return text.encode("ascii", "replace")


def icc_profile(kind: str, space: str, tags: Mapping[str, bytes], attributes: int = 0) -> bytes:
    """Return an ICC version 2.2 profile with XYZ connection space; equal tags are stored once."""
    start = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    places: dict[bytes, int] = {}
    for name, data in tags.items():
        if data not in places:
            places[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
        table += struct.pack(">4sII", name.encode(), places[data], len(data))
    header = struct.pack(
        ">I4xI4s4s4s6H4s16xQI12s",
        start + len(body),
        0x02200000,
        kind.encode(),
        space.encode(),
        b"XYZ ",
        *DATE,
        b"acsp",
        attributes,
        1,  # media-relative colorimetric
        fixed(D50),
    )
    return header.ljust(128, b"\0") + table + body


def gray_profile(patches: Patches, description: str, copyright_: str, *, matte: bool) -> bytes:
    """Return a monochrome output profile of the black ink, 0 full ink to 1 paper."""
    tags = {
        "desc": description_tag(description),
        "cprt": text_tag(copyright_),
        "wtpt": xyz_tag(patches.solid("")[0] / 100),
        "kTRC": curve_tag(black_curve(patches)),
    }
    return icc_profile("prtr", "GRAY", tags, MATTE if matte else 0)


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
            *("-D", _ascii(description).decode()),
            *("-C", _ascii(copyright_).decode()),
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
