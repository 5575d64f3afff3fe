"""What is read of a picture on a page against what poppler's pdftoppm paints of it.

The picture as read, laid on paper, is written plainly on a page of its own; poppler has to paint
both pages alike, and a page whose picture is hidden as bare paper.
"""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import need
from pdf_shown import CASES, PAINT, Case, packed
from pdf_writer import write_pages
from PIL import Image

from pressworthy.files.opening import decode, opaque
from pressworthy.files.pages import extract, survey


def painted(pdf: Path) -> Any:
    """Return what poppler paints in the middle of each point, as int (height, width, 3)."""
    # from four times on poppler paints a picture's pixels as squares
    call = ["pdftoppm", "-r", str(72 * 8), "-singlefile", str(pdf), str(pdf.with_suffix(""))]
    subprocess.run(call, check=True, capture_output=True)
    return np.asarray(Image.open(pdf.with_suffix(".ppm")).convert("RGB"))[4::8, 4::8].astype(int)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_poppler_paints_what_is_read(case: Case, tmp_path: Path) -> None:
    need("pdftoppm")
    (one,) = survey(case.write(tmp_path / "p.pdf"))
    if case.wanted is None:
        if one.unseen:
            assert (painted(tmp_path / "p.pdf") == 255).all()
        return
    got = extract(one, tmp_path)
    read = opaque(decode(got.path), got.header.mode)
    values = np.asarray(read.numpy()).reshape(read.height, read.width, -1)
    depth = 16 if values.dtype == np.uint16 else 8
    space = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}[values.shape[2]]
    plain = {"A": packed(values, space, depth=depth)}
    box = f"/MediaBox [0 0 {read.width} {read.height}]"
    write_pages(tmp_path / "q.pdf", PAINT, plain, page=box)
    off = np.abs(painted(tmp_path / "p.pdf") - painted(tmp_path / "q.pdf"))
    assert off.max() <= max(2, case.near), off.max()
