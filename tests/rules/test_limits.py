"""At its limit a picture passes, just beyond it is found, and the finding tells all of it: what was
measured, the limit, their unit, and what to do with the figures it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.colour.condition import find_condition
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.tone import Tones
from pressworthy.files.metadata.ticket import Ticket
from pressworthy.files.metadata.words import Words
from pressworthy.measure.acutance import print_transfer
from pressworthy.measure.halo import Halo, halo, likely_from
from pressworthy.measure.jpeg import Blocks, blockiness, jpeg_quality
from pressworthy.measure.lightness import (
    Lightness,
    before_ground,
    ground,
    lightness,
    printed_lightness,
)
from pressworthy.measure.metadata import stated_space, words
from pressworthy.measure.press import (
    FULL,
    Coverage,
    colour_shift,
    ink_coverage,
    sample_inks,
    sample_lab,
)
from pressworthy.measure.ticket import ticket
from pressworthy.measure.tones import tones
from pressworthy.measure.upscaling import TrueResolution, true_resolution
from pressworthy.plugins import Registry, load
from pressworthy.print.transfer import Transfer
from pressworthy.testing import an_output, found
from pressworthy.values.finding import Bound, Unmeasured
from pressworthy.values.picture import Header, Picture, preset
from pressworthy.values.placement import Crop, Focus, Placement

PLAIN = Header("TIFF", 640, 480, "RGB", 8, False, 1, 1, (300, 300), 900_000, None, None, None, None)
ALL = frozenset({"top", "right", "bottom", "left"})


def of(
    measured: Mapping[Any, Any] | None = None,
    placement: Placement | None = None,
    output: Mapping[str, Any] | None = None,
    path: str = "p.tif",
    assumed: bytes | None = None,
    page_object: str = "",
    tone: str = "",
    **header: Any,
) -> Picture:
    """Return a picture of which all that a rule asks for is known already."""
    made, asked = replace(PLAIN, **header), an_output(**(output or {}))
    picture = Picture(Path(path), made, asked, placement, assumed, page_object, tone=tone)
    for what, value in (measured or {}).items():
        preset(picture, what, value)
    return picture


@dataclass(frozen=True)
class Case:
    """At the limit `passing` is not found, `beyond` is.

    says: what stands in the remedy, all of it.
    """

    rule: str
    code: str
    options: Mapping[str, Any]
    passing: Picture
    beyond: Picture
    measured: Any
    limit: Any
    unit: str = ""
    says: tuple[str, ...] = field(default=())

    def __str__(self) -> str:
        return f"{self.rule} {self.code}"


WEIGHT = {"heaviest": 1500.0, "longest edge": 800.0, "shortest long edge": 300.0}


def file_weight() -> list[Case]:
    return [
        Case("file-weight", "too-heavy", WEIGHT, of(file_bytes=1_500_000), of(file_bytes=1_500_001),
             1500.001, 1500, "kB", ("at most 1500 kB",)),
        Case("file-weight", "too-wide", WEIGHT, of(height=800), of(height=801),
             801, 800, "px", ("at most 800 px",)),
        Case("file-weight", "too-small", WEIGHT, of(width=300, height=20), of(width=299, height=20),
             299, 300, "px", ("original",)),
    ]  # fmt: skip


def seen_in_print(acutance: float, doubt: float = 0.0) -> Picture:
    none = np.zeros(1)
    return of({print_transfer: Transfer((), acutance, doubt, none, none)})


ACUTANCE = {"least": 85.0, "most": 120.0}


def acutance() -> list[Case]:
    return [
        Case("acutance", "soft-in-print", ACUTANCE, seen_in_print(0.85), seen_in_print(0.84),
             84, 85, "%", ("Set the amount in the house profile that `pressworthy sharpening` "
                           "derives, and for this size .",)),
        Case("acutance", "harsh-in-print", ACUTANCE, seen_in_print(1.2), seen_in_print(1.21),
             121, 120, "%", ("Set the amount in the house profile that `pressworthy sharpening` "
                             "derives, and for this size .",)),
    ]  # fmt: skip


def bled(width: int, height: int, mm: float = 3, edges: frozenset[str] = ALL, **more: Any) -> Any:
    return of(placement=Placement(40, 30, mm, edges, **more), width=width, height=height)


def bleed() -> list[Case]:
    least = {"least": 3.0}
    left, top = frozenset({"left"}), frozenset({"top"})
    short = ("543 x 425 px", "300 ppi")
    return [
        Case("bleed", "thin-bleed", least, bled(543, 425, 2.95), bled(543, 425, 2.94),
             2.94, 3, "mm", ("3 mm beyond the trim",)),
        # 36 px beyond the box's 472.44 on two edges, 72 beyond its 354.33
        Case("bleed", "short-bleed", least, bled(543, 425), bled(508, 425),
             (508 * 25.4 / 300 - 40) / 2, 3, "mm", short),
        Case("bleed", "short-bleed", least, bled(543, 425), bled(508, 380),
             (380 * 25.4 / 300 - 30) / 2, 3, "mm", short),
        Case("bleed", "short-bleed", least, bled(543, 425), bled(400, 300), 0, 3, "mm", short),
        Case("bleed", "short-bleed", least, bled(508, 354, edges=left), bled(507, 354, edges=left),
             507 * 25.4 / 300 - 40, 3, "mm", ("508 x 354 px",)),
        Case("bleed", "short-bleed", least, bled(472, 390, edges=top), bled(472, 389, edges=top),
             389 * 25.4 / 300 - 30, 3, "mm", ("472 x 390 px",)),
        Case("bleed", "short-bleed", least, bled(400, 300, exact=True), bled(542, 425),
             (542 * 25.4 / 300 - 40) / 2, 3, "mm", short),
        # what a crop leaves over may bleed too, to the nearest whole pixel
        Case("bleed", "short-bleed", least,
             bled(600, 425, crop=Focus()), bled(600, 424, crop=Focus()),
             (424 * 25.4 / 300 - 30) / 2, 3, "mm", short),
    ]  # fmt: skip


KINDS = {"modes": ["RGB", "gray"], "depths": [8, 16]}


def colour_mode() -> list[Case]:
    return [
        Case("colour-mode", "wrong-mode", KINDS, of(), of(mode="CMYK"), "CMYK", "RGB, gray",
             says=("with its ICC profile",)),
        Case("colour-mode", "wrong-depth", KINDS, of(depth=16), of(depth=32), 32, "8, 16", "bits",
             ("original",)),
        Case("colour-mode", "transparent", KINDS, of(), of(alpha=True), "alpha channel", "opaque",
             says=("Prepare a copy, which lays it on white, and look at its edges.",)),
        Case("colour-mode", "transparent", KINDS, of(page_object="/Im1"),
             of(alpha=True, page_object="/Im1"), "alpha channel", "opaque",
             says=("Place a prepared copy, opaque and without a mask",)),
        Case("colour-mode", "turned-by-flag", KINDS, of(), of(orientation=6), "orientation 6",
             "orientation 1", says=("upright",)),
        Case("colour-mode", "several-pages", KINDS, of(), of(pages=2), 2, 1, "pictures",
             ("file of its own",)),
        Case("colour-mode", "misnamed", KINDS, of(path="p.odd", format="HEIC"),
             of(path="p.HEIF", format="TIFF"), "TIFF", "AVIF or HEIC", says=("suffix",)),
    ]  # fmt: skip


def compressed(
    quality: int | None = 90,
    ratio: float = 1.0,
    excess: float = 5.0,
    placement: Placement | None = None,
) -> Picture:
    return of({jpeg_quality: quality, blockiness: Blocks(ratio, excess)}, placement)


JPEG = {"least quality": 80, "blocks": 1.25, "visible step": 1.0}


def compression() -> list[Case]:
    say = ("original before compression",)
    # at 600 ppi and 317.5 mm blocks are 16.4 cycles/degree, of which 0.686 of the peak is seen
    small = Placement(640 / 600 * 25.4, 480 / 600 * 25.4)
    return [
        Case("compression", "low-quality", JPEG, compressed(80), compressed(79),
             79, 80, "of 100", say),
        Case("compression", "blocks", JPEG, compressed(ratio=1.25), compressed(ratio=1.26),
             1.26, 1.25, "x", say),
        Case("compression", "blocks", JPEG, compressed(None, 1.5, 1.0), compressed(None, 1.5, 1.01),
             1.5, 1.25, "x", say),
        Case("compression", "blocks", JPEG, compressed(None, 1.5, 1.45, small),
             compressed(None, 1.5, 1.46, small), 1.5, 1.25, "x", say),
    ]  # fmt: skip


def shifted(moved: int, by: float = 4.0, rest: float = 1.0, **more: Any) -> Picture:
    shift = np.full((10, 20), rest, np.float32)
    shift.ravel()[:moved] = by
    return of({colour_shift: shift}, **more)


def gamut() -> list[Case]:
    options = {"visible": 3.5, "area": 10.0, "furthest": 5.0}
    return [
        Case("gamut", "out-of-gamut", options, shifted(20), shifted(22), 11, 10, "%",
             ("11 % moves visibly", "more than 3.5 dE00", "upper left", "percentile is 4.0 dE00")),
        Case("gamut", "out-of-gamut", options, shifted(22, 3.5), shifted(22, 3.6), 11, 10, "%"),
        Case("gamut", "far-out-of-gamut", options, shifted(200, 5.0), shifted(200, 5.1),
             5.1, 5, "dE00", ("100 % moves visibly", "everywhere", "percentile is 5.1 dE00")),
    ]  # fmt: skip


def inked(share: float, at: int = 320) -> Picture:
    histogram = np.zeros(401)
    histogram[100], histogram[at] = 1 - share, share
    return of({ink_coverage: Coverage(float(at), 310.0, histogram, 1.0)})


def ink() -> list[Case]:
    options = {"limit": 300.0, "specks": 0.5}
    return [
        Case("ink", "too-much-ink", options, inked(0.005), inked(0.0062), 320, 300, "%",
             ("0.62 % of the picture is over the limit; the 99.9th percentile is 310 %. Ask for "
              "the RGB master, and the printer for an ICC profile that keeps to the limit.",)),
        Case("ink", "specks-of-ink", options, inked(0.005, 300), inked(0.005, 301), 301, 300, "%",
             ("0.5 % of the picture is over the limit; the 99.9th percentile is 310 %. Ask for "
              "the RGB master, and the printer for an ICC profile that keeps to the limit.",)),
    ]  # fmt: skip


def a_ticket(supplied: str, tone: str = "house", lift: str = "0.0") -> Ticket:
    """Return a copy's ticket; supplied: L* of its master at three percentiles, or ""."""
    every = {one.name: "" for one in fields(Ticket)}
    told = {"master": "m.tif", "supplied": supplied, "tone": tone, "lift": lift}
    return Ticket(**{**every, **told})


