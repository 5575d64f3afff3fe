"""The page's templates: compiled once for all proofs of a person, and without a disk as well."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment

from pressworthy.report.marked_proof.environment import OWN, _environment


@pytest.fixture(autouse=True)
def as_in_a_new_process() -> None:
    _environment.cache_clear()


def test_templates_are_compiled_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: Any, **__: Any) -> None:
        raise AssertionError("compiled again")

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert _environment(OWN).get_template("page.html")
    assert list(tmp_path.rglob("*.cache"))
    _environment.cache_clear()
    monkeypatch.setattr(Environment, "compile", refused)
    assert _environment(OWN).get_template("page.html")


def test_where_nothing_can_be_kept_they_are_compiled_each_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert _environment(OWN).get_template("page.html")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    _environment.cache_clear()
    made = _environment(OWN)
    (tmp_path / "pressworthy" / "templates").rmdir()
    assert made.get_template("page.html")
