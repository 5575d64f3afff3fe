"""Decisions on a house profile: pure, into the day-book, taken back, and never over a lock."""

from __future__ import annotations

import shutil
from functools import partial
from pathlib import Path

import pytest
from sheets import HOUSES

from pressworthy.house import load_house, validate_house
from pressworthy.open_proof import day_book, profile_text, standards
from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.journal import Overtaken, patch_of
from pressworthy.open_proof.standards import Draft, drafted, started
from pressworthy.plugins import Registry
from pressworthy.values.faults import KeyPath, SetupError

SPREAD: KeyPath = ("rules", "luminance", "least spread")
CROPPED: KeyPath = ("rules", "resolution", "most cropped")
PPI: KeyPath = ("output", "ppi")


@pytest.fixture
def houses(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HOUSES, tmp_path / "houses"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "issue").mkdir()
    return tmp_path / "issue"


@pytest.fixture
def title(houses: Path) -> Path:
    return houses / "slack-tide.yaml"


def write(
    folder: Path, title: Path, path: KeyPath, text: str, registry: Registry, reason: str = "fog"
) -> Issue:
    """Write a value as the sheet does."""
    draft = partial(drafted, title, path, text, reason, registry, title.parent)
    decision = standards.decided(draft(), path, text, reason, "Ada Quillon", folder)
    return day_book.decide_on_house(folder, decision, draft, registry, title.parent)


def refused(title: Path, path: KeyPath, text: str, registry: Registry) -> list[str]:
    with pytest.raises(SetupError) as caught:
        drafted(title, path, text, "why", registry, title.parent)
    return [fault.message for fault in caught.value.faults]


def test_a_draft_changes_the_house_and_no_file(title: Path, registry: Registry) -> None:
    before = title.read_bytes()
    draft = drafted(title, SPREAD, "31 L*", "", registry, title.parent)
    assert draft.house and draft.house.rules["luminance"].options["least spread"] == 31
    assert title.read_bytes() == before
    assert (
        load_house("slack-tide", registry, title.parent).rules["luminance"].options["least spread"]
        == 25
    )
    # what stands already is no change
    assert drafted(title, SPREAD, "25 L*", "", registry, title.parent).change() == ()


def test_a_value_is_written_with_its_reason_and_taken_back_to_the_byte(
    folder: Path, title: Path, registry: Registry
) -> None:
    before = title.read_bytes()
    issue = write(folder, title, CROPPED, "25 %", registry, "our crops are bold")
    text = title.read_text("utf-8")
    assert "  resolution:\n    most cropped: 25 %\n    reason: our crops are bold\n" in text
    house = load_house("slack-tide", registry, title.parent)
    assert house.rules["resolution"].options["most cropped"] == 25
    (made,) = issue.decisions
    told = "slack-tide.yaml: rules, resolution, most cropped is 25 %: our crops are bold"
    assert standards.in_words(made) == told and made.by == "Ada Quillon"
    day_book.take_back(folder, made.identity, "Ben Oake", registry, title.parent)
    assert title.read_bytes() == before


def test_where_a_section_has_its_reason_the_new_one_is_the_values_ground(
    folder: Path, title: Path, registry: Registry
) -> None:
    write(folder, title, SPREAD, "30 L*", registry, "fog is out")
    text = title.read_text("utf-8")
    assert "    #\n    # fog is out\n    least spread: 30 L*\n    reason: the editor" in text
    assert "# evening and fog are what the magazine is about" in text


def test_a_value_is_taken_back_alone_where_a_hand_has_written_too(
    folder: Path, title: Path, registry: Registry
) -> None:
    first = write(folder, title, SPREAD, "30 L*", registry).decisions[-1]
    second = write(folder, title, CROPPED, "25 %", registry).decisions[-1]
    title.write_text(title.read_text("utf-8") + "# by hand\n", "utf-8")
    day_book.take_back(folder, first.identity, "", registry, title.parent)
    text = title.read_text("utf-8")
    assert "least spread: 25 L*" in text and "25 %" in text and text.endswith("# by hand\n")
    day_book.take_back(folder, second.identity, "", registry, title.parent)
    assert title.read_text("utf-8") == (HOUSES / title.name).read_text("utf-8") + "# by hand\n"


