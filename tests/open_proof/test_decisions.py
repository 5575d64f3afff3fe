"""Decisions change what was decided and no other byte, and can be taken back to the last one."""

from __future__ import annotations

import csv
import io
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pressworthy.files.picture_list import delimiter, field_of, read_list
from pressworthy.files.waivers import read_waivers
from pressworthy.open_proof import acceptances, cells
from pressworthy.open_proof.day_book import Overtaken, decide, name_of, opened, take_back
from pressworthy.open_proof.decisions import KINDS, Decision, Place, changes
from pressworthy.open_proof.issue import Issue, read_issue
from pressworthy.plugins import Registry
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import Crop, Focus

LIST = 'picture,page,title,width,height,desk\nmasters/a.jpg,12,mono,90,60,"Ines, ring"\n'
WAIVERS = """# agreed with the desk
waivers:
  # Ines says so
  - finding: resolution/too-few-pixels
    picture: masters/a.jpg
    reason: 'it is small'   # very
    by: Ines
    until: 2030-12-31

  # and this
  - finding: luminance/too-dark
    picture: masters/b.jpg
    reason: >-
      the chapel
      is dark
    by: Tobe
    until: 2030-12-31

# end of what was agreed
"""
A, B = Place("masters/a.jpg", "12"), Place("masters/b.jpg")
ACCEPT = {"finding": "luminance/too-dark", "reason": "night", "until": "2031-01-31"}
DECIDED: list[tuple[str, tuple[Place, ...], dict[str, str]]] = [
    ("place", (A,), {"width": "120", "height": "80,5"}),
    ("place", (A,), {"page": "14", "bleed": "3 mm", "edges": "top left", "fit": "stretch"}),
    ("place", (A,), {"width": "", "height": ""}),
    ("largest size", (A,), {"width": "150", "height": "100"}),
    ("crop", (A,), {"crop": "0.1 0 0.8 1"}),
    ("focus", (B,), {"focus": "0.5 0.33"}),
    ("assume", (A, B), {"assume": "opRGB"}),
    ("gray mix", (A,), {"gray mix": "0.2 0.7 0.1"}),
    ("tone", (B,), {"tone": "+6"}),
    ("sharpen", (A, B), {"sharpen": "camera"}),
    ("accept", (A, B), ACCEPT),
    ("accept", (A,), {**ACCEPT, "finding": "resolution/too-few-pixels"}),
    ("no longer accept", (B,), {"finding": "luminance/too-dark"}),
    ("title", (), {"house": "newsprint"}),
    ("add", (B,), {}),
    ("add", (Place("masters/a.jpg", "20"), Place("masters/b.jpg", "21")), {}),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "masters").mkdir()
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / "masters" / name).write_bytes(b"\xff\xd8" + name.encode())
    (tmp_path / "issue.csv").write_bytes(LIST.encode())
    (tmp_path / "waivers.yaml").write_bytes(WAIVERS.encode())
    return tmp_path


@pytest.fixture
def desk(folder: Path, registry: Registry) -> Callable[..., Issue]:
    """Return what makes a decision in the folder, by one who has seen how it is now."""

    def made(kind: str, places: tuple[Place, ...], by: str = "Ines", **fields: str) -> Issue:
        fields = {name.replace("_", " "): text for name, text in fields.items()}
        seen = read_issue(folder, registry).stamp
        return decide(folder, Decision(kind, places, fields, by), registry, seen)

    return made


def state(folder: Path) -> dict[str, bytes | None]:
    paths = [folder / name for name in ("issue.csv", "waivers.yaml")]
    return {path.name: path.read_bytes() if path.exists() else None for path in paths}


def rows(raw: bytes) -> list[list[str]]:
    text = raw.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    return [row for row in csv.reader(io.StringIO(text), delimiter=delimiter(text)) if row]


