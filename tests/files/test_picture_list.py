"""Picture lists: CSV and YAML say the same, every fault is told at once with line and column."""

from __future__ import annotations

import csv
import io
import json
import os
import zipfile
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from pressworthy.commands.main import main
from pressworthy.files.picture_list import FIELDS, read_list, row_of, write_list
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import Crop, Focus, Placement, PlacementRequest
from pressworthy.values.words import readable

HEAD = "picture,page,title,width,height,bleed,edges,crop,focus,assume\n"
ALL_EDGES = frozenset({"top", "right", "bottom", "left"})


def written(tmp_path: Path, text: str | bytes, name: str = "list.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def faults(path: Path, **more: Any) -> list[str]:
    with pytest.raises(SetupError) as caught:
        read_list(path, **more)
    return [str(fault) for fault in caught.value.faults]


def test_every_field_of_csv_and_yaml_alike(tmp_path: Path) -> None:
    rows = HEAD + (
        'a.jpg,12,slack-tide,210,148 mm,3 mm,"top, left",,0.5 0.33,sRGB\n'
        "b.jpg,13,mono,8 in,10in,,,0.1 0 0.8 1,,\n"
    )
    yaml = """
pictures:
  - {picture: a.jpg, page: 12, title: slack-tide, width: 210, height: 148 mm, bleed: 3 mm,
     edges: [top, left], focus: [0.5, 0.33], assume: sRGB}
  - {picture: b.jpg, page: 13, house: mono, width: 8 in, height: 10in, crop: 0.1 0 0.8 1}
"""
    by_csv = read_list(written(tmp_path, rows))
    by_yaml = read_list(written(tmp_path, yaml, "list.yaml"))
    for entries in (by_csv, by_yaml):
        first, second = entries
        assert first.path == tmp_path / "a.jpg"
        assert (first.house, first.assume) == ("slack-tide", "sRGB")
        edges = frozenset({"top", "left"})
        assert first.request == PlacementRequest((210, 148), 3, edges, Focus(0.5, 0.33), "12")
        assert second.request.size == (203.2, 254)
        assert second.request.crop == Crop(0.1, 0, 0.8, 1)
    assert [e.origin.line for e in by_csv] == [2, 3]
    assert [e.origin.line for e in by_yaml] == [3, 5]


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_semicolons_decimal_commas_and_a_byte_order_mark(
    tmp_path: Path, start: bytes, end: str
) -> None:
    text = f'picture;width;height;bleed{end}{end}"Käse; Ä.jpg";60,5;40 mm;0,3 cm{end}'
    (entry,) = read_list(written(tmp_path, start + text.encode()))
    assert entry.name == "Käse; Ä.jpg"
    assert entry.request == PlacementRequest((60.5, 40), 3, ALL_EDGES)
    assert entry.origin.line == 3


def test_every_fault_at_once_with_line_and_column(tmp_path: Path) -> None:
    text = HEAD + (
        "a.jpg,1,mono,21O,148,,,,,\n"
        "b.jpg,1,mono,210,,,,,,\n"
        "c.jpg,1,mono,210,148,3mm,middle,,,\n"
        "d.jpg,1,mono,210,148,,top,0 0 1 2,1.5 0,\n"
        "e.jpg,1,mono,0,148,,,0.5 0 0.6 1,,RGB\n"
        "f.jpg,1,mono,60,5,40,,,,,\n"
        ",1,mono,60,40,,,,,\n"
        "g.jpg,1,mono,0.001,40,,,1 0 0.001 1,,\n"
    )
    told = faults(written(tmp_path, text))
    place = tmp_path / "list.csv"
    wanted = [
        (2, "column 4 (width)", "'21O' is not a quantity"),
        (3, "column 5 (height)", "needs a height"),
        (4, "column 7 (edges)", "'middle' is no edge"),
        (5, "column 6 (bleed)", "need a bleed"),
        (5, "column 8 (crop)", "not 4 numbers"),
        (5, "column 9 (focus)", "not 2 numbers"),
        (6, "column 4 (width)", "not between 0"),
        (6, "column 8 (crop)", "outside the picture"),
        (6, "column 10 (assume)", "'RGB' is not one of"),
        (7, "", "11 cells under 10 columns; a comma inside a cell needs quotes"),
        (8, "column 1 (picture)", "no picture is named"),
        (9, "column 4 (width)", "not between 0.01 mm"),
        (9, "column 8 (crop)", "nothing of it"),
    ]
    assert len(told) == len(wanted)
    for line, column, words in wanted:
        assert any(t.startswith(f"{place}:{line}: {column}") and words in t for t in told), words


def test_wrong_columns(tmp_path: Path) -> None:
    told = faults(written(tmp_path, "pictures,widht,title,house,page,page,\na,1,2,3,4,5,\n"))
    for words in (
        "did you mean 'picture'?",
        "no column is called 'widht'; did you mean 'width'? A column of your own",
        "column 7: a column without a name",
        "column 4: 'house' heads a column twice",
        "column 6: 'page' heads a column twice",
        "the column 'picture' is missing",
    ):
        assert any(words in fault for fault in told), words


def test_columns_of_ones_own_are_told_and_not_read(tmp_path: Path) -> None:
    text = "Rights,picture,tint,(widht),tint\nours,a.jpg,red,9,blue\n"
    notes: list[str] = []
    path = written(tmp_path, text)
    (entry,) = read_list(path, notes=notes)
    assert entry.request == PlacementRequest() and entry.name == "a.jpg"
    assert notes == [f"{path}: columns that are not read: Rights, tint, (widht), tint"]


def test_check_tells_once_which_columns_it_does_not_read(tmp_path: Path, capsys: Any) -> None:
    path = written(tmp_path, "picture,house,desk\na.jpg,mono,Ines\nb.jpg,mono,Tobe\n")
    main(["check", "--list", str(path), "--no-cache"])
    told = capsys.readouterr().err
    assert told.count(f"{path}: columns that are not read: desk\n") == 1


def test_what_was_written_as_text_for_a_spreadsheet_reads_back(tmp_path: Path) -> None:
    text = write_list([{"picture": "=a.jpg", "page": "-3", "tone": "+6"}])
    (entry,) = read_list(written(tmp_path, text))
    assert (entry.path, entry.request.page) == (tmp_path / "=a.jpg", "-3")
    assert entry.request.tone == "+6 L*"


def test_every_fault_of_yaml_with_its_line(tmp_path: Path) -> None:
    text = "pictures:\n  - picture: a.jpg\n    width: wide\n    hieght: 3\n  - page: 3\n"
    told = faults(written(tmp_path, text, "list.yml"))
    assert any(":3: pictures / 0 / width: 'wide' is not a quantity" in fault for fault in told)
    assert any(":4: " in fault and "did you mean 'height'?" in fault for fault in told)
    assert any(":5: " in fault and "'picture' is missing" in fault for fault in told)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "empty"),
        (b"picture\n", "lists no picture"),
        (b'picture\n"a.jpg\n', ":2: not CSV"),
        (b"picture\nb\xe4r.jpg\n", ":2: not UTF-8 text, at byte 2 of the line"),
        (b"picture\na\0.jpg\n", ":2: a NUL character"),
    ],
)
def test_hostile_text(tmp_path: Path, text: bytes, words: str) -> None:
    assert words in faults(written(tmp_path, text))[0]