def lit(
    median: float = 50, p5: float = 20, p95: float = 90, white: float = 0, black: float = 0,
    tone: str = "", made: Ticket | None = None, steepest: float = 1.0, **header: Any,
) -> Picture:  # fmt: skip
    """Return a picture of that median between black and paper, and of that printed spread."""
    printed = Lightness(p5, 30, median + 3, 70, p95, white, black)
    measured = {
        printed_lightness: printed, lightness: replace(printed, p5=0, median=1, p95=2),
        tones: Tones(p5 - 11, median, p95 + 7), ticket: made,
        before_ground: None,
    }  # fmt: skip
    output = {"median": (38.0, 80.0), "steepest": steepest}
    return of(measured, output=output, tone=tone, **header)


LIGHTER, DARKER = "<lighter>", "<darker>"
"""What is asked for in a remedy, see `asked_for`."""


def asked_for(other: str, code: str, lift: str, copy: bool) -> str:
    """Return how a remedy asks for a lighter or darker picture, where a `lift` helps with that."""
    accepted = f"or accept it: luminance/{code} in the list's column waive."
    if not lift:
        return f"Ask for a {other} picture, {accepted}"
    anew = " and prepare it again from its master, m.tif" if copy else ""
    return f"Write {lift} in the list's column tone{anew}. Or ask for a {other} picture, {accepted}"


