"""A CMYK profile's tables from colours to inks (B2A, ICC.1), read and written in place."""

from __future__ import annotations

import itertools
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import prod

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.icc import Curve, IccProfile, read_curve
from pressworthy.values.finding import Unmeasured

Values = NDArray[np.float64]
INKS = 4
_FINE = np.linspace(0, 1, 4096)
_CORNERS = list(itertools.product(range(2), repeat=3))


@dataclass(frozen=True, eq=False)
class InkTable:
    """One such table: the values at its nodes, and the curve each ink goes through behind them.

    at: where its nodes begin in the profile, bytes; kind: numpy's name of their numbers.
    nodes: (L, a, b, 4), 0..1; curves: a function 0..1 to 0..1 for each ink.
    """

    at: int
    kind: str
    nodes: Values
    curves: tuple[Curve, ...]

    def inks(self) -> Values:
        """Return the inks at the nodes, (L, a, b, 4), 0..1."""
        return self._printed(self.nodes)

    def black(self) -> Values:
        """Return the inks, (4,), at the node nearest to L* 0 without colour."""
        _, a, b = ((n - 1) * 128 / 255 for n in self.nodes.shape[:3])
        return self._printed(self.nodes[0, round(a), round(b)])

    def with_inks(self, inks: Values) -> InkTable:
        """Return the table with these inks, (L, a, b, 4), 0..1, at its nodes."""
        columns = [
            np.interp(ink, np.maximum.accumulate(curve(_FINE)), _FINE)
            for ink, curve in zip(np.moveaxis(inks, -1, 0), self.curves, strict=True)
        ]
        top = np.iinfo(self.kind).max
        nodes = np.round(np.stack(columns, axis=-1) * top) / top
        # a node whose inks stay is not rounded anew
        stays = (inks == self.inks()).all(axis=-1, keepdims=True)
        return replace(self, nodes=np.where(stays, self.nodes, nodes))

    def most_around(self) -> Values:
        """Return the largest sum of inks, 1 for each, (L, a, b), at a node and halfway to the next.

        Between nodes the curves may take it higher than at any of them.
        """
        finer = self.nodes
        for axis in range(3):
            finer = _halved(finer, axis)
        sums = np.pad(self._printed(finer).sum(axis=-1), 1, mode="edge")
        size = self.nodes.shape[:3]
        shifts = itertools.product(range(3), repeat=3)
        parts = [
            sums[tuple(slice(s, s + 2 * n - 1, 2) for s, n in zip(shift, size, strict=True))]
            for shift in shifts
        ]
        return np.asarray(np.max(parts, axis=0))

    def exceeds(self, limit: float) -> bool:
        """Tell whether any of `most_around` is above `limit`.

        Only cells are looked into whose corners' most of each ink come to more.
        """
        corners = np.stack(
            [self.nodes[tuple(slice(s, s - 1 or None) for s in shift)] for shift in _CORNERS]
        )
        highest = np.ceil(corners.max(axis=0) * (len(_FINE) - 1)).astype(np.intp)
        rising = [np.maximum.accumulate(curve(_FINE)) for curve in self.curves]
        most = sum(curve[highest[..., ink]] for ink, curve in enumerate(rising))
        cells = corners[:, most > limit]
        finer = cells.reshape(2, 2, 2, -1, INKS)
        for axis in range(3):
            finer = _halved(finer, axis)
        return bool((self._printed(finer).sum(axis=-1) > limit).any())

    def written(self, profile: bytes) -> bytes:
        """Return the profile it was read from with the nodes that it has now."""
        data = np.round(self.nodes * np.iinfo(self.kind).max).astype(self.kind).tobytes()
        return profile[: self.at] + data + profile[self.at + len(data) :]

    def _printed(self, nodes: Values) -> Values:
        parts = zip(np.moveaxis(nodes, -1, 0), self.curves, strict=True)
        return np.stack([curve(part) for part, curve in parts], axis=-1)