def test_pictures_never_lie_outside_unless_allowed(tmp_path: Path) -> None:
    inside = tmp_path / "issue"
    inside.mkdir()
    (tmp_path / "out.jpg").write_bytes(b"x")
    (inside / "link.jpg").symlink_to(tmp_path / "out.jpg")
    text = f"picture\n../out.jpg\nlink.jpg\n{tmp_path / 'out.jpg'}\na/../b.jpg\n"
    path = written(inside, text)
    told = faults(path)
    assert [fault.split(":")[1] for fault in told] == ["2", "3", "4"]
    assert all("--allow-outside" in fault for fault in told)
    assert len(read_list(path, allow_outside=True)) == 4


def test_what_is_written_reads_again(tmp_path: Path) -> None:
    rows = [
        {"picture": 'a "b", c.jpg', "width": "60.0", "height": "40.0"},
        {"picture": "d.jpg", "page": "2", "crop": "0 0 0.5 1"},
    ]
    first, second = read_list(written(tmp_path, write_list(rows)))
    assert first.name == 'a "b", c.jpg'
    assert first.request.size == (60, 40)
    assert second.request.crop == Crop(0, 0, 0.5, 1)


@pytest.mark.parametrize(
    ("cell", "tone"),
    [("", ""), ("House", "house"), ("as  supplied", "as supplied"), ("+6", "+6 L*"),
     ("6,5 L*", "+6.5 L*"), ("-4", "-4 L*"), ("'+6", "+6 L*"), ("0", "as supplied")],
)  # fmt: skip
def test_a_tone(cell: str, tone: str, tmp_path: Path) -> None:
    (entry,) = read_list(written(tmp_path, f'picture,tone\na.jpg,"{cell}"\n'))
    assert entry.request.tone == tone


