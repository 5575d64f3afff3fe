"""A remedy is a promise: followed word for word it clears its finding and calls up no new stop.

Every code of every rule has a picture here that calls it up. `GRAMMAR` knows what a remedy may
say and how each of its ways is followed; words it does not know fail the test. What only a person
can do, such as to ask a supplier, promises nothing: the codes that say no more stand in `ASKED`.
"""

from __future__ import annotations

import csv
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache, partial
from itertools import product
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
import pytest
import pyvips
from damaged_files import tiff_with
from dead_leaves import as_bytes, dead_leaves, unsharp
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from landscapes import R03, as_space, landscape
from pdf_writer import image, stream, write_pages
from PIL import Image
from skimage import data

import pressworthy_profiles
from pressworthy import jobs
from pressworthy.colour.convert import convert
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.pages import BY_DEFAULT, survey
from pressworthy.files.picture_list import FIELDS, read_list
from pressworthy.house import House
from pressworthy.jobs.gathering import gathered
from pressworthy.jobs.pages import check_pages
from pressworthy.jobs.preparing import prepare_copy
from pressworthy.judge import judge
from pressworthy.plugins import Registry
from pressworthy.prepare import Order
from pressworthy.testing import CREDITED, a_picture, draw, write_picture
from pressworthy.values.finding import Finding, Severity, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Crop, Focus, Placement

CONDITIONS = Path(pressworthy_profiles.__file__).parent / "conditions"
BRIGHT = {"words": CREDITED}
Written = dict[str, Any]


@dataclass
class Desk:
    """A picture on its way to press, as those who work on it see it.

    path, values, written: the file as it came in; cells: of its line in the picture list; beside:
    lines of the other pictures of the list; copy: whether the copy is judged that is made of it;
    kept: a copy that was made of it before and is judged; page: where a page places it, in which
    case no list does; truth: the space it was made in; hands: what a person does when told to.
    """

    folder: Path
    house: House
    registry: Registry
    values: Any
    written: Written
    cells: dict[str, str] = field(default_factory=dict)
    beside: list[dict[str, str]] = field(default_factory=list)
    name: str = "p.tif"
    copy: bool = False
    page: Placement | None = None
    kept: Path | None = None
    truth: str = "sRGB"
    hands: Mapping[str, Callable[[Any], Any]] = field(default_factory=dict)

    @property
    def path(self) -> Path:
        return self.folder / self.name

    def write(self) -> None:
        write_picture(self.path, self.values, **{"words": CREDITED, **self.written})

    def report(self) -> Any:
        """Return what is found once the list is read: of its own picture, or of that one's copy."""
        run = jobs.Run(self.registry, processes=1)
        path = self.kept or self.path
        row = {"picture": path.relative_to(self.folder).as_posix(), **self.cells}
        listed = self.folder / "list.csv"
        with listed.open("w", newline="") as stream:
            writer = csv.DictWriter(stream, FIELDS)
            writer.writeheader()
            writer.writerows([row, *self.beside])
        entries = read_list(listed)
        (tasks,) = jobs.listed(entries, self.house.name).values()
        if self.page:
            picture = a_picture(self.path, output=self.house.output)
            picture = replace(picture, placement=self.page, page_object="page 1")
            return judge(picture, self.house, self.registry.rules)
        if self.copy:
            into = self.folder / "copies"
            into.mkdir(exist_ok=True)
            order = Order(path, into / "copy.tif", tasks[0].request, assume=tasks[0].assume)
            if self.house.output.medium == "screen":
                order = replace(order, target=into / "copy.jpg", scale=2.0)
            return prepare_copy(replace(order, force=True), self.house, run)
        verdicts = (jobs.check_picture(task, self.house, run) for task in tasks)
        report = gathered("check", verdicts, len(tasks), self.house, run)
        waivers = [waiver for entry in entries for waiver in entry.waivers]
        report = jobs.accepted(report, waivers, date.today())
        return next(v for v in report.verdicts if Path(v.path) == path)


