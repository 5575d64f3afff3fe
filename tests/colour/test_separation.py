"""A profile's separation made anew: within the limit, of the same colours, and smooth."""

from __future__ import annotations

import struct
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.colour.convert import to_lab
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.icc import parse
from pressworthy.colour.ink_table import InkTable, ink_tables
from pressworthy.colour.separation import ROUNDING, asks_for_more, darkest, held_to, separated
from pressworthy.house import House
from pressworthy.values.finding import Unmeasured

LIMIT = 260


@pytest.fixture(scope="module")
def profile(coated: House) -> Path:
    path = coated.output.condition.profiles["cmyk"]
    assert isinstance(path, Path)
    return path


@cache
def tables(profile: bytes) -> list[InkTable]:
    return list(ink_tables(parse(profile)))


def before_and_after(profile: Path, limit: int = LIMIT) -> list[tuple[InkTable, InkTable]]:
    data = profile.read_bytes()
    return list(zip(tables(data), tables(separated(data, limit)), strict=True))


def shown(inks: Any, profile: Path) -> Any:
    device = np.round(inks.reshape(1, -1, 4) * 65535).astype(np.uint16)
    return to_lab(device, "CMYK", profile.read_bytes())[0].reshape(*inks.shape[:-1], 3)


def test_no_mix_of_any_table_passes_the_limit(profile: Path) -> None:
    dice = np.random.default_rng(1).random((200_000, 3))
    pairs = before_and_after(profile)
    assert len(pairs) == 2
    for before, after in pairs:
        assert before.inks().sum(axis=-1).max() > 2.9
        assert after.inks().sum(axis=-1).max() <= LIMIT / 100 - ROUNDING
        # anywhere between the nodes too, by the interpolation that costs most
        assert anywhere(after, dice).sum(axis=1).max() <= LIMIT / 100 - ROUNDING + 0.001


def anywhere(table: InkTable, at: Any) -> Any:
    """Return the inks at places (n, 3), 0..1, of a table: between eight nodes, then the curves."""
    places = at * (np.array(table.nodes.shape[:3]) - 1)
    low = np.minimum(places.astype(int), np.array(table.nodes.shape[:3]) - 2)
    share = places - low
    mixed = np.zeros((len(at), 4))
    for corner in np.ndindex(2, 2, 2):
        weight = np.where(corner, share, 1 - share).prod(axis=1)
        mixed += weight[:, None] * table.nodes[tuple((low + corner).T)]
    return np.stack([c(m) for c, m in zip(table.curves, mixed.T, strict=True)], axis=-1)


def test_what_is_within_the_limit_stays_to_the_bit(profile: Path) -> None:
    for before, after in before_and_after(profile):
        sums = before.inks().sum(axis=-1)
        # what lies beside an edge of it may give a little, so that none passes it between them
        light = sums < LIMIT / 100 - 0.1
        assert light.mean() > 0.9
        assert np.array_equal(before.nodes[light], after.nodes[light])


def test_black_takes_over_and_the_colours_print_as_before(profile: Path) -> None:
    for before, after in before_and_after(profile):
        old, new = before.inks(), after.inks()
        heavy = old.sum(axis=-1) > LIMIT / 100
        off = delta_e_2000(shown(old[heavy], profile), shown(new[heavy], profile))
        # the black that is left makes the colour, or the table has come to the end of it
        free = new[heavy][:, 3] < 0.995
        free &= (new[heavy][:, :3] > 0.005).all(axis=1) & (new[heavy][:, :3] < 0.995).all(axis=1)
        assert free.sum() > 20
        assert off[free].max() < 0.1
        assert off.mean() < 1 and off.max() < 3
        assert (new[heavy][free, 3] >= old[heavy][free, 3] - 0.001).all()


def test_grays_stay_a_smooth_scale(profile: Path) -> None:
    """Down the neutral axis of the table, and between any two neighbours of it."""
    for before, after in before_and_after(profile):
        old, new = before.inks(), after.inks()
        middle = after.nodes.shape[1] // 2
        scale = shown(new[:, middle, middle], profile)[:, 0]
        assert (np.diff(scale) > -0.05).all()
        for axis in range(3):
            # no step from node to node that the profile's own separation does not have
            steps = [np.abs(np.diff(shown(inks, profile), axis=axis)).max() for inks in (old, new)]
            assert steps[1] <= steps[0] + 1
            jumps = [np.abs(np.diff(inks, axis=axis)).max() for inks in (old, new)]
            assert jumps[1] <= jumps[0] + 0.02


@pytest.mark.parametrize(("limit", "same"), [(None, True), (300, True), (330, True), (280, False)])
def test_a_profile_that_keeps_to_it_is_left_alone(
    limit: int | None, same: bool, profile: Path
) -> None:
    assert limit is None or asks_for_more(profile, limit) is not same
    held = held_to(profile, limit)
    assert (held == profile) is same
    assert parse(held.read_bytes()).space == "CMYK"


def test_only_the_tables_of_inks_are_others(profile: Path) -> None:
    before, after = profile.read_bytes(), separated(profile.read_bytes(), LIMIT)
    old, new = parse(before), parse(after)
    changed = {name for name in old.tags if old.tag(name) != new.tag(name)}
    assert changed == {"B2A0", "B2A1", "B2A2"}
    assert before[:128] == after[:128]
    assert darkest(before) < darkest(after) < darkest(before) + 2