@pytest.mark.parametrize("cell", ["lighter", "41", "-40.5", "++3", "6 mm", "nan", "1e1"])
def test_no_tone(cell: str, tmp_path: Path) -> None:
    told = faults(written(tmp_path, f"picture,tone\na.jpg,{cell}\n"))
    assert len(told) == 1 and "column 2 (tone)" in told[0] and "such as +6" in told[0]


def checked(path: Path, out: Path, *more: str) -> Any:
    call = ["check", "--list", str(path), "--format", "json", "--output", str(out), *more]
    status = main(call)
    report = json.loads(out.read_text())
    Draft202012Validator(schema()).validate(report)
    assert report["exit"] == status
    return report


def test_one_list_over_houses_and_pages_with_missing_and_twins(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.tif", draw(710, 473), words=CREDITED)
    text = (
        "picture,page,house,width,height\n"
        "a.tif,2,mono,60,40\n"
        "a.tif,10,coated-magazine,60,40\n"
        "a.tif,10,coated-magazine,60,40\n"
        "gone.tif,10,coated-magazine,60,40\n"
    )
    report = checked(written(tmp_path, text), tmp_path / "r.json")
    assert report["house"] == "mono, coated-magazine"
    assert report["exit"] == 1
    places = [(s["house"], s["page"], sum(s["counts"].values())) for s in report["sums"]]
    assert places == [("coated-magazine", "10", 3), ("mono", "2", 1)]
    told = {
        (p["name"], f["code"], f["severity"], f["id"])
        for p in report["pictures"]
        for o in p["outcomes"]
        if o["rule"] == "picture-list"
        for f in o["findings"]
    }
    assert told == {
        ("gone.tif", "missing-file", "stop", "picture-list/missing-file:gone.tif:10"),
        ("a.tif", "listed-twice", "query", "picture-list/listed-twice:a.tif:10"),
    }


def test_an_assumed_space_is_what_the_pixels_are_read_by(tmp_path: Path) -> None:
    pale = np.full((473, 710, 3), (0, 220, 40), np.uint8)
    write_picture(tmp_path / "a.tif", pale, words=CREDITED, icc=None)
    lists = {
        space: written(tmp_path, f"picture,width,height,assume\na.tif,60,40,{space}\n", f"{n}.csv")
        for n, space in enumerate(["", "sRGB", "ROMM RGB"])
    }

    def out_of_gamut(space: str) -> list[float]:
        report = checked(lists[space], tmp_path / "r.json", "--house", "newsprint", "--replace")
        (picture,) = report["pictures"]
        found = [f for o in picture["outcomes"] if o["rule"] == "gamut" for f in o["findings"]]
        return [finding["measured"] for finding in found]

    # the same numbers are a far stronger green in the wide space
    assert out_of_gamut("") == out_of_gamut("sRGB") == [100]
    assert len(out_of_gamut("ROMM RGB")) == 2


def test_list_new_writes_a_list_that_check_reads(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    (folder / "sub").mkdir(parents=True)
    write_picture(folder / "sub" / "a.tif", draw(709, 472), words=CREDITED, ppi=(300, 150))
    write_picture(folder / "b.png", draw(), words=CREDITED, ppi=None)
    (folder / "notes.txt").write_text("words")
    assert main(["list", "new", str(folder)]) == 0
    told = capsys.readouterr()
    assert "2 pictures" in told.out
    assert "notes.txt: left out" in told.err
    # beside the folder: in it, a check would take the list for a picture
    entries = read_list(tmp_path / "in.csv")
    sizes = {entry.name: entry.request.size for entry in entries}
    assert sizes == {"in/b.png": None, "in/sub/a.tif": (60.0, 79.9)}
    assert main(["list", "new", str(folder)]) == 2


@pytest.mark.skipif(os.name == "nt", reason="names that Windows does not allow")
def test_list_new_leaves_out_names_that_no_list_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    whole = write_picture(folder / "pier.jpg", draw(64, 48)).read_bytes()
    for name in (b"\xff\xfe.jpg", b"a\nb.jpg", b"a\x1b[2J.jpg", b"pier.jpg "):
        Path(os.fsdecode(os.fsencode(folder) + b"/" + name)).write_bytes(whole)
    assert main(["list", "new", str(folder)]) == 0
    assert capsys.readouterr().err.count("rename the file") == 4
    (entry,) = read_list(tmp_path / "in.csv")
    assert entry.name == "in/pier.jpg"


def test_a_spreadsheet_takes_no_name_for_a_formula(tmp_path: Path) -> None:
    names = ["=cmd|' x'!A0.jpg", "+1.jpg", "-1.jpg", "@a.jpg"]
    text = write_list([{"picture": name, "page": "=1+1"} for name in names])
    assert all(line.startswith("./") and ",'=1+1," in line for line in text.splitlines()[1:])
    entries = read_list(written(tmp_path, text))
    assert [entry.path for entry in entries] == [tmp_path / name for name in names]


@pytest.mark.parametrize("as_yaml", [False, True], ids=["csv", "yaml"])
@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.text(st.sampled_from("=+-@'\"\t\r\n;,| a1\uff1d\u202e\ud800\0"), max_size=6),
            st.text(st.characters(codec="utf-8"), min_size=1, max_size=6),
        ),
        min_size=1,
    )
)
@example(
    [
        ("=1+1", "\t=cmd"),
        ("'=1", "'-a"),
        ("\t=1", ";=1"),
        ("''@", "="),
        (";=", "a;'="),
        (';"=', ';""='),
    ]
)
def test_what_files_carry_is_no_formula_and_reads_back(
    as_yaml: bool, told: list[tuple[str, str]]
) -> None:
    rows = []
    for page, name in told:
        rows.append(row_of(Placement(10, 10, page=page), f"in/{name}", Path()))
    text = write_list(rows, as_yaml=as_yaml)
    if not as_yaml:
        # with other marks between the cells than ours, as some spreadsheets take them
        for between in ",;\t":
            for cells in csv.reader(io.StringIO(text), delimiter=between):
                assert not [c for c in cells if c.strip().startswith(tuple("=+-@\uff1d"))]
    with TemporaryDirectory() as folder:
        path = written(Path(folder), text, "l.yaml" if as_yaml else "l.csv")
        entries = read_list(path, allow_outside=True)
    assert [(e.name, e.request.page) for e in entries] == [
        (row["picture"].strip(), row["page"]) for row in rows
    ]
    for row, (page, _) in zip(rows, told, strict=True):
        assert row["page"] == readable(page).strip()