MENDED = "Nothing to do: prepare brings it to L* {} between black and paper."


def luminance() -> list[Case]:
    options = {"least spread": 35.0, "blown": 5.0, "blocked": 6.0}
    dull: dict[str, Any] = {"p5": 40, "p95": 75}
    narrow = {**dull, "p5": 41}
    return [
        Case("luminance", "dull", options, lit(**dull), lit(**narrow), 34, 35, "L*",
             ("On screen it spans L* 52; this paper leaves 34. Raise its contrast on a copy, or "
              "accept it: luminance/dull in the list's column waive.",)),
        Case("luminance", "dull", options, lit(**dull, made=a_ticket("5 50 70")),
             lit(**narrow, made=a_ticket("5 50 70")), 34, 35, "L*",
             ("Its master spans L* 65; this paper leaves 34. Raise its contrast on a copy of its "
              "master, m.tif, and prepare that, or accept it: luminance/dull in the list's "
              "column waive.",)),
        Case("luminance", "dull", options, lit(**dull, made=a_ticket("")),
             lit(**narrow, made=a_ticket("")), 34, 35, "L*",
             ("Its ticket does not tell what its master spans; this paper leaves 34. Raise its "
              "contrast on a copy of its master, m.tif, and prepare that, or accept it: "
              "luminance/dull in the list's column waive.",)),
        Case("luminance", "blown-highlights", options, lit(white=0.05), lit(white=0.06), 6, 5, "%",
             ("original",)),
        Case("luminance", "blocked-shadows", options, lit(black=0.06), lit(black=0.07), 7, 6, "%",
             ("original",)),
    ]  # fmt: skip


