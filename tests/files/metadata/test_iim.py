"""IPTC-IIM as files hold it: bare, in resource blocks, cut short, and passed on to a copy."""

from __future__ import annotations

import struct

import pytest

from pressworthy.files.metadata import iim
from pressworthy.files.metadata.words import read_iim

RECORDS = b"\x1c\x02\x50\x00\x07A. Byer\x1c\x02\x50\x00\x05Other\x1c\x02\x78\x00\x06a mole"
WORDS = {"creator": "A. Byer; Other", "caption": "a mole"}


def test_what_is_passed_on_is_read_again() -> None:
    assert read_iim(RECORDS) == WORDS
    for kind in ("JPEG", "TIFF"):
        assert read_iim(iim.for_copy(RECORDS, kind)) == WORDS
    assert iim.for_copy(RECORDS, "WebP") is None


def test_other_resources_are_passed_over() -> None:
    other = b"8BIM\x03\xed\x01a\0\0\0\x03abc\0"
    block = iim.for_copy(RECORDS, "JPEG")
    assert block
    assert read_iim(block.replace(b"8BIM", other + b"8BIM")) == WORDS
    assert read_iim(other) == {} and iim.for_copy(other, "JPEG") is None


@pytest.mark.parametrize("end", range(0, len(RECORDS), 5))
def test_a_record_that_is_cut_short_is_left_out(end: int) -> None:
    read = read_iim(RECORDS[:end])
    assert read.get("creator") == (
        None if end < 12 else "A. Byer" if end < 22 else "A. Byer; Other"
    )
    assert "caption" not in read
    for kind in ("JPEG", "TIFF"):
        # what fills up the copy's block is not taken for the rest of the text
        assert read_iim(iim.for_copy(RECORDS[:end], kind)) == read


@pytest.mark.parametrize("length, told", [(40_000, True), (40_001, False)])
def test_a_text_beyond_32_kb_is_read_if_it_is_whole(length: int, told: bool) -> None:
    long = b"\x1c\x02\x78\x80\x04" + struct.pack(">I", length) + b"a" * 40_000
    words = {"caption": "a" * 40_000} if told else {}
    assert read_iim(long) == read_iim(iim.for_copy(long, "TIFF")) == words


@pytest.mark.parametrize(
    "charset, name, read",
    [
        (b"\x1b%G", "Jürgen Größe".encode(), "Jürgen Größe"),
        (b"", "Jürgen Größe".encode(), "Jürgen Größe"),
        (b"\x1b.A", "Jürgen Größe".encode("latin-1"), "Jürgen Größe"),
        # in another set these bytes are other letters: no name is better than a wrong one
        (b"", "Jürgen Größe".encode("mac-roman"), None),
        (b"", "Jürgen Größe".encode("latin-1"), None),
        (b"", "Łódź".encode("cp1250"), None),
        (b"", b"A. Byer", "A. Byer"),
    ],
)
def test_no_character_set_is_guessed(charset: bytes, name: bytes, read: str | None) -> None:
    def record(number: int, dataset: int, value: bytes) -> bytes:
        return struct.pack(">BBBH", 0x1C, number, dataset, len(value)) + value

    block = (record(1, 90, charset) if charset else b"") + record(2, 80, name)
    assert read_iim(block).get("creator") == read