def test_prepare_by_list(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_picture(tmp_path / "a.tif", draw(800, 600), words=CREDITED)
    path = written(
        tmp_path,
        "picture,page,house,width,height\na.tif,2,mono,50,37.5\na.tif,3,coated-magazine,40,30\n",
    )
    into = tmp_path / "copies"
    main(["prepare", "--list", str(path), "--into", str(into), "--format", "json"])
    report = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema()).validate(report)
    made = {p["house"]: (p["facts"]["width"], p["facts"]["height"]) for p in report["pictures"]}
    assert made["coated-magazine"] == (472, 354)
    assert made["mono"][0] / made["mono"][1] == pytest.approx(4 / 3, rel=0.01)


def test_a_workbook_is_read_as_the_list_it_holds(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    head = ["picture", "page", "house", "width", "height", "waive", "reason", "by", "until"]
    waived = ["credit/no-credit", "archive", "A. Editor", date(2999, 12, 31)]
    for row in ([], head, ["a.jpg", 12, "mono", 183, 129.5, *waived], [None, "x"]):
        sheet.append(row)
    sheet.cell(9, 30).number_format = "0.00"
    book.create_sheet("notes").append(["what the editor thinks"])
    book.save(path := tmp_path / "issue.xlsx")
    with pytest.raises(SetupError) as wrong:
        read_list(path)
    assert str(wrong.value) == f"{path}:4: column 1 (picture): no picture is named"
    sheet.delete_rows(4)
    book.save(path)
    (entry,) = read_list(path)
    assert (entry.name, entry.house, entry.request.page) == ("a.jpg", "mono", "12")
    assert entry.request.size == (183, 129.5)
    assert entry.waivers[0].until == date(2999, 12, 31)
    assert str(entry.origin) == f"{path}:3"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xd0\xcf\x11\xe0" + bytes(600), "a spreadsheet workbook that is not read here; save it"),
        (b"PK\x03\x04" + bytes(600), "a spreadsheet workbook that is not read here; save it"),
        (None, "damaged, or no whole workbook"),
    ],
)
def test_another_workbook_is_told_in_a_sentence(
    data: bytes | None, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "issue.ods"
    if data is None:
        with zipfile.ZipFile(path, "w") as parts:
            parts.writestr("xl/workbook.xml", "<nothing/>")
    else:
        path.write_bytes(data)
    assert main(["check", "--list", str(path), "--house", "mono"]) == 2
    told = capsys.readouterr().err
    assert words in told and told.count("\n") == 1
    assert main(["list", "new", str(tmp_path), "--output", str(tmp_path / "new.xlsx")]) == 2
    assert "written as CSV or YAML" in capsys.readouterr().err


def test_list_and_paths_do_not_mix(tmp_path: Path) -> None:
    path = written(tmp_path, "picture\na.jpg\n")
    assert main(["check", "--list", str(path), str(tmp_path), "--house", "mono"]) == 2
    assert main(["check", "--list", str(path)]) == 2
    assert main(["check", "--house", "mono"]) == 2


def test_list_and_waivers_tell_their_mistakes_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, "picture,house,width,height\n,mono,wide,3\na.jpg,,,\n")
    waivers = tmp_path / "waivers.yaml"
    waivers.write_text("waivers:\n  - {finding: few, picture: a.jpg}\n")
    assert main(["check", "--list", str(path), "--waivers", str(waivers)]) == 2
    told = capsys.readouterr().err
    for words in ("no picture is named", "'wide' is not a quantity", "list.csv:3: column 2 (house)",
                  "'few' is not rule/code", "'reason' is missing"):  # fmt: skip
        assert words in told
    written(tmp_path, "picture,house\na.jpg,momo\nb.jpg,screeen\n")
    assert main(["check", "--list", str(path), "--waivers", str(waivers)]) == 2
    told = capsys.readouterr().err
    assert "'momo'" in told and "'screeen'" in told and "'few' is not rule/code" in told