def mid_tones() -> list[Case]:
    options = {"least spread": 35.0, "blown": 5.0, "blocked": 6.0}

    def case(
        code: str,
        passing: Picture,
        beyond: Picture,
        measured: float,
        limit: float,
        says: str,
        lift: str = "",
    ) -> Case:
        told = f"Its median prints at L* {measured + 3:.0f}"
        for marker in (LIGHTER, DARKER):
            words = asked_for(marker.strip("<>"), code, lift, "its master is" in says)
            says = says.replace(marker, words)
        return Case("luminance", code, options, passing, beyond, measured, limit, "L*",
                    (told + says,))  # fmt: skip

    def asked(median: float, lift: float, **more: Any) -> Picture:
        return lit(median, tone=f"{lift:+g} L*", steepest=100.0, **more)

    def copy(median: float, supplied: str, tone: str = "house", lift: str = "0.0") -> Picture:
        return lit(median, made=a_ticket(supplied, tone, lift), steepest=100.0)

    return [
        case("too-dark", lit(38), lit(37.9), 37.9, 38, f". {LIGHTER}"),
        case("too-light", lit(80, 62), lit(80.1, 62), 80.1, 80, f". {DARKER}"),
        # a light master is taken for meant so where it holds darks
        case("light-as-meant", lit(80.1, 61), lit(80.1, 60.9), 80.1, 80, f". {DARKER}"),
        # L* 37 stands at 40.8 on this paper; what is sent for it is worked out by hand: L* 41.9
        case("mended-on-copy", lit(37), lit(37, steepest=1.5), 37, 38, f". {MENDED.format(42)}"),
        case("too-dark", lit(37, steepest=1.5), lit(37, tone="as supplied", steepest=1.5), 37, 38,
             f". {LIGHTER}", "+2"),
        # a copy must come inside by half of L* 1, at either end
        case("mended-on-copy", asked(37, 1.4), asked(37, 1.6), 37, 38, f". {MENDED.format(39)}"),
        case("too-dark", asked(37, 1.6), asked(37, 1.4), 37, 38, f". {LIGHTER}", "+2"),
        case("mended-on-copy", asked(37, 42.6), asked(37, 42.4), 37, 38, f". {MENDED.format(79)}"),
        case("too-dark", asked(37, 42.4), asked(37, 42.6), 37, 38, f". {LIGHTER}", "+2"),
        case("mended-on-copy", asked(82, -2.4), asked(82, -2.6), 82, 80, f". {MENDED.format(79)}"),
        case("too-light", asked(82, -2.6), asked(82, -2.4), 82, 80, f". {DARKER}", "-3"),
        case("mended-on-copy", asked(82, -43.6), asked(82, -43.4), 82, 80,
             f". {MENDED.format(39)}"),
        case("too-light", asked(82, -43.4), asked(82, -43.6), 82, 80, f". {DARKER}", "-3"),
        # what is ink already gets no tone curve that could be foretold
        case("too-dark", asked(37, 6), asked(37, 6, mode="CMYK"), 37, 38, f". {LIGHTER}"),
        # a copy is taken for meant so where its master holds darks and lights
        case("dark-as-meant", copy(37, "5 30 50"), copy(37, "5 30 50.1", lift="7.0"), 37, 38,
             f"; its master is at L* 30, lifted by 7. {LIGHTER}", "+9"),
        case("too-dark", copy(37, "5 30 50.1"), copy(37, "5 30 50", lift="0.1"), 37, 38,
             f"; its master is at L* 30, hardly lifted. {LIGHTER}", "+9"),
        case("light-as-meant", copy(82, "50 82 95"), copy(82, "49.9 82 95"), 82, 80,
             f"; its master is at L* 82, left as supplied. {DARKER}", "-3"),
        case("too-light", copy(82, "49.9 82 95"), copy(82, "50 82 95", lift="-0.1"), 82, 80,
             f"; its master is at L* 82, hardly lowered. {DARKER}", "-3"),
        # by a person's word nothing is taken for meant, nor on a ticket of old
        case("too-dark", copy(37, "5 30 60"), copy(37, "5 37 60", "as supplied"), 37, 38,
             f"; its master is at L* 37, left as supplied. {LIGHTER}", "+2"),
        case("too-light", copy(82, "5 82 95"), copy(82, "5 84 95", "-2 L*", "-2.0"), 82, 80,
             f"; its master is at L* 84, lowered by 2. {DARKER}", "-5"),
        case("too-dark", copy(37, "5 30 60"), copy(37, ""), 37, 38, f". {LIGHTER}"),
    ]  # fmt: skip


def line_art() -> list[Case]:
    options = {"least": 800.0, "most": 2540.0}
    # 40 mm are 1259.8 px at 800 ppi
    return [
        Case("line-art", "too-few-pixels", options, drawn(1260, 945),
             drawn(1259, 945), 1259 * 25.4 / 40, 800, "ppi",
             ("Supply at least 1260 x 945 px, or place it no larger than 39.98 x 29.98 mm.",)),
        Case("line-art", "too-few-pixels", options, drawn(472, 354, 8),
             drawn(472, 354), 354 * 25.4 / 30, 800, "ppi", ()),
        Case("line-art", "too-many-pixels", options, drawn(4000, 3000),
             drawn(4001, 3001), 4001 * 25.4 / 40, 2540, "ppi",
             ("Supply at most 4000 x 3000 px.",)),
    ]  # fmt: skip


def placed(width: int, height: int, mm: tuple[float, float], **more: Any) -> Picture:
    return of(placement=Placement(*mm, **more), width=width, height=height)


def drawn(width: int, height: int, depth: int = 1) -> Picture:
    """Return a picture of line art, or of another depth, 40 x 30 mm large."""
    return of(placement=Placement(40, 30), width=width, height=height, depth=depth)