def ink_tables(profile: IccProfile) -> Iterator[InkTable]:
    """Yield the tables of all intents; one that serves two of them, once.

    Raises Unmeasured where a table is not of a form that ICC.1 has for it.
    """
    seen = set()
    for name in ("B2A0", "B2A1", "B2A2"):
        if name not in profile.tags or profile.tags[name] in seen:
            continue
        seen.add(profile.tags[name])
        try:
            yield _read(profile.tag(name), profile.tags[name][0])
        except (ValueError, KeyError, struct.error) as error:
            raise Unmeasured(
                f"the ICC profile's table {name} cannot be read, so its inks cannot be held to a "
                f"limit: {error}"
            ) from None


def _read(raw: bytes, start: int) -> InkTable:
    if raw[8:10] != bytes((3, INKS)):
        raise ValueError("it does not lead from three channels to four")
    kind, size, at = _NUMBERS[raw[:4]](raw)
    count = prod(size) * INKS
    dtype = np.dtype(kind)
    nodes = np.frombuffer(raw, dtype, count, at).reshape(*size, INKS) / np.iinfo(dtype).max
    curves = _CURVES[raw[:4]](raw, at + count * dtype.itemsize)
    if any(curve(_FINE[-1:])[0] <= curve(_FINE[:1])[0] for curve in curves):
        raise ValueError("a curve of its inks does not rise")
    return InkTable(start + at, kind, nodes, tuple(curves))


def _lut8(raw: bytes) -> tuple[str, tuple[int, ...], int]:
    return "u1", (raw[10],) * 3, 48 + 3 * 256


def _lut16(raw: bytes) -> tuple[str, tuple[int, ...], int]:
    return ">u2", (raw[10],) * 3, 52 + 3 * 2 * struct.unpack_from(">H", raw, 48)[0]


def _lut_b_to_a(raw: bytes) -> tuple[str, tuple[int, ...], int]:
    start = struct.unpack_from(">I", raw, 24)[0]
    if not start:
        raise ValueError("it has no nodes")
    return {1: "u1", 2: ">u2"}[raw[start + 16]], tuple(raw[start : start + 3]), start + 20


def _tables(raw: bytes, kind: str, start: int, size: int) -> Sequence[Curve]:
    dtype = np.dtype(kind)
    rows = np.frombuffer(raw, dtype, INKS * size, start).reshape(INKS, size)
    steps = np.linspace(0, 1, size)
    return [_table(steps, row / np.iinfo(dtype).max) for row in rows]


def _table(steps: Values, row: Values) -> Curve:
    return lambda v: np.interp(v, steps, row)


def _a_curves(raw: bytes, _: int) -> Sequence[Curve]:
    at = struct.unpack_from(">I", raw, 28)[0]
    curves = []
    for _ink in range(INKS if at else 0):
        curve = read_curve(raw[at:])
        if curve is None:
            raise ValueError("a curve of its inks is damaged")
        curves.append(curve)
        if raw[at : at + 4] == b"curv":
            length = 12 + 2 * struct.unpack_from(">I", raw, at + 8)[0]
        else:
            length = 12 + 4 * _PARAMETERS[raw[at + 9]]
        at += length + -length % 4
    return curves or [lambda v: v] * INKS


_PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
_NUMBERS = {b"mft1": _lut8, b"mft2": _lut16, b"mBA ": _lut_b_to_a}
_CURVES = {
    b"mft1": lambda raw, end: _tables(raw, "u1", end, 256),
    b"mft2": lambda raw, end: _tables(raw, ">u2", end, struct.unpack_from(">H", raw, 50)[0]),
    b"mBA ": _a_curves,
}


def _halved(nodes: Values, axis: int) -> Values:
    """Return the nodes with one more between each and the next along an axis."""
    first = np.moveaxis(nodes, axis, 0)
    finer = np.empty((2 * len(first) - 1, *first.shape[1:]))
    finer[::2], finer[1::2] = first, (first[1:] + first[:-1]) / 2
    return np.moveaxis(finer, 0, axis)