@dataclass
class PageDesk(Desk):
    """A picture on the page of a PDF, as whoever makes the page up exports it.

    intent: printing condition that the page is meant for, or ""; boxes: of the page; trim: as
    --trim gives it; space: of the picture; over: content over it, in the graphics state `state`.
    """

    intent: str = "coated"
    named: bool = False
    boxes: str = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680] /BleedBox [11 11 489 689]"
    trim: str = BY_DEFAULT
    space: str = "/DeviceCMYK"
    over: str = ""
    state: str = ""

    def report(self) -> Any:
        """Return what is found in the picture as the page shows it."""
        profile = (CONDITIONS / self.intent / "cmyk.icc").read_bytes() if self.intent else b""
        channels = 4 if self.space == "/DeviceCMYK" else 1
        objects = {
            "P": stream("/N 4", profile),
            "A": image(draw(300, 200, channels=channels) // 2, self.space),
        }
        held = "" if self.named else "/DestOutputProfile 4 0 R"
        intent = f"<< /S /GTS_PDFX /OutputConditionIdentifier (the press) {held} >>"
        pdf = write_pages(
            self.folder / "p.pdf",
            f"q 72 0 0 48 100 100 cm /A Do Q /G gs {self.over}",
            objects,
            page=self.boxes,
            catalog=f"/OutputIntents [{intent}]" if self.intent else "",
            resources=f"/ExtGState << /G << {self.state} >> >>",
        )
        placed = survey(pdf, self.trim)
        run = jobs.Run(self.registry, processes=1)
        return check_pages(placed, (), self.house, run).verdicts[0]


def stops(verdict: Verdict) -> set[str]:
    """Return what keeps a picture from press: findings at severity stop, and rules without one."""
    found = {f"{r}/{f.code}" for r, f in verdict.findings() if f.severity is Severity.STOP}
    return found | {f"{outcome.rule}: {outcome.reason}" for outcome in verdict.unjudged()}


# what a remedy says, and how it is followed

Follow = Callable[[Desk, re.Match[str]], None]


def supply(desk: Desk, told: re.Match[str]) -> None:
    size = int(told["across"]), int(told["down"])
    gray = desk.values.shape[2] == 1
    picture = Image.fromarray(desk.values[..., 0] if gray else desk.values[..., :3])
    larger = np.asarray(picture.resize(size, Image.Resampling.LANCZOS))
    desk.values = larger[..., None] if gray else larger
    desk.write()


def cell(*names: str) -> Follow:
    """Return how the cells of these names are filled with what a remedy's groups say."""

    def fill(desk: Desk, told: re.Match[str]) -> None:
        desk.cells |= {name: told[index] for index, name in enumerate(names, 1)}

    return fill


BOXES = PageDesk.boxes


def exported(**entries: str) -> Follow:
    """Return how a page is exported with these entries."""

    def export(desk: Desk, _: re.Match[str]) -> None:
        for name, value in entries.items():
            assert hasattr(desk, name)
            setattr(desk, name, value)

    return export


def intended(desk: Desk, told: re.Match[str]) -> None:
    assert isinstance(desk, PageDesk)
    desk.intent, desk.named = told[1], False


def agreed(desk: Desk, _: re.Match[str]) -> None:
    setting = desk.house.rules["page-inks"]
    setting = replace(setting, options={"spot inks": ["Gold"]})
    desk.house = replace(desk.house, rules={**desk.house.rules, "page-inks": setting})


def sized(desk: Desk, told: re.Match[str]) -> None:
    desk.cells |= {"width": "40", "height": "30"}


def prepare(desk: Desk, told: re.Match[str]) -> None:
    desk.copy, desk.kept = True, None


def as_tiff(desk: Desk, told: re.Match[str]) -> None:
    section = {**(desk.house.prepare or {}), "format": told[1], "compression": "lzw"}
    desk.house = replace(desk.house, prepare=section)


def prepare_another(desk: Desk, told: re.Match[str]) -> None:
    assert desk.kept is not None
    desk.kept.unlink()
    prepare(desk, told)


def prepare_at(desk: Desk, told: re.Match[str]) -> None:
    prepare(desk, told)
    facts = desk.report().facts
    assert f"{facts['width']} x {facts['height']}" == told["px"]


def by_hand(desk: Desk, told: re.Match[str]) -> None:
    """Edit a copy of the master as told, by the case's own hand."""
    desk.values = desk.hands[told["what"]](desk.values)
    desk.write()
    if desk.kept:
        prepare(desk, told)


def accept(desk: Desk, told: re.Match[str]) -> None:
    desk.cells |= {"waive": told["code"], "reason": "meant", "by": "A. Editor"}
    desk.cells["until"] = "2999-12-31"


def assume(desk: Desk, told: re.Match[str]) -> None:
    desk.cells["assume"] = told.groupdict().get("space") or desk.truth


def assume_all(desk: Desk, told: re.Match[str]) -> None:
    for cells in (desk.cells, *desk.beside):
        cells["assume"] = desk.truth


def write_word(desk: Desk, told: re.Match[str]) -> None:
    words = desk.written.get("words", {})
    desk.written["words"] = {**words, told["word"]: "What the supplier said."}
    desk.write()


def write_words(desk: Desk, told: re.Match[str]) -> None:
    desk.written.pop("fields")
    desk.write()


def set_house(**values: Any) -> Follow:
    def change(desk: Desk, told: re.Match[str]) -> None:
        desk.house = replace(desk.house, prepare={**(desk.house.prepare or {}), **values})

    return change


def take_in_house(option: str) -> Follow:
    def change(desk: Desk, told: re.Match[str]) -> None:
        setting = desk.house.rules["colour-mode"]
        taken = [
            *setting.options[option],
            told["taken"] if option == "modes" else int(told["taken"]),
        ]
        setting = replace(setting, options={**setting.options, option: taken})
        desk.house = replace(desk.house, rules={**desk.house.rules, "colour-mode": setting})

    return change


def rename(desk: Desk, told: re.Match[str]) -> None:
    new = Path(desk.name).with_suffix(told["suffix"]).name
    desk.path.rename(desk.folder / new)
    desk.name = new


def first_alone(desk: Desk, told: re.Match[str]) -> None:
    height = desk.written.pop("fields")["page-height"]
    desk.values = desk.values[:height]
    desk.write()


def no_bleed(desk: Desk, told: re.Match[str]) -> None:
    desk.cells |= {"bleed": "", "edges": ""}


def bleed(desk: Desk, told: re.Match[str]) -> None:
    if desk.page:
        desk.page = replace(desk.page, bleed=float(told["mm"]))
    else:
        desk.cells["bleed"] = told["mm"]


def alike(desk: Desk, told: re.Match[str]) -> None:
    assert desk.page is not None
    height, width = desk.values.shape[:2]
    place = desk.page
    scale = min(width / place.width, height / place.height)
    part = Crop(0, 0, place.width * scale / width, place.height * scale / height)
    desk.page = replace(place, crop=part)


def laid_on_white(desk: Desk, told: re.Match[str]) -> None:
    desk.values = desk.values[..., :3]
    desk.write()


def another_picture(desk: Desk, told: re.Match[str]) -> None:
    desk.values = draw(600, 450, seed=77)
    desk.write()


AGAIN = r"prepare it again from its master, [^,.;:]+?\.(tif|jpg|png)"
MENDED = r"on a copy( of its master, [^,.;]+\.(tif|jpg|png), and prepare that)?"
GRAMMAR: dict[str, Follow | None] = {
    # followed
    r"Move it away and prepare another copy from its master": prepare_another,
    r"Supply (a master of )?at (least|most) (?P<across>\d+) x (?P<down>\d+) px"
    r"( for box and bleed at \d+ ppi)?": supply,
    r"; it takes (a master of )?(?P<across>\d+) x (?P<down>\d+) px": supply,
    r"place it no larger than ([\d.]+) x ([\d.]+) mm": cell("width", "height"),
    rf"For this size ({AGAIN}|prepare a copy): (?P<px>\d+ x \d+) px": prepare_at,
    r"[Pp]repare (it again|another copy) from its master(, [^,.;:]+?\.(tif|jpg|png))?"
    r"(, with --force: without it an edited copy is left as it is)?": prepare,
    r"Prepare a copy(, which leaves them out; ask first whether one is a spot ink|, which "
    r"lays it on white, and look at its edges|, whose pixels stand upright; "
    r"some programs ignore the flag|, whose inks keep to \d+ %|: it is sharpened at "
    r"its final size, as the last step)?": prepare,
    r"If it is, prepare a copy: it is converted for its output": prepare,
    r"If so, prepare a copy, best from the RGB master": prepare,
    r"(Prepare|prepare) a (screen )?copy of at most [\d.]+ kB": prepare,
    r"With ([\d]+ px) x ([\d]+ px) in the list's columns width and height \(or --size\)": cell(
        "width", "height"
    ),
    rf"({AGAIN}|prepare a copy): it then has at most \d+ px": prepare,
    r"Write the size it is to have in the list's columns width and height \(or --size\)": sized,
    r"[Oo]n the page, scale it alike both ways and crop it": alike,
    r"Write (fill) in the list's column fit, so that it is cropped to its box": cell("fit"),
    r"write ([\d. ]+) in the list's column crop, or another crop of the box's shape": cell("crop"),
    r"write the point to crop around in the list's column focus \(or --focus X,Y\); "
    r"(0.5 0.5) is the middle": cell("focus"),
    r"write (no) in the list's column sharpen": cell("sharpen"),
    r"Write ([\d. ]+) in the list's column gray mix: "
    r"(then no such areas merge|it keeps \d+ %)": cell("gray mix"),
    rf"(?P<what>Bring these tones inside|calm those colours|Raise its contrast) "
    rf"{MENDED}": by_hand,
    rf"(?P<what>Lighten the) [^.]+? by \d+ L\* {MENDED}": by_hand,
    r"No mix parts all that merges here, nor does one lighter area: look at it in the proof, and "
    r"print another picture where they must be told apart": None,
    r"No mix keeps so much without merging areas or grain: look at it in the proof, and print "
    r"another picture where its colours tell what matters": None,
    r"accept it: (?P<code>[a-z-]+/[a-z-]+) in the list's column waive": accept,
    r"Ask the supplier which space it was made in, and name that in the list's column "
    r"assume": assume,
    r"Read as sRGB\. Ask which space it was made in, and name it in the list's column "
    r"assume": assume,
    r"Name (?P<space>.+) in the list's column assume once the supplier confirms it": assume,
    r"Ask the supplier before it is converted; to compare, prepare with --assume 'NAME=[^']+'"
    r"( and with --assume 'NAME=[^']+')?, and name the true space in the list's column "
    r"assume": assume,
    r"[Nn]ame the true space in the list's column assume": assume,
    r"Ask the supplier before any of them is converted, and name their space in the list's column "
    r"assume": assume_all,
    r"Ask the supplier for the (?P<word>[a-z]+) and enter it in (its master, [^;]+|the "
    r"file)": write_word,
    r"Ask which is right, and write it into all records of (its master, [^;]+|the "
    r"file)": write_words,
    r"Give the file the suffix of what it is: (?P<suffix>\.[a-z]+)": rename,
    r"Save the picture that is meant as a file of its own; only the first was checked": first_alone,
    r"make the picture not bleed": no_bleed,
    r"Extend the picture (?P<mm>[\d.]+) mm beyond the trim (on the page|by the list's column bleed "
    r"\(or --bleed\))": bleed,
    r"Give one of the pages another picture": another_picture,
    r"Place a prepared copy, opaque and without a mask, and look at its edges": laid_on_white,
    r"Set the amount in the house profile that `pressworthy sharpening` derives":
    # what the shipped profiles hold: tests/reference/test_prepare_amount.py
    set_house(amount=0.91),
    r"Give copies a byte budget of \d+ kB and a lower least quality in the house "
    r"profile": set_house(**{"byte budget": 60.0, "least quality": 1}),
    r"Let the house take (?P<taken>[A-Za-z]+): its copies have it": take_in_house("modes"),
    r"Let the house take (?P<taken>\d+) bits: its copies have them": take_in_house("depths"),
    r"Write ([+-]\d+) in the list's column tone": cell("tone"),
    r"Nothing to do: prepare brings it to L\* \d+ between black and paper": prepare,
    # for a person: nothing is promised
    r"[Aa]sk for a (lighter|darker) picture": None,
    r"Ask for the file before it was sharpened; no softening takes the halos back": None,
    r"Ask for the picture in one of these modes, with its ICC profile": None,
    r"Ask for the original at a depth the house takes; a deeper copy adds nothing": None,
    r"Ask for the original before compression; saving it again at a higher quality is no "
    r"help": None,
    r"Ask for the original; enlarging this one would only blur it": None,
    r"Ask for the unclipped original or another frame; nothing brings lost tones back": None,
    r"Ask for it as it was taken": None,
    r"Ask for the file again: this one was damaged on its way, or where it lay": None,
    r"Ask for the RGB master, and the printer for an ICC profile that keeps to the limit": None,
    r"[Aa]sk the supplier to save it again with the ICC profile it was made in": None,
    r"Export the page with its pictures' ICC profiles, or with the printer's output intent": None,
    r"Have copies written as (TIFF) by the house profile": as_tiff,
    r"Supply a master of at least \d+ px on its long edge(, place it as large)?": None,
    r"Nothing to do: a person vouches for it in the list's column assume": None,
    r"Soft or enlarged: look at it at full size": None,
    r"Is it out of focus, meant to be soft, or blown up\?": None,
    r"Use it for what it was made for": None,
    r"Export the PDF anew with the ICC profile of (\S+) as its output intent": intended,
    r"Export the PDF with a TrimBox": exported(boxes=BOXES),
    r"say where it is cut by --trim": exported(trim="media"),
    r"Export the PDF with its TrimBox inside its BleedBox, and both inside its MediaBox": exported(
        boxes=BOXES
    ),
    r"Place a copy in process inks": exported(space="/DeviceCMYK"),
    r"list the ink under spot inks in the house profile once the printer has agreed to it": agreed,
    r"export the page without overprint": exported(state="/OP false"),
    r"take what lies over it away": exported(over=""),
}
TOLD = (
    r"Measured on \d+ edges(, \d+% of them clipped on both sides: probably over-sharpened)?\.",
    r"It has about \d+ x \d+ px of its own(, \d+ ppi as placed)?\.",
    r"Its detail would fit into \d+ x \d+ px, give or take a fifth\.",
    r"Mostly [^.]+, in dots (under|over) [\d.]+ %\.",
    r"the printer knows which dots the press holds\.",
    r"\d+ % moves visibly, by more than [\d.]+ dE00, mostly [^;]+; the 95th percentile is [\d.]+ "
    r"dE00\. Look at the soft proof",
    r"[\d.]+ % of the picture is over the limit; the 99\.9th percentile is [\d.]+ %\.",
    r"Its ICC profile is [^;]+; the page is [^.]+\.",
    r"Its median prints at L\* \d+"
    r"(; its master is at L\* \d+, "
    r"(left as supplied|hardly (lifted|lowered)|(lifted|lowered) by \d+))?\.",
    r"(On screen it|Its master) spans L\* \d+; this paper leaves \d+\.",
    r"[a-z ]+ \([a-z ]+\) and [a-z ]+ \([a-z ]+\) differ by \d+ dE00 in colour\.",
    r"No mix parts all that merges\.",
    r"\d+ ppi across, \d+ ppi down:",
    r"Say what matters in it:",
    r"Use it no more:",
    r"Tagged .*?\.(?= Ask the supplier)",
    r"\d+ pictures of this folder are tagged [^;]+; together they look most like [^.]+\.",
    r"Ask first whether that profile is true; to compare, prepare with --assume 'NAME=sRGB'\.",
    r"Ask first whether its inks were mixed for that\.",
    r"It is so of (page \S+|\d+ pages from \S+ on)\.",
    r"Its output intent is [^.]+\.",
    r"Look at it on the proof; if it is not meant,",
    r"for this size",
    r"For this page",
)
"""What is told beside: figures and grounds."""

JOINTS = (r",? or ", r" ?Or ", r"\.? If not, ", r" ?If it came so from the camera, ")
"""What parts two ways; anything else adds to each."""


def ways(remedy: str) -> list[list[tuple[Follow | None, re.Match[str]]]]:
    """Return the ways that a remedy offers, each step by step. Fails on words it does not know."""
    groups: list[list[tuple[Follow | None, re.Match[str]]]] = []
    rest, another = remedy, False
    while rest:
        if joint := next((m for j in JOINTS if (m := re.match(j, rest))), None):
            rest, another = rest[joint.end() :], True
            continue
        if told := next((m for t in TOLD if (m := re.match(t, rest))), None):
            rest = rest[told.end() :]
            continue
        known = ((follow, re.match(words, rest)) for words, follow in GRAMMAR.items())
        step = next(((follow, m) for follow, m in known if m), None)
        if step is None:
            between = re.match(r"[;,.:]? ?(then |and )?", rest)
            assert between and between.end(), f"words that nobody knows to follow: {rest!r}"
            rest = rest[between.end() :]
            continue
        if another:
            groups[-1].append(step)
        else:
            groups.append([step])
        rest, another = rest[step[1].end() :], False
    return [list(way) for way in product(*groups)]


# the pictures


def flat(*values: int, size: int = 384) -> Any:
    return np.full((size, size, len(values)), values, np.uint8)


def part(values: Any, rows: slice, *colour: int) -> Any:
    values = values.copy()
    values[rows] = colour
    return values


def ranged(values: Any) -> Any:
    """Bring all tones between L* 25 and 85 or so, and inks under 90 %."""
    if values.shape[2] == 4:
        return np.minimum(values, 229)
    return (60 + values * 0.6).astype(np.uint8)


def contrasty(values: Any) -> Any:
    return np.clip((values.astype(float) - 126) * 6 + 126, 0, 255).astype(np.uint8)


def calm(values: Any) -> Any:
    grey = values.mean(axis=2, keepdims=True)
    return (grey + 0.3 * (values - grey)).astype(np.uint8)


def lighter_first(values: Any) -> Any:
    values = values.copy()
    values[:, : values.shape[1] // 2] = (250, 235, 230)
    return values


HANDS = {
    "Bring these tones inside": ranged,
    "calm those colours": calm,
    "Raise its contrast": contrasty,
    "Lighten the": lighter_first,
}
COFFEE = data.coffee()
CHELSEA = data.chelsea()
LARGER_THAN_CHELSEA = {"width": "158.75", "height": "105.6"}
"""600 CSS px, which is a third more than the pixels it has."""
ASTRONAUT = data.astronaut()
SRGB_EXIF = {"exif-ifd2-ColorSpace": "1 (sRGB, Short, 1 components, 2 bytes)"}
ARTIST = {"exif-ifd0-Artist": "B. Other (B. Other, ASCII, 9 components, 9 bytes)"}
BLEEDING = {"width": "40", "height": "30", "bleed": "3"}
SCENE = {"seed": 7, "blur": 0.6, "noise": 1.0}
NATIVE = {"seed": 21, "blur": 0.5, "noise": 1.5, "smallest": 3}


def enlarged(factor: int) -> Any:
    native = as_bytes(dead_leaves(1024, 768, **NATIVE))[: 768 // factor, : 1024 // factor]
    size = (1024 // factor * factor, 768 // factor * factor)
    return np.asarray(Image.fromarray(native).resize(size))


@cache
def scene(space: str, seed: int = 1, vivid: float = 1.0) -> Any:
    return as_space(landscape(seed, vivid), space)


def shown(values: Any) -> Any:
    """Return pixels; some are drawn only where they are asked for."""
    return values() if callable(values) else values


def two_tone(first: Any, second: Any) -> Any:
    values = flat(*first, size=96)
    values[:, 48:] = second
    return values


def chequered() -> Any:
    values = flat(200, 125, 106, size=192)
    values[np.add.outer(np.arange(192) // 8, np.arange(192) // 8) % 2 == 1] = (108, 156, 104)
    return values


def with_jfif(whole: bytes) -> bytes:
    """Return a JPEG of EXIF alone with JFIF's head too, of 72 ppi (ITU-T T.871)."""
    return whole[:2] + b"\xff\xe0\0\x10JFIF\0\1\1\1\0\x48\0\x48\0\0" + whole[2:]


DRAWN = draw()
LINES = np.where(draw(channels=1) > 128, np.uint8(255), np.uint8(0))
TRANSPARENT = np.concatenate([draw(), np.full((480, 640, 1), 255, np.uint8)], axis=2)
MASTERS: dict[str, list[dict[str, Any]]] = {
    "bleed/short-bleed": [
        {"values": draw(472, 354), "cells": BLEEDING},
        {"values": CHELSEA, "cells": {"width": "38", "height": "25", "bleed": "3", "edges": "top"}},
    ],
    "bleed/thin-bleed": [
        {"values": draw(543, 425), "cells": {**BLEEDING, "bleed": "2"}},
        {"values": draw(520, 402), "cells": {**BLEEDING, "bleed": "2"}},
        {"values": CHELSEA, "cells": {"width": "30", "height": "19", "bleed": "1"}},
    ],
    "colour-mode/wrong-mode": [
        {"values": draw(channels=1), "written": {"mode": "gray"}, "house": "only RGB"},
    ],
    "colour-mode/wrong-depth": [{"values": draw(depth=16), "house": "only RGB"}],
    "colour-mode/transparent": [
        {"values": TRANSPARENT, "name": "p.png"},
        {"values": TRANSPARENT, "page": Placement(40, 30, exact=True)},
    ],
    "colour-mode/extra-channels": [
        {"spoil": lambda whole: tiff_with(whole, 338, [0]), "values": TRANSPARENT}
    ],
    "colour-mode/turned-by-flag": [{"name": "p.jpg", "written": {"fields": {"orientation": 8}}}],
    "colour-mode/several-pages": [
        {"values": partial(draw, 640, 960), "written": {"fields": {"page-height": 480}}}
    ],
    "colour-mode/misnamed": [{"name": "p.jpg", "as": "p.tif"}],
    "compression/low-quality": [{"name": "p.jpg", "written": {"Q": 70}}],
    "compression/blocks": [{"name": "p.jpg", "written": {"Q": 12}}],
    **{
        f"credit/no-{word}": [{"written": {"words": {**CREDITED, word: ""}}}] for word in CREDITED
    },
    "credit/no-source": [{"house": "wants a source"}],
    "credit/fields-disagree": [{"name": "p.jpg", "written": {"fields": ARTIST}}],
    "file-weight/too-heavy": [
        {"values": partial(draw, 1200, 900), "name": "p.jpg", "written": {"Q": 98},
         "house": "screen"},
    ],
    "file-weight/too-wide": [
        {"values": partial(draw, 2700, 300), "house": "screen"},
        {"values": partial(draw, 300, 2700), "house": "screen"},
    ],
    "file-weight/too-small": [
        {"values": CHELSEA, "house": "screen"},
        {"values": CHELSEA, "house": "screen", "cells": LARGER_THAN_CHELSEA},
    ],
    "gamut/out-of-gamut": [{"values": part(draw(), slice(0, 160), 0, 0, 255)}],
    "gamut/far-out-of-gamut": [{"values": part(draw(), slice(0, 160), 0, 0, 255)}],
    "grayscale/merging-areas": [
        {"values": two_tone((200, 125, 106), (0, 161, 165)), "house": "mono"},
        {"values": two_tone((127, 127, 127), (180, 111, 95)), "house": "mono"},
    ],
    "grayscale/weak-separation": [{"values": chequered(), "house": "mono"}],
    "icc-profile/missing": [
        {"written": {"icc": None}},
        {"values": draw(channels=1), "written": {"mode": "gray", "icc": None}},
    ],
    "icc-profile/missing-but-stated": [
        {"name": "p.jpg", "written": {"icc": None, "fields": SRGB_EXIF}}
    ],
    "icc-profile/damaged": [{"name": "p.jpg", "icc": lambda whole: whole[:200]}],
    "icc-profile/wrong-class": [
        {"name": "p.jpg", "icc": lambda whole: whole[:12] + b"link" + whole[16:]}
    ],
    "icc-profile/wrong-space": [
        {"name": "p.jpg", "icc": lambda whole: whole[:16] + b"GRAY" + whole[20:]}
    ],
    "icc-profile/unusual-space": [{"written": {"icc": "ROMM RGB"}}],
    "icc-profile/vouched-for": [{"cells": {"assume": "opRGB"}}],
    "icc-profile/contradicts-exif": [
        {"name": "p.jpg", "written": {"icc": "opRGB", "fields": SRGB_EXIF}}
    ],
    "line-art/too-few-pixels": [
        {"values": LINES, "cells": {"width": "40", "height": "30"},
         "written": {"mode": "gray", "icc": None, "bitdepth": 1}},
    ],
    "line-art/too-many-pixels": [
        {"values": LINES, "cells": {"width": "6", "height": "4.5"},
         "written": {"mode": "gray", "icc": None, "bitdepth": 1}},
    ],
    "luminance/too-dark": [{"values": (draw() * 0.28).astype(np.uint8)}],
    "luminance/too-light": [{"values": (255 - (255 - draw()) * 0.4).astype(np.uint8)}],
    "luminance/mended-on-copy": [{"values": (draw() * 0.34).astype(np.uint8)}],
    "luminance/dull": [{"values": (110 + draw() * 0.12).astype(np.uint8)}],
    "luminance/blown-highlights": [{"values": part(draw(), slice(0, 60), 255, 255, 255)}],
    "luminance/blocked-shadows": [{"values": part(draw(), slice(0, 60), 0, 0, 0)}],
    "read-whole/damaged": [
        {"name": "p.jpg", "spoil": lambda whole: whole[: len(whole) // 2] + b"\xff\xd9"}
    ],
    "resolution/too-few-pixels": [
        {"values": COFFEE, "cells": {"width": "120", "height": "80"}},
        {"values": COFFEE, "cells": {"width": "120", "height": "80", "bleed": "3"}},
        {"values": draw(300, 40), "cells": {"width": "30", "height": "9", "bleed": "3"}},
    ],
    "resolution/too-many-pixels": [
        {"values": COFFEE, "cells": {"width": "30", "height": "20"}},
        {"values": COFFEE, "cells": {"width": "20", "height": "20", "bleed": "3"}},
    ],
    "resolution/distorted": [
        {"values": COFFEE, "cells": {"width": "30", "height": "30", "fit": "stretch"}},
        {"values": COFFEE, "page": Placement(30, 30, exact=True)},
    ],
    "resolution/resolutions-disagree": [{"name": "p.jpg", "spoil": with_jfif}],
    "resolution/cropped": [
        {"values": COFFEE, "cells": {"width": "30", "height": "30"}},
        {"values": COFFEE, "cells": {"width": "30", "height": "30", "crop": "0.1 0 0.853 1"}},
    ],
    "sharpening/already-sharpened": [
        {"values": lambda: as_bytes(unsharp(dead_leaves(**SCENE), 2.0, 1.5))}
    ],
    "sharpening/probably-sharpened": [{"values": lambda: as_bytes(unsharp(COFFEE, 2.0, 2.5))}],
    "sharpening/not-sharpened": [
        {"values": lambda: as_bytes(dead_leaves(**SCENE)), "house": "takes finished pictures"}
    ],
    "sharpening/over-sharpened": [
        {"values": lambda: as_bytes(unsharp(dead_leaves(**SCENE), 3.0, 4.0))}
    ],
    "source-profile/wrong": [
        {"values": partial(scene, "opRGB"), "name": "p.jpg", "truth": "opRGB",
         "written": {"fields": R03, "Q": 95}},
    ],
    "source-profile/unlikely": [
        {"values": partial(scene, "ROMM RGB"), "truth": "ROMM RGB"}
    ],
    "source-profile/doubtful": [
        {"values": partial(scene, "opRGB", 1, 1.5), "truth": "opRGB"}
    ],
    "source-profile/untagged": [
        {"values": partial(scene, "sRGB"), "written": {"icc": None}}
    ],
    "tone-range/lost-highlights": [
        {"values": part(draw(), slice(0, 100), 240, 240, 240), "house": "newsprint"}
    ],
    "true-resolution/enlarged": [
        {"values": partial(enlarged, 3), "name": "p.png",
         "cells": {"width": "86.7", "height": "65"}},
        {"values": partial(enlarged, 3), "name": "p.png",
         "cells": {"width": "80", "height": "58", "bleed": "3"}},
    ],
    "true-resolution/enlarged-but-enough": [
        {"values": partial(enlarged, 3), "name": "p.png", "cells": {"width": "28", "height": "21"}}
    ],
    "true-resolution/ends-early": [
        {"values": lambda: as_bytes(dead_leaves(768, 576, seed=22, blur=1.3, noise=1.0))}
    ],
}  # fmt: skip
"""Code -> masters that call it up."""


SETS: dict[str, list[dict[str, Any]]] = {
    "printed-twice/on-two-pages": [
        {"cells": {"page": "1"}, "beside": [({"picture": "q.tif", "page": "2"}, draw())]}
    ],
    "source-profile/delivery-wrong": [
        {"values": partial(scene, "ROMM RGB", 1), "truth": "ROMM RGB", "beside": [
            ({"picture": f"{n}.tif"}, partial(scene, "ROMM RGB", n)) for n in range(2, 7)
        ]}
    ],
    "source-profile/delivery-doubtful": [
        {"values": partial(scene, "Display P3", 1, 1.5), "truth": "Display P3", "beside": [
            ({"picture": f"{n}.tif"}, partial(scene, "Display P3", n, 1.5))
            for n in range(2, 7)
        ]}
    ],
    "source-profile/odd-one-out": [
        {"values": partial(scene, "sRGB", 3, 0.6), "written": {"icc": "ROMM RGB"}, "beside": [
            ({"picture": f"{n}.tif"}, partial(scene, "sRGB", n, 1.3)) for n in range(4, 10)
        ]}
    ],
}  # fmt: skip
"""Code -> pictures that call it up among others."""


HEAVY = part(flat(40, 40, 40, 0), slice(0, 40), 250, 240, 230, 220)
SPECK = part(flat(40, 40, 40, 0), slice(0, 1), 40, 40, 40, 0)
SPECK[0, :40] = (250, 240, 230, 220)
FILLING = part(flat(40, 40, 40, 0), slice(0, 60), 0, 0, 0, 249)
INKS: dict[str, list[dict[str, Any]]] = {
    "tone-range/lost-shadows": [
        {"values": FILLING, "written": {"mode": "CMYK"}, "profile of": "coated-magazine"}
    ],
    "foreign-condition/foreign-condition": [{"values": COFFEE, "inks of": "newsprint"}],
    "ink/too-much-ink": [
        {"values": HEAVY, "written": {"mode": "CMYK"}, "profile of": "coated-magazine"},
        {"values": HEAVY, "written": {"mode": "CMYK", "icc": None}},
    ],
    "ink/specks-of-ink": [
        {"values": SPECK, "written": {"mode": "CMYK"}, "profile of": "coated-magazine"}
    ],
}


GOLD = "[/Separation /Gold /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] "
GOLD += "/C1 [0 .3 1 0] /N 1 >>]"
OVER = "110 110 20 20 re f"
UNCUT = "/MediaBox [0 0 500 700]"
PAGES: dict[str, list[dict[str, str]]] = {
    "page-printing/other-intent": [{"intent": "newsprint"}, {"intent": "uncoated"}],
    "page-printing/named-intent": [{"named": "yes"}],
    "page-printing/no-intent": [{"intent": ""}],
    "page-printing/no-trim-box": [{"boxes": UNCUT}],
    "page-printing/boxes-astray": [
        {"boxes": f"{UNCUT} /TrimBox [20 20 510 680]"},
        {"boxes": f"{UNCUT} /TrimBox [20 20 480 680] /BleedBox [30 11 489 689]"},
    ],
    "page-inks/spot-ink": [{"space": GOLD}],
    "page-inks/overprint": [{"over": OVER, "state": "/OP true"}],
    "page-inks/transparency": [{"over": OVER, "state": "/ca .5"}],
}
"""Code -> pages that call it up."""


PLACED = {"width": "30", "height": "22.5"}


@dataclass(frozen=True)
class Misused:
    """A prepared copy that is wrong where it stands.

    made: cells of the list when it was made; then: what became of it; cells: of the list now.
    """

    made: dict[str, str] = field(default_factory=lambda: dict(PLACED))
    then: Callable[[Desk], None] = lambda desk: None
    cells: dict[str, str] = field(default_factory=lambda: dict(PLACED))
    values: Any = None
    house: str = "coated-magazine"
    now: str = ""
    amount: float | None = None


def change_master(desk: Desk) -> None:
    desk.values = draw(600, 450, seed=5)
    desk.write()


@cache
def plate() -> Any:
    return draw(600, 450)


def texture() -> Any:
    return as_bytes(dead_leaves(seed=3, smallest=4))


def edit(desk: Desk) -> None:
    _retouch(desk, lambda values: values // 2 + 40)


def _retouch(desk: Desk, hand: Callable[[Any], Any]) -> None:
    assert desk.kept is not None
    image = pyvips.Image.new_from_file(str(desk.kept))
    edited = pyvips.Image.new_from_memory(
        hand(image.numpy()).astype(np.uint8).tobytes(), image.width, image.height, image.bands,
        "uchar",
    ).copy(interpretation=image.interpretation, xres=image.xres, yres=image.yres)  # fmt: skip
    for name in ("icc-profile-data", "xmp-data"):
        if image.get_typeof(name):
            edited.set_type(pyvips.GValue.blob_type, name, image.get(name))
    kept = desk.kept.with_name(f"edited{desk.kept.suffix}")
    edited.write_to_file(str(kept))
    kept.replace(desk.kept)


def without_profile(desk: Desk) -> None:
    assert desk.kept is not None
    image = pyvips.Image.new_from_file(str(desk.kept)).copy_memory()
    image.remove("icc-profile-data")
    image.write_to_file(str(desk.kept))


def tear_ticket(desk: Desk) -> None:
    assert desk.kept is not None
    data = desk.kept.read_bytes()
    assert b"made_by" in data
    desk.kept.write_bytes(data.replace(b"made_by", b"made_at"))


NIGHT = np.random.default_rng(1).integers(0, 60, (450, 600, 3), np.uint8)
LEAVES = {"width": "65", "height": "48.8"}
COPIES: dict[str, list[Misused]] = {
    "prepared-copy/other-size": [Misused(cells={"width": "25", "height": "18.8"})],
    "prepared-copy/other-output": [Misused(house="newsprint", now="coated-magazine")],
    "prepared-copy/master-changed": [Misused(then=change_master)],
    "prepared-copy/edited-after-sharpening": [Misused(then=edit)],
    "prepared-copy/damaged-ticket": [Misused(then=tear_ticket)],
    "foreign-condition/foreign-condition": [Misused(house="newsprint", now="coated-magazine")],
    "acutance/soft-in-print": [Misused(values=texture, made=LEAVES, cells=LEAVES, amount=0)],
    "acutance/harsh-in-print": [Misused(values=texture, made=LEAVES, cells=LEAVES, amount=2)],
    "resolution/too-few-pixels": [
        Misused(cells={"width": "60", "height": "45"}),
        Misused(made={**PLACED, "bleed": "3"}, cells={"width": "45", "height": "34", "bleed": "3"}),
    ],
    "resolution/too-many-pixels": [Misused(cells={"width": "15", "height": "11.3"})],
    "resolution/distorted": [
        Misused(made={"width": "30", "height": "30", "fit": "stretch"},
                cells={"width": "30", "height": "30"}),
    ],
    "bleed/short-bleed": [Misused(cells={**PLACED, "bleed": "3"})],
    "bleed/thin-bleed": [Misused(made={**PLACED, "bleed": "2"}, cells={**PLACED, "bleed": "2"})],
    "icc-profile/missing": [Misused(then=without_profile)],
    "luminance/dull": [Misused(values=lambda: (110 + plate() * 0.12).astype(np.uint8))],
    "luminance/too-dark": [Misused(values=lambda: plate() // 4)],
    "luminance/too-light": [Misused(values=lambda: 248 + plate() // 40)],
    "luminance/dark-as-meant": [
        Misused(values=lambda: part(plate() // 7, slice(0, 75), 230, 230, 230))
    ],
    "luminance/light-as-meant": [
        Misused(values=lambda: part(248 + plate() // 40, slice(0, 150), 20, 20, 20))
    ],
    "ink/too-much-ink": [
        Misused(then=lambda desk: _retouch(desk, lambda v: v // 2 + 120)),
        Misused(values=NIGHT, house="writes JPEG"),
    ],
    "credit/no-source": [Misused(now="wants a source")],
    "file-weight/too-heavy": [
        Misused(values=np.random.default_rng(1).integers(0, 255, (900, 1200, 3), np.uint8),
                made={}, cells={}, house="screen"),
    ],
    "file-weight/too-small": [
        Misused(values=CHELSEA, made={}, cells={}, house="screen"),
        Misused(values=CHELSEA, made={}, cells=LARGER_THAN_CHELSEA, house="screen"),
    ],
    "colour-mode/wrong-mode": [Misused(house="only RGB")],
}  # fmt: skip
"""Code -> prepared copies that call it up."""


@pytest.fixture
def desk(
    tmp_path: Path, houses: dict[str, House], registry: Registry
) -> Callable[[dict[str, Any]], Desk]:
    def option(house: House, rule: str, **options: Any) -> House:
        setting = house.rules[rule]
        setting = replace(setting, options={**setting.options, **options})
        return replace(house, rules={**house.rules, rule: setting})

    coated = houses["coated-magazine"]
    named = {
        **houses,
        "only RGB": option(coated, "colour-mode", modes=["RGB"], depths=[8]),
        "wants a source": option(coated, "credit", required=["source"]),
        "writes JPEG": replace(
            coated, prepare={**(coated.prepare or {}), "format": "JPEG", "quality": 75}
        ),
        "takes finished pictures": option(coated, "sharpening", supplied="finished"),
    }
    count = iter(range(1000))

    def place(case: dict[str, Any]) -> Desk:
        folder = tmp_path / str(next(count))
        folder.mkdir()
        known = {key: case[key] for key in ("page", "truth") if key in case}
        one = Desk(
            folder, named[case.get("house", "coated-magazine")], registry,
            shown(case.get("values", DRAWN)),
            dict(case.get("written", {})), dict(case.get("cells", {})),
            hands=HANDS, name=case.get("as", case.get("name", "p.tif")), **known,
        )  # fmt: skip
        if name := case.get("inks of", case.get("profile of")):
            target = houses[name].output.condition.profiles["cmyk"]
            one.written |= {"mode": "CMYK", "icc": target.read_bytes()}
            if "inks of" in case:
                one.values = (convert(one.values, "RGB", "srgb", target) >> 8).astype(np.uint8)
        one.write()
        if "as" in case:
            one.path.rename(folder / case["name"])
            one.name = case["name"]
        for row, values in case.get("beside", ()):
            write_picture(folder / row["picture"], shown(values), words=CREDITED)
            one.beside.append(dict(row))
        if "spoil" in case:
            one.path.write_bytes(case["spoil"](one.path.read_bytes()))
        if "icc" in case:  # libvips will not write such files
            Image.fromarray(one.values).save(
                one.path, quality=95, icc_profile=case["icc"](rgb_profile("sRGB"))
            )
        return one

    return place


def keeps_its_promise(again: Callable[[], Desk], code: str) -> bool:
    """Follow every way of the finding's remedy, each from the start; tell whether there is one."""
    desk = again()
    before = desk.report()
    told = {f"{rule}/{one.code}": one for rule, one in before.findings()}
    assert code in told, f"the picture calls up {sorted(told)}"
    promised = [way for way in ways(told[code].remedy) if all(follow for follow, _ in way)]
    for number, way in enumerate(promised):
        desk = again() if number else desk
        for follow, words in way:
            assert follow is not None
            follow(desk, words)
        after = desk.report()
        steps = "; ".join(words[0] for _, words in way)
        left = {f"{rule}/{finding.code}" for rule, finding in after.findings()}
        assert code not in left, f"{steps}: does not clear {code}"
        assert stops(after) <= stops(before), f"{steps}: {stops(after) - stops(before)}"
    return bool(promised)


ASKED = {
    "colour-mode/wrong-mode", "colour-mode/wrong-depth", "compression/low-quality",
    "compression/blocks", "file-weight/too-small", "icc-profile/vouched-for",
    "luminance/blown-highlights", "luminance/blocked-shadows", "read-whole/damaged",
    "sharpening/over-sharpened",
    "true-resolution/enlarged-but-enough", "true-resolution/ends-early",
}  # fmt: skip
"""Findings on masters that only a person or supplier can answer."""


ALONE = MASTERS | INKS
MUTE = ({"mode": "gray", "icc": None}, {"mode": "CMYK", "icc": None})
"""What nobody but the supplier can put a profile to: a person vouches for RGB alone."""


@pytest.mark.parametrize("code", ALONE | SETS)
def test_a_masters_remedy_is_kept(code: str, desk: Callable[[dict[str, Any]], Desk]) -> None:
    for case in (ALONE | SETS)[code]:
        kept = keeps_its_promise(partial(desk, case), code)
        assert kept is (code not in ASKED and case.get("written") not in MUTE)


@pytest.mark.parametrize("code", COPIES)
def test_a_copys_remedy_is_kept_and_asks_nobody_to_edit_it(
    code: str, desk: Callable[[dict[str, Any]], Desk], tmp_path: Path
) -> None:
    for case in COPIES[code]:
        values = plate if case.values is None else case.values
        maker = desk({"values": values, "cells": case.made, "house": case.house})
        if case.amount is not None:
            section = {**(maker.house.prepare or {}), "amount": case.amount}
            maker.house = replace(maker.house, prepare=section)
        maker.copy = True
        maker.report()
        (made,) = (maker.folder / "copies").iterdir()

        def misused(case: Misused = case, maker: Desk = maker, made: Path = made) -> Desk:
            folder = Path(mkdtemp(dir=tmp_path))
            shutil.copytree(maker.folder, folder, dirs_exist_ok=True)
            kept = folder / made.relative_to(maker.folder)
            one = replace(
                maker, folder=folder, copy=False, kept=kept,
                cells=dict(case.cells), written=dict(maker.written),
            )  # fmt: skip
            if case.now:
                one.house = desk({"house": case.now}).house
            case.then(one)
            return one

        # the edit of a copy is one finding, and what it did to the picture another
        assert keeps_its_promise(misused, code) is (code not in ASKED_OF_COPIES)


@pytest.mark.parametrize("code", PAGES)
def test_a_pages_remedy_is_kept(
    code: str, tmp_path: Path, houses: dict[str, House], registry: Registry
) -> None:
    for case in PAGES[code]:

        def exported_so(case: dict[str, Any] = case) -> Desk:
            return PageDesk(tmp_path, houses["coated-magazine"], registry, None, {}, **case)

        assert keeps_its_promise(exported_so, code)


def test_a_page_that_is_right_calls_up_nothing(
    tmp_path: Path, houses: dict[str, House], registry: Registry
) -> None:
    right = PageDesk(tmp_path, houses["coated-magazine"], registry, None, {}).report()
    assert not [rule for rule, _ in right.findings() if rule.startswith("page-")]


ASKED_OF_COPIES = {"file-weight/too-small"}
"""Findings on copies that ask for another master."""


def test_every_code_of_every_rule_is_called_up(registry: Registry) -> None:
    codes = {f"{rule.name}/{code}" for rule in registry.rules.values() for code in rule.codes}
    assert codes - {*ALONE, *SETS, *COPIES, *PAGES} == set()


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    across=st.integers(60, 900),
    down=st.integers(60, 900),
    box=st.tuples(st.floats(5, 400), st.floats(5, 400)),
    bleed=st.sampled_from([0.0, 2.0, 3.0, 5.5]),
    edges=st.sets(st.sampled_from(["top", "right", "bottom", "left"]), min_size=1),
    ppi=st.sampled_from([96.0, 200.0, 254.0, 300.0, 333.3]),
    fit=st.sampled_from(["fill", "stretch"]),
    crop=st.sampled_from([None, Crop(0.1, 0.05, 0.8, 0.9), Focus(0.2, 0.7)]),
)
def test_sizes_and_pixels_told_are_enough_and_no_more(
    across: int, down: int, box: tuple[float, float], bleed: float, edges: set[str], ppi: float,
    fit: str, crop: Any, coated: House, registry: Registry, tmp_path: Path,
) -> None:  # fmt: skip
    """On any picture, box and bleed, as pixels and millimetres are whole or rounded."""
    rules = {name: registry.rules[name] for name in ("resolution", "bleed")}
    house = replace(
        coated,
        output=replace(coated.output, ppi=ppi),
        rules={name: coated.rules[name] for name in rules},
    )
    path = tmp_path / f"{across}x{down}.png"
    if not path.exists():
        write_picture(path, np.zeros((down, across, 1), np.uint8), mode="gray", icc=None)
    place = Placement(*box, bleed, frozenset(edges) if bleed else frozenset(), crop, fit=fit)
    picture = replace(a_picture(path, output=house.output), placement=place)

    def judged(one: Picture) -> dict[str, Finding]:
        return {finding.code: finding for _, finding in judge(one, house, rules).findings()}

    def stopped(one: Picture) -> set[str]:
        return {code for code, found in judged(one).items() if found.severity is Severity.STOP}

    told, before = judged(picture), stopped(picture)
    for code in ("too-few-pixels", "short-bleed"):
        if code not in told:
            continue
        remedy = told[code].remedy
        if size := re.search(r"no larger than ([\d.]+) x ([\d.]+) mm", remedy):
            smaller = replace(place, width=float(size[1]), height=float(size[2]))
            assert stopped(replace(picture, placement=smaller)) <= before - {code, "short-bleed"}
            # and it is no smaller than need be
            # half a pixel is let pass, and the size is told in tenths or hundredths
            step = 25.4 / ppi + 0.12
            grown = replace(
                place, width=smaller.width + step * max(1, box[0] / box[1]),
                height=smaller.height + step * max(1, box[1] / box[0]),
            )  # fmt: skip
            assert stopped(replace(picture, placement=grown)) - {"distorted"}
        need = re.search(r"Supply at least (\d+) x (\d+) px", remedy)
        assert need
        wide, high = int(need[1]), int(need[2])
        if crop is None or isinstance(crop, Focus):
            header = replace(picture.header, width=wide, height=high)
            enough = replace(picture, header=header)
            assert stopped(enough) == set()
