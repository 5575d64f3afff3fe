"""Reports on pictures with hostile names and words, read as programs read them."""

from __future__ import annotations

import json
import unicodedata
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import hostile
from place import HOUSE, Ran, place


@dataclass
class Form:
    """What came of hostile names in one form of report."""

    name: str
    pictures: int = 0
    faults: list[str] = field(default_factory=list)


def hostile_names() -> list[Form]:
    """Write reports on pictures with hostile names and words; read them as programs do."""
    forms = {name: Form(name) for name in ("text", "json", "lines", "junit", "sarif", "proof")}
    outlines: list[Counter[Any]] = []
    for evil in (True, False):
        with place() as where:
            folder = where.folder / "in"
            count = hostile.write_pictures(folder, evil=evil)
            listed, waived = hostile.write_list(where.folder / "in2", evil=evil)
            sets = (
                (count, (folder,)),
                (len(hostile.WORDS), ("--list", listed, "--waivers", waived)),
            )
            for pictures, asked in sets:
                if evil:
                    for name in ("text", "json", "lines", "junit", "sarif"):
                        ran = where.run("check", *asked, *HOUSE, "--format", name, "--jobs", "1")
                        forms[name].pictures += pictures
                        forms[name].faults += wrong_report(name, ran, pictures)
                into = where.folder / "out"
                ran = where.run("proof", *asked, *HOUSE, "--into", into, "--jobs", "1", "--replace")
                if ran.crashed():
                    forms["proof"].faults.append(ran.err[-1000:])
                    continue
                outlines.append(outline((into / "marked-proof.html").read_text("utf-8")))
                forms["proof"].pictures += pictures if evil else 0
    if len(outlines) == 4:
        for evil_one, plain in zip(outlines[:2], outlines[2:], strict=True):
            if evil_one != plain:
                differ = (evil_one - plain) + (plain - evil_one)
                forms["proof"].faults.append(f"elements differ: {differ.most_common(5)}")
    return list(forms.values())


def wrong_report(name: str, ran: Ran, pictures: int) -> list[str]:
    """Return what is wrong with a report in the form `name` on so many pictures."""
    if ran.crashed():
        return [f"exit {ran.status}: {ran.err[-1000:]}"]
    try:
        if name == "json":
            told = len(json.loads(ran.out)["pictures"])
        elif name == "lines":
            lines = [json.loads(line) for line in ran.out.splitlines()]
            # what is known only at the end comes as a further line for the same picture
            told = len({line["path"] for line in lines if line["kind"] == "picture"})
        elif name == "junit":
            told = len({case.get("classname") for case in ET.fromstring(ran.out).iter("testcase")})
        elif name == "sarif":
            results = json.loads(ran.out)["runs"][0]["results"]
            told = len({json.dumps(one["locations"], sort_keys=True) for one in results})
        else:
            told = pictures
            seen = set(filter(controls, ran.out)) | set(filter(controls, ran.err))
            if seen:
                return [f"control characters: {sorted(map(ascii, seen))}"]
    except (ValueError, KeyError, ET.ParseError) as error:
        return [f"does not parse: {error}"]
    return [] if told == pictures else [f"tells of {told} pictures, not {pictures}"]


def controls(character: str) -> bool:
    """Tell whether a terminal might obey this character, or a reader be misled by it."""
    kind = unicodedata.category(character)
    turns = unicodedata.bidirectional(character) in {
        "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI",
    }  # fmt: skip
    return character != "\n" and (kind in ("Cc", "Zl", "Zp", "Cs") or turns)


def outline(page: str) -> Counter[Any]:
    """Return the page's elements with the names of their attributes, and how many of each."""
    found: Counter[Any] = Counter()

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found[tag, *sorted(name for name, _ in attrs)] += 1

        def handle_comment(self, data: str) -> None:
            found["comment"] += 1

    Reader(convert_charrefs=True).feed(page)
    return found