def resolution() -> list[Case]:
    options = {"below": 10.0, "above": 5.0, "distortion": 1.0, "most cropped": 100.0}
    exact = {**options, "below": 0.0}
    bleeds = {"bleed": 3.0, "edges": ALL}
    page = {**bleeds, "exact": True}
    # 40 mm are 472.4 px at 300 ppi, 1.95 mm are 23.03 and 2 mm 23.6; half a pixel may be rounding
    pulled = (24 / 1.95 / (472 / 40) - 1) * 100 - 100 * (0.5 / 472 + 0.5 / 24)
    return [
        Case("resolution", "too-few-pixels", options, placed(425, 319, (40, 30)),
             placed(424, 320, (40, 30)), 424 * 25.4 / 40, 300, "ppi",
             ("Supply at least 472 x 354 px, or place it no larger than 35.93 x 26.94 mm.",)),
        Case("resolution", "too-few-pixels", exact, placed(472, 354, (40, 30)),
             placed(472, 353, (40, 30)), 353 * 25.4 / 30, 300, "ppi", ("472 x 354 px",)),
        # half a pixel that a crop leaves over is rounded like any other
        Case("resolution", "too-few-pixels", exact, placed(1181, 2000, (100, 90), crop=Focus()),
             placed(1180, 2000, (100, 90), crop=Focus()), 1180 * 25.4 / 100, 300, "ppi",
             ("1181 x 1063 px",)),
        # the bleed may be missing, not the box; where it is there, it counts
        Case("resolution", "too-few-pixels", exact, placed(472, 354, (40, 30), **bleeds),
             placed(471, 354, (40, 30), **bleeds), 471 * 25.4 / 40, 300, "ppi",
             ("Supply at least 543 x 425 px, or place it no larger than 32 x 24 mm.",)),
        # on a page the picture fills box and bleed as it stands
        Case("resolution", "too-few-pixels", exact, placed(543, 425, (40, 30), **page),
             placed(542, 425, (40, 30), **page), 542 * 25.4 / 46, 300, "ppi",
             ("Supply at least 543 x 425 px, or place it no larger than 45.92 x 35.93 mm.",)),
        # line art has the rule line-art
        Case("resolution", "too-many-pixels", options, drawn(1890, 1417),
             placed(1890, 1417, (40, 30)), 1417 * 25.4 / 30, 315, "ppi", ()),
        Case("resolution", "too-few-pixels", options, drawn(40, 30),
             placed(40, 30, (40, 30)), 25.4, 300, "ppi", ()),
        Case("resolution", "too-many-pixels", options, placed(496, 373, (40, 30)),
             placed(497, 373, (40, 30)), 497 * 25.4 / 40, 315, "ppi",
             ("For this size prepare a copy: 472 x 354 px.",)),
        # box and bleed together: neither is too much by itself
        Case("resolution", "too-many-pixels", options, placed(570, 447, (40, 30), **bleeds),
             placed(571, 447, (40, 30), **bleeds), 571 * 25.4 / 46, 315, "ppi",
             ("For this size prepare a copy: 543 x 425 px.",)),
        Case("resolution", "distorted", options, placed(472, 24, (40, 2), fit="stretch"),
             placed(472, 24, (40, 1.95), fit="stretch"), pulled, 1, "%",
             ("Write fill in the list's column fit, so that it is cropped to its box.",)),
        Case("resolution", "distorted", options, placed(24, 472, (2, 40), fit="stretch"),
             placed(24, 472, (1.95, 40), fit="stretch"), pulled, 1, "%",
             ("Write fill in the list's column fit, so that it is cropped to its box.",)),
    ]  # fmt: skip


def haloed(height: float, chance: float = 0.1, edges: int = 77, clipped: float = 0.1) -> Picture:
    return of({halo: Halo(height, 0.01, 2.0, 0.6, edges, clipped, chance)})


LIKELY = likely_from()
MASTER = {"supplied": "master", "master halo": 12.0, "least halo": 3.0, "most halo": 40.0}
FINISHED = {**MASTER, "supplied": "finished"}


def sharpening() -> list[Case]:
    return [
        Case("sharpening", "already-sharpened", MASTER, haloed(0.12), haloed(0.13), 13, 12, "%",
             ("Measured on 77 edges. Ask for the file before it was sharpened; no softening "
              "takes the halos back. If it came so from the camera, write no in the list's "
              "column sharpen.",)),
        Case("sharpening", "over-sharpened", FINISHED, haloed(0.40), haloed(0.41), 41, 40, "%",
             ("Measured on 77 edges. Ask", "before it was sharpened")),
        Case("sharpening", "over-sharpened", MASTER, haloed(0.40), haloed(0.41, 1.0, 77, 0.11),
             41, 40,
             "%", ("on 77 edges, 11% of them clipped on both sides: probably "
                               "over-sharpened. Ask",)),
        Case("sharpening", "probably-sharpened", MASTER, haloed(0.05, LIKELY),
             haloed(0.05, LIKELY + 0.1), LIKELY * 100 + 10, LIKELY * 100, "%",
             ("Measured on 77 edges. Ask for the file before",
              "write no in the list's column sharpen.")),
        Case("sharpening", "probably-sharpened", MASTER, haloed(0.05, LIKELY, 39),
             haloed(0.5, LIKELY + 0.1, 39), LIKELY * 100 + 10, LIKELY * 100, "%"),
        Case("sharpening", "not-sharpened", FINISHED, haloed(0.03), haloed(0.02), 2, 3, "%",
             ("Measured on 77 edges. Prepare a copy: it is sharpened at its final size, as the "
              "last step.",)),
        Case("sharpening", "not-sharpened", FINISHED, haloed(0.13), haloed(0.0), 0, 3, "%"),
    ]  # fmt: skip


PRESSES = {
    colour: find_condition(name, load().condition_folders, Path())
    for colour, name in (("cmyk", "coated"), ("gray", "uncoated"))
}


def printing(
    inks: tuple[float, ...], count: int, colour: str = "cmyk", meant: float = 30.0, **header: Any
) -> Picture:
    """Return a picture of which `count` of 100 px have these inks in %, the rest half of each.

    meant: L* of all its tones as supplied.
    """
    values = np.full((10, 10, len(inks)), 50.0)
    values.reshape(100, -1)[:count] = inks
    if colour == "gray":
        values = 100 - values
    coded = np.round(values / 100 * FULL).astype(np.uint16)
    lab = np.full((10, 10, 3), (meant, 0, 0), np.float32)
    output = {"colour": colour, "condition": PRESSES[colour]}
    none = np.zeros((20, 20), bool)
    return of({sample_inks: coded, sample_lab: lab, ground: none}, output=output, **header)


