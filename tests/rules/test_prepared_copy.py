"""What a ticket says against where its copy stands: sizes, outputs, pixels and masters."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pressworthy.files.metadata.ticket import NAMESPACE, Ticket
from pressworthy.files.opening import hash_file
from pressworthy.house import House
from pressworthy.measure.ticket import pixel_hash, ticket
from pressworthy.testing import found
from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.picture import Header, Picture, preset
from pressworthy.values.placement import Placement
from pressworthy_rules.prepared_copy import rule

PLAIN = Header("TIFF", 945, 709, "CMYK", 8, False, 1, 1, (300, 300), 9, None, None, None, None)
AGAIN = "prepare it again from its master, mine/pier.jpg"


@pytest.fixture
def made(coated: House, tmp_path: Path) -> Ticket:
    """Return the ticket of a copy, 80 x 60 mm and 3 mm bleed at two edges, of a master there."""
    master = tmp_path / "masters" / "pier.jpg"
    master.parent.mkdir()
    master.write_bytes(b"a master")
    condition = coated.output.condition
    return Ticket(
        made_by="", master="mine/pier.jpg", master_sha256=hash_file(master), house="", crop="",
        house_sha256="", condition="glossy", condition_sha256=condition.fingerprint(["cmyk"]),
        colour="cmyk", width="80.0000", height="60.0000", bleed="3", edges="left top", assumed="",
        ppi="300.0000", radius="1.5", amount="1", bend="1", steps="", pixels="the pixels",
    )  # fmt: skip


def findings(
    coated: House,
    folder: Path,
    made: Ticket | None,
    placement: Placement | None = None,
    masters: tuple[str, ...] = ("../masters",),
    **picture: Any,
) -> dict[str, Finding]:
    taken = copy_of(coated, folder, made, placement=placement, **picture)
    return found(rule, taken, {"masters": list(masters)})


def copy_of(coated: House, folder: Path, made: Ticket | None, **picture: Any) -> Picture:
    """Return a copy that carries the ticket, of no placement unless told."""
    copies = folder / "copies"
    copies.mkdir(exist_ok=True)
    path = copies / "pier.tif"
    path.write_bytes(b"a copy")
    copy = Picture(**{"path": path, "header": PLAIN, "output": coated.output, **picture})
    preset(copy, ticket, made)
    preset(copy, pixel_hash, "the pixels")
    return copy


BOTH = frozenset({"left", "right"})


@pytest.mark.parametrize(
    "placement, size",
    [
        (None, ""),
        (Placement(80, 60, 3, frozenset({"left", "top"})), ""),
        # the same paper is covered
        (Placement(83, 63), ""),
        (Placement(80, 60, 3, frozenset({"right", "bottom"})), ""),
        (Placement(80, 60), "80 x 60 mm"),
        (Placement(80, 60, 3, BOTH), "80 x 60 mm"),
        # a pixel is 0.0847 mm, and either side may be off by one
        (Placement(83.084, 62.916), ""),
        (Placement(83.086, 63), "83.09 x 63 mm"),
        (Placement(83, 62.914), "83 x 62.91 mm"),
        (Placement(63, 83), "63 x 83 mm"),
    ],
)
def test_another_size_is_one_that_covers_other_paper(
    placement: Placement | None, size: str, made: Ticket, coated: House, tmp_path: Path
) -> None:
    result = findings(coated, tmp_path, made, placement)
    assert set(result) == ({"other-size"} if size else set())
    if size:
        finding = result["other-size"]
        assert (finding.measured, finding.limit) == (size, "80 x 60 mm")
        assert AGAIN in finding.remedy


def test_two_sizes_that_differ_by_little_more_than_a_pixel_read_differently(
    made: Ticket, coated: House, tmp_path: Path
) -> None:
    wide = replace(made, width="125", height="100")
    finding = findings(coated, tmp_path, wide, Placement(124.8, 100))["other-size"]
    assert (finding.measured, finding.limit) == ("124.8 x 100 mm", "125 x 100 mm")


def test_bleed_left_and_right_is_twice_the_bleed(
    made: Ticket, coated: House, tmp_path: Path
) -> None:
    both = replace(made, edges="left right")
    assert findings(coated, tmp_path, both, Placement(86, 60)) == {}
    assert set(findings(coated, tmp_path, both, Placement(83, 63))) == {"other-size"}
    upright = replace(made, edges="bottom top")
    assert findings(coated, tmp_path, upright, Placement(80, 66)) == {}


def test_the_output_is_its_condition_in_its_colours(
    made: Ticket, coated: House, houses: dict[str, House], tmp_path: Path
) -> None:
    finding = findings(houses["newsprint"], tmp_path, made)["other-output"]
    assert (finding.measured, finding.limit) == ("glossy cmyk", "newsprint cmyk")
    assert AGAIN in finding.remedy
    gray = replace(coated.output, colour="gray")
    assert set(findings(coated, tmp_path, made, output=gray)) == {"other-output"}
    bare = replace(coated.output, condition=replace(coated.output.condition, profiles={}))
    assert set(findings(coated, tmp_path, made, output=bare)) == {"other-output"}
    # the house asks for less ink than the copy was separated for, or for no separation of its own
    lower = replace(coated.output, ink_limit=260.0)
    finding = findings(coated, tmp_path, made, output=lower)["other-output"]
    assert (finding.measured, finding.limit) == ("glossy cmyk", "coated cmyk within 260 % of ink")
    held = replace(made, ink_limit="260")
    assert findings(coated, tmp_path, held, output=lower) == {}
    assert set(findings(coated, tmp_path, held)) == {"other-output"}
    assert set(findings(coated, tmp_path, held, output=replace(lower, ink_limit=250.0))) == {
        "other-output"
    }
    # where the profile keeps to both of them, nothing would come out otherwise
    assert findings(coated, tmp_path, made, output=replace(lower, ink_limit=310.0)) == {}
    # tickets of old tell the hash of the ICC profile alone
    profile = coated.output.condition.profiles["cmyk"].read_bytes()
    old = hashlib.sha256(profile).hexdigest()
    assert findings(coated, tmp_path, replace(made, condition_sha256=old)) == {}


def test_other_pixels_are_told(made: Ticket, coated: House, tmp_path: Path) -> None:
    (finding,) = findings(coated, tmp_path, replace(made, pixels="others")).values()
    assert finding.code == "edited-after-sharpening"
    assert (finding.measured, finding.limit) == ("other pixels", "as prepared")
    assert "mine/pier.jpg" in finding.remedy and "--force" in finding.remedy


def test_half_a_ticket_is_told(coated: House, tmp_path: Path) -> None:
    spoilt = replace(PLAIN, xmp=b"<x>" + NAMESPACE.encode())
    (finding,) = findings(coated, tmp_path, None, header=spoilt).values()
    assert finding.code == "damaged-ticket"
    assert (finding.measured, finding.limit) == ("unreadable", "whole")
    assert "another copy" in finding.remedy
    assert findings(coated, tmp_path, None, header=replace(PLAIN, xmp=b"<x/>")) == {}


def test_any_file_of_its_name_may_be_the_master(
    made: Ticket, coated: House, tmp_path: Path
) -> None:
    changed = tmp_path / "later" / "pier.jpg"
    changed.parent.mkdir()
    changed.write_bytes(b"another picture")
    (finding,) = findings(coated, tmp_path, made, masters=("../later",)).values()
    assert finding.code == "master-changed"
    assert finding.limit == "as it was prepared"
    assert Path(str(finding.measured)).samefile(changed)
    assert AGAIN in finding.remedy
    assert findings(coated, tmp_path, made, masters=("../later", "../masters")) == {}
    assert findings(coated, tmp_path, made, masters=("../*",)) == {}
    # masters of this run come first, by their name
    run = (tmp_path / "masters" / "pier.jpg", tmp_path / "later" / "pier.jpg")
    other = (tmp_path / "masters" / "quay.jpg",)
    for known, codes in ((run, set()), (run[1:] + other, {"master-changed"})):
        taken = copy_of(coated, tmp_path, made, masters=known)
        assert set(found(rule, taken, {"masters": []})) == codes


def test_where_no_master_is_known_nothing_is_said_of_it(
    made: Ticket, coated: House, tmp_path: Path
) -> None:
    with pytest.raises(Unmeasured, match="mine/pier.jpg"):
        findings(coated, tmp_path, made, masters=("../nowhere",))
    # a picture on a page lies in no folder, a folder of that name is no file, the copy no master
    with pytest.raises(Unmeasured):
        findings(coated, tmp_path, made, page_object="/Im1")
    (tmp_path / "folders" / "pier.jpg").mkdir(parents=True)
    with pytest.raises(Unmeasured):
        findings(coated, tmp_path, made, masters=("../folders",))
    own = tmp_path / "copies" / "pier.jpg"
    own.write_bytes(b"a copy")
    with pytest.raises(Unmeasured):
        findings(coated, tmp_path, made, masters=(".",), path=own)
    # what is known to be wrong is told all the same
    wrong = findings(coated, tmp_path, made, Placement(10, 10), masters=())
    assert set(wrong) == {"other-size"}
