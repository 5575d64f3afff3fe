"""Names of copies: what a pattern makes of them, and when two are the same file."""

from __future__ import annotations

from pathlib import Path

import pytest

from pressworthy.prepare.names import Named, collisions, file_key, name_for

FIELDS = {"stem": "pier", "folder": "may", "house": "tide", "page": "12", "size": "", "scale": "2"}


@pytest.mark.parametrize(
    "kind, suffix", [("TIFF", ".tif"), ("JPEG", ".jpg"), ("WebP", ".webp"), ("AVIF", ".avif")]
)
def test_the_suffix_is_that_of_the_format(kind: str, suffix: str) -> None:
    assert name_for("{folder} {stem}", kind, FIELDS) == "may pier" + suffix


def test_what_a_system_forbids_is_not_in_a_name() -> None:
    for character in '/\\:*?"<>|\x00\x1f\x7f':
        named = name_for("{stem}!", "TIFF", {**FIELDS, "stem": f"a{character}b"})
        assert named == "a_b!.tif"
    assert name_for("{stem}", "TIFF", {**FIELDS, "stem": " .a. b. "}) == "a. b.tif"
    assert name_for("{stem}", "TIFF", {**FIELDS, "stem": "XVI X"}) == "XVI X.tif"
    # a field's own braces are no fields
    assert name_for("{stem}", "TIFF", {**FIELDS, "stem": "{page}"}) == "{page}.tif"
    with pytest.raises(ValueError, match="'{stem}' leaves nothing of the name ' .'"):
        name_for("{stem}", "TIFF", {**FIELDS, "stem": " ."})


def test_a_name_has_no_more_bytes_than_a_system_holds() -> None:
    assert len(name_for("{stem}", "TIFF", {**FIELDS, "stem": "é" * 125})) == 129
    for stem in ("é" * 125 + "x", "x" * 251):
        with pytest.raises(ValueError, match=f"{stem[:40]}'... is longer than 250 bytes; rename"):
            name_for("{stem}", "TIFF", {**FIELDS, "stem": stem})
    # bytes that are no text count as they are
    assert name_for("{stem}", "TIFF", {**FIELDS, "stem": "\udce9" * 250}).endswith(".tif")


def test_names_that_some_system_takes_for_one() -> None:
    assert file_key(Path("Stra\u00dfe.tif")) == file_key(Path("STRASSE.tif"))
    assert file_key(Path("caf\u00e9.tif")) == file_key(Path("Cafe\u0301.tif"))
    assert file_key(Path("a/pier.tif")) != file_key(Path("b/pier.tif"))


def test_every_collision_has_its_sentence_and_its_mend() -> None:
    def named(master: str, **fields: str) -> Named:
        return Named(Path(master), Path("out/pier.tif"), {**FIELDS, **fields})

    copies = [named("a/pier.jpg"), named("b/pier.jpg", folder="b"), named("a/pier.jpg", page="14")]
    first, second = collisions(copies, "{stem}")
    assert first == (
        "a/pier.jpg and b/pier.jpg would both become pier.tif; rename one, or put {folder} in the "
        "house's naming pattern"
    )
    assert second == (
        "a/pier.jpg, asked for in two ways, would twice become pier.tif; put {page} in the house's "
        "naming pattern"
    )
    both = [copies[0], named("a/pier.jpg", page="14", size="9x9mm")]
    assert "put {page} or {size} in the" in collisions(both, "{stem}")[0]
    assert collisions(both, "{page} {size}")[0].endswith(
        "; prepare them in two runs, each with another --into"
    )
    apart = [copies[0], Named(Path("a/pier.jpg"), Path("out/mole.tif"), FIELDS)]
    assert collisions(apart, "{stem}") == []