def tone_range() -> list[Case]:
    options = {"smallest dot": 3.0, "largest dot": 97.0, "visible": 0.5, "area": 5.0}
    seen = {**options, "visible": 2.0}
    early = {**seen, "largest dot": 95.0}
    lights, shadows = (
        (f"Mostly upper left, in dots {which}. Bring these tones inside on a copy; the printer "
         "knows which dots the press holds.",)
        for which in ("under 3 %", "over 97 %")
    )  # fmt: skip
    light, dark = (2.0, 1.0, 2.0, 0.0), (50.0, 50.0, 50.0, 98.0)
    return [
        Case("tone-range", "lost-highlights", options, printing(light, 5), printing(light, 6),
             6, 5, "%", lights),
        # one ink that holds carries the tone
        Case("tone-range", "lost-highlights", options, printing((2, 2, 3.1, 2), 6),
             printing((2, 2, 2.9, 2), 6), 6, 5, "%", lights),
        # what has hardly any ink is bare paper
        Case("tone-range", "lost-highlights", options, printing((0.4, 0.4, 0.4, 0.4), 6),
             printing((0.4, 0.6, 0.4, 0.4), 6), 6, 5, "%", lights),
        Case("tone-range", "lost-highlights", options, printing((3.1,), 6, "gray"),
             printing((2.9,), 6, "gray"), 6, 5, "%", lights),
        Case("tone-range", "lost-shadows", options, printing(dark, 5), printing(dark, 6),
             6, 5, "%", shadows),
        Case("tone-range", "lost-shadows", options, printing((50, 50, 50, 96.9), 6),
             printing((50, 50, 50, 97.1), 6), 6, 5, "%", shadows),
        # one ink is enough, where it can be seen
        Case("tone-range", "lost-shadows", options, printing((0, 96.9, 96.9, 0), 6),
             printing((0, 97.1, 96.9, 0), 6), 6, 5, "%", shadows),
        Case("tone-range", "lost-shadows", options, printing((96.9,), 6, "gray"),
             printing((97.1,), 6, "gray"), 6, 5, "%", shadows),
        # by the profiles printed L* 1.97 and 2.06 are lost, and 1.96 and 2.07
        Case("tone-range", "lost-shadows", early, printing((95.7,), 6, "gray"),
             printing((95.5,), 6, "gray"), 6, 5, "%", ("dots over 95 %",)),
        Case("tone-range", "lost-shadows", seen, printing((0, 0, 0, 98.2), 6),
             printing((0, 0, 0, 98.1), 6), 6, 5, "%", shadows),
        # a solid loses nothing, nor do three colours that print within L* 0.8 of theirs
        Case("tone-range", "lost-shadows", seen, printing((0, 0, 0, 100), 6),
             printing((0, 0, 0, 97.5), 6), 6, 5, "%", shadows),
        Case("tone-range", "lost-shadows", seen, printing((98, 98, 97.1, 0), 6),
             printing((0, 0, 0, 97.5), 6), 6, 5, "%", shadows),
        # what is black as supplied has nothing to lose; of inks nobody knows what was supplied
        Case("tone-range", "lost-shadows", seen, printing((0, 0, 0, 97.5), 6, meant=2.0),
             printing((0, 0, 0, 97.5), 6, meant=2.01), 6, 5, "%", shadows),
        Case("tone-range", "lost-shadows", seen, printing((0, 0, 0, 97.5), 6, meant=0.0),
             printing((0, 0, 0, 97.5), 6, meant=0.0, mode="CMYK"), 6, 5, "%", shadows),
    ]  # fmt: skip


def native(factor: float, proven: bool, probability: float = 0.0, **more: Any) -> Picture:
    seen = {true_resolution: TrueResolution(factor, proven, sure=True, probability=probability)}
    return of(seen, width=1200, height=600, **more)


def enlarged() -> list[Case]:
    options = {"enlarged": 1.25, "suspicion": 95.0}
    # 600 ppi in both directions, half of which is the output's; 595 down
    half, box = Placement(50.8, 25.4), Placement(50.8, 25.6)
    return [
        Case("true-resolution", "enlarged", options, native(1.25, True), native(1.6, True),
             1.6, 1.25, "x",
             ("It has about 750 x 375 px of its own. Ask for it as it was taken.",)),
        Case("true-resolution", "enlarged", options, native(2, True, placement=half),
             native(2, True, placement=box), 2, 1.25, "x",
             ("It has about 600 x 300 px of its own, 298 ppi as placed. Ask for it as it was "
              "taken, or place it no larger than 50.4 x 25.4 mm.",)),
        Case("true-resolution", "enlarged-but-enough", options, native(2, True, placement=box),
             native(2, True, placement=half), 2, 1.25, "x",
             ("300 ppi as placed", "as it was taken.")),
        Case("true-resolution", "ends-early", options, native(2, False, 0.95),
             native(1.6, False, 0.96), 96, 95, "%", ("750 x 375 px", "out of focus")),
        Case("true-resolution", "ends-early", options, native(2, True, 1.0),
             native(1.6, False, 1.0), 100, 95, "%"),
        # what shows is what counts
        Case("true-resolution", "enlarged", options, native(2, True, placement=half),
             native(2, True, placement=replace(half, crop=Crop(0, 0, 0.5, 1))), 2, 1.25, "x",
             ("150 ppi as placed",)),
    ]  # fmt: skip