def test_what_was_decided_again_since_is_not_taken_back_over(
    folder: Path, title: Path, registry: Registry
) -> None:
    first = write(folder, title, SPREAD, "30 L*", registry).decisions[-1]
    write(folder, title, SPREAD, "35 L*", registry)
    kept = title.read_bytes()
    with pytest.raises(Overtaken, match="is 35 L\\* now"):
        day_book.take_back(folder, first.identity, "", registry, title.parent)
    assert title.read_bytes() == kept


def test_a_lock_above_is_refused_in_the_words_of_validate(
    title: Path, houses: Path, registry: Registry
) -> None:
    path: KeyPath = ("rules", "credit", "severity", "no-credit")
    (said,) = refused(title, path, "note", registry)
    # the very words of the command
    (houses / "bold.yaml").write_text(
        "house: bold\nkind: title\nstands on: coated-magazine\nabout: x\n"
        "rules:\n  credit:\n    severity:\n      no-credit: note\n    reason: haste\n"
    )
    with pytest.raises(SetupError) as caught:
        validate_house(str(houses / "bold.yaml"), registry, houses)
    assert said in [fault.message for fault in caught.value.faults]
    assert said.startswith("locked by the house at") and said.endswith("house.yaml:9")
    # the house itself may
    house = houses / "house.yaml"
    assert drafted(house, path, "query", "we credit the desk", registry, houses).change()


@pytest.mark.parametrize(
    ("path", "text", "words"),
    [
        (SPREAD, "lots", "is not a quantity: write a number, a space and L*"),
        (SPREAD, "140 L*", "is more than 100 L*"),
        (PPI, "300 dpi", "is not a quantity: write a number, a space and ppi"),
        (("output", "median"), "80 L*, 20 L*", "lies above the lightest"),
        (("output", "condition"), "no-such", "no condition is called"),
        (("rules", "compression", "least quality"), "good", "is not a whole number"),
        (("rules", "colour-mode", "modes"), "RGB, HSV", "is not one of"),
        (("rules", "resolution", "severity", "cropped"), "shout", "is not one of stop"),
        (("rules", "resolution", "nothing"), "1", "no house profile has such a value"),
        (("__class__",), "1", "no house profile has such a value"),
    ],
)
def test_mistakes_are_told_in_the_words_of_validate(
    title: Path, registry: Registry, path: KeyPath, text: str, words: str
) -> None:
    before = title.read_bytes()
    assert any(words in said for said in refused(title, path, text, registry))
    assert title.read_bytes() == before


def test_a_rule_is_left_out_with_its_reason_and_taken_in_again(
    folder: Path, title: Path, registry: Registry
) -> None:
    path: KeyPath = ("rules", "compression", "left out")
    write(folder, title, path, "left out", registry, "all masters are TIFFs")
    house = load_house("slack-tide", registry, title.parent)
    assert house.left_out["compression"] == "all masters are TIFFs"
    write(folder, title, path, "asked", registry, "agencies send JPEGs again")
    assert "compression" in load_house("slack-tide", registry, title.parent).rules


def test_a_reason_is_asked_for(title: Path, folder: Path) -> None:
    for nothing in ("", "  \n "):
        with pytest.raises(SetupError, match="reason: say why"):
            standards.reason_given(nothing)
    with pytest.raises(SetupError, match="longer than"):
        standards.reason_given("x" * 500)


def test_a_title_is_started_that_validate_accepts(
    folder: Path, houses: Path, registry: Registry
) -> None:
    draft = partial(
        started, "low-water", "title", "coated-magazine", 'A yearly: of "mud"', registry, houses
    )
    decision = standards.started_as(draft(), "coated-magazine", "Ada", folder)
    issue = day_book.decide_on_house(folder, decision, draft, registry, houses)
    file = houses / "low-water.yaml"
    house = validate_house(str(file), registry, houses)
    assert house and house.kind == "title" and house.about == 'A yearly: of "mud"'
    assert house.publisher == "Brackwater Press"
    day_book.take_back(folder, issue.decisions[-1].identity, "", registry, houses)
    assert not file.exists()


def test_a_started_title_that_was_written_in_is_not_deleted(
    folder: Path, houses: Path, registry: Registry
) -> None:
    draft = partial(started, "ebb", "title", "newsprint", "A weekly", registry, houses)
    decision = standards.started_as(draft(), "newsprint", "Ada", folder)
    issue = day_book.decide_on_house(folder, decision, draft, registry, houses)
    file = houses / "ebb.yaml"
    write(folder, file, PPI, "180 ppi", registry)
    with pytest.raises(Overtaken, match="was changed since"):
        day_book.take_back(folder, issue.decisions[-1].identity, "", registry, houses)
    assert file.exists()


