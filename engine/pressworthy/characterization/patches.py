"""Characterization data: patches of known inks, measured (CGATS.17, and ArgyllCMS's .ti3)."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lab import from_xyz, to_xyz
from pressworthy.values.faults import SetupError

Array = NDArray[np.float64]

INKS = {"C": "cyan", "M": "magenta", "Y": "yellow", "K": "black"}
OVERPRINTS = tuple("".join(ink for i, ink in enumerate(INKS) if mix >> i & 1) for mix in range(16))
"""The 16 Neugebauer primaries, ``""`` (paper) to ``"CMYK"``."""

MOST_BYTES = 30_000_000
_LEAST_STEPS = 5
_SAME = 0.5  # by rounding to one decimal and, in part, another digit of the white
_SOLID = "a chart as ISO 12642-2 has it holds all of them"


@dataclass(frozen=True, eq=False)
class Patches:
    """Characterization data: ink in %, XYZ (Y = 100 is the perfect diffuser), CIELAB D50."""

    ink: Array
    xyz: Array
    lab: Array

    def mean(self) -> Patches:
        """Return the patches with equal inks averaged, in ascending order of ink."""
        ink, group = np.unique(self.ink, axis=0, return_inverse=True)
        index = np.ravel(group)
        count = np.bincount(index)[:, None]

        def average(values: Array) -> Array:
            return np.stack([np.bincount(index, v) for v in values.T], axis=1) / count

        return Patches(ink, average(self.xyz), average(self.lab))

    def solid(self, inks: str) -> tuple[Array, Array]:
        """Return XYZ and Lab of the overprint of full inks, e.g. ``"CM"``; ``""`` is paper."""
        wanted = [100.0 * (ink in inks) for ink in INKS]
        at = int(np.flatnonzero((self.ink == wanted).all(axis=1))[0])
        return self.xyz[at], self.lab[at]

    def ramp(self, ink: str) -> tuple[Array, Array, Array]:
        """Return device %, XYZ and Lab of one ink alone, from paper to solid."""
        others = [i for i, name in enumerate(INKS) if name != ink]
        at = (self.ink[:, others] == 0).all(axis=1)
        return self.ink[at][:, list(INKS).index(ink)], self.xyz[at], self.lab[at]


@dataclass(frozen=True)
class Measured:
    """A file of measurements: its patches as they stand, and what its header tells.

    under: M0 to M3 (ISO 13655), "" where it is not told.
    """

    patches: Patches
    descriptor: str
    originator: str
    under: str


def read_measurements(path: Path) -> Measured:
    """Return the measurements of a CGATS.17 or .ti3 file of CMYK patches.

    Raises SetupError, which tells what the file lacks.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise SetupError([f"{path}: larger than {MOST_BYTES // 10**6} MB"])
        raw = path.read_bytes()
    except OSError as error:
        raise SetupError([f"{path}: cannot be read: {error.strerror}"]) from None
    text = raw.decode("latin-1")
    head, fields, rows = _table(text, path)
    patches = _patches(fields, rows, path)
    _whole(patches.mean(), path)
    return Measured(
        patches,
        _said(head, "DESCRIPTOR") or _said(head, "FILE_DESCRIPTOR") or path.stem,
        _said(head, "ORIGINATOR"),
        _under(head),
    )


def _table(text: str, path: Path) -> tuple[str, list[str], list[tuple[int, list[str]]]]:
    """Return header, field names and rows, each with its line, of the first table of CMYK."""
    lines = text.splitlines()
    head: list[str] = []
    fields: list[str] = []
    rows: list[tuple[int, list[str]]] = []
    within = ""
    for number, line in enumerate(lines, 1):
        word = line.strip()
        if word in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            within = word
            if word == "BEGIN_DATA_FORMAT":
                fields = []
        elif word in ("END_DATA_FORMAT", "END_DATA"):
            if word == "END_DATA" and "CMYK_C" in fields:
                return "\n".join(head), fields, rows
            within, rows = "", []
        elif within == "BEGIN_DATA_FORMAT":
            fields += word.upper().split()
        elif within == "BEGIN_DATA" and word and not word.startswith("#"):
            rows.append((number, _cells(word)))
        elif not within:
            head.append(line)
    if within == "BEGIN_DATA" and "CMYK_C" in fields:
        raise SetupError([f"{path}: broken off: END_DATA is missing"])
    raise SetupError(
        [
            f"{path}: no table of CMYK patches: a CGATS.17 file has the fields CMYK_C, CMYK_M, "
            "CMYK_Y, CMYK_K between BEGIN_DATA_FORMAT and END_DATA_FORMAT"
        ]
    )