def told(xmp: str = "", iim: str = "", exif: str = "", name: str = "caption") -> Picture:
    entries = ({name: text} if text else {} for text in (xmp, iim, exif))
    return of({words: Words(*entries)})


def credit() -> list[Case]:
    none: Mapping[str, Any] = {"required": []}
    caption = {"required": ["caption"]}
    long = "a" * 90
    return [
        Case("credit", "no-caption", caption, told(exif="a mole"), told(),
             "empty", "caption filled in", says=("supplier for the caption",)),
        Case("credit", "fields-disagree", none, told("a  mole", exif="a mole "),
             told("a mole", exif="a pier"), "caption: 'a mole' and 'a pier'", "the same words",
             says=("which is right", "all records")),
        Case("credit", "fields-disagree", none, told("a mole", "a mole"),
             told("a mole", "a pier"), "caption: 'a mole' and 'a pier'", "the same words"),
        # only the older record's own limit cuts: 32 bytes of a creator, to whole letters
        Case("credit", "fields-disagree", none, told(long, long[:28], name="creator"),
             told(long, long[:27], name="creator"),
             f"creator: {long[:40]!r} and {long[:27]!r}", "the same words"),
        Case("credit", "fields-disagree", none, told(long, long[:31] + "?", name="creator"),
             told(long, long[:30] + "??", name="creator"),
             f"creator: {long[:40]!r} and {long[:30] + '??'!r}", "the same words"),
        Case("credit", "fields-disagree", none, told(long, exif=long),
             told("b" + long, exif=long), f"caption: {'b' + long[:39]!r} and {long[:40]!r}",
             "the same words"),
    ]  # fmt: skip


def profiled(icc: bytes | str | None, stated: str = "", **more: Any) -> Picture:
    icc = rgb_profile(icc) if isinstance(icc, str) else icc
    return of({stated_space: stated}, icc=icc, **more)


def icc_profile() -> list[Case]:
    options = {"spaces": ["sRGB", "opRGB"]}
    whole = rgb_profile("sRGB")
    nameless = whole.replace(b"sRGB\0", bytes(5))
    turned = [one.replace(b"rXYZ", b"tXYZ").replace(b"gXYZ", b"rXYZ").replace(b"tXYZ", b"gXYZ")
              for one in (whole, nameless)]  # fmt: skip
    embedded, supplier = "an embedded ICC profile", ("Ask the supplier which space",)
    plain = profiled("sRGB")
    vouched = profiled("ROMM RGB", assumed=rgb_profile("opRGB"))
    on_page = profiled(None, mode="CMYK", page_object="/Im1")

    def of_class(name: bytes) -> Picture:
        return profiled(whole[:12] + name + whole[16:])

    return [
        Case("icc-profile", "vouched-for", options, plain, vouched,
             "ROMM RGB, read as opRGB", "an ICC profile that says so", says=(
                 "Nothing to do: a person vouches for it in the list's column assume.",)),
        Case("icc-profile", "missing", options, profiled(None, mode="Lab"), profiled(None),
             "none", embedded, says=supplier),
        Case("icc-profile", "missing", options, plain, profiled(None, "sRGB", mode="CMYK"),
             "none", embedded, says=("Ask the supplier to save it again with the ICC profile it "
                                     "was made in.",)),
        Case("icc-profile", "missing", options, plain, profiled(None, "sRGB", mode="gray"),
             "none", embedded, says=("Ask the supplier to save it again with the ICC profile it "
                                     "was made in.",)),
        Case("icc-profile", "missing", options, plain, on_page, "none", embedded,
             says=("Export the page",)),
        Case("icc-profile", "missing-but-stated", options, plain, profiled(None, "opRGB"),
             "none; metadata says opRGB", embedded, says=(
                 "Name opRGB in the list's column assume once the supplier confirms it.",)),
        *(Case("icc-profile", "wrong-class", options, plain, of_class(name), f"{kind} profile",
               "input, display, output or space profile", says=supplier)
          for name, kind in ((b"link", "device link"), (b"abst", "abstract"),
                             (b"nmcl", "named colour"))),
        *(Case("icc-profile", "wrong-class", options, of_class(name), of_class(b"link"),
               "device link profile", "input, display, output or space profile")
          for name in (b"scnr", b"mntr", b"prtr", b"spac")),
        Case("icc-profile", "wrong-space", options, plain, profiled("sRGB", mode="gray"),
             "RGB profile", "gray pixels", says=(
                 "Ask the supplier to save it again with the ICC profile it was made in.",)),
        Case("icc-profile", "unusual-space", options, profiled("opRGB"), profiled("ROMM RGB"),
             "ROMM RGB", "sRGB, opRGB", says=(
                 "Ask first whether that profile is true;", "prepare a copy: it is converted")),
        Case("icc-profile", "unusual-space", options, plain, profiled(turned[0]),
             "sRGB", "sRGB, opRGB"),
        Case("icc-profile", "unusual-space", options, plain, profiled(turned[1]),
             "an unknown RGB space", "sRGB, opRGB"),
        Case("icc-profile", "contradicts-exif", options, profiled("opRGB", "opRGB"),
             profiled("sRGB", "opRGB"), "ICC sRGB, metadata opRGB", "one and the same space",
             says=("Ask the supplier which space it was made in, and name that in the list's "
                   "column assume.",)),
        Case("icc-profile", "contradicts-exif", options, profiled(turned[0], "opRGB"),
             profiled("ROMM RGB", "sRGB"), "ICC ROMM RGB, metadata sRGB", "one and the same space"),
        Case("icc-profile", "contradicts-exif", options, profiled(None, "opRGB"),
             profiled("sRGB", "opRGB"), "ICC sRGB, metadata opRGB", "one and the same space"),
    ]  # fmt: skip


