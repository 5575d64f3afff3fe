"""check --pages and list from-pages: rules on what a page shows, and the file behind it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dead_leaves import as_bytes, dead_leaves
from jsonschema import Draft202012Validator
from pdf_writer import image, stream, write_pages
from PIL import Image

from pressworthy.colour import convert
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.commands.main import main
from pressworthy.files.pages import Extracted, Placed, extract, survey
from pressworthy.files.picture_list import read_list, row_of
from pressworthy.house import House
from pressworthy.jobs import Run
from pressworthy.jobs.pages import check_places, together
from pressworthy.plugins import Registry
from pressworthy.report.json_report import schema
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Outcome
from pressworthy.values.placement import Crop, Placement, PlacementRequest

MM = 72 / 25.4
PAGE = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680] /BleedBox [11 11 489 689]"


def at(name: str, x: float, y: float, width: float, height: float) -> str:
    return f"q {width * MM} 0 0 {height * MM} {x} {y} cm /{name} Do Q "


@pytest.fixture
def pdf(tmp_path: Path) -> Path:
    """Return two equal pages: one picture good, one too coarse, one at the trim, one unseen."""
    objects = {
        "P": stream("/N 3", rgb_profile("sRGB")),
        "A": image(draw(472, 354), "[/ICCBased 4 0 R]"),
        "B": image(draw(472, 354)[::2, ::2], "[/ICCBased 4 0 R]"),
    }
    content = at("A", 50, 50, 40, 30) + at("B", 50, 200, 40, 30)
    content += at("A", 20, 400, 40, 30) + at("A", 900, 900, 40, 30)
    return write_pages(tmp_path / "issue.pdf", content, objects, page=PAGE, pages=2)


def checked(capsys: pytest.CaptureFixture[str], *call: object) -> Any:
    status = main(["check", *map(str, call), "--format", "json"])
    report = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema()).validate(report)
    assert report["exit"] == status
    return report


def found(picture: Any) -> set[str]:
    return {
        f"{o['rule']}/{f['code']}"
        for o in picture["outcomes"]
        for f in o["findings"]
        if o["rule"] in ("resolution", "bleed", "credit", "file-weight", "icc-profile")
    }


def test_the_rules_judge_what_the_pages_show(pdf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = checked(capsys, "--pages", pdf, "--house", "mono")
    told = {(p["page"], p["name"].rsplit(" ", 1)[1]): p for p in report["pictures"]}
    assert sorted(told) == [(page, number) for page in "12" for number in "1234"]
    for page in "12":
        assert found(told[page, "1"]) == set()
        assert found(told[page, "2"]) == {"resolution/too-few-pixels"}
        assert found(told[page, "3"]) == {"bleed/thin-bleed"}
        unseen = {one["rule"]: one["state"] for one in told[page, "4"]["outcomes"]}
        assert unseen == {"page": "waived", "page-printing": "passed", "page-inks": "passed"}
    first = told["1", "1"]
    assert first["path"] == "issue.pdf, page 1, picture 1"
    assert first["facts"]["format"] == "PDF"
    assert first["facts"]["colour space"] == "ICCBased"
    assert first["facts"]["icc"].startswith("sRGB")
    assert first["facts"]["on page"]["ppi"] == pytest.approx([299.7, 299.7], abs=0.1)
    assert first["facts"]["on page"]["placed"] == pytest.approx([40, 30])
    credit = next(o for o in first["outcomes"] if o["rule"] == "credit")
    assert credit["state"] == "waived"
    coarse = next(
        f for o in told["1", "2"]["outcomes"] for f in o["findings"] if o["rule"] == "resolution"
    )
    assert coarse["measured"] == pytest.approx(149.9, abs=0.1)
    # the coarse one is at stop on both pages; the unseen one passes with nothing to judge
    assert [(part["page"], sum(part["counts"].values())) for part in report["sums"]] == [
        ("1", 4),
        ("2", 4),
    ]
    assert report["sums"][0]["counts"] == report["sums"][1]["counts"]


def test_the_text_tells_which_pictures_were_not_judged_and_why(
    pdf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["check", "--pages", str(pdf), "--house", "mono"])
    lines = [" ".join(part.split()) for part in capsys.readouterr().out.split("\n\n")]
    (told,) = (part for part in lines if part.startswith("not judged"))
    assert "issue.pdf, page 1, picture 4; issue.pdf, page 2, picture 4: " in told
    assert "no reader sees it" in told
    assert not any("picture 4" in part for part in lines if part.startswith("pass "))
    foot = lines[-1]
    assert foot.count("1 not judged.") == 2 and "; 2 not judged." in foot
    assert "passed" not in foot


def test_a_finding_of_the_page_does_not_hide_that_its_picture_was_not_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    objects = {"A": image(draw(120, 90), "/DeviceRGB")}
    path = write_pages(tmp_path / "p.pdf", at("A", 900, 900, 40, 30), objects, page=PAGE)
    main(["check", "--pages", str(path), "--house", "mono"])
    told = " ".join(capsys.readouterr().out.split())
    assert "page-printing no-intent" in told
    assert "not judged the picture itself: clipped away: no reader sees it" in told
    assert "1 with a note." in told


def test_the_remedy_names_the_file_to_prepare(
    pdf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    large = np.repeat(np.repeat(draw(472, 354), 2, axis=0), 2, axis=1)
    write_picture(masters / "pier.tif", large, words=CREDITED)
    write_picture(masters / "other.tif", as_bytes(dead_leaves(400, 300, seed=3)), words=CREDITED)
    (masters / "notes.txt").write_text("words")
    report = checked(capsys, "--pages", pdf, masters, "--house", "mono")
    coarse = next(p for p in report["pictures"] if p["name"] == "issue.pdf, page 2, picture 2")
    assert coarse["facts"]["found"]["master"] == str(masters / "pier.tif")
    assert coarse["facts"]["found"]["same"] is False
    remedies = [f["remedy"] for o in coarse["outcomes"] for f in o["findings"]]
    assert sum("prepare pier.tif for 40.0 x 30.0 mm" in remedy for remedy in remedies) == 1


def test_a_master_that_suffices_whole_but_not_where_it_is_cut_is_not_recommended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    write_picture(masters / "pier.tif", draw(300, 225), words=CREDITED)
    profile = stream("/N 3", rgb_profile("sRGB"))
    objects = {"P": profile, "A": image(draw(300, 225), "[/ICCBased 4 0 R]")}
    # 40 x 30 mm, of which 20 x 15 mm show: 150 x 113 px of the 236 x 177 that 300 ppi take
    content = f"q 50 50 {20 * MM} {15 * MM} re W n {at('A', 50, 50, 40, 30)} Q"
    path = write_pages(tmp_path / "p.pdf", content, objects, page=PAGE)
    (picture,) = checked(capsys, "--pages", path, masters, "--house", "mono")["pictures"]
    assert picture["placement"].startswith("20.0 x 15.0 mm")
    remedies = " ".join(f["remedy"] for o in picture["outcomes"] for f in o["findings"])
    assert "too few pixels for 20.0 x 15.0 mm" in remedies
    assert "and place that" not in remedies


def test_a_prepared_copy_on_a_page_keeps_its_ticket(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], prepared: Any, master: Any
) -> None:
    made = prepared(master(), house="mono", size=(50.8, 38.1)).copy
    values = np.asarray(Image.open(made.path))
    profile = stream("/N 1", made.header.icc)
    objects = {"P": profile, "A": image(values, "[/ICCBased 4 0 R]")}
    content = at("A", 50, 50, 50.8, 38.1) + at("A", 50, 300, 30, 22.5)
    path = write_pages(tmp_path / "p.pdf", content, objects, page=PAGE)
    report = checked(capsys, "--pages", path, made.path.parent, master().parent, "--house", "mono")
    right, small = sorted(report["pictures"], key=lambda p: p["name"])
    for picture in (right, small):
        assert picture["facts"]["found"] == {
            "file": str(made.path), "master": str(master()), "same": True,
        }  # fmt: skip
    codes = [
        {f["code"] for o in p["outcomes"] if o["rule"] == "prepared-copy" for f in o["findings"]}
        for p in (right, small)
    ]
    assert codes == [set(), {"other-size"}]


def on_a_page(folder: Path, values: Any, space: str = "[/ICCBased 4 0 R]") -> Path:
    """Write a page with one picture, 40 mm wide."""
    objects = {"P": stream("/N 3", rgb_profile("sRGB")), "A": image(values, space)}
    content = at("A", 50, 50, 40, 40 * values.shape[0] / values.shape[1])
    return write_pages(folder / "p.pdf", content, objects, page=PAGE)


@pytest.mark.parametrize(
    ("house", "name", "size"),
    [("mono", "a.tif", (40, 30)), ("screen", "a.jpg", (472 * 25.4 / 96, 354 * 25.4 / 96))],
)
@pytest.mark.parametrize("change", [0, 1])
def test_a_placed_master_is_told_as_one_beside_a_copy_of_its_size(
    house: str, name: str, size: tuple[float, float], change: int, tmp_path: Path,
    capsys: pytest.CaptureFixture[str], prepared: Any, master: Any,
) -> None:  # fmt: skip
    source = master("pier.png", draw(472, 354))
    made = prepared(source, house=house, size=size, name=name).copy
    assert (made.header.width, made.header.height) == (472, 354)
    # as it is, and as an export with loss leaves it
    values = (draw(472, 354).astype(np.int16) + change).clip(0, 255).astype(np.uint8)
    files = made.path.parent, source.parent
    pdf = on_a_page(tmp_path, values)
    (picture,) = checked(capsys, "--pages", pdf, *files, "--house", house)["pictures"]
    assert picture["facts"]["found"] == {
        "file": str(source), "master": str(source), "same": change == 0,
    }  # fmt: skip
    told = {o["rule"]: o for o in picture["outcomes"]}["prepared-copy"]
    assert told["state"] == "passed"


def test_a_copy_whose_master_is_not_given_is_never_prepared_from(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], prepared: Any, master: Any
) -> None:
    made = prepared(master(), house="mono", size=(60, 45)).copy
    profile = stream("/N 1", made.header.icc)
    objects = {"P": profile, "A": image(np.asarray(Image.open(made.path)), "[/ICCBased 4 0 R]")}
    pdf = write_pages(tmp_path / "p.pdf", at("A", 50, 50, 40, 30), objects, page=PAGE)
    copies = made.path.parent
    (picture,) = checked(capsys, "--pages", pdf, copies, "--house", "mono")["pictures"]
    told = " ".join(f["remedy"] for o in picture["outcomes"] for f in o["findings"])
    assert "; prepare" not in told
    assert f"its master, pier.jpg, is not among the files given with the pages, in {copies}" in told
    assert picture["facts"]["found"] == {"file": str(made.path), "master": "", "same": True}
    (picture,) = checked(capsys, "--pages", pdf, copies, master().parent, "--house", "mono")[
        "pictures"
    ]
    told = " ".join(f["remedy"] for o in picture["outcomes"] for f in o["findings"])
    assert "; prepare pier.jpg for 40.0 x 30.0 mm" in told


def test_the_master_of_a_cut_out_copy_is_known_by_its_hash_under_any_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], prepared: Any, master: Any
) -> None:
    source = master()
    request = PlacementRequest((50, 20), crop=Crop(0, 0.2, 1, 0.53))
    made = prepared(source, house="mono", request=request).copy
    source.rename(moved := source.with_name("0731.jpg"))
    objects = {
        "P": stream("/N 1", made.header.icc),
        "A": image(np.asarray(Image.open(made.path)), "[/ICCBased 4 0 R]"),
    }
    pdf = write_pages(tmp_path / "p.pdf", at("A", 50, 50, 50, 20), objects, page=PAGE)
    files = made.path.parent, moved.parent
    (picture,) = checked(capsys, "--pages", pdf, *files, "--house", "mono")["pictures"]
    assert picture["facts"]["found"]["master"] == str(moved)


@pytest.mark.parametrize("embedded", [True, False])
def test_an_export_that_dropped_the_icc_profile_is_told_so(
    embedded: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given: dict[str, Any] = {} if embedded else {"icc": None}
    picture = write_picture(tmp_path / "pier.tif", draw(472, 354), words=CREDITED, **given)
    pdf = on_a_page(tmp_path, draw(472, 354), "/DeviceRGB")
    (told,) = checked(capsys, "--pages", pdf, picture, "--house", "mono")["pictures"]
    (finding,) = next(o for o in told["outcomes"] if o["rule"] == "icc-profile")["findings"]
    assert finding["code"] == "missing"
    dropped = "none; the export dropped its file's, sRGB"
    assert finding["measured"] == (dropped if embedded else "none")


def test_masters_of_the_list_count_beside_the_paths(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "more").mkdir()
    listed, path = tmp_path / "issue.csv", tmp_path / "pier.tif"
    write_picture(path, draw(472, 354), words=CREDITED)
    other = as_bytes(dead_leaves(400, 300, seed=3))
    write_picture(tmp_path / "more" / "other.tif", other, words=CREDITED)
    listed.write_text("picture,page,house,width,height\npier.tif,1,mono,40,30\n")
    pdf = on_a_page(tmp_path, draw(472, 354)[::2, ::2])
    (told,) = checked(capsys, "--pages", pdf, tmp_path / "more", "--list", listed)["pictures"]
    assert told["facts"]["found"]["file"] == str(path)
    (told,) = checked(capsys, "--pages", pdf, tmp_path / "more", "--house", "mono")["pictures"]
    assert told["facts"]["sought"] == str(tmp_path / "more")
    remedies = " ".join(f["remedy"] for o in told["outcomes"] for f in o["findings"])
    assert f"not among those given with the pages, in {tmp_path / 'more'}." in remedies


def test_a_page_without_a_trim_box_asks_for_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    profile = stream("/N 3", rgb_profile("sRGB"))
    objects = {"P": profile, "A": image(draw(472, 354), "[/ICCBased 4 0 R]")}
    # 210 x 297 mm in the middle of 230 x 317, the picture 5 mm from the left trim
    paper = f"/MediaBox [0 0 {230 * MM} {317 * MM}] /CropBox [{9 * MM} 0 {230 * MM} {317 * MM}]"
    content = at("A", 15 * MM, 100, 40, 30)
    pdf = write_pages(tmp_path / "p.pdf", content, objects, page=paper, pages=2)
    call: list[object] = ["--pages", pdf, "--house", "mono"]
    # cut to its CropBox, as the standard has it, and found once
    told = checked(capsys, *call)["pictures"]
    assert {one["facts"]["on page"]["trim box"] for one in told} == {"assumed"}
    assert told[0]["facts"]["on page"]["trim"]["left"] == pytest.approx(6, abs=0.01)
    codes = [f["code"] for one in told for o in one["outcomes"] for f in o["findings"]]
    assert codes.count("no-trim-box") == 1
    assert main(["list", "from-pages", str(pdf)]) == 2
    error = capsys.readouterr().err
    assert "2 pages have no TrimBox" in error and "give --trim" in error
    assert main(["check", *map(str, call), "--trim", "300x400mm"]) == 2
    assert "page 1 is smaller than --trim 300 x 400 mm" in capsys.readouterr().err
    for trim, left in (("210x297mm", 5), ("media", 15), ("crop", 6)):
        first = checked(capsys, *call, "--trim", trim)["pictures"][0]
        assert first["facts"]["on page"]["trim"]["left"] == pytest.approx(left, abs=0.01)
        assert first["facts"]["on page"]["trim box"] == "given"
        assert first["placement"].endswith("its trim as given")
    assert main(["list", "from-pages", str(pdf), "--trim", "210x297mm"]) == 0
    assert "2 placed pictures" in capsys.readouterr().out
    # what a page states counts
    stated = f"{paper} /TrimBox [0 0 {220 * MM} {317 * MM}]"
    write_pages(pdf, content, objects, page=stated)
    first = checked(capsys, *call, "--trim", "210x297mm")["pictures"][0]
    assert first["facts"]["on page"]["trim"]["left"] == pytest.approx(15, abs=0.01)
    with pytest.raises(SystemExit):
        main(["check", *map(str, call), "--trim", "bleed"])
    assert main(["check", str(tmp_path), "--house", "mono", "--trim", "media"]) == 2


def test_a_list_from_pages_is_one_that_check_reads(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # turned and clipped, the shares that show lie beyond 0 and 1 by the last digits of a float
    place = Placement(40, 30, crop=Crop(-3e-9, 1e-9, 1.0000001, 0.5), page="1", exact=True)
    assert row_of(place, "a.jpg", tmp_path)["crop"] == "0.000000 0.000000 1.000000 0.500000"
    content = "q 100 100 60 200 re W n q 0 0.1 -0.1 0 0 0 cm "
    content += "1000.3 0 0 777.7 900.1 -1800.7 cm /A Do Q Q " + at("A", 300, 300, 0.004, 0.003)
    objects = {"A": image(draw(64, 48), "/DeviceRGB")}
    pdf = write_pages(tmp_path / "p.pdf", content, objects, page=PAGE)
    assert main(["list", "from-pages", str(pdf)]) == 0
    assert "1 placed pictures" in capsys.readouterr().out
    (entry,) = read_list(tmp_path / "p.csv")
    assert isinstance(entry.request.crop, Crop)


def test_list_from_pages_reads_again(
    pdf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "masters").mkdir()
    write_picture(tmp_path / "masters" / "pier.tif", draw(944, 708), words=CREDITED)
    write_picture(tmp_path / "masters" / "pier.png", draw(472, 354), words=CREDITED)
    assert main(["list", "from-pages", str(pdf), str(tmp_path / "masters")]) == 0
    assert "6 placed pictures" in capsys.readouterr().out
    entries = read_list(tmp_path / "issue.csv")
    assert [entry.request.page for entry in entries] == ["1"] * 3 + ["2"] * 3
    assert entries[0].name == "masters/pier.png"
    assert all(entry.request.size == (40, 30) for entry in entries)
    assert main(["list", "from-pages", str(pdf)]) == 2
    assert main(["list", "from-pages", str(pdf), "--replace"]) == 0
    assert read_list(tmp_path / "issue.csv")[0].name == "issue.pdf, page 1, picture 1"


def test_waivers_and_other_formats_for_pages(
    pdf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    waivers = tmp_path / "w.yaml"
    waivers.write_text(
        "waivers:\n  - {finding: bleed/thin-bleed, page: 2, reason: white margin, by: A. Editor, "
        "until: 2999-12-31}\n"
    )
    report = checked(capsys, "--pages", pdf, "--house", "mono", "--waivers", waivers)
    states = {
        p["page"]: o["state"]
        for p in report["pictures"]
        for o in p["outcomes"]
        if o["rule"] == "bleed" and o["findings"]
    }
    assert states == {"1": "found", "2": "waived"}
    # or by the file that the picture is found to come from
    write_picture(tmp_path / "pier.tif", draw(472, 354), words=CREDITED)
    waivers.write_text(waivers.read_text().replace("page: 2", "picture: pier.tif"))
    report = checked(
        capsys, "--pages", pdf, tmp_path / "pier.tif", "--house", "mono", "--waivers", waivers
    )
    assert [waiver["use"] for waiver in report["waivers"]] == ["applied"]
    main(["check", "--pages", str(pdf), "--house", "mono", "--format", "sarif"])
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    places = {
        r["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for r in run["results"]
    }
    assert places == {pdf.as_uri()}


@pytest.mark.parametrize(
    ("text", "words"),
    [(b"no pdf", "not a PDF"), (None, "No such file"), (b"%PDF-1.4\n", "damaged")],
)
def test_a_pdf_that_cannot_be_read_is_a_wrong_set_up(
    text: bytes | None, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "p.pdf"
    if text is not None:
        path.write_bytes(text)
    assert main(["check", "--pages", str(path), "--house", "mono"]) == 2
    assert words in capsys.readouterr().err
    assert main(["check", "--pages", str(path)]) == 2


@pytest.mark.parametrize("intent", [True, False])
def test_device_colours_are_those_of_the_output_intent(
    intent: bool, coated: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    profile = coated.output.condition.profiles["cmyk"].read_bytes()
    objects = {"P": stream("/N 4", profile), "A": image(draw(472, 354, channels=4), "/DeviceCMYK")}
    path = write_pages(tmp_path / "p.pdf", at("A", 50, 50, 40, 30), objects, page=PAGE)
    if intent:
        entry = b"/Catalog /OutputIntents [<< /S /GTS_PDFX /DestOutputProfile 4 0 R >>]"
        path.write_bytes(path.read_bytes().replace(b"/Catalog", entry))
    report = checked(capsys, "--pages", path, "--house", "coated-magazine")
    (outcome,) = (o for o in report["pictures"][0]["outcomes"] if o["rule"] == "icc-profile")
    if intent:
        assert outcome["state"] == "passed"
    else:
        (finding,) = outcome["findings"]
        assert finding["code"] == "missing" and "output intent" in finding["remedy"]


def test_titles_by_page(pdf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_picture(tmp_path / "a.jpg", draw(472, 354), words=CREDITED)
    listed = tmp_path / "issue.csv"
    head = "picture,page,house,width,height\n"
    listed.write_text(f"{head}a.jpg,1,newsprint,40,30\n")
    call = ["check", "--pages", str(pdf), "--list", str(listed), "--format", "json"]
    assert main(call) == 2
    assert "page 2: no house profile" in capsys.readouterr().err
    assert main([*call, "--house", "mono"]) == 1
    sums = json.loads(capsys.readouterr().out)["sums"]
    assert [(part["house"], part["page"]) for part in sums] == [("mono", "2"), ("newsprint", "1")]
    # two titles in one list, each with pages 1 and 2
    both = (f"a.jpg,{page},{house},40,30\n" for house in ("newsprint", "mono") for page in "12")
    listed.write_text(head + "".join(both))
    assert main(call) == 2
    told = capsys.readouterr().err
    assert f"{listed}:4: house: page 1 is listed for newsprint above; give --house" in told
    assert f"{listed}:5: house: page 2 is listed for newsprint above; give --house" in told
    for house in ("newsprint", "mono"):
        assert main([*call, "--house", house]) == 1
        sums = json.loads(capsys.readouterr().out)["sums"]
        assert [(part["house"], part["page"]) for part in sums] == [(house, "1"), (house, "2")]


def test_masks_opacity_and_layers_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    soft = image(np.full((354, 472), 200, np.uint8), "/DeviceGray")
    objects = {
        "P": stream("/N 3", rgb_profile("sRGB")),
        "A": image(draw(472, 354), "[/ICCBased 4 0 R]"),
        "B": image(draw(472, 354), "[/ICCBased 4 0 R]", more="/SMask 7 0 R"),
        "M": soft,
        "L": b"<< /Type /OCG /Name (Sketch) >>",
    }
    content = at("A", 50, 50, 40, 30) + at("B", 50, 200, 40, 30)
    content += "q /S gs " + at("A", 200, 50, 40, 30) + "Q "
    content += "q /T gs " + at("A", 200, 200, 40, 30) + "Q "
    content += "/OC /L BDC " + at("A", 50, 400, 40, 30) + "EMC"
    path = write_pages(
        tmp_path / "p.pdf", content, objects, page=PAGE,
        catalog="/OCProperties << /OCGs [8 0 R] /D << /OFF [8 0 R] >> >>",
        resources="/ExtGState << /S << /ca 0.7 >> /T << /BM /Multiply >> >> "
        "/Properties << /L 8 0 R >>",
    )  # fmt: skip
    report = checked(capsys, "--pages", path, "--house", "coated-magazine")
    plain, masked, pale, blended, hidden = sorted(report["pictures"], key=lambda p: p["name"])
    for picture, told in ((plain, False), (masked, True), (pale, True)):
        codes = {f["code"] for o in picture["outcomes"] for f in o["findings"]}
        assert ("transparent" in codes) == told
        measured = {o["rule"]: o["state"] for o in picture["outcomes"]}
        assert {measured["luminance"], measured["ink"]} <= {"passed", "found"}
    states = {o["rule"]: o for o in blended["outcomes"]}
    assert states["luminance"]["state"] == "unmeasured"
    assert "Multiply" in states["luminance"]["reason"]
    assert states["resolution"]["state"] == "passed"
    unseen, *_ = hidden["outcomes"]
    assert (unseen["rule"], unseen["state"]) == ("page", "waived")
    assert "hidden layer 'Sketch'" in unseen["reason"]


def test_content_that_two_readers_read_otherwise_is_no_pass(
    pdf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pressworthy.files.pages.placed.painted_on", lambda *_: [])
    for one in survey(pdf):
        assert one.placement is None
        assert "two readers find other pictures" in one.beyond


def test_a_picture_at_many_places_is_measured_once(
    tmp_path: Path, houses: dict[str, House], registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    objects = {
        "P": stream("/N 3", rgb_profile("sRGB")),
        "A": image(draw(472, 354), "[/ICCBased 4 0 R]"),
        "B": image(draw(300, 225), "[/ICCBased 4 0 R]"),
    }
    sizes = (40, 40, 30, 52, 40, 40)
    content = "".join(at("A", 20 + 60 * i, 50, w, w * 0.75) for i, w in enumerate(sizes))
    content += at("B", 50, 300, 20, 15)
    path = write_pages(tmp_path / "p.pdf", content, objects, page=PAGE, pages=2)
    placed, run, house = survey(path), Run(registry), houses["coated-magazine"]
    groups = together(placed)
    assert [len(group) for group in groups] == [12, 2]
    at_once = {v.name: v for group in groups for v in check_places(group, house, run)}
    alone = {v.name: v for one in placed for v in check_places((one,), house, run)}
    for name, verdict in alone.items():
        other = at_once[name]
        assert [without_seconds(o) for o in verdict.outcomes] == [
            without_seconds(o) for o in other.outcomes
        ]
        assert (verdict.facts, verdict.placement, verdict.page) == (
            other.facts, other.placement, other.page
        )  # fmt: skip
    taken = []

    def extracted(one: Placed, folder: Path) -> Extracted:
        taken.append(one)
        return extract(one, folder)

    monkeypatch.setattr("pressworthy.jobs.pages.extract", extracted)
    converted = []

    def to_lab(*given: Any, **more: Any) -> Any:
        converted.append(given)
        return convert.to_lab(*given, **more)

    monkeypatch.setattr("pressworthy.measure.press.to_lab", to_lab)
    monkeypatch.setattr("pressworthy.measure.lightness.to_lab", to_lab)
    check_places(groups[0][:1], house, run)
    once = len(converted)
    check_places(groups[0], house, run)
    assert (len(taken), len(converted)) == (2, 2 * once)
    assert once


def without_seconds(outcome: Outcome) -> Outcome:
    return replace(outcome, seconds=0.0)


def test_a_mistyped_folder_of_masters_is_told(
    pdf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typo = tmp_path / "mastres"
    assert main(["check", "--pages", str(pdf), str(typo), "--house", "coated-magazine"]) == 2
    assert f"{typo}: no such file or folder" in capsys.readouterr().err
    assert main(["list", "from-pages", str(pdf), str(typo)]) == 2
    assert f"{typo}: no such file or folder" in capsys.readouterr().err


def test_pages_are_judged_by_one_house(pdf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--pages", str(pdf), "--house", "mono", "--house", "newsprint"]) == 2
    assert "one --house" in capsys.readouterr().err