@pytest.mark.parametrize(("kind", "places", "fields"), DECIDED)
def test_decided_and_taken_back_gives_the_same_bytes(
    folder: Path, registry: Registry, kind: str, places: tuple[Place, ...], fields: dict[str, str]
) -> None:
    before, seen = state(folder), read_issue(folder, registry).stamp
    issue = decide(folder, Decision(kind, places, fields, "Ines"), registry, seen)
    assert not issue.faults and state(folder) != before
    (decision,) = issue.decisions
    assert (decision.kind, decision.by, decision.taken_back) == (kind, "Ines", None)
    # after a restart, by whoever
    issue = take_back(folder, decision.identity, "Tobe", registry)
    assert state(folder) == before
    (decision,) = issue.decisions
    assert decision.taken_back is not None and decision.taken_back.by == "Tobe"
    with pytest.raises(SetupError, match="Tobe took it back already"):
        take_back(folder, decision.identity, "Ines", registry)
    assert {kind for kind, _, _ in DECIDED} == set(KINDS)


def test_only_the_cells_decided_change(folder: Path, desk: Callable[..., Issue]) -> None:
    text = (
        '\ufeff"Picture";PAGE;note;title;width;height;bleed\r\n\r\n'
        'masters/a.jpg; 12 ;"say ""aye""; now";mono;"90,0";60;\r\n'
        'masters/a.jpg;"13";;mono;;;\r\n;;\r\n'
    )
    (folder / "issue.csv").write_bytes(text.encode())
    issue = desk("place", (A,), width="120.5", height="80")
    assert not issue.faults
    wanted = text.replace('"90,0";60;', '"120,5";80;')
    assert (folder / "issue.csv").read_bytes() == wanted.encode()
    issue = desk("tone", (A, B), tone="as supplied")
    wanted = wanted.replace("bleed\r\n", "bleed;tone\r\n").replace("80;\r\n", "80;;as supplied\r\n")
    wanted = wanted.replace(";;;\r\n", ";;;;\r\n") + "masters/b.jpg;;;mono;;;;as supplied\r\n"
    assert (folder / "issue.csv").read_bytes() == wanted.encode()
    assert [entry.request.tone for entry in issue.entries] == ["as supplied", "", "as supplied"]
    assert issue.title == "mono" and not issue.unlisted


@pytest.mark.parametrize("seed", range(3))
def test_decisions_are_taken_back_in_any_order(
    folder: Path, desk: Callable[..., Issue], registry: Registry, seed: int
) -> None:
    before = state(folder)
    for kind, places, fields in DECIDED:
        if kind not in ("no longer accept", "largest size"):
            desk(
                kind,
                tuple(Place(p.picture, p.page) for p in _now(folder, registry, places)),
                **fields,
            )
    order = list(read_issue(folder, registry).decisions)
    random.Random(seed).shuffle(order)
    # what lies under a later one is refused, and goes when that is gone
    while order:
        refused = []
        for one in order:
            try:
                take_back(folder, one.identity, "Ines", registry)
            except Overtaken:
                refused.append(one)
        assert len(refused) < len(order)
        order = refused
    assert state(folder)["issue.csv"] == before["issue.csv"]
    # its comments and order stay; a value that was overwritten may come back in other quotes
    lines = (state(folder)["waivers.yaml"] or b"").decode().splitlines()
    remarks = [line.partition("#")[2] for line in WAIVERS.splitlines() if "#" in line]
    assert [line.partition("#")[2] for line in lines if "#" in line] == remarks
    assert acceptances.kept("\n".join(lines)) == acceptances.kept(WAIVERS)


def _now(folder: Path, registry: Registry, places: tuple[Place, ...]) -> tuple[Place, ...]:
    """Return the places where they are by now: the page of A moves."""
    listed = read_issue(folder, registry).places()
    return tuple(
        next((one for one in listed if one.picture == place.picture), place) for place in places
    )


