"""The one reader and the one writer of XMP: what they agree on, and what the reader refuses."""

from __future__ import annotations

from dataclasses import fields

import pytest

from pressworthy.files.metadata import ticket as tickets
from pressworthy.files.metadata import words as wording
from pressworthy.files.metadata import xmp
from pressworthy.files.metadata.packet import largest, packet
from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.metadata.words import FIELDS, Words, read_xmp

HEAD = "".join(f' xmlns:{prefix}="{uri}"' for prefix, uri in xmp.NAMESPACES.items())
TICKET = Ticket(**{field.name: "1.5" for field in fields(Ticket)} | {"supplied": "5.1 50 95"})


def a_packet(body: str, attributes: str = "", start: str = "") -> bytes:
    described = f'<rdf:Description rdf:about=""{attributes}>{body}</rdf:Description>'
    return f"{start}<x:xmpmeta{HEAD}><rdf:RDF>{described}</rdf:RDF></x:xmpmeta>".encode()


def nested(levels: int) -> str:
    inside = "<rdf:Bag><rdf:li>" * levels + "deep" + "</rdf:li></rdf:Bag>" * levels
    return f"<dc:subject>{inside}</dc:subject><dc:creator>A. Maker</dc:creator>"


class TestWhatIsWrittenIsRead:
    @pytest.mark.parametrize("text", ["A. Maker", "a <b> & 'c' \"d\"", "Zoë\nPike\t2", "]]>", "💧"])
    def test_words(self, text: str) -> None:
        words = {name: f"{name} {text}" for name in FIELDS}
        assert read_xmp(xmp.write(wording.properties(words))) == words

    @pytest.mark.parametrize("kind", ["utf-8", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"])
    @pytest.mark.parametrize("mark", ["", "\ufeff", '<?xml version="1.0" encoding="UTF-16"?>'])
    def test_in_every_encoding_that_is_allowed(self, kind: str, mark: str) -> None:
        if kind == "utf-8" and mark:
            return
        written = xmp.write(wording.properties({"creator": "Zoë Łódź"})).decode()
        written = written[written.index("<x:xmpmeta") :] if "<?xml" in mark else written
        packet = (mark + written).encode(kind) + " \n".encode(kind)
        assert read_xmp(packet) == {"creator": "Zoë Łódź"}

    def test_a_ticket(self) -> None:
        assert read_ticket(xmp.write(tickets.properties(TICKET))) == TICKET

    def test_what_xml_cannot_hold_is_marked(self) -> None:
        written = xmp.write(wording.properties({"credit": "a\x00b\ud800c\uffff"}))
        assert read_xmp(written) == {"credit": "a\ufffdb\ufffdc\ufffd"}

    def test_names(self) -> None:
        for name in ("dc:subject", "ticket:ppi", "rdf:li"):
            assert xmp.short(xmp.tag(name)) == name


class TestForms:
    def test_attributes_count_as_elements(self) -> None:
        assert read_xmp(a_packet("", ' photoshop:Credit="The House"')) == {"credit": "The House"}

    def test_lists_and_languages(self) -> None:
        several = "<dc:creator><rdf:Seq><rdf:li>A</rdf:li><rdf:li>B</rdf:li></rdf:Seq></dc:creator>"
        spoken = (
            '<dc:rights><rdf:Alt><rdf:li xml:lang="de">mein</rdf:li>'
            '<rdf:li xml:lang="x-default">mine</rdf:li></rdf:Alt></dc:rights>'
        )
        assert read_xmp(a_packet(several + spoken)) == {"creator": "A; B", "copyright": "mine"}

    def test_an_empty_entry_gives_way_to_the_next(self) -> None:
        again = a_packet("<dc:creator>A. Maker</dc:creator>", ' dc:creator=" "')
        assert read_xmp(again) == {"creator": "A. Maker"}

    def test_what_is_told_of_another_picture_is_not_told_of_this_one(self) -> None:
        other = "<rdf:Description><dc:creator>Another</dc:creator></rdf:Description>"
        inside = a_packet(f"<dc:relation><rdf:Bag><rdf:li>{other}</rdf:li></rdf:Bag></dc:relation>")
        assert read_xmp(inside) == {}


class TestGuards:
    @pytest.mark.parametrize("encoding", ["utf-8", "utf-16-be"])
    def test_no_entities(self, encoding: str) -> None:
        """In UTF-16 the declaration is no run of bytes that a search for it would find."""
        declared = '<!DOCTYPE x [<!ENTITY a "A. Maker">]>'
        body = "<dc:creator>{}</dc:creator>"
        mark = "\ufeff" if encoding == "utf-16-be" else ""
        hostile = a_packet(body.format("&a;"), start=mark + declared).decode().encode(encoding)
        plain = a_packet(body.format("A. Maker"), start=mark).decode().encode(encoding)
        assert read_xmp(hostile) == {}
        assert read_xmp(plain) == {"creator": "A. Maker"}

    def test_no_depth(self) -> None:
        assert read_xmp(a_packet(nested(40))) == {"creator": "A. Maker"}
        for levels in (60, 20_000):
            assert xmp.properties(a_packet(nested(levels))) == []
            assert xmp.is_unread(a_packet(nested(levels)))

    @pytest.mark.parametrize("levels", [1, 40, 60, 20_000])
    def test_no_depth_reaches_the_writer(self, levels: int) -> None:
        master = a_packet(nested(levels))
        assert read_ticket(packet(master, Words(), TICKET, {})) == TICKET
        assert largest(master, ()) == ("" if levels > 40 else xmp.tag("dc:subject"))

    def test_no_size(self) -> None:
        spare = xmp.MOST_PACKET_BYTES - len(a_packet("<dc:creator></dc:creator>"))
        whole = a_packet(f"<dc:creator>{'x' * spare}</dc:creator>")
        assert read_xmp(whole) == {"creator": "x" * spare}
        assert read_xmp(whole + b"\n") == {}
        full = xmp.write(
            [*wording.properties({"caption": "x" * spare}), *tickets.properties(TICKET)]
        )
        assert len(full) > xmp.MOST_PACKET_BYTES and read_ticket(full) is None

    @pytest.mark.parametrize("broken", [b"", b"<", b"\0\0", b"<x/><y/>", b"\xff\xfe<", b"&a;"])
    def test_what_is_not_well_formed_counts_as_absent(self, broken: bytes) -> None:
        assert xmp.properties(broken) == []
