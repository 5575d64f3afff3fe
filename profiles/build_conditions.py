#!/usr/bin/env python3
"""Make the printing conditions and screen conditions from open data.

It makes all of pressworthy_profiles/conditions but NOTICE.md; nothing is edited by hand::

    apt-get install argyll icc-profiles-free     # colprof, xicclu, iccgamut; the .ti3 data
    python profiles/build_conditions.py          # all conditions, 20 minutes on two idle cores
    python profiles/build_conditions.py srgb     # only those named
    python profiles/build_conditions.py --keep   # all but the CMYK profiles that are there
    python profiles/build_conditions.py --check  # accuracy of what is here, nothing is written

For each printing condition it writes

- ``cmyk.icc``, by ArgyllCMS::

      colprof -nc -qm -bh -r NOISE -l LIMIT-MARGIN BLACK -s srgb/rgb.icc -c mt -d pp [-Z m] ... DATA

  so that table 1 is colorimetric and table 0 is a gamut-mapped perceptual one, seen from sRGB on
  a typical screen to a print in practical viewing light (ISO 3664 P2);
- ``gray.icc``, a monochrome output profile of the black ink alone (ICC.1, kTRC);
- ``inks.json``, the 16 Neugebauer primaries and the four single-ink ramps: device % and
  CIE XYZ (D50, 2 degrees, perfect diffuser Y = 100) as measured;
- ``condition.yaml``, the numbers of the condition, each with its ground.

For each screen condition it writes ``rgb.icc`` (matrix and tone curve) and ``condition.yaml``.

The date in every ICC header is set to ``DATE``, and ArgyllCMS's work is otherwise the same from
run to run, so a rebuild with the same versions gives the same bytes. The profiles are ICC version
2, whose header has no profile ID; condition.yaml holds each file's SHA-256 instead.

ArgyllCMS is needed only here, never when the profiles are used.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import colour
import numpy as np
from numpy.typing import NDArray

from pressworthy.characterization.described import (
    Description,
    describe,
    describe_inks,
    profiles_told,
    steps_at,
    triple,
)
from pressworthy.characterization.patches import Patches, read_measurements
from pressworthy.characterization.profiles import (
    Separation,
    argyll,
    cmyk_profile,
    gray_profile,
)
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.icc_writing import (
    curve_tag,
    description_tag,
    icc_profile,
    text_tag,
    xyz_tag,
)
from pressworthy.colour.lab import D50

Array = NDArray[np.float64]

HERE = Path(__file__).parent / "pressworthy_profiles" / "conditions"
DATA = Path("/usr/share/color/icc")  # Debian package icc-profiles-free
CAUTION = (
    "A simulation of an average press. Not a contract proof: the printer's own profile and advice "
    "come first."
)
UNDER = "ISO 13655:2009's name for lamps as these data were measured by, before there was M1"


@dataclass(frozen=True)
class Print:
    """A printing condition: what the data cannot say, and how its profile is made.

    ``black`` holds colprof's black generation: ``-kp`` sets the black ink itself, ``-Kp`` its
    place between the least and the most possible; then start level, start and end of the
    transition from white to black, end level, shape (below 1 is late).
    """

    name: str
    data: str
    title: str
    standard: str
    paper_class: str
    ruling: int  # lines/cm
    ruling_ground: str
    resolution: int  # dpi
    ink_limit: int  # %
    ink_ground: str
    ink_margin: int  # %: colprof keeps its limit at grid points; between them inks may pass it
    matte: bool
    black: str
    noise: float  # average deviation colprof expects of the data, %
    attribution: str


@dataclass(frozen=True)
class Screen:
    """A screen condition: an RGB space by its standard's primaries and white (CIE xy)."""

    name: str
    title: str
    standard: str
    primaries: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    ground: str
    luminance: str


ZLIB = (
    "Altered: computed from the {} characterization data as distributed by Kai-Uwe Behrmann in "
    "ICC Profiles Free under the zlib licence, without warranty. Not the original data, and not "
    "a product of its publisher."
)
FOGRA = "Fogra (www.fogra.org); file copyright Kai-Uwe Behrmann (www.behrmann.name), zlib licence"
CGATS = (
    "ANSI CGATS/{}-2007, Color Characterization Data for {}, copyright 2007 NPES, which lets "
    "profiles based on it be distributed if it is named as their source; file copyright "
    "Kai-Uwe Behrmann (www.behrmann.name), zlib licence"
)

