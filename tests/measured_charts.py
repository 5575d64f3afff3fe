"""Characterization data of an invented press, as measuring programs write them (CGATS.17)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lab import from_xyz

Values = NDArray[np.float64]


def xyz_of(ink: Values) -> Values:
    """A press of four inks that take light by Beer's law, invented."""
    takes = np.array([[1.6, 0.7, 0.2], [0.4, 1.5, 1.2], [0.03, 0.1, 1.5], [1.6, 1.6, 1.6]])
    return np.asarray(100 * np.array([0.85, 0.88, 0.7]) * 10 ** -(ink / 100 @ takes))


def cgats(
    ink: Values,
    *,
    kinds: str = "XYZ",
    names: bool = False,
    comma: bool = False,
    head: str = 'ORIGINATOR "Hall 2"\nDESCRIPTOR "web press"\n',
) -> str:
    """A CGATS.17 file with XYZ, LAB or both, with or without a quoted sample name."""
    xyz = xyz_of(ink)
    parts = {"XYZ": xyz, "LAB": from_xyz(xyz / 100)}
    told = [kind for kind in parts if kind in kinds]
    fields = ["SAMPLE_ID", *(["SAMPLE_NAME"] if names else [])]
    fields += [f"CMYK_{c}" for c in "CMYK"] + [f"{kind}_{a}" for kind in told for a in kind]
    rows = []
    for number, mix in enumerate(ink):
        numbers = [*mix, *(v for kind in told for v in parts[kind][number])]
        cells = [f"{v:.4f}".replace(".", "," if comma else ".") for v in numbers]
        rows.append(" ".join([str(number), *([f'"A {number}"'] if names else []), *cells]))
    return "\n".join(
        [
            "ISO28178",
            f"{head}NUMBER_OF_FIELDS {len(fields)}",
            "BEGIN_DATA_FORMAT",
            "\t".join(fields),
            "END_DATA_FORMAT",
            f"NUMBER_OF_SETS {len(rows)}",
            "BEGIN_DATA",
            *rows,
            "END_DATA",
            "",
        ]
    )