def test_a_publishers_standard_stands_under_every_output_type(
    tmp_path: Path, registry: Registry
) -> None:
    draft = started("", "standard", "", "Tern Press", registry, tmp_path)
    assert draft.file == tmp_path / "house.yaml" and draft.house is None
    draft.file.write_text(draft.after, "utf-8")
    assert load_house("newsprint", registry, tmp_path).publisher == "Tern Press"


@pytest.mark.parametrize(
    ("name", "parent", "about", "field"),
    [
        ("slack-tide", "newsprint", "x", "name"),
        ("newsprint", "newsprint", "x", "name"),
        ("../up", "newsprint", "x", "name"),
        ("waivers", "newsprint", "x", "name"),
        ("a.b", "newsprint", "x", "name"),
        ("", "newsprint", "x", "name"),
        ("new", "house", "x", "stands on"),
        ("new", "/etc/passwd", "x", "stands on"),
        ("new", "newsprint", " ", "about"),
    ],
)
def test_no_title_is_started_that_could_not_be(
    houses: Path, registry: Registry, name: str, parent: str, about: str, field: str
) -> None:
    with pytest.raises(SetupError) as caught:
        started(name, "title", parent, about, registry, houses)
    assert caught.value.faults[0].path == (field,)


def test_what_a_killed_run_left_of_a_decision_is_finished(
    folder: Path, title: Path, registry: Registry
) -> None:
    draft = drafted(title, SPREAD, "30 L*", "fog", registry, title.parent)
    write(folder, title, SPREAD, "30 L*", registry)
    book = folder / "decisions.jsonl"
    line, _ = book.read_bytes().splitlines(keepends=True)
    for state in (draft.before, draft.after.encode()):
        # killed before the profile was written, and after
        book.write_bytes(line)
        assert state is not None
        title.write_bytes(state)
        issue = day_book.opened(folder, registry, title.parent)
        assert title.read_bytes() == draft.after.encode()
        assert len(issue.decisions) == 1
    # a hand was quicker: it stays as the hand has it
    book.write_bytes(line)
    title.write_text("# mine\n" + (draft.before or b"").decode(), "utf-8")
    issue = day_book.opened(folder, registry, title.parent)
    assert title.read_text("utf-8").startswith("# mine") and not issue.decisions


@pytest.mark.parametrize(
    "name", ["house/../issue.csv", "house//etc/passwd", "house/.hidden.yaml", "house/a\\b.yaml",
             "house/x.csv", "house/"],
)  # fmt: skip
def test_a_day_book_leads_to_no_other_file(folder: Path, houses: Path, name: str) -> None:
    with pytest.raises(SetupError, match="is no house profile"):
        standards.file_of(name, folder, houses)


def test_a_decision_is_taken_back_in_the_folder_it_was_made_in(
    folder: Path, title: Path, registry: Registry, tmp_path: Path
) -> None:
    made = write(folder, title, SPREAD, "30 L*", registry).decisions[-1]
    other = Path(shutil.copytree(title.parent, tmp_path / "other"))
    with pytest.raises(SetupError, match="was decided in"):
        day_book.take_back(folder, made.identity, "", registry, other)


def test_two_at_once_do_not_write_over_each_other(
    folder: Path, title: Path, registry: Registry
) -> None:
    draft = drafted(title, SPREAD, "30 L*", "fog", registry, title.parent)
    decision = standards.decided(draft, SPREAD, "30 L*", "fog", "Ada", folder)

    def late() -> Draft:
        title.write_text(title.read_text("utf-8") + "# a hand\n", "utf-8")
        return draft

    with pytest.raises(Overtaken, match="changed by hand"):
        day_book.decide_on_house(folder, decision, late, registry, title.parent)
    assert title.read_text("utf-8").endswith("# a hand\n")
    assert not day_book.opened(folder, registry, title.parent).decisions


def test_the_day_books_line_names_the_profile_by_the_house(title: Path, registry: Registry) -> None:
    draft = drafted(title, SPREAD, "30 L*", "fog", registry, title.parent)
    (change,) = draft.change()
    assert patch_of(change).file == "house/slack-tide.yaml"
    assert patch_of(change).forth(change.before) == change.after
    assert profile_text.value_at(draft.after, ("house",)) == "slack-tide"