@pytest.mark.parametrize("limit", [180, 220, 240])
def test_low_limits_are_kept_too(limit: int, profile: Path) -> None:
    for _, after in before_and_after(profile, limit):
        assert after.most_around().max() <= limit / 100 - ROUNDING


def test_whether_it_asks_for_more_is_told_by_the_largest_sum_of_all(profile: Path) -> None:
    for table in tables(profile.read_bytes()):
        most = float(table.most_around().max())
        assert most >= table.inks().sum(axis=-1).max()
        assert table.exceeds(most - 1e-9) and not table.exceeds(most + 1e-9)
        assert table.exceeds(most / 2) and not table.exceeds(4.0)


def lut8(table: InkTable) -> bytes:
    """Return a table as lut8Type, every other node of it."""
    inks = table.inks()[::2, ::2, ::2]
    straight = bytes(range(256))
    head = b"mft1\0\0\0\0" + bytes((3, 4, len(inks), 0))
    matrix = struct.pack(">9i", *(65536 * (i % 4 == 0) for i in range(9)))
    return head + matrix + straight * 3 + np.round(inks * 255).astype("u1").tobytes() + straight * 4


def lut_b_to_a(table: InkTable, form: bytes) -> bytes:
    """Return a table as lutBToAType, its curves put in again as `form` says."""
    inks = table.inks()[::2, ::2, ::2]
    nodes = np.round(inks * 65535)
    if form == b"para":
        # y = x^2 behind the nodes: its own root before it
        curves = b"para\0\0\0\0\0\0\0\0" + struct.pack(">i", 2 * 65536)
        nodes = np.round(np.sqrt(inks) * 65535)
    else:
        curves = b"curv\0\0\0\0" + struct.pack(">I3H", 3, 0, 32768, 65535) + b"\0\0"
    clut = bytes((len(inks),) * 3) + bytes(13) + b"\2\0\0\0" + nodes.astype(">u2").tobytes()
    clut += bytes(-len(clut) % 4)
    straight = b"curv\0\0\0\0\0\0\0\0" * 3
    at = 32 + len(straight)
    head = b"mBA \0\0\0\0" + bytes((3, 4, 0, 0))
    head += struct.pack(">5I", 32, 0, 0, at, at + len(clut) if form else 0)
    return head + straight + clut + (curves * 4 if form else b"")


FORMS: dict[str, Callable[[InkTable], bytes]] = {
    "lut8Type": lut8,
    "lutBToAType, tables": lambda table: lut_b_to_a(table, b"curv"),
    "lutBToAType, formulas": lambda table: lut_b_to_a(table, b"para"),
    "lutBToAType, no curves": lambda table: lut_b_to_a(table, b""),
}


def with_tables(profile: bytes, made: bytes) -> bytes:
    """Return the profile with another tag for all its tables of inks."""
    data = bytearray(profile + bytes(-len(profile) % 4) + made)
    for i in range(struct.unpack_from(">I", profile, 128)[0]):
        entry = 132 + 12 * i
        if bytes(data[entry : entry + 3]) == b"B2A":
            struct.pack_into(">2I", data, entry + 4, len(data) - len(made), len(made))
    struct.pack_into(">I", data, 0, len(data))
    return bytes(data)


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_table_is_read_and_written(form: str, profile: Path, tmp_path: Path) -> None:
    data = profile.read_bytes()
    other = with_tables(data, FORMS[form](tables(data)[1]))
    (table,) = tables(other)
    wanted = tables(data)[1].inks()[::2, ::2, ::2]
    assert np.abs(table.inks() - wanted).max() < (0.003 if form == "lut8Type" else 1e-4)
    assert table.written(other) == other
    (held,) = tables(separated(other, LIMIT))
    assert held.most_around().max() <= LIMIT / 100 - ROUNDING
    heavy = wanted.sum(axis=-1) > LIMIT / 100
    off = delta_e_2000(shown(wanted[heavy], profile), shown(held.inks()[heavy], profile))
    assert off.mean() < 1


@pytest.mark.parametrize(
    "damaged",
    [
        b"mft3" + bytes(2000),
        b"mft2\0\0\0\0\3\4\x21\0" + bytes(60),
        lambda raw: raw[:8] + b"\4\4" + raw[10:],
    ],
)
def test_a_damaged_table_is_told(damaged: Any, profile: Path, tmp_path: Path) -> None:
    data = profile.read_bytes()
    raw = parse(data).tag("B2A1")
    path = tmp_path / "odd.icc"
    path.write_bytes(with_tables(data, damaged(raw) if callable(damaged) else damaged))
    with pytest.raises(Unmeasured, match="table B2A0 cannot be read"):
        asks_for_more(path, LIMIT)
    path.write_bytes(data.replace(b"B2A", b"B2Z"))
    with pytest.raises(Unmeasured, match="no table from colours to inks"):
        asks_for_more(path, LIMIT)
    path.write_bytes(b"no profile")
    with pytest.raises(Unmeasured, match="ICC profile cannot be used"):
        asks_for_more(path, LIMIT)
