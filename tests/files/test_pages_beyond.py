"""Pictures that cannot be measured where they stand on a page: told, and no pass."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from pdf_writer import image, stream, write_pages

from pressworthy.commands.main import main
from pressworthy.files.pages.beyond import beyond

BOX = "/MediaBox [0 0 500 700]"
GRAY = image(np.full((60, 80), 128, np.uint8), "/DeviceGray")
# objects are numbered from 4 in the order they are given, and GRAY comes first
HOLDS = "/Resources << /XObject << /G 4 0 R >> >>"
SIZES = "/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9"
TILE = stream(f"{SIZES} {HOLDS}", b"9 0 0 9 0 0 cm /G Do")
FILLED = b"/Pattern cs /T scn 50 50 200 200 re f"
LOOK = stream(f"/Type /XObject /Subtype /Form /BBox [0 0 99 99] {HOLDS}", b"9 0 0 9 0 0 cm /G Do")


def form(resources: str, content: bytes) -> bytes:
    box = "/Type /XObject /Subtype /Form /BBox [0 0 500 700]"
    return stream(f"{box} /Resources << {resources} >>", content)


def annotated(flags: str) -> str:
    return f"{BOX} /Annots [<< /Type /Annot /Subtype /Stamp /Rect [9 9 99 99] {flags} " \
        "/AP << /N 5 0 R >> >>]"  # fmt: skip


FONT = (
    f"<< /Type /Font /Subtype /Type3 /FontBBox [0 0 9 9] /FontMatrix [1 0 0 1 0 0] {HOLDS} "
    "/CharProcs << /a 6 0 R >> /Encoding << /Differences [97 /a] >> /FirstChar 97 /LastChar 97 "
    "/Widths [9] >>"
).encode()


@pytest.mark.parametrize(
    ("objects", "page", "wanted"),
    [
        ({"G": GRAY}, BOX, []),
        ({"G": GRAY, "T": TILE, "F": form("/Pattern << /T 5 0 R >>", FILLED)}, BOX,
         ["a tiling pattern"]),
        ({"G": GRAY, "N": LOOK}, annotated("/F 4"), ["an annotation that prints"]),
        ({"G": GRAY, "N": LOOK}, annotated("/F 0"), []),
        ({"G": GRAY, "A": FONT, "C": stream("", b"9 0 d0 9 0 0 9 0 0 cm /G Do"),
          "F": form("/Font << /A 5 0 R >>", b"BT /A 9 Tf (a) Tj ET")}, BOX, ["a Type 3 font"]),
        # a form that holds itself ends, too
        ({"G": GRAY, "F": form("/XObject << /F 5 0 R >>", b"/F Do")}, BOX, []),
    ],
)  # fmt: skip
def test_where_they_stand(
    objects: dict[str, bytes], page: str, wanted: list[str], tmp_path: Path
) -> None:
    path = write_pages(tmp_path / "p.pdf", "q 9 0 0 9 60 60 cm /G Do Q", objects, page=page)
    assert [place for _, place in beyond(path)] == wanted


def test_a_page_with_one_is_no_pass(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    objects = {"G": GRAY, "T": TILE, "F": form("/Pattern << /T 5 0 R >>", FILLED)}
    path = write_pages(tmp_path / "p.pdf", "/F Do", objects, page=BOX, pages=2)
    call = ["check", "--pages", str(path), "--house", "mono", "--format", "json"]
    assert main(call) == 1
    report = json.loads(capsys.readouterr().out)
    assert [p["name"] for p in report["pictures"]] == [
        "p.pdf, page 1, picture 1",
        "p.pdf, page 2, picture 1",
    ]
    for picture in report["pictures"]:
        states = {o["rule"]: o["state"] for o in picture["outcomes"]}
        # what its page says of the printing can be read all the same
        assert {states.pop("page-printing"), states.pop("page-inks")} <= {"found", "passed"}
        assert set(states.values()) == {"unmeasured"}
        assert "stands in a tiling pattern" in picture["outcomes"][0]["reason"]
    out = tmp_path / "issue.csv"
    assert main(["list", "from-pages", str(path), "--output", str(out)]) == 2
    assert not out.exists()
