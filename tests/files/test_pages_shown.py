"""Pictures that a page shows otherwise than their data are stored: read as they show, or told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips
from pdf_shown import CASES, Case

from pressworthy.files.pages import extract, survey


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_what_shows_is_read(case: Case, tmp_path: Path) -> None:
    (one,) = survey(case.write(tmp_path / "p.pdf"))
    if one.placement is None:
        assert case.wanted is None and case.words in one.unseen
        return
    got = extract(one, tmp_path)
    if case.wanted is None:
        assert case.words in got.unread
        return
    assert not got.unread
    assert got.colours == (case.space or got.colours)
    values = pyvips.Image.new_from_file(str(got.path)).numpy()
    values = values.reshape(*case.wanted.shape)
    assert values.dtype == case.wanted.dtype
    channels = {"gray": 1, "RGB": 3, "CMYK": 4}[got.header.mode]
    assert got.header.alpha == (case.wanted.shape[2] > channels)
    off = np.abs(values.astype(int) - case.wanted.astype(int)).max()
    # what a mask rounds, and what a JPEG loses
    assert off <= max(case.near, 1 if got.header.alpha else 0)