CASES = [
    *icc_profile(),
    *file_weight(), *acutance(), *bleed(), *colour_mode(), *compression(), *gamut(), *ink(),
    *luminance(), *mid_tones(), *resolution(), *sharpening(), *tone_range(), *enlarged(), *credit(),
    *line_art(),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_at_the_limit_it_passes_beyond_it_is_told(case: Case, registry: Registry) -> None:
    rule = registry.rules[case.rule]
    assert case.code not in found(rule, case.passing, case.options)
    finding = found(rule, case.beyond, case.options)[case.code]
    close = isinstance(case.measured, int | float)
    assert finding.measured == (pytest.approx(case.measured) if close else case.measured)
    assert finding.limit == (pytest.approx(case.limit) if close else case.limit)
    assert finding.unit == case.unit
    if finding.bound is Bound.LEAST:
        assert case.measured < case.limit
    elif finding.bound is Bound.MOST:
        assert case.measured > case.limit
    assert all(part in finding.remedy for part in case.says), finding.remedy


def test_a_hundredth_of_doubt_more_is_no_measurement(registry: Registry) -> None:
    rule = registry.rules["acutance"]
    assert set(found(rule, seen_in_print(0.5, 0.03), ACUTANCE)) == {"soft-in-print"}
    with pytest.raises(Unmeasured):
        found(rule, seen_in_print(0.5, 0.0301), ACUTANCE)


def test_of_few_edges_the_halo_is_not_told(registry: Registry) -> None:
    few = haloed(0.5, LIKELY, edges=39)
    assert not found(registry.rules["sharpening"], few, MASTER)


def test_only_supplied_masters_may_be_soft_and_only_finished_pictures_sharp(
    registry: Registry,
) -> None:
    rule = registry.rules["sharpening"]
    assert found(rule, haloed(0.0), MASTER) == {}
    assert found(rule, haloed(0.3), FINISHED) == {}


@pytest.mark.parametrize(
    "suffix, kinds",
    [
        (".jpg", {"JPEG"}), (".jpeg", {"JPEG"}), (".jpe", {"JPEG"}), (".jfif", {"JPEG"}),
        (".tif", {"TIFF"}), (".tiff", {"TIFF"}), (".png", {"PNG"}), (".webp", {"WebP"}),
        (".heic", {"HEIC"}), (".heif", {"HEIC", "AVIF"}), (".avif", {"AVIF"}),
    ],
)  # fmt: skip
def test_a_suffix_promises_a_format(suffix: str, kinds: set[str], registry: Registry) -> None:
    for kind in ("JPEG", "TIFF", "PNG", "WebP", "HEIC", "AVIF"):
        told = found(registry.rules["colour-mode"], of(path="p" + suffix, format=kind), KINDS)
        assert ("misnamed" not in told) is (kind in kinds)


def test_a_damaged_profile_is_told_with_its_fault(registry: Registry) -> None:
    cut = profiled(rgb_profile("sRGB")[:200])
    (finding,) = found(registry.rules["icc-profile"], cut, {"spaces": ["sRGB"]}).values()
    with pytest.raises(DamagedProfile) as fault:
        parse(cut.header.icc or b"")
    assert (finding.code, finding.measured) == ("damaged", str(fault.value))
    assert finding.limit == "a whole ICC profile"
    assert "Ask the supplier" in finding.remedy


@pytest.mark.parametrize(
    "rule, picture",
    [
        ("grayscale", of(mode="gray")),
        ("gamut", of(mode="CMYK")),
        ("foreign-condition", of()),
        ("foreign-condition", of(mode="CMYK", output={"colour": "gray"})),
        ("source-profile", of(mode="gray")),
        ("source-profile", of(assumed=rgb_profile("sRGB"))),
        ("bleed", of(placement=Placement(40, 30))),
        ("prepared-copy", of()),
    ],
)
def test_what_a_rule_is_not_about_it_does_not_even_read(
    rule: str, picture: Picture, registry: Registry
) -> None:
    assert not picture.path.exists()
    assert found(registry.rules[rule], picture, {}) == {}


def test_gamut_is_judged_where_inks_are_converted_or_made(registry: Registry) -> None:
    options = {"visible": 3.5, "area": 10.0, "furthest": 5.0}
    for mode, colour in (("CMYK", "gray"), ("RGB", "cmyk")):
        picture = shifted(22, mode=mode, output={"colour": colour})
        assert set(found(registry.rules["gamut"], picture, options)) == {"out-of-gamut"}


def test_resolution_and_bleed_need_a_placed_size(registry: Registry) -> None:
    for name in ("resolution", "bleed"):
        with pytest.raises(Unmeasured, match="no placed size"):
            found(registry.rules[name], of(), {})
