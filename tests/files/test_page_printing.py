"""What a page says of its own printing, against other readers and another writer's PDFs."""

from __future__ import annotations

import re
import subprocess
import time
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from conftest import need
from pdf_writer import form, image, stream, write_pages
from PIL import Image
from reportlab.lib.colors import CMYKColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.pages import intended_profile, survey
from pressworthy.files.pages.over import over_on
from pressworthy.files.pages.printing import printing_of
from pressworthy.testing import draw

TRIM = "/MediaBox [0 0 500 700] /TrimBox [50 50 450 650] /BleedBox [41 41 459 659]"
SPACE = "[/ICCBased 4 0 R]"


def run(program: str, *command: object) -> str:
    return subprocess.run(
        [need(program), *map(str, command)], capture_output=True, text=True, check=True
    ).stdout  # fmt: skip


def pages(path: Path, content: str = "q 90 0 0 60 100 100 cm /A Do Q", **more: Any) -> Path:
    objects = {"P": stream("/N 3", rgb_profile("sRGB")), "A": image(draw(60, 40), SPACE)}
    return write_pages(path, content, objects | more.pop("objects", {}), **{"page": TRIM, **more})


def intent(kind: str, name: str, profile: str = "/DestOutputProfile 4 0 R") -> str:
    return f"<< /Type /OutputIntent /S /{kind} /OutputConditionIdentifier ({name}) {profile} >>"


def test_the_printers_intent_counts_before_any_other(tmp_path: Path) -> None:
    both = f"/OutputIntents [{intent('GTS_PDFA1', 'archive')} {intent('GTS_PDFX', 'press')}]"
    pdf = pages(tmp_path / "p.pdf", catalog=both)
    assert printing_of(pdf, 0).intent == "press"
    assert intended_profile(pdf, 0) == rgb_profile("sRGB")
    # a page's own stands before the document's (ISO 32000-2, 14.11.5)
    own = f"{TRIM} /OutputIntents [{intent('GTS_PDFX', 'this page', '')}]"
    pdf = pages(tmp_path / "own.pdf", catalog=both, page=own)
    assert printing_of(pdf, 0).intent == "this page"
    assert intended_profile(pdf, 0) is None
    assert printing_of(pages(tmp_path / "none.pdf"), 0).intent is None


@pytest.mark.parametrize("writer", ["info", "xmp"])
def test_the_version_of_pdf_x_is_the_one_exiftool_reads(tmp_path: Path, writer: str) -> None:
    pdf = pages(tmp_path / "p.pdf")
    assert printing_of(pdf, 0).pdfx == ""
    with pikepdf.open(pdf) as document:
        if writer == "info":
            document.docinfo["/GTS_PDFXVersion"] = "PDF/X-3:2003"
        else:
            with document.open_metadata() as words:
                words["{http://www.npes.org/pdfx/ns/id/}GTS_PDFXVersion"] = "PDF/X-4"
        document.save(tmp_path / "x.pdf")
    told = printing_of(tmp_path / "x.pdf", 0).pdfx
    read = run("exiftool", "-s3", "-GTS_PDFXVersion", tmp_path / "x.pdf").strip()
    assert told == read == {"info": "PDF/X-3:2003", "xmp": "PDF/X-4"}[writer]


def test_boxes_are_those_that_pdfinfo_reads(tmp_path: Path) -> None:
    page = "/MediaBox [0 0 500 700] /TrimBox [50 50 450 650] /BleedBox [60 41 459 709]"
    pdf = pages(tmp_path / "p.pdf", page=page)
    read = {
        name: [*map(float, numbers.split())]
        for name, numbers in re.findall(r"(\w+Box): +([-\d. ]+)", run("pdfinfo", "-box", pdf))
    }
    left = (read["BleedBox"][0] - read["TrimBox"][0]) * 25.4 / 72
    assert printing_of(pdf, 0).astray == f"TrimBox beyond BleedBox, {left:.1f} mm left; " + (
        f"BleedBox beyond MediaBox, {9 * 25.4 / 72:.1f} mm top"
    )
    assert printing_of(pages(tmp_path / "right.pdf"), 0).astray == ""


def test_spot_inks_of_pictures_are_named(tmp_path: Path) -> None:
    tint = "<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 .3 1 0] /N 1 >>"
    many = "/FunctionType 4 /Domain [0 1 0 1 0 1] /Range [0 1 0 1 0 1 0 1]"
    gray, three = draw(60, 40, channels=1), draw(60, 40)
    palette = "<" + "".join(f"{i:02x}" for i in range(256)) + ">"
    objects = {
        "F": stream(many, b"{pop 0 exch 0}"),
        "S": image(gray, f"[/Separation /Gold /DeviceCMYK {tint}]"),
        "N": image(three, "[/DeviceN [/Cyan /Gold /Var#6eish] /DeviceCMYK 6 0 R]"),
        "K": image(gray, f"[/Separation /Black /DeviceCMYK {tint}]"),
        "I": image(gray, f"[/Indexed [/Separation /Gold /DeviceCMYK {tint}] 255 {palette}]"),
    }
    content = "".join(
        f"q 90 0 0 60 100 {100 + 70 * i} cm /{name} Do Q " for i, name in enumerate("ASNKI")
    )
    pdf = pages(tmp_path / "p.pdf", content, objects=objects)
    told = [one.on_page.inks for one in survey(pdf)]
    assert told == [(), ("Gold",), ("Gold", "Varnish"), (), ("Gold",)]
    listed = run("pdfimages", "-list", pdf).splitlines()[2:]
    assert [line.split()[5] for line in listed] == ["icc", "sep", "devn", "sep", "index"]