def _cells(line: str) -> list[str]:
    if '"' not in line:
        return line.split()
    try:
        return shlex.split(line, posix=True)
    except ValueError:
        return line.split()


def _patches(fields: list[str], rows: list[tuple[int, list[str]]], path: Path) -> Patches:
    columns = {name: index for index, name in enumerate(fields)}
    inks = [f"CMYK_{ink}" for ink in INKS]
    sets = [[f"{kind}_{axis}" for axis in kind] for kind in ("XYZ", "LAB")]
    told = [names for names in sets if all(name in columns for name in names)]
    if missing := [name for name in inks if name not in columns]:
        raise SetupError([f"{path}: no field {', '.join(missing)}"])
    if not told:
        raise SetupError(
            [
                f"{path}: neither XYZ_X, XYZ_Y, XYZ_Z nor LAB_L, LAB_A, LAB_B; of spectra alone "
                "have them computed first, for D50 and 2 degrees (ArgyllCMS: spec2cie)"
            ]
        )
    wanted = [columns[name] for name in (*inks, *(name for names in told for name in names))]
    values = np.empty((len(rows), len(wanted)))
    for row, (number, cells) in enumerate(rows):
        try:
            values[row] = [float(cells[index].replace(",", ".")) for index in wanted]
        except (IndexError, ValueError):
            raise SetupError([f"{path}:{number}: not {len(fields)} values as announced"]) from None
    if not np.isfinite(values).all():
        number = rows[int(np.flatnonzero(~np.isfinite(values).all(axis=1))[0])][0]
        raise SetupError([f"{path}:{number}: a value is no number"])
    ink, parts = values[:, :4], np.split(values[:, 4:], len(told), axis=1)
    colours = dict(zip([names[0][:3] for names in told], parts, strict=True))
    if not len(rows) or ink.max() > 100 or ink.min() < 0 or ink.max() <= 1:
        raise SetupError([f"{path}: inks are to be in %, 0 to 100"])
    if "LAB" not in colours:
        if not 20 < colours["XYZ"][:, 1].max() <= 130:
            raise SetupError([f"{path}: XYZ are to be of a perfect white of Y 100"])
        return Patches(ink, colours["XYZ"], from_xyz(colours["XYZ"] / 100))
    lab = colours["LAB"]
    xyz = colours.get("XYZ", to_xyz(lab) * 100)
    if (apart := np.abs(to_xyz(lab) * 100 - xyz).max()) > _SAME:
        raise SetupError(
            [
                f"{path}: XYZ and LAB differ by up to {apart:.1f} of 100: one of them is not for "
                "D50 and 2 degrees"
            ]
        )
    return Patches(ink, xyz, lab)


def _whole(patches: Patches, path: Path) -> None:
    """Raise SetupError where the patches are too few to tell what a press prints."""
    there = set(map(tuple, patches.ink.tolist()))
    lacking = [
        name or "bare paper"
        for name in OVERPRINTS
        if tuple(100.0 * (ink in name) for ink in INKS) not in there
    ]
    faults = []
    if lacking:
        faults.append(f"{path}: no patch of {', '.join(lacking)} in full; {_SOLID}")
    else:
        few = [name for ink, name in INKS.items() if len(patches.ramp(ink)[0]) < _LEAST_STEPS + 2]
        if few:
            faults.append(
                f"{path}: fewer than {_LEAST_STEPS} tints of {', '.join(few)} alone; {_SOLID}"
            )
    if faults:
        raise SetupError(faults)


def _said(head: str, keyword: str) -> str:
    found = re.search(rf'^{keyword}\s+"([^"\n]*)"', head, re.MULTILINE)
    return re.sub(r"\s+", " ", found[1]).strip() if found else ""


def _under(head: str) -> str:
    found = set(re.findall(r"\bM[0-3]\b", head))
    return found.pop() if len(found) == 1 else ""
