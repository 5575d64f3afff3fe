"""A CMYK profile's separation made anew, to keep within an ink limit.

Where the profile asks for more ink than the limit, the gray that cyan, magenta and yellow make
between them is made by more black and less of the three (gray component replacement). The mix that
prints the same colour is found by the profile's own characterization (A2B), at every node of its
tables from colours to inks; nodes within the limit stay as they are. Inks are not scaled: that
would lighten every shadow and turn its hue. Only where black is at its end, and no mix within the
limit prints the colour, does it change, by as little as can be.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import to_lab
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.ink_table import INKS, InkTable, ink_tables
from pressworthy.colour.lab import D50
from pressworthy.colour.own_profile import MISSING, on_paper
from pressworthy.values.condition import MadeProfile, Profile
from pressworthy.values.finding import Unmeasured

Values = NDArray[np.float64]

ROUNDING = INKS * 0.5 / 255
"""What rounding to 8 bits adds at most to the sum of four inks, 1 for each."""
_STEP = 0.1
"""By how much the sum of inks is brought down at a time: each mix is found from the last."""
_SETTLING = 5
_NUDGE = 0.01
_STEADY = 4.0
"""What a whole ink must change, squared CIELAB units, to count: what 16 bits cannot blur."""
_CLOSE = 0.002
"""How near below the limit the largest sums are brought."""
_REACH = 0.25
_SAME = 1e-6
_ROUNDS = 20


def held_to(profile: Profile, limit: float | None) -> Profile:
    """Return an output's ICC profile that asks for no more ink than `limit`, %.

    limit: None on an output that is not in four inks. The profile itself where it keeps to the
    limit. Raises Unmeasured.
    """
    if limit is None or not asks_for_more(profile, limit):
        return profile
    data = separated(profile.read_bytes(), limit)
    return MadeProfile(profile.name, f"{profile}, separated anew", data)


def asks_for_more(profile: Profile, limit: float) -> bool:
    """Tell whether a CMYK profile asks for more ink than `limit`, %, for any colour."""
    return _exceeds(profile.read_bytes(), limit / 100 - ROUNDING)


def most_asked_for(profile: Profile) -> float:
    """Return the largest sum of inks, %, that a CMYK profile asks for. Raises Unmeasured."""
    return 100 * max(float(one.most_around().max()) for one in _tables(profile.read_bytes()))


@lru_cache(maxsize=4)
def separated(profile: bytes, limit: float) -> bytes:
    """Return a CMYK profile with no sum of inks above `limit`, %, also after rounding to 8 bits.

    Only its tables from colours to inks are others than before. Raises Unmeasured.
    """
    done = profile
    for table in _tables(profile):
        done = _table_within(table, limit / 100 - ROUNDING, profile).written(done)
    return done


@lru_cache(maxsize=4)
def darkest(profile: bytes) -> float:
    """Return the printed L* of the blackest mix that a CMYK profile has. Raises Unmeasured."""
    blacks = np.stack([table.black() for table in _tables(profile)])
    labs = _printed(blacks, profile)
    paper = parse(profile).xyz("wtpt")
    lab = labs[labs[:, 0].argmin()].astype(np.float32)
    return on_paper(lab, D50 if paper is None else paper)[0]


@lru_cache(maxsize=4)
def _exceeds(profile: bytes, limit: float) -> bool:
    return any(table.exceeds(limit) for table in _tables(profile))


def _tables(profile: bytes) -> list[InkTable]:
    try:
        tables = list(ink_tables(parse(profile)))
    except DamagedProfile as error:
        raise Unmeasured(f"the output's ICC profile cannot be used: {error}") from None
    if not tables:
        raise Unmeasured(f"the output's ICC profile cannot be used: {MISSING}")
    return tables


def _table_within(table: InkTable, limit: float, profile: bytes) -> InkTable:
    """Return the table with no sum of inks, 1 for each, above `limit` at or between its nodes."""
    inks = table.inks()
    shape = inks.shape
    meant = _printed(inks.reshape(-1, INKS), profile)
    aim = limit - _CLOSE
    allowed = np.full(shape[:3], aim)
    done = table
    for _ in range(_ROUNDS):
        more = inks.sum(axis=-1) > allowed + _SAME
        if more.any():
            inks[more] = _mixed_anew(inks[more], meant[more.ravel()], allowed[more], profile)
            done = table.with_inks(inks)
        excess = done.most_around() - aim
        if excess.max() <= _CLOSE:
            return done
        # a node of little ink has no part in what lies too high beside it
        sums = inks.sum(axis=-1)
        at_fault = (excess > 0) & (sums > aim - _REACH)
        allowed = np.where(at_fault, np.minimum(allowed, sums) - 1.2 * excess, allowed)
    raise Unmeasured("no separation of the output's ICC profile is found within the ink limit")


def _mixed_anew(inks: Values, meant: Values, allowed: Values, profile: bytes) -> Values:
    """Return inks, (n, 4), that print the colours `meant`, (n, 3), with sums as `allowed`, (n,).

    inks: those to start from, nearly of that colour, with larger sums. 1 for a whole ink.
    """
    above = inks.sum(axis=1) - allowed
    steps = ceil(above.max() / _STEP)
    for step in range(steps + _SETTLING):
        left = max(0.0, 1 - (step + 1) / steps)
        inks = _nearer(inks, meant, allowed + above * left, profile)
    return inks


def _nearer(inks: Values, meant: Values, total: Values, profile: bytes) -> Values:
    """Return inks of the sum `total` whose colours are nearer to `meant`: one Gauss-Newton step.

    Lightness counts in full, colour the less the stronger it is, as in CIE94 and CIEDE2000.
    """
    side = np.where(inks > 0.5, -_NUDGE, _NUDGE)
    moved = inks[None] + np.eye(INKS)[:, None, :] * side
    shown = _printed(np.concatenate([inks[None], moved]).reshape(-1, INKS), profile)
    shown = shown.reshape(INKS + 1, -1, 3)
    weights = np.ones_like(meant)
    weights[:, 1:] = 1 / (1 + 0.045 * np.hypot(meant[:, 1], meant[:, 2]))[:, None]
    slopes = (shown[1:] - shown[0]) / side.T[:, :, None] * weights
    wanted = (meant - shown[0]) * weights
    # least squares with the sum given: one more row and column, Lagrange's multiplier
    matrix = np.zeros((len(inks), INKS + 1, INKS + 1))
    matrix[:, :INKS, :INKS] = np.einsum("ink,jnk->nij", slopes, slopes) + _STEADY * np.eye(INKS)
    matrix[:, :INKS, INKS] = matrix[:, INKS, :INKS] = 1
    # without it there would be no solution where all four are at an end
    matrix[:, INKS, INKS] = -1e-9
    right = np.append(
        np.einsum("ink,nk->ni", slopes, wanted), (total - inks.sum(axis=1))[:, None], axis=1
    )
    for _ in range(INKS):
        after = inks + np.linalg.solve(matrix, right[..., None])[..., 0][:, :INKS]
        beyond = np.maximum(-after, after - 1)
        node = np.flatnonzero(beyond.max(axis=1) > 1e-9)
        if not len(node):
            break
        # the ink that goes farthest past bare paper or the solid goes there and no further
        ink = beyond[node].argmax(axis=1)
        matrix[node, ink] = 0
        matrix[node, ink, ink] = 1
        right[node, ink] = (after[node, ink] > 0.5) - inks[node, ink]
    return np.asarray(np.clip(after, 0, 1))


def _printed(inks: Values, profile: bytes) -> Values:
    """Return the CIELAB, (n, 3), of inks, (n, 4), 0..1, by the profile."""
    device = np.round(np.clip(inks, 0, 1) * 65535).astype(np.uint16)
    return np.asarray(to_lab(device[None], "CMYK", profile)[0], np.float64)
