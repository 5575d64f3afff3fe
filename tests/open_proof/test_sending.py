"""What goes to others: only copies that are up to date, with their tickets; one page of all."""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile
from collections.abc import Iterator

import pikepdf
import pytest
from sheets import HOUSES, TITLE

from pressworthy.jobs import Run
from pressworthy.open_proof import sending
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.journal import Decision
from pressworthy.plugins import Registry
from pressworthy.report import pdf
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError

NAMES = ("=harbour.jpg", "marsh.jpg")


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Desk]:
    """A desk on two pictures, one of them on two pages, its copies made."""
    folder = tmp_path_factory.mktemp("winter")
    (folder / "masters").mkdir()
    for seed, name in enumerate(NAMES):
        values = draw(300, 225, seed=seed)
        write_picture(folder / "masters" / name, values, words=CREDITED, ppi=300, Q=95)
    lines = ["picture,page,house,width,height"]
    for name, page in zip((*NAMES, NAMES[1]), (3, 4, 9), strict=True):
        lines.append(f"masters/{name},{page},{TITLE},25,18.75")
    (folder / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
    one = Desk(folder, Run(registry, processes=1), tmp_path_factory.mktemp("aside"), HOUSES)
    with pytest.raises(SetupError, match="prepare the copies first"):
        sending.zip_copies(one)
    assert one.prepare() == (3, 0)
    yield one
    one.end()


def packed(desk: Desk) -> tuple[dict[str, bytes], list[dict[str, str]]]:
    """Return the copies in the ZIP, by name, and the lines of the tickets' list."""
    with zipfile.ZipFile(desk.folder / "proof" / sending.ZIP) as found:
        assert found.testzip() is None
        files = {name: found.read(name) for name in found.namelist()}
    listed = csv.DictReader(io.StringIO(files.pop(sending.TICKETS).decode()))
    return files, list(listed)


def test_the_copies_are_packed_as_they_stand_with_their_tickets(desk: Desk) -> None:
    told = sending.zip_copies(desk)
    assert told == "2 copies and the list of their tickets lie in proof/copies.zip"
    files, lines = packed(desk)
    copies = desk.folder / "copies"
    assert files == {path.name: path.read_bytes() for path in copies.glob("*.tif")}
    assert len(files) == 2 and [line["page"] for line in lines] == ["3", "4", "9"]
    for line in lines:
        # a name that a spreadsheet would reckon is not reckoned
        assert line["picture"].lstrip("'") in NAMES and line["picture"][0] != "="
        name = line["copy"].removeprefix("'")
        assert line["sha256"] == hashlib.sha256(files[name]).hexdigest()
        master = desk.folder / "masters" / line["picture"].removeprefix("'")
        assert line["master sha256"] == hashlib.sha256(master.read_bytes()).hexdigest()
        assert (line["house"], line["colour"]) == (TITLE, "cmyk")
        assert (float(line["width mm"]), float(line["ppi"])) == (25, 300)
        assert line["sharpened"].startswith("radius ")
    before = (desk.folder / "proof" / sending.ZIP).read_bytes()
    sending.zip_copies(desk)
    assert (desk.folder / "proof" / sending.ZIP).read_bytes() == before


def test_a_copy_that_is_no_longer_up_to_date_or_was_edited_stays_behind(desk: Desk) -> None:
    (line,) = (one for one in desk.lines.values() if one.task.path.name == NAMES[0])
    desk.decide(Decision("tone", (line.place,), {"tone": "+4"}), desk.issue.stamp)
    told = sending.zip_copies(desk)
    assert "one copy" in told and "1 picture without a copy that is up to date" in told
    files, lines = packed(desk)
    assert len(files) == 1 and {one["picture"] for one in lines} == {NAMES[1]}
    desk.take_back(desk.issue.decisions[-1].identity, "")
    (copy,) = (desk.folder / "copies").glob("*harbour*")
    kept = copy.read_bytes()
    # other pixels under its ticket, as a hand would leave it
    copy.write_bytes(kept[:2000] + bytes(200) + kept[2200:])
    assert "one copy" in sending.zip_copies(desk)
    copy.write_bytes(kept)
    assert "2 copies" in sending.zip_copies(desk)


def test_the_contact_sheet_is_one_page_with_every_picture(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.show(list(desk.lines))
    while desk._look():
        pass
    page = sending.contacts_page(desk)
    assert page.count("data:image/") == 3 and "page 9" in page
    assert page.count("copy stands") == 3 and "No contract proof" in page
    try:
        pdf.find_browser()
    except SetupError:
        pytest.skip("no browser is here to print")
    assert sending.contact_sheet(desk) == f"the contact sheet lies in proof/{sending.CONTACTS}"
    with pikepdf.open(desk.folder / "proof" / sending.CONTACTS) as found:
        assert len(found.pages) == 1
    # so many that they just fit are on one page still
    many = dict.fromkeys(map(str, range(sending.MOST_CONTACTS)), next(iter(desk.lines.values())))
    monkeypatch.setattr(desk, "lines", many)
    sending.contact_sheet(desk)
    with pikepdf.open(desk.folder / "proof" / sending.CONTACTS) as found:
        assert len(found.pages) == 1
    monkeypatch.setattr(desk, "lines", {**many, "one more": next(iter(many.values()))})
    with pytest.raises(SetupError, match="240; save the marked proof instead"):
        sending.contact_sheet(desk)