@pytest.mark.parametrize("name", ["l.csv", "l.yaml", "l.YML"])
def test_list_new_writes_what_its_name_says(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    names = ["089", "1e5", "off", "a: #b.jpg", "\u2028 \u00e9\U0001f41f\ufeff.jpg", '"x"\\.jpg']
    for each in names:
        write_picture(folder / "p.jpg", draw(64, 48)).rename(folder / each)
    target = tmp_path / name
    assert main(["list", "new", str(folder), "--output", str(target)]) == 0
    assert "6 pictures" in capsys.readouterr().out
    entries = read_list(target)
    assert {entry.path for entry in entries} == {folder / each for each in names}
    assert target.read_text().startswith(
        "picture,page" if name == "l.csv" else "pictures:\n  - pict"
    )


def test_list_new_tells_where_its_list_will_not_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "lists").mkdir()
    (tmp_path / "in").mkdir()
    call = ["list", "new", str(tmp_path / "in"), "--output", str(tmp_path / "lists" / "l.csv")]
    assert main(call) == 2
    assert "no picture can be listed" in capsys.readouterr().err
    picture = write_picture(tmp_path / "in" / "a.jpg", draw(64, 48))
    assert main(call) == 0
    assert "--allow-outside" in capsys.readouterr().err
    whole = picture.read_bytes()
    assert main([*call[:-1], str(picture), "--replace"]) == 2
    assert picture.read_bytes() == whole
    inside = [*call[:-1], str(tmp_path / "in" / "l.csv"), "--replace"]
    assert main(inside) == main(inside) == 0


