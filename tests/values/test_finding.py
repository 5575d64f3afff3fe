"""A finding tells on which side of its limit the house wants the figure."""

from __future__ import annotations

from typing import Any

import pytest

from pressworthy.values.finding import Bound, Finding
from pressworthy.values.words import file_name


@pytest.mark.parametrize(
    ("limit", "bound", "wanted"),
    [
        (60.0, Bound.LEAST, "at least 60 mm"),
        (60.0, Bound.MOST, "at most 60 mm"),
        (60.0, Bound.EXACTLY, "exactly 60 mm"),
        ((40.0, 60.0), Bound.BETWEEN, "between 40 and 60 mm"),
        ("whole columns", None, "whole columns"),
    ],
)
def test_the_bound_is_told_and_not_guessed(limit: Any, bound: Bound | None, wanted: str) -> None:
    for measured in (10.0, 60.0, 90.0):
        finding = Finding("code", measured, limit, "mm", bound=bound)
        assert finding.in_words()[1] == wanted


@pytest.mark.parametrize(
    ("measured", "limit", "told"),
    [
        (299.72, 300, "299.7 ppi"), (299.96, 300, "299.96 ppi"), (300.0, 300, "300 ppi"),
        (299.4, 300, "299 ppi"), (299.9999, 300, "299.9999 ppi"), (1.501, 1.5, "1.501 ppi"),
    ],
)  # fmt: skip
def test_what_misses_its_limit_never_reads_as_if_it_met_it(
    measured: float, limit: float, told: str
) -> None:
    finding = Finding("code", measured, limit, "ppi", bound=Bound.LEAST)
    assert finding.in_words()[0] == told


@pytest.mark.parametrize(
    ("measured", "limit", "bound"),
    [
        (1.0, 2.0, None),
        (1.0, "words", Bound.MOST),
        ("words", 2.0, Bound.MOST),
        ("words", (1.0, 2.0), None),
        (1.0, (1.0, 2.0), None),
        (1.0, (1.0, 2.0), Bound.MOST),
        (1.0, (1.0, 2.0, 3.0), Bound.BETWEEN),
        (1.0, 2.0, Bound.BETWEEN),
    ],
)
def test_a_bound_that_does_not_fit_is_refused(measured: Any, limit: Any, bound: Any) -> None:
    with pytest.raises(ValueError, match="'code': "):
        Finding("code", measured, limit, bound=bound)


def test_a_files_name_is_told_whatever_system_wrote_its_path() -> None:
    assert file_name("C:\\Users\\a\\rules\\own.py") == "own.py"
    assert file_name("/home/a/rules/own.py") == "own.py"
    assert file_name("own.py") == "own.py"
