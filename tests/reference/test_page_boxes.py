"""Where pictures stand on a drawn page, against poppler's own drawing of the same pages."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from conftest import need
from numpy.typing import NDArray
from pdf_writer import image, write_pages

from pressworthy.files.pages import PdfPage, drawn, pages_in, survey
from pressworthy.open_proof.issue import read_issue
from pressworthy.open_proof.page_plan import ReadPdf, page_plan
from pressworthy.plugins import Registry

MM = 72 / 25.4
PPI = 144
RED = np.full((40, 60, 3), (230, 20, 30), np.uint8)
TRIM = (60, 50, 460, 640)
BOXES = f"/MediaBox [0 0 520 700] /TrimBox [{' '.join(map(str, TRIM))}]"
CASES = {
    "upright": ("q 150 0 0 100 90 420 cm /A Do Q", BOXES),
    "a page turned": ("q 150 0 0 100 90 420 cm /A Do Q", f"{BOXES} /Rotate 90"),
    "a page turned back": ("q 150 0 0 100 90 420 cm /A Do Q", f"{BOXES} /Rotate 270"),
    "upside down, in a window": (
        "q 150 0 0 100 90 420 cm /A Do Q", f"{BOXES} /Rotate 180 /CropBox [20 30 500 690]",
    ),
    "a picture turned": ("q 0 120 -90 0 300 300 cm /A Do Q", BOXES),
    "mirrored": ("q -150 0 0 100 260 420 cm /A Do Q", BOXES),
    "clipped": ("q 120 450 60 40 re W n 150 0 0 100 90 420 cm /A Do Q", BOXES),
    "beyond the trim": ("q 150 0 0 100 20 600 cm /A Do Q", BOXES),
    "nested": ("q .5 0 0 .5 40 60 cm q 300 0 0 200 200 300 cm /A Do Q Q", BOXES),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_box_lies_where_poppler_and_pdfium_paint_its_picture(
    case: str, tmp_path: Path, registry: Registry
) -> None:
    content, entries = CASES[case]
    pdf = write_pages(tmp_path / "p.pdf", content, {"A": image(RED, "/DeviceRGB")}, page=entries)
    pages = pages_in(pdf)
    read = ReadPdf(pdf, 0.0, pages, survey(pdf))
    (page,) = page_plan(read_issue(tmp_path, registry), [read]).pages
    (box,) = page.boxes
    told = box.left, box.top, box.left + box.width, box.top + box.height

    view, ppi = drawn(pdf, 0, 1200)
    height, width = view.shape[:2]
    size = pages[0].width, pages[0].height
    assert (width, height) == pytest.approx([mm / 25.4 * ppi for mm in size], abs=1.01)
    assert told == pytest.approx(_painted(view, (0, 0, width, height)), abs=1.5 / 600)

    poppler = _by_poppler(pdf, tmp_path)
    around = _trim_in_px(entries, pages[0], poppler.shape)
    assert told == pytest.approx(_painted(poppler, around), abs=2 / 800)


def _painted(view: NDArray[Any], within: tuple[float, float, float, float]) -> list[float]:
    """Return left, top, right, bottom of what is red, as shares of a part of the view."""
    left, top, width, height = within
    part = view[round(top) : round(top + height), round(left) : round(left + width)].astype(int)
    rows, columns = np.where((part[..., 0] > 150) & (part[..., 1] < 120))
    assert len(rows) > 100
    across = columns.min() / width, (columns.max() + 1) / width
    down = rows.min() / height, (rows.max() + 1) / height
    return [across[0], down[0], across[1], down[1]]


def _by_poppler(pdf: Path, folder: Path) -> NDArray[Any]:
    words = [need("pdftocairo"), "-png", "-singlefile", "-r", str(PPI), pdf, folder / "poppler"]
    subprocess.run([str(word) for word in words], check=True, capture_output=True)
    return np.asarray(pyvips.Image.new_from_file(str(folder / "poppler.png")).numpy())


def _trim_in_px(
    entries: str, page: PdfPage, shape: tuple[int, ...]
) -> tuple[float, float, float, float]:
    """Return the trim's left, top, width, height in poppler's drawing of the whole page."""
    scale = PPI / 72
    whole = (20, 30, 500, 690) if "CropBox" in entries and shape[1] == 960 else (0, 0, 520, 700)
    left, bottom = TRIM[0] - whole[0], TRIM[1] - whole[1]
    right, top = whole[2] - TRIM[2], whole[3] - TRIM[3]
    turned = {"90": (bottom, left), "180": (right, bottom), "270": (top, right)}
    angle = entries.partition("/Rotate ")[2].split(" ")[0]
    x, y = turned.get(angle, (left, top))
    return x * scale, y * scale, page.width * MM * scale, page.height * MM * scale
