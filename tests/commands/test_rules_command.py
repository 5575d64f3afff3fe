"""The rules: listed and explained."""

from __future__ import annotations

from pathlib import Path

import pytest

from pressworthy.commands.main import main
from pressworthy.plugins import Registry


def test_every_rule_explains_itself(registry: Registry, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "list"]) == 0
    listed = capsys.readouterr().out
    assert main(["rules", "show"]) == 0
    explained = capsys.readouterr().out
    for name, rule in registry.rules.items():
        assert name in listed
        assert f"# {name}" in explained
        assert all(f"`{code}`" in explained for code in rule.codes)
        assert all(f"`{option}`" in explained for option in rule.options)
    assert main(["rules", "show", "nothing"]) == 2


def test_the_reference_page_is_current(capsys: pytest.CaptureFixture[str]) -> None:
    """Made by: pressworthy rules show > docs/rules.md"""
    assert main(["rules", "show"]) == 0
    page = Path(__file__).parents[2] / "docs" / "rules.md"
    assert page.read_text("utf-8") == capsys.readouterr().out