def test_another_writers_overprint_and_transparency_are_told(tmp_path: Path) -> None:
    picture = ImageReader(Image.fromarray(draw(60, 40)))
    canvas = Canvas(str(tmp_path / "p.pdf"), pagesize=(500, 700))
    for x in (100, 300):
        canvas.drawImage(picture, x, 500, 90, 60)
    canvas.drawImage(picture, 100, 300, 90, 60)
    # over the first: a shape in overprint, and words; over the second: a clear one
    canvas.setFillColor(CMYKColor(0, 0, 0, 1))
    canvas.setFillOverprint(True)
    canvas.rect(150, 520, 200, 5, stroke=0, fill=1)
    canvas.drawString(110, 510, "caption")
    canvas.setFillOverprint(False)
    canvas.setFillAlpha(0.5)
    canvas.rect(310, 540, 20, 30, stroke=0, fill=1)
    canvas.setFillAlpha(1)
    canvas.rect(100, 300, 10, 10, stroke=0, fill=1)
    canvas.save()
    first, second, third = (one.on_page for one in survey(tmp_path / "p.pdf", "media"))
    assert (first.overprint, first.transparency) == ("a shape, text", "")
    assert (second.overprint, second.transparency) == ("a shape", "a shape")
    assert (third.overprint, third.transparency) == ("", "")


def over(path: Path, content: str, **more: Any) -> list[tuple[str, str]]:
    pdf = pages(path, content, **more)
    return [(one.overprint, one.transparency) for one in over_on(pdf, 0, time.monotonic() + 9)]


STATES = (
    "/ExtGState << /O << /OP true >> /C << /ca .5 >> /M << /BM /Multiply >> /N << /BM /Normal "
    "/op false /ca 1 >> /L << /CA .5 >> >>"
)
A = "q 90 0 0 60 100 100 cm /A Do Q "


@pytest.mark.parametrize(
    ("content", "told"),
    [
        # what lies below or beside counts for nothing
        (f"/O gs 100 100 9 9 re f /N gs {A}", ("", "")),
        (f"{A} /O gs 190 100 9 9 re f", ("", "")),
        (f"{A} q /O gs Q 110 110 9 9 re f", ("", "")),
        (f"{A} /O gs 110 110 9 9 re n", ("", "")),
        # a picture's own state
        (f"/O gs {A}", ("the picture itself", "")),
        # fills and strokes have their own
        (f"{A} /L gs 110 110 9 9 re f", ("", "")),
        (f"{A} /L gs 110 110 m 150 150 l S", ("", "a shape")),
        (f"{A} /M gs 110 110 9 9 re f 120 110 9 9 re f", ("", "2 x a shape")),
        (f"{A} /M gs /N gs 110 110 9 9 re f", ("", "")),
        (f"{A} /C gs q .1 0 0 .1 100 100 cm 100 100 90 90 re f Q", ("", "a shape")),
        (f"{A} /O gs BT /F 9 Tf 1 0 0 1 300 300 Tm -190 -190 Td (a) Tj ET", ("text", "")),
        (f"{A} /O gs BT /F 9 Tf 300 300 Td (a) Tj ET", ("", "")),
        (f"{A} /O gs /G Do", ("a shape", "")),
        (f"{A} /C gs /T Do", ("", "a shape")),
        (f"{A} /T Do", ("", "")),
        (f"{A} q 20 0 0 20 110 110 cm /W Do Q", ("", "a picture")),
    ],
)  # fmt: skip
def test_what_lies_over_a_picture(tmp_path: Path, content: str, told: tuple[str, str]) -> None:
    mask = image(np.full((4, 4), 128, np.uint8), "/DeviceGray")
    shape = "10 10 9 9 re f"
    box = "/BBox [0 0 99 99] /Matrix [1 0 0 1 100 100]"
    objects = {
        "G": form(shape, {}, box),
        "T": form(f"/N gs {shape}", {}, f"{box} /Group << /S /Transparency >>"),
        "B": mask,
        "W": image(draw(8, 8), "/DeviceRGB", more="/SMask 8 0 R"),
    }
    assert over(tmp_path / "p.pdf", content, objects=objects, resources=STATES)[0] == told


def test_a_page_without_either_is_not_followed(tmp_path: Path) -> None:
    assert over(tmp_path / "p.pdf", f"{A} 110 110 9 9 re f") == []
    past = time.monotonic() - 1
    assert over_on(tmp_path / "p.pdf", 0, past) == []
