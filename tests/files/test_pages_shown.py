"""Pictures that a page shows otherwise than their data are stored: read as they show, or told."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import pyvips
from pdf_shown import CASES, Case

from pressworthy.files.pages import UnreadPages, extract, survey
from pressworthy.values.finding import Unmeasured


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


def test_garbled_entries_end_in_words(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    odd = (b"0", b"-1", b"99999999999", b"1", b"null", b"/X", b"[]", b"<<>>")
    read = 0
    for case in CASES * 2:
        path = case.write(tmp_path / "p.pdf")
        data = bytearray(path.read_bytes())
        for _ in range(2):
            numbers = [*re.finditer(rb"(?<=[ \[])\d+(?=[ \]])", bytes(data))]
            start, end = numbers[rng.integers(len(numbers))].span()
            data[start:end] = odd[rng.integers(len(odd))]
        path.write_bytes(data)
        try:
            for one in survey(path, "media"):
                read += bool(one.placement and not extract(one, tmp_path).unread)
        except (UnreadPages, Unmeasured) as reason:
            assert str(reason)
    assert 0 < read < 2 * len(CASES)