PRINTS = (
    Print(
        name="coated",
        data="FOGRA39L",
        title="Sheetfed offset on coated paper",
        standard="ISO 12647-2:2004/Amd 1:2007, paper type 1 or 2; data FOGRA39L",
        paper_class="coated art, gloss or matt, 115 g/m2 (type 1 or 2)",
        ruling=60,
        ruling_ground="the data's family; about 152 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice; 300 to 330 is asked for sheetfed coated",
        ink_margin=5,
        matte=False,
        black="-kp 0 0.15 1 0.95 0.80",
        noise=0.5,
        attribution=FOGRA,
    ),
    Print(
        name="uncoated",
        data="FOGRA29L",
        title="Sheetfed offset on uncoated white paper",
        standard="ISO/DIS 12647-2:2004, paper type 4; data FOGRA29L",
        paper_class="uncoated, white, 120 g/m2 (type 4)",
        ruling=60,
        ruling_ground="the data's header; about 152 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice; 280 to 300 is asked for uncoated",
        ink_margin=13,
        matte=True,
        black="-kp 0 0.10 1 0.90 0.60",
        noise=0.5,
        attribution=FOGRA,
    ),
    Print(
        name="newsprint",
        data="TR002",
        title="Coldset web offset on newsprint",
        standard="ISO 12647-3; data ANSI CGATS/SNAP TR 002-2007",
        paper_class="newsprint",
        ruling=40,
        ruling_ground="common practice for coldset; about 102 lpi",
        resolution=1270,
        ink_limit=220,
        ink_ground="advised by ISO 12647-3:2013 (WAN-IFRA, 2014, 2015); 220 to 260 is asked",
        ink_margin=8,
        matte=True,
        black="-kp 0 0.05 1 0.95 0.60",
        noise=1.0,
        attribution=(
            "ANSI CGATS/SNAP TR 002-2007, Color Characterization Data for Coldset Printing on "
            "Newsprint, copyright 2007 NPES, which lets profiles based on it be distributed if "
            "it is named as their source; file copyright Kai-Uwe Behrmann "
            "(www.behrmann.name), zlib licence"
        ),
    ),
    Print(
        name="lwc",
        data="FOGRA28L",
        title="Heatset web offset on light weight coated paper",
        standard="ISO/DIS 12647-2:2004, paper type 3; data FOGRA28L",
        paper_class="light weight coated (LWC), 60 g/m2 (type 3)",
        ruling=60,
        ruling_ground="the data's header; about 152 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice for publication web offset; 300 in large areas",
        ink_margin=9,
        matte=False,
        black="-kp 0 0.15 1 0.95 0.75",
        noise=0.5,
        attribution=FOGRA,
    ),
    Print(
        name="sc",
        data="FOGRA40L",
        title="Heatset web offset on super calendered paper",
        standard="based on ISO 12647-2:2004; data FOGRA40L",
        paper_class="super calendered, uncoated (SC)",
        ruling=60,
        ruling_ground="the data's header; about 152 lpi",
        resolution=2400,
        ink_limit=270,
        ink_ground="common practice, from memory; 260 to 280 is asked for SC",
        ink_margin=10,
        matte=False,
        black="-kp 0 0.12 1 0.93 0.70",
        noise=0.5,
        attribution=FOGRA,
    ),
    Print(
        name="coated-no1",
        data="TR006",
        title="Sheetfed offset on coated paper no. 1, by gray balance",
        standard="ISO 12647-2 paper type 1; data ANSI CGATS/GRACoL TR 006-2007",
        paper_class="coated, grade 1 (North America)",
        ruling=60,
        ruling_ground="common practice; about 152 lpi",
        resolution=2400,
        ink_limit=320,
        ink_ground="common practice for premium coated paper in North America",
        ink_margin=9,
        matte=False,
        black="-kp 0 0.15 1 0.95 0.80",
        noise=0.5,
        attribution=CGATS.format("GRACoL TR 006", "Printing on Grade 1 Coated Paper"),
    ),
    Print(
        name="coated-no3",
        data="TR003",
        title="Publication web offset on coated paper no. 3",
        standard="data ANSI CGATS/SWOP TR 003-2007",
        paper_class="coated, grade 3 (North America)",
        ruling=52,
        ruling_ground="common practice; about 133 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice; 300 in large areas, 325 in small ones",
        ink_margin=9,
        matte=False,
        black="-kp 0 0.15 1 0.95 0.75",
        noise=0.5,
        attribution=CGATS.format("SWOP TR 003", "Proofing on Grade 3 Coated Paper"),
    ),
    Print(
        name="coated-no5",
        data="TR005",
        title="Publication web offset on coated paper no. 5",
        standard="data ANSI CGATS/SWOP TR 005-2007",
        paper_class="coated, grade 5 (North America)",
        ruling=52,
        ruling_ground="common practice; about 133 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice; 300 in large areas, 325 in small ones",
        ink_margin=9,
        matte=False,
        black="-kp 0 0.15 1 0.95 0.75",
        noise=0.5,
        attribution=CGATS.format("SWOP TR 005", "Proofing on Grade 5 Coated Paper"),
    ),
    Print(
        name="uncoated-yellowish",
        data="FOGRA30L",
        title="Sheetfed offset on uncoated yellowish paper",
        standard="ISO/DIS 12647-2:2004, paper type 5; data FOGRA30L",
        paper_class="uncoated, slightly yellowish, 120 g/m2 (type 5)",
        ruling=60,
        ruling_ground="the data's header; about 152 lpi",
        resolution=2400,
        ink_limit=300,
        ink_ground="common practice; 280 to 300 is asked for uncoated",
        ink_margin=13,
        matte=True,
        black="-kp 0 0.10 1 0.90 0.60",
        noise=0.5,
        attribution=FOGRA,
    ),
)
SCREENS = (
    Screen(
        name="srgb",
        title="Screen, sRGB",
        standard="IEC 61966-2-1",
        primaries=((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
        ground="IEC 61966-2-1, the primaries of ITU-R BT.709",
        luminance="80 cd/m2  # IEC 61966-2-1, reference display",
    ),
    Screen(
        name="display-p3",
        title="Screen, Display P3",
        standard="SMPTE EG 432-1 primaries, D65 white, tone curve of IEC 61966-2-1",
        primaries=((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
        ground="SMPTE EG 432-1",
        luminance="80 cd/m2  # taken over from IEC 61966-2-1; the space sets none",
    ),
)
WHITE_D65 = (0.3127, 0.3290)  # CIE xy, both screens


# --- ICC profiles -----------------------------------------------------------------------------


def srgb_decode(values: Array) -> Array:
    """Linear light of sRGB values, both 0 to 1 (IEC 61966-2-1)."""
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def rgb_profile(screen: Screen) -> bytes:
    """Matrix and tone curve display profile, adapted to D50 by the Bradford matrix.

    The media white is D50 and there is no ``chad`` tag: with both, colprof gives the perceptual
    tables made from it a blue cast of 4 in b* on middle grays.
    """
    white = colour.xy_to_XYZ(WHITE_D65)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, D50, "Bradford")
    matrix = adapt @ colour.normalised_primary_matrix(np.array(screen.primaries), WHITE_D65)
    curve = curve_tag(srgb_decode(np.linspace(0, 1, 1024)))
    tags = {
        "desc": description_tag(f"pressworthy {screen.name}"),
        "cprt": text_tag("CC0 1.0: no copyright"),
        "wtpt": xyz_tag(D50),
    }
    tags |= {f"{name}XYZ": xyz_tag(matrix[:, i]) for i, name in enumerate("rgb")}
    tags |= {f"{name}TRC": curve for name in "rgb"}
    return icc_profile("mntr", "RGB ", tags)


# --- ArgyllCMS --------------------------------------------------------------------------------


def look_up(profile: Path, rows: Array, direction: str, intent: str) -> Array:
    """Colours through a profile; device values are in %.

    Direction is ``f`` (device to Lab) or ``b`` (Lab to device), intent ``r``, ``a`` or ``p``.
    """
    flags = (f"-f{direction}", f"-i{intent}", "-pl", "-s100")
    lines = argyll("xicclu", *flags, str(profile), rows=rows).splitlines()
    found = [line.rpartition("->")[2].partition("[")[0].split() for line in lines if "->" in line]
    return np.array(found, float)


def gamut_volume(profile: Path, intent: str) -> float:
    """Volume in cubic CIELAB units inside the surface that iccgamut finds (default resolution)."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "profile.icc"  # iccgamut writes its surface beside the profile
        copy.write_bytes(profile.read_bytes())
        report = argyll("iccgamut", "-v", "-ff", f"-i{intent}", "-pl", str(copy))
    return float(report.partition("Total volume of gamut is ")[2].split()[0])


# --- condition.yaml ---------------------------------------------------------------------------


def description(condition: Print) -> Description:
    """What the file of a printing condition states beyond its data."""
    part = "ISO 12647-3" if "12647-3" in condition.standard else "ISO 12647-2"
    steps = steps_at(condition.resolution, condition.ruling)
    return Description(
        name=condition.name,
        title=condition.title,
        standard=condition.standard,
        paper_class=condition.paper_class,
        ruling=condition.ruling,
        resolution=condition.resolution,
        ink_limit=condition.ink_limit,
        under="M0",
        source={
            "data": condition.data,
            "attribution": condition.attribution,
            "licence": "zlib; altered, see NOTICE.md",
        },
        caution=CAUTION,
        notes={
            "ruling": condition.ruling_ground,
            "device resolution": f"common practice; {steps} ({part}: at least 150)",
            "ink limit": f"{condition.ink_ground}: the house's setting",
            "measured under": UNDER,
            "solids": "Lab, measured; the aims of the standard where it sets them",
        },
        by="build_conditions.py",
    )


def describe_screen(screen: Screen) -> str:
    """condition.yaml of a screen condition."""
    folder = HERE / screen.name
    profile = folder / "rgb.icc"
    primaries = zip(("red", "green", "blue"), screen.primaries, strict=True)
    lights = {"red": (1, 0, 0), "green": (0, 1, 0), "blue": (0, 0, 1)}
    lights |= {"cyan": (0, 1, 1), "magenta": (1, 0, 1), "yellow": (1, 1, 0)}
    labs = look_up(profile, 100.0 * np.array(list(lights.values())), "f", "r")
    lines = [
        "# Made by build_conditions.py; do not edit. Lab is CIELAB, adapted to D50.",
        f"name: {screen.name}",
        f"title: {json.dumps(screen.title)}",
        "medium: screen",
        f"standard: {json.dumps(screen.standard)}",
        "resolution: 96 ppi  # the reference pixel of W3C CSS Values and Units",
        f"white luminance: {screen.luminance}",
        "white: [100.00, 0.00, 0.00]  # Lab: the screen's white is the reference",
        "black: [0.00, 0.00, 0.00]  # Lab of the encoding; a real screen reflects some light",
        f"white point: [{WHITE_D65[0]:.4f}, {WHITE_D65[1]:.4f}]  # CIE xy, D65",
        f"primaries:  # CIE xy, {screen.ground}",
        *(f"  {name}: [{x:.3f}, {y:.3f}]" for name, (x, y) in primaries),
        "solids:  # Lab through rgb.icc",
        *(f"  {name}: {triple(lab)}" for name, lab in zip(lights, labs, strict=True)),
        f"gamut volume: {gamut_volume(profile, 'r'):.0f}"
        "  # cubic Lab units; iccgamut, relative colorimetric",
        *profiles_told(folder, {"rgb": "rgb.icc"}),
        "source:",
        f"  data: {json.dumps(screen.ground)}",
        '  licence: "CC0 1.0"',
        'caution: "A space, not a measured screen: the reader\'s screen will differ."',
    ]
    return "\n".join(lines) + "\n"


# --- accuracy ---------------------------------------------------------------------------------


def spread(differences: Array) -> str:
    """Mean, 95th percentile and maximum, for the table."""
    mean, high, top = differences.mean(), np.percentile(differences, 95), differences.max()
    return f"{mean:6.2f} {high:6.2f} {top:6.2f}"


def accuracy(condition: Print, rows: Patches, patches: Patches) -> str:
    """A table of how well the profiles say what was measured (dE00: mean, 95 %, maximum)."""
    folder = HERE / condition.name
    cmyk, gray = folder / "cmyk.icc", folder / "gray.icc"
    dice = np.random.default_rng(1)
    inks = dice.random((20000, 4)) * 100
    inks = inks[inks.sum(axis=1) <= condition.ink_limit][:5000]
    inside = look_up(cmyk, inks, "f", "r")
    back = look_up(cmyk, inside, "b", "r")
    anywhere = dice.random((5000, 3)) * (100, 160, 160) - (0, 80, 80)
    totals = [look_up(cmyk, anywhere, "b", intent).sum(axis=1).max() for intent in "rp"]
    device, _, lab = patches.ramp("K")
    print_gray = look_up(gray, 100 - device[:, None], "f", "a")
    only_light = np.stack([print_gray[:, 0], lab[:, 1], lab[:, 2]], axis=1)
    return "\n".join(
        [
            f"{condition.name:31}  mean   95 %    max",
            f"  A2B1 against {len(rows.ink)} patches    "
            + spread(delta_e_2000(rows.lab, look_up(cmyk, rows.ink, "f", "a"))),
            "  B2A1 then A2B1, in gamut     "
            + spread(delta_e_2000(inside, look_up(cmyk, back, "f", "r"))),
            "  gray, lightness only         " + spread(delta_e_2000(lab, only_light)),
            "  gray, with the ink's own hue " + spread(delta_e_2000(lab, print_gray)),
            f"  most ink: colorimetric {totals[0]:.1f} %, perceptual {totals[1]:.1f} %"
            f" (limit {condition.ink_limit} %)",
            f"  sizes: cmyk.icc {cmyk.stat().st_size}, gray.icc {gray.stat().st_size} bytes",
        ]
    )


# --- the whole --------------------------------------------------------------------------------


def build_print(condition: Print, *, again: bool) -> None:
    """Write all files of a printing condition; the CMYK profile only where it is not to be kept."""
    folder = HERE / condition.name
    folder.mkdir(exist_ok=True)
    measured = patches_of(condition)
    patches = measured.mean()
    name, licence = f"pressworthy {condition.name}", ZLIB.format(condition.data)
    gray = gray_profile(
        patches, f"{name} gray (from {condition.data})", licence, matte=condition.matte
    )
    (folder / "gray.icc").write_bytes(gray)
    if again or not (folder / "cmyk.icc").exists():
        cmyk = cmyk_profile(
            measured,
            Separation(condition.ink_limit, condition.ink_margin, condition.black, condition.noise),
            (HERE / "srgb" / "rgb.icc").read_bytes(),
            f"{name} (from {condition.data})",
            licence,
            matte=condition.matte,
        )
        (folder / "cmyk.icc").write_bytes(cmyk)
    (folder / "inks.json").write_text(describe_inks(patches), encoding="ascii")
    gamut = gamut_volume(folder / "cmyk.icc", "a")
    note = "cubic Lab units; iccgamut, absolute colorimetric, within the ink limit"
    inks = look_up(folder / "cmyk.icc", np.zeros((1, 3)), "b", "p")
    darkest = look_up(folder / "cmyk.icc", inks, "f", "a")[0]
    text = describe(description(condition), patches, folder, inks[0], darkest, (gamut, note))
    (folder / "condition.yaml").write_text(text, encoding="ascii")


def patches_of(condition: Print) -> Patches:
    """The condition's data as measured."""
    return read_measurements(DATA / f"{condition.data}.ti3").patches


def build_screen(screen: Screen) -> None:
    """Write all files of a screen condition."""
    folder = HERE / screen.name
    folder.mkdir(exist_ok=True)
    (folder / "rgb.icc").write_bytes(rgb_profile(screen))
    (folder / "condition.yaml").write_text(describe_screen(screen), encoding="ascii")


def main(arguments: Sequence[str] | None = None) -> None:
    """Build the conditions named, or all, and print how accurate they are."""
    names = [condition.name for condition in (*SCREENS, *PRINTS)]
    parser = argparse.ArgumentParser(description="Make the printing conditions from open data.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(names))
    parser.add_argument(
        "--keep", action="store_true", help="keep CMYK profiles that are there; write all else"
    )
    parser.add_argument("--check", action="store_true", help="accuracy only; write nothing")
    options = parser.parse_args(arguments)
    if unknown := set(options.names) - set(names):
        parser.error(f"no such condition: {', '.join(sorted(unknown))}")
    wanted = options.names or names
    prints = [condition for condition in PRINTS if condition.name in wanted]
    if not options.check:
        for screen in SCREENS:  # first: sRGB is the perceptual tables' source
            if screen.name in wanted:
                build_screen(screen)
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda one: build_print(one, again=not options.keep), prints))
    for condition in prints:
        rows = patches_of(condition)
        print(accuracy(condition, rows, rows.mean()))


if __name__ == "__main__":
    main()