def test_a_later_hand_in_the_same_cell_is_told(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    first = desk("place", (A,), width="120", height="80").decisions[-1].identity
    second = desk("place", (A,), width="130", height="80", by="Tobe").decisions[-1].identity
    with pytest.raises(Overtaken, match="width is 130 now, decided by Tobe"):
        take_back(folder, first, "Ines", registry)
    take_back(folder, second, "Tobe", registry)
    path = folder / "issue.csv"
    path.write_bytes(path.read_bytes().replace(b"120", b"125"))
    with pytest.raises(Overtaken, match="page 12: width is 125 now, by hand"):
        take_back(folder, first, "Ines", registry)
    assert b",125,80," in path.read_bytes()
    # a hand elsewhere is no matter, and stays
    path.write_bytes(path.read_bytes().replace(b"125", b"120").replace(b"ring", b"write"))
    take_back(folder, first, "Ines", registry)
    assert path.read_bytes() == LIST.replace("ring", "write").encode()


def test_a_picture_may_stand_on_another_page_too(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    again = Place("masters/a.jpg", "20")
    made = desk("add", (again,)).decisions[-1]
    issue = desk("place", (again,), width="40", height="30")
    assert issue.places() == (A, again)
    assert [entry.request.size for entry in issue.entries] == [(90, 60), (40, 30)]
    assert {entry.house for entry in issue.entries} == {"mono"}
    desk("accept", (again,), finding="ink/too-much-ink", reason="so", until="2031-01-01")
    assert read_issue(folder, registry).waivers[-1].page == "20"
    # what stands on its line keeps the line
    size = issue.decisions[-1].identity
    issue = take_back(folder, made.identity, "Ines", registry)
    assert [place.picture for place in issue.places()] == ["masters/a.jpg"] * 2
    issue = take_back(folder, size, "Ines", registry)
    assert issue.places() == (A,) and (folder / "issue.csv").read_bytes() == LIST.encode()


def test_a_line_that_a_hand_wrote_is_no_left_over(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    added = desk("add", (B,)).decisions[-1].identity
    take_back(folder, added, "Ines", registry)
    path = folder / "issue.csv"
    path.write_bytes(LIST.encode() + b"masters/b.jpg,,,,,\n")
    tone = desk("tone", (A,), tone="house").decisions[-1].identity
    path.write_bytes(path.read_bytes().replace(b"ring", b"write"))
    take_back(folder, tone, "Ines", registry)
    wanted = LIST.replace("ring", "write").encode() + b"masters/b.jpg,,,,,\n"
    assert path.read_bytes() == wanted


def test_what_would_change_is_told_without_writing(folder: Path, registry: Registry) -> None:
    before, issue = state(folder), read_issue(folder, registry)
    (change,) = changes(issue, Decision("tone", (A,), {"tone": "house"}))
    assert (change.path, change.before) == (folder / "issue.csv", LIST.encode())
    assert (
        change.after
        == LIST.replace("desk\n", "desk,tone\n").replace('ring"', 'ring",house').encode()
    )
    assert changes(issue, Decision("place", (A,), {"width": "90", "height": "60"})) == ()
    assert state(folder) == before and not (folder / "decisions.jsonl").exists()


def test_the_title_may_be_a_file_of_the_issues_own(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    with pytest.raises(SetupError, match="quarterly"):
        desk("title", (), house="ours/quarterly.yaml")
    (folder / "ours").mkdir()
    profile = "house: quarterly\nkind: title\nstands on: mono\n"
    (folder / "ours" / "quarterly.yaml").write_text(profile)
    issue = desk("title", (), house="ours/quarterly.yaml")
    assert issue.title == "ours/quarterly.yaml" and not issue.faults
    assert b",ours/quarterly.yaml," in (folder / "issue.csv").read_bytes()
    (folder / "ours" / "quarterly.yaml").unlink()
    issue = read_issue(folder, registry)
    assert "the list names the house" in str(issue.faults[0])
    # which does not keep anyone from choosing another
    assert desk("title", (), house="mono").title == "mono"


@pytest.mark.skipif(os.name == "nt", reason="links need a right there, and modes are others")
def test_a_list_that_is_a_link_stays_one_and_keeps_its_mode(
    folder: Path, desk: Callable[..., Issue]
) -> None:
    real = (folder / "issue.csv").rename(folder.parent / f"{folder.name}-kept.csv")
    (folder / "issue.csv").symlink_to(real)
    real.chmod(0o664)
    desk("tone", (A,), tone="house")
    assert (folder / "issue.csv").is_symlink() and b"tone" in real.read_bytes()
    assert real.stat().st_mode & 0o777 == 0o664


def test_a_page_that_moved_since_is_followed(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    crop = desk("crop", (A,), crop="0 0 0.5 0.5").decisions[-1].identity
    desk("place", (A,), page="14")
    issue = take_back(folder, crop, "Ines", registry)
    assert issue.places() == (Place("masters/a.jpg", "14"),)
    assert issue.entries[0].request.crop is None


def test_an_acceptance_keeps_comments_and_can_be_given_up(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    issue = desk(
        "accept", (A,), finding="ink/too-much-ink", reason='"=1" # all', until="2031-01-01"
    )
    text = (folder / "waivers.yaml").read_text("utf-8")
    new = (
        '  - finding: ink/too-much-ink\n    picture: "masters/a.jpg"\n'
        '    reason: "\\"=1\\" # all"\n    by: "Ines"\n    until: 2031-01-01\n'
    )
    end = "\n# end of what was agreed\n"
    assert text == WAIVERS.removesuffix(end) + new + end
    assert issue.waivers[-1].picture == str(folder / "masters/a.jpg")
    first = desk("no longer accept", (A,), finding="resolution/too-few-pixels").decisions[-1]
    text = (folder / "waivers.yaml").read_text("utf-8")
    assert "too-few-pixels" not in text and "# Ines says so" in text and "# and this" in text
    # out of order: put in again at the end
    desk("accept", (B,), finding="luminance/too-dark", reason="so dark", until="2031-02-02")
    assert (folder / "waivers.yaml").read_text("utf-8").count('reason: "so dark"\n') == 1
    issue = take_back(folder, first.identity, "Ines", registry)
    findings = [waiver.finding for waiver in issue.waivers]
    wanted = ["luminance/too-dark", "ink/too-much-ink", "resolution/too-few-pixels"]
    assert findings == wanted and name_of(issue) == "Ines"


def test_an_acceptance_in_the_list_is_given_up_there(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    text = "picture,house,waive,reason,by,until\n"
    text += "masters/a.jpg,mono,ink/x-y luminance/too-dark,so,Ines,2031-01-01\n"
    (folder / "issue.csv").write_bytes(text.encode())
    place = Place("masters/a.jpg")
    issue = desk("no longer accept", (place,), finding="ink/x-y")
    assert [one.finding for one in issue.entries[0].waivers] == ["luminance/too-dark"]
    desk("no longer accept", (place,), finding="luminance/too-dark")
    assert (folder / "issue.csv").read_text() == text.splitlines()[0] + "\nmasters/a.jpg,mono,,,,\n"
    with pytest.raises(SetupError, match="masters/a.jpg: luminance/too-dark is not accepted"):
        desk("no longer accept", (place,), finding="luminance/too-dark")


@pytest.mark.parametrize(
    ("kind", "places", "fields", "words"),
    [
        ("place", (A,), {"width": "21O", "height": "5"}, "width: '21O' is not a quantity"),
        ("place", (A,), {"height": ""}, "height: a picture with a width needs a height"),
        ("place", (A,), {"crop": "0 0 1 1"}, "crop: not what 'place' decides"),
        (
            "place",
            (Place("masters/a.jpg", "13"),),
            {"page": "1"},
            "not listed for page 13 any more",
        ),
        ("place", (Place("../secret.jpg"),), {"page": "1"}, "../secret.jpg: there is no such"),
        ("place", (), {"page": "1"}, "no picture is named"),
        ("place", (A,), {}, "nothing is said of width or height"),
        ("crop", (A,), {"crop": "0 0 2 1"}, "crop: '0 0 2 1' is not 4 numbers"),
        ("assume", (A,), {"assume": "RGB"}, "assume: 'RGB' is not one of"),
        ("tone", (A,), {"tone": "+90"}, "tone: '\\+90' is not"),
        ("tone", (A,), {"tone": "+9\x07"}, "tone: holds a control character"),
        ("accept", (A,), {**ACCEPT, "until": "2020-01-01"}, "until: 2020-01-01 is past"),
        ("accept", (A,), {**ACCEPT, "reason": " "}, "reason: a waiver needs 'reason'"),
        ("accept", (A,), {**ACCEPT, "finding": "luminence/x"}, "did you mean luminance"),
        ("title", (), {"house": "mnoo"}, "mono"),
        ("retouch", (A,), {}, "nothing that can be decided is called 'retouch'"),
    ],
)
def test_what_cannot_be_decided_is_told_and_nothing_is_written(
    folder: Path, desk: Callable[..., Issue], kind: str, places: Any, fields: Any, words: str
) -> None:
    before = state(folder)
    with pytest.raises(SetupError, match=words):
        desk(kind, places, **fields)
    assert state(folder) == before and not (folder / "decisions.jsonl").exists()


def test_two_at_one_cell_and_the_later_is_told(folder: Path, registry: Registry) -> None:
    seen = read_issue(folder, registry).stamp

    def says(kind: str, by: str, place: Place = A, **fields: str) -> Issue:
        return decide(folder, Decision(kind, (place,), fields, by), registry, seen)

    says("place", "Ines", width="120", height="80")
    says("crop", "Tobe", crop="0 0 0.5 1")
    with pytest.raises(Overtaken, match="page 12: width is 120 now, decided by Ines, 20") as told:
        says("place", "Tobe", width="110", height="80")
    assert [one.decision.by for one in told.value.since] == ["Ines"]
    says("accept", "Ines", finding="ink/too-much-ink", reason="so", until="2031-01-01")
    with pytest.raises(Overtaken, match="ink/too-much-ink is accepted now, decided by Ines"):
        says("accept", "Tobe", finding="ink/too-much-ink", reason="thus", until="2031-01-01")
    says("place", "Ines", page="14")
    with pytest.raises(Overtaken, match="page is 14 now, decided by Ines"):
        says("focus", "Tobe", focus="0 0")
    path = folder / "issue.csv"
    path.write_bytes(path.read_bytes() + b"masters/b.jpg,15,mono,,,,\n")
    with pytest.raises(Overtaken, match="issue.csv: changed by hand since you saw it"):
        says("focus", "Tobe", Place("masters/b.jpg", "15"), focus="0 0")


def test_files_with_faults_are_shown_and_not_written_over(
    folder: Path, desk: Callable[..., Issue], registry: Registry
) -> None:
    (folder / "issue.csv").write_text("picture,width\nmasters/a.jpg,wide\n")
    (folder / "waivers.yaml").write_text("waivers: {}\n")
    before = state(folder)
    issue = read_issue(folder, registry)
    assert {fault.origin.line for fault in issue.faults if fault.origin} == {1, 2}
    assert not issue.entries and not issue.unlisted
    with pytest.raises(SetupError, match=r"issue.csv: has to be mended(.|\n)*'wide' is not"):
        desk("title", (), house="mono")
    with pytest.raises(SetupError, match=r"waivers.yaml: has to be mended"):
        desk("accept", (A,), **ACCEPT)
    (folder / "issue.csv").unlink()
    (folder / "issue.yaml").write_text("pictures:\n  - picture: masters/a.jpg\n")
    assert read_issue(folder, registry).places() == (Place("masters/a.jpg"),)
    with pytest.raises(SetupError, match="issue.yaml: decisions are written to issue.csv"):
        desk("title", (), house="mono")
    (folder / "decisions.jsonl").write_text('{"made": "nothing"}\nso much\n')
    issue = read_issue(folder, registry)
    wrong = [fault.origin for fault in issue.faults if fault.origin]
    assert [one.line for one in wrong if one.file.endswith(".jsonl")] == [1, 2]
    assert state(folder)["waivers.yaml"] == before["waivers.yaml"]


def test_an_issue_begins_with_masters_alone(tmp_path: Path, registry: Registry) -> None:
    for name in ("masters/a.jpg", "masters/sub/=b.tif", "top.png", "notes.txt", ".hidden.jpg"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True, parents=True)
        path.write_bytes(b"\xff\xd8")
    (tmp_path / "notes.txt").write_text("text")
    issue = opened(tmp_path, registry)
    names = [path.relative_to(tmp_path).as_posix() for path in issue.unlisted]
    assert names == ["masters/a.jpg", "masters/sub/=b.tif", "top.png"]
    assert (issue.title, issue.entries, name_of(issue)) == ("", (), "")
    issue = decide(tmp_path, Decision("title", (), {"house": "mono"}), registry, issue.stamp)
    assert (issue.title, issue.unlisted) == ("mono", ())
    assert [entry.path for entry in issue.entries] == [tmp_path / name for name in names]
    entries = read_list(tmp_path / "issue.csv", housed=True)
    assert {entry.house for entry in entries} == {"mono"}
    take_back(tmp_path, issue.decisions[0].identity, "", registry)
    assert not (tmp_path / "issue.csv").exists()


def test_the_stamp_tells_of_every_change(folder: Path, registry: Registry) -> None:
    stamps = [read_issue(folder, registry).stamp]
    for name, text in (
        ("masters/c.jpg", "c"),
        ("masters/c.jpg", "cc"),
        ("issue.csv", LIST + "masters/c.jpg,,,,,\n"),
        ("waivers.yaml", "waivers: []\n"),
        ("decisions.jsonl", "\n"),
    ):
        (folder / name).write_text(text)
        stamps.append(read_issue(folder, registry).stamp)
    assert len(set(stamps)) == len(stamps)
    assert read_issue(folder, registry).stamp == stamps[-1]


CELL = st.text(st.sampled_from("ab ,;\"\n'é=+.5"), max_size=6)


@st.composite
def lists(draw: Any) -> tuple[str, str, list[list[str]]]:
    """Return a list in some dialect, how its lines end, and its cells."""
    between, end = draw(st.sampled_from(",;")), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    heads = ["picture", "page", "width", "height", "desk", "(own)"]
    heads = draw(st.permutations(heads[: draw(st.integers(2, 6))]))
    cells_of = [
        dict(zip(heads, draw(st.lists(CELL, min_size=6, max_size=6)), strict=False))
        for _ in range(draw(st.integers(1, 4)))
    ]
    for number, line in enumerate(cells_of):
        line |= {"picture": f"p{number}.jpg", "page": str(number)}
        line |= {name: "" for name in ("width", "height") if name in line}
    spell = csv.writer
    text = io.StringIO(newline="")
    style = draw(st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL]))
    writer = spell(text, delimiter=between, lineterminator="\n", quoting=style)
    writer.writerow(heads)
    for line in cells_of:
        writer.writerow([line[head] for head in heads])
        if draw(st.booleans()):
            text.write(draw(st.sampled_from(["\n", f"{between}\n"])))
    whole = text.getvalue() if draw(st.booleans()) else text.getvalue().removesuffix("\n")
    return draw(st.sampled_from(["", "\ufeff"])) + whole.replace("\n", end), between, []


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(lists(), st.data())
def test_any_dialect_keeps_its_other_cells_to_the_byte(
    tmp_path_factory: Any, registry: Registry, made: tuple[str, str, list[list[str]]], data: Any
) -> None:
    text, between, _ = made
    folder = tmp_path_factory.mktemp("issue")
    path = folder / "issue.csv"
    path.write_bytes(text.encode())
    issue = read_issue(folder, registry)
    assert not issue.faults
    before = cells.table(text)
    some = data.draw(st.lists(st.sampled_from(issue.places()), min_size=1, unique=True))
    kind, fields = data.draw(
        st.sampled_from(
            [
                ("place", {"width": "12.5", "height": "7"}),
                ("tone", {"tone": "-4"}),
                ("crop", {"crop": "0 0 0.5 1"}),
                ("place", {"page": '9;"9",'}),
            ]
        )
    )
    issue = decide(folder, Decision(kind, tuple(some), fields), registry, issue.stamp)
    raw = path.read_bytes()
    after = cells.table(raw.decode())
    assert after.between == between and raw.startswith(text[:1].encode())
    assert rows(raw)[0][: len(before.head)] == [cell.says for cell in before.head]
    for line in range(len(before.lines)):
        place = list(read_places(before, line))
        for name in before.names:
            changed = name in fields and place in [[p.picture, p.page] for p in some]
            if not changed:
                assert after.raw(line, name) == before.raw(line, name)
    # between the cells nothing changed either, but for a column more
    columns = after.head[len(before.head) :]
    assert len(columns) <= len(fields) and _gaps(after) == _gaps(before)
    take_back(folder, issue.decisions[-1].identity, "", registry)
    assert path.read_bytes() == text.encode()


def read_places(table: cells.Table, line: int) -> tuple[str, str]:
    return table.says(line, "picture"), table.says(line, "page")


def _gaps(table: cells.Table) -> list[str]:
    """Return what stands before, between and behind the rows."""
    rows = [table.head, *table.lines]
    starts, ends = [row[0].start for row in rows], [row[-1].end for row in rows]
    return [table.text[a:b] for a, b in zip([0, *ends], [*starts, len(table.text)], strict=True)]


def test_what_a_crop_or_a_focus_says_stands_instead_of_the_other(
    folder: Path, desk: Callable[..., Issue]
) -> None:
    assert desk("crop", (A,), crop="0.1 0 0.8 1").entries[0].request.crop == Crop(0.1, 0, 0.8, 1)
    assert desk("focus", (A,), focus="0.5 0,33").entries[0].request.crop == Focus(0.5, 0.33)
    assert desk("focus", (A,), focus="").entries[0].request.crop is None


@settings(max_examples=60, deadline=None)
@given(
    st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=30),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
def test_a_reason_of_any_characters_reads_back(reason: str, end: str, flow: bool) -> None:
    reason = " ".join(reason.split())
    fields = {
        "finding": "a/b",
        "picture": "é: #.jpg",
        "reason": reason,
        "by": "-",
        "until": "2030-01-01",
    }
    text = WAIVERS.replace("\n", end)
    if flow:
        text = "waivers: [{finding: a/b, picture: x, reason: r, by: b, until: 2030-01-01}]" + end
    count = len(acceptances.kept(text))
    try:
        raw = acceptances.with_more(text, [fields]).encode()
    except UnicodeEncodeError:
        return
    if reason:
        last = read_waivers(Path("waivers.yaml"), raw)[-1]
        assert (last.reason, last.picture) == (reason, "é: #.jpg")
    assert acceptances.without(raw.decode(), [count]) == text
    none = acceptances.without(raw.decode(), range(count + 1))
    assert acceptances.kept(none) == [] and read_waivers(Path("waivers.yaml"), none.encode()) == ()
    if not flow:
        assert [line for line in none.split(end) if "#" in line and "very" not in line] == [
            line for line in WAIVERS.split("\n") if "#" in line and "very" not in line
        ]
    assert field_of("Title") == "house"
