"""The rule prepared-copy: every code fires on a copy spoilt for it, and a good copy passes.

And the hash in a ticket is of the pixels a reader gets.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips

from pressworthy.files.intake import take_in
from pressworthy.files.metadata.packet import packet
from pressworthy.files.metadata.ticket import NAMESPACE, Ticket, read_ticket
from pressworthy.files.opening import hash_pixels
from pressworthy.house import House
from pressworthy.judge import judge
from pressworthy.measure.metadata import words
from pressworthy.plugins import Registry
from pressworthy.prepare import Made, Order, planned
from pressworthy.prepare.encode import dress, encode
from pressworthy.prepare.ticket import sealed, ticket_for
from pressworthy.testing import CREDITED, draw, found, write_picture
from pressworthy.values.finding import State, Unmeasured
from pressworthy.values.placement import PlacementRequest

Master = Callable[..., Path]
Prepared = Callable[..., Made]
OPTIONS = {"masters": [".", "../masters", "../../masters/*"]}
NUMBERS = {"width", "height", "bleed", "ppi", "radius", "amount", "stretch", "bare"}
EDGES = frozenset({"top", "right", "bottom", "left"})


@pytest.fixture
def codes(registry: Registry, houses: dict[str, House]) -> Callable[..., set[str]]:
    def ask(path: Path, house: str = "coated-magazine", **request: Any) -> set[str]:
        picture = take_in(path, houses[house].output, PlacementRequest(**request))
        return set(found(registry.rules["prepared-copy"], picture, OPTIONS))

    return ask


def test_a_master_has_no_ticket(master: Master, codes: Callable[..., set[str]]) -> None:
    assert codes(master()) == set()


def test_size(master: Master, prepared: Prepared, codes: Callable[..., set[str]]) -> None:
    copy = prepared(master(), request=PlacementRequest((40, 30), 3, EDGES)).copy.path
    assert codes(copy) == set()
    assert codes(copy, size=(40, 30), bleed=3, edges=EDGES) == set()
    assert codes(copy, size=(46, 36)) == set()  # the same pixels on the same paper
    assert codes(copy, size=(35, 26.25), bleed=3, edges=EDGES) == {"other-size"}


def test_output(master: Master, prepared: Prepared, codes: Callable[..., set[str]]) -> None:
    copy = prepared(master()).copy.path
    assert codes(copy, "newsprint") == {"other-output"}
    assert codes(copy, "mono") == {"other-output"}


def test_a_ticket_of_old_tells_the_conditions_profile_alone(
    master: Master, prepared: Prepared, codes: Callable[..., set[str]], houses: dict[str, House]
) -> None:
    copy = prepared(master()).copy.path
    condition = houses["coated-magazine"].output.condition
    old = hashlib.sha256(condition.profiles["cmyk"].read_bytes()).hexdigest()
    new = condition.fingerprint(["cmyk"])
    assert copy.read_bytes().count(new.encode()) == 1
    copy.write_bytes(copy.read_bytes().replace(new.encode(), old.encode()))
    assert codes(copy) == set()
    copy.write_bytes(copy.read_bytes().replace(old.encode(), old[::-1].encode()))
    assert codes(copy) == {"other-output"}


def test_master(master: Master, prepared: Prepared, codes: Callable[..., set[str]]) -> None:
    path = master()
    copy = prepared(path).copy.path
    write_picture(path, draw(600, 450, seed=4), words=CREDITED)
    assert codes(copy) == {"master-changed"}
    path.unlink()
    with pytest.raises(Unmeasured, match="pier.jpg"):
        codes(copy)
    assert codes(copy, size=(35, 26.25)) == {"other-size"}  # that is known all the same


def test_a_namesake_is_not_the_master(
    master: Master, prepared: Prepared, codes: Callable[..., set[str]], tmp_path: Path
) -> None:
    path = master()
    copy = prepared(path).copy.path
    write_picture(copy.with_name("pier.jpg"), draw(seed=4))
    assert codes(copy) == set()
    elsewhere = tmp_path / "copies" / "weekly" / copy.name
    (tmp_path / "masters" / "weekly").mkdir()
    elsewhere.parent.mkdir()
    copy.rename(elsewhere)
    path.rename(tmp_path / "masters" / "weekly" / "pier.jpg")
    assert codes(elsewhere) == set()


def test_the_master_is_known_where_its_copy_was_just_made(
    master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry, tmp_path: Path
) -> None:
    path = master().rename(tmp_path / "pier.jpg")
    copy = prepared(path).copy
    rule = registry.rules["prepared-copy"]
    assert found(rule, copy, {"masters": []}) == {}
    with pytest.raises(Unmeasured):
        found(rule, replace(copy, masters=()), {"masters": ["../masters"]})


@pytest.mark.parametrize("house, name", [("coated-magazine", "c.tif"), ("screen", "c.jpg")])
def test_edited(
    house: str, name: str, master: Master, prepared: Prepared, codes: Callable[..., set[str]],
    houses: dict[str, House], registry: Registry,
) -> None:  # fmt: skip
    copy = prepared(master(), house, name=name).copy.path
    image = pyvips.Image.new_from_file(str(copy)).copy_memory()
    # written again as it was: the file differs, its pixels (of a TIFF) do not
    image.write_to_file(str(copy), **({"Q": 60} if name.endswith("jpg") else {}))
    assert codes(copy, house) == ({"edited-after-sharpening"} if name.endswith("jpg") else set())
    image.sharpen(sigma=1).cast("uchar").write_to_file(str(copy))
    assert codes(copy, house) == {"edited-after-sharpening"}
    picture = take_in(copy, houses[house].output, PlacementRequest())
    remedy = found(registry.rules["prepared-copy"], picture, OPTIONS)[
        "edited-after-sharpening"
    ].remedy
    assert "--force" in remedy


def test_damaged(master: Master, prepared: Prepared, codes: Callable[..., set[str]]) -> None:
    copy = prepared(master()).copy.path
    copy.write_bytes(copy.read_bytes().replace(b"<ticket:master>", b"<ticket:bungler>")
                     .replace(b"</ticket:master>", b"</ticket:bungler>"))  # fmt: skip
    assert codes(copy) == {"damaged-ticket"}


@pytest.mark.parametrize("number", [b"4o.0000", b"nan", b""])
def test_a_number_that_is_none(
    number: bytes, master: Master, prepared: Prepared, codes: Callable[..., set[str]]
) -> None:
    copy = prepared(master()).copy.path
    data = copy.read_bytes()
    assert b"40.0000" in data
    copy.write_bytes(data.replace(b"40.0000", number.ljust(7)))
    assert codes(copy) == {"damaged-ticket"}


def test_rules_on_masters_are_waived_for_copies(
    master: Master, prepared: Prepared, houses: dict[str, House], registry: Registry
) -> None:
    made = prepared(master())
    verdict = judge(made.copy, houses["coated-magazine"], registry.rules)
    waived = {o.rule for o in verdict.outcomes if o.state is State.WAIVED}
    assert "compression" in waived and "resolution" not in waived
    other = {n for n, rule in registry.rules.items() if rule.masters_only or rule.pages_only}
    assert waived == other & houses["coated-magazine"].rules.keys()


def test_check_takes_copies_as_they_are(master: Master, prepared: Prepared, tmp_path: Path) -> None:
    copy = prepared(master()).copy.path
    alone = tmp_path / "press" / "copy.tif"
    alone.parent.mkdir()
    shutil.copy(copy, alone)
    call = [sys.executable, "-m", "pressworthy", "check", str(alone)]
    done = subprocess.run(
        [*call, "--house", "coated-magazine", "--format", "json"], capture_output=True, check=False
    )
    picture = json.loads(done.stdout)["pictures"][0]
    assert picture["worst"] is None, picture
    states = {outcome["rule"]: outcome["state"] for outcome in picture["outcomes"]}
    assert states["prepared-copy"] == states["resolution"] == "passed"


class TestPacket:
    TICKET = Ticket(**{
        field.name: "1.5" if field.name in NUMBERS else f"<{i}> & é"
        for i, field in enumerate(fields(Ticket))
    } | {"lift": "-0.4", "supplied": "5.1 50 95"})  # fmt: skip

    @pytest.mark.parametrize(
        "spoilt",
        [{"supplied": text} for text in ("1 2", "1 2 3 4", "a b c", "1 2 nan", " ")]
        + [{"lift": text} for text in ("", "up", "inf")],
    )
    def test_tones_that_are_none_are_no_ticket(
        self, spoilt: dict[str, str], master: Master
    ) -> None:
        picture = take_in(master(), _output(), PlacementRequest())
        written = packet(None, words(picture), replace(self.TICKET, **spoilt), {})
        assert read_ticket(written) is None

    def test_any_text_survives(self, master: Master) -> None:
        picture = take_in(master(), _output(), PlacementRequest())
        strange = replace(self.TICKET, master="a\x00b\udc80c\n")
        for ticket in (self.TICKET, strange):
            written = packet(picture.header.xmp, words(picture), ticket, {})
            read = read_ticket(written)
            assert read is not None and read.house == ticket.house
            assert written == packet(picture.header.xmp, words(picture), ticket, {})

    @pytest.mark.parametrize(
        "hostile",
        [b"", b"<", b"<!DOCTYPE x [<!ENTITY a 'b'>]><x>&a;</x>", b"\xff\xfe" * 99, b"<x/>" * 3],
    )
    def test_a_hostile_packet_is_left_behind(self, hostile: bytes, master: Master) -> None:
        picture = take_in(master(), _output(), PlacementRequest())
        written = packet(hostile, words(picture), self.TICKET, {})
        assert read_ticket(written) == self.TICKET
        assert read_ticket(hostile + NAMESPACE.encode()) is None


def _output() -> Any:
    from pressworthy.testing import an_output

    return an_output()


def test_pixels_tell_size_and_depth_apart() -> None:
    from pressworthy.files.opening import hash_pixels

    flat = [
        pyvips.Image.new_from_array(np.zeros(shape, kind))
        for shape, kind in (((4, 8), np.uint8), ((8, 4), np.uint8), ((4, 4), np.uint16))
    ]
    assert len({hash_pixels(image) for image in flat}) == 3


def test_the_hash_in_the_ticket_is_of_the_pixels_a_reader_gets(
    master: Master, coated: House, tmp_path: Path
) -> None:
    def blank(master_sha256: str) -> Ticket:
        order = Order(master(), tmp_path / "copy.jpg", PlacementRequest((40, 30)))
        return ticket_for(order, coated, *planned(order, coated), master_sha256)

    ticket = blank("a master")
    place = ticket.pixels
    assert len(place) == 64 and place == blank("a master").pixels != blank("another").pixels
    jpeg = {"format": "JPEG", "quality": 90}
    drawn = pyvips.Image.new_from_array(draw(320, 240)).copy(interpretation="srgb")
    image = dress(drawn, ppi=300, xmp=f"<x>{place}</x>".encode(), iptc=None)
    encoded = encode(image, jpeg)
    sha256 = hash_pixels(pyvips.Image.new_from_buffer(encoded, ""))
    data = sealed(encoded, ticket, sha256)
    assert sha256 == hash_pixels(pyvips.Image.new_from_buffer(data, ""))
    assert sha256.encode() in data and place.encode() not in data
    twice = dress(drawn, ppi=300, xmp=f"<x>{place}{place}</x>".encode(), iptc=None)
    for spoilt in (encode(twice, jpeg), data):
        with pytest.raises(AssertionError, match="not found once"):
            sealed(spoilt, ticket, sha256)