def test_what_a_copy_is_to_be(tmp_path: Path) -> None:
    head = "picture,fit,sharpen,gray mix\n"
    text = f"{head}a.jpg,stretch,no,0.3 0.6 0.1\nb.jpg,,,\nc.jpg,fill,yes,picture\n"
    first, second, third = (entry.request for entry in read_list(written(tmp_path, text)))
    assert (first.fit, first.sharpen, first.gray_mix) == ("stretch", False, (0.3, 0.6, 0.1))
    assert second == PlacementRequest()
    assert (third.fit, third.sharpen, third.gray_mix) == ("fill", True, "picture")
    for wrong, words in (
        ("pull,,", "'pull' is not one of fill, stretch"),
        (",perhaps,", "'perhaps' is not one of yes, no"),
        (",,0.3 0.6", "not 3 numbers from 0 to 1 with spaces between, or picture"),
        (",,0 0 0", "nothing but black"),
    ):
        (told,) = faults(written(tmp_path, f"{head}a.jpg,{wrong}\n"))
        assert words in told


def test_in_yaml_too(tmp_path: Path) -> None:
    text = (
        'pictures:\n  - {picture: a.jpg, sharpen: "no", gray mix: [0.3, 0.6, 0.1], fit: stretch}\n'
    )
    (entry,) = read_list(written(tmp_path, text, "list.yaml"))
    assert not entry.request.sharpen
    assert entry.request.gray_mix == (0.3, 0.6, 0.1)


@pytest.mark.parametrize("suffix", ["csv", "yaml"])
def test_a_new_list_has_every_column(tmp_path: Path, suffix: str) -> None:
    (tmp_path / "pictures").mkdir()
    write_picture(tmp_path / "pictures" / "a.tif", draw())
    target = tmp_path / f"list.{suffix}"
    assert main(["list", "new", str(tmp_path / "pictures"), "--output", str(target)]) == 0
    text = target.read_text()
    for name in FIELDS:
        assert name in text
    (entry,) = read_list(target)
    assert entry.request.fit == "fill"
