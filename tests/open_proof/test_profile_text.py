"""A house profile's YAML with one value changed: all else keeps its bytes."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml

from pressworthy.open_proof.profile_text import value_at, with_raw, with_value, without_value
from pressworthy.values.faults import SetupError

FOLDERS = [
    Path(__file__).parents[2] / "demo" / "houses",
    Path(__file__).parents[2] / "profiles" / "pressworthy_profiles",
]
PROFILES = sorted(path for folder in FOLDERS for path in folder.glob("*.yaml"))
SPREAD = ("rules", "luminance", "least spread")
TEXT = """\
# at the top
house: slack  # a name
kind: title

rules:
  luminance:
    # grey weather
    least spread: 25 L*   # stays
    reason: grey

  # of bleed
  bleed: {least: 6 mm, reason: knife}
"""


def leaves(value: object, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    if not isinstance(value, dict):
        return [path]
    return [leaf for key, part in value.items() for leaf in leaves(part, (*path, key))]


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_every_value_of_every_profile_is_changed_alone(path: Path, end: str) -> None:
    text = "\ufeff" + path.read_text("utf-8").replace("\n", end)
    whole = yaml.safe_load(text.removeprefix("\ufeff"))
    draw = random.Random(path.stem)
    all_leaves = leaves(whole)
    for keys in draw.sample(all_leaves, min(8, len(all_leaves))):
        was = value_at(text, keys)
        assert was is not None
        done = with_value(text, keys, "new: words")
        assert value_at(done, keys) == '"new: words"'
        assert with_raw(done, keys, was) == text
        # of all other values not one has changed
        then = yaml.safe_load(done.removeprefix("\ufeff"))
        for other in all_leaves:
            one, two = whole, then
            for key in other:
                one, two = one[key], two[key]
            assert (one == two) is (other != keys)
        assert done.count(end) == text.count(end)


def test_a_ground_stands_above_the_value_and_other_comments_stay() -> None:
    done = with_value(TEXT, SPREAD, "30 L*", "fog\n  is out")
    assert done == TEXT.replace(
        "    least spread: 25 L*   # stays",
        "    #\n    # fog is out\n    least spread: 30 L*   # stays",
    )


@pytest.mark.parametrize(
    ("keys", "value", "added"),
    [
        (("rules", "luminance", "blown"), "4 %", "    # why\n    blown: 4 %\n"),
        (("rules", "luminance", "severity", "dull"), "note",
         "    severity:\n      # why\n      dull: note\n"),
        (("rules", "credit", "severity", "no-credit"), "note",
         "  credit:\n    severity:\n      # why\n      no-credit: note\n"),
        (("output", "ppi"), "250 ppi", "output:\n  # why\n  ppi: 250 ppi\n"),
    ],
)  # fmt: skip
def test_a_value_that_is_not_there_is_added_and_goes_again(
    keys: tuple[str, ...], value: str, added: str
) -> None:
    done = with_value(TEXT, keys, value, "why")
    assert added in done and done.replace(added, "") == TEXT
    assert value_at(done, keys) == value
    assert without_value(done, keys).replace("    # why\n", "") == TEXT


def test_in_the_braces_of_one_line() -> None:
    done = with_value(TEXT, ("rules", "bleed", "least"), "4 mm", "why")
    assert "bleed: {least: 4 mm, reason: knife}" in done and "# why" not in done
    done = with_value(TEXT, ("rules", "bleed", "severity", "thin-bleed"), "note", "why")
    assert "{least: 6 mm, reason: knife, severity: {thin-bleed: note}}" in done
    assert without_value(done, ("rules", "bleed", "severity", "thin-bleed")) == TEXT
    # a section that would hold nothing but its reason goes whole
    assert "bleed:" not in without_value(TEXT, ("rules", "bleed", "least"))


def test_a_file_without_its_last_line_end_and_words_that_yaml_would_misread() -> None:
    text = TEXT.rstrip("\n")
    done = with_value(text, ("output", "ppi"), "250 ppi")
    assert done == text + "\noutput:\n  ppi: 250 ppi\n"
    for words in ("null", "a: b", "#x", "'", '"', "{x}", "é\u2028", "\\", "- a", "*", "&a"):
        done = with_value(TEXT, SPREAD, words)
        assert yaml.safe_load(done)["rules"]["luminance"]["least spread"] == words


@pytest.mark.parametrize("text", ["", "- a\n", "a: [\n", "just words"])
def test_what_is_no_profile_is_not_written_in(text: str) -> None:
    with pytest.raises(SetupError):
        with_value(text, SPREAD, "x")


def test_nothing_is_written_below_a_value() -> None:
    with pytest.raises(SetupError, match="holds no further values"):
        with_value(TEXT, ("house", "x"), "y")
