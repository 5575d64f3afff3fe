#!/usr/bin/env python3
"""Make the printing conditions and screen conditions from open data.

It makes all of pressworthy_profiles/conditions but NOTICE.md; nothing is edited by hand::

    apt-get install argyll icc-profiles-free     # colprof, xicclu, iccgamut; the .ti3 data
    python profiles/build_conditions.py          # all conditions, 10 minutes on two idle cores
    python profiles/build_conditions.py srgb     # only those named
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
import hashlib
import itertools
import json
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import colour
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HERE = Path(__file__).parent / "pressworthy_profiles" / "conditions"
DATA = Path("/usr/share/color/icc")  # Debian package icc-profiles-free
DATE = (2025, 1, 1, 0, 0, 0)  # in every ICC header, in place of the day of building
D50 = np.array([0.9642, 1.0, 0.8249])  # ICC.1, the profile connection space's white
INKS = {"C": "cyan", "M": "magenta", "Y": "yellow", "K": "black"}
SOLIDS = {**INKS, "MY": "red", "CY": "green", "CM": "blue"}
MATTE = 2  # ICC.1, device attributes in the header: bit 1
TONES = (20, 40, 50, 80)  # % at which the tone value increase is stated


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
    "ANSI CGATS TR {}-2007, Color Characterization Data for {}, copyright 2007 NPES, which lets "
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
        standard="ISO 12647-2 paper type 1; data ANSI CGATS TR 006-2007",
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
        attribution=CGATS.format("006", "Printing on Grade 1 Coated Paper"),
    ),
    Print(
        name="coated-no3",
        data="TR003",
        title="Publication web offset on coated paper no. 3",
        standard="data ANSI CGATS TR 003-2007",
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
        attribution=CGATS.format("003", "Proofing on Grade 3 Coated Paper"),
    ),
    Print(
        name="coated-no5",
        data="TR005",
        title="Publication web offset on coated paper no. 5",
        standard="data ANSI CGATS TR 005-2007",
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
        attribution=CGATS.format("005", "Proofing on Grade 5 Coated Paper"),
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


# --- characterization data --------------------------------------------------------------------


@dataclass(frozen=True)
class Patches:
    """Characterization data: ink in %, XYZ (Y = 100 is the perfect diffuser), CIELAB D50."""

    ink: Array
    xyz: Array
    lab: Array

    def mean(self) -> Patches:
        """Patches with equal inks averaged, in ascending order of ink."""
        ink, group = np.unique(self.ink, axis=0, return_inverse=True)
        index = np.ravel(group)
        count = np.bincount(index)[:, None]

        def average(values: Array) -> Array:
            return np.stack([np.bincount(index, v) for v in values.T], axis=1) / count

        return Patches(ink, average(self.xyz), average(self.lab))

    def solid(self, inks: str) -> tuple[Array, Array]:
        """XYZ and Lab of the overprint of full inks, e.g. ``"CM"``; ``""`` is paper."""
        wanted = [100.0 * (ink in inks) for ink in INKS]
        at = int(np.flatnonzero((self.ink == wanted).all(axis=1))[0])
        return self.xyz[at], self.lab[at]

    def ramp(self, ink: str) -> tuple[Array, Array, Array]:
        """Device %, XYZ and Lab of one ink alone, from paper to solid."""
        others = [i for i, name in enumerate(INKS) if name != ink]
        at = (self.ink[:, others] == 0).all(axis=1)
        return self.ink[at][:, list(INKS).index(ink)], self.xyz[at], self.lab[at]


def clean(name: str) -> str:
    """Text of a .ti3 file as plain ASCII: TR002 has three bytes of a dash that are not."""
    raw = (DATA / f"{name}.ti3").read_bytes()
    return raw.decode("ascii", errors="replace").replace("\ufffd", "-").replace("\r", "")


def read_patches(name: str) -> Patches:
    """All rows of a .ti3 file (fields: id, C M Y K, X Y Z, L a b)."""
    rows = clean(name).split("BEGIN_DATA\n")[1].split("END_DATA")[0]
    values = np.array([line.split()[1:11] for line in rows.splitlines() if line.strip()], float)
    return Patches(values[:, :4], values[:, 4:7], values[:, 7:])


# --- colour arithmetic ------------------------------------------------------------------------


def to_lab(xyz: Array) -> Array:
    """CIELAB (D50) from XYZ with the perfect diffuser at Y = 100."""
    white = colour.XYZ_to_xy(D50)
    return cast(Array, np.asarray(colour.XYZ_to_Lab(xyz / 100, white), float))


def delta(one: Array, other: Array) -> Array:
    """CIEDE2000 differences."""
    return cast(Array, np.asarray(colour.delta_E(one, other, method="CIE 2000"), float))


def spread(differences: Array) -> str:
    """Mean, 95th percentile and maximum, for the table."""
    mean, high, top = differences.mean(), np.percentile(differences, 95), differences.max()
    return f"{mean:6.2f} {high:6.2f} {top:6.2f}"


def tone_value_increase(patches: Patches, ink: str) -> dict[int, float]:
    """Tone value increase in % at ``TONES``, by Murray-Davies on colorimetric reflectance.

    The signal is Y for magenta and black, Z for yellow, X - 0.55 Z for cyan (the usual rule,
    after ISO/TS 10128).
    """
    weights = {"C": (1, 0, -0.55), "Y": (0, 0, 1)}.get(ink, (0, 1, 0))
    device, xyz, _ = patches.ramp(ink)
    signal = xyz @ np.array(weights)
    tone = 100 * (signal[0] - signal) / (signal[0] - signal[-1])
    at = np.interp(TONES, device, tone)
    return {nominal: float(value) - nominal for nominal, value in zip(TONES, at, strict=True)}


def overprints() -> list[str]:
    """Names of the 16 Neugebauer primaries, ``""`` (paper) to ``"CMYK"``."""
    return ["".join(c) for size in range(5) for c in itertools.combinations(INKS, size)]


def neugebauer(patches: Patches, ink: Array, n: float) -> Array:
    """XYZ of inks (%) by the Yule-Nielsen modified Neugebauer model with Demichel's areas.

    Each ink's effective area comes from its own ramp.
    """
    area = np.empty_like(ink)
    for column, name in enumerate(INKS):
        device, xyz, _ = patches.ramp(name)
        root = xyz ** (1 / n)
        span = root[-1] - root[0]
        area[:, column] = np.interp(ink[:, column], device, (root - root[0]) @ span / (span @ span))
    total = np.zeros((len(ink), 3))
    for primary in overprints():
        factors = [area[:, i] if name in primary else 1 - area[:, i] for i, name in enumerate(INKS)]
        total += np.prod(factors, axis=0)[:, None] * patches.solid(primary)[0] ** (1 / n)
    return np.clip(total, 1e-6, None) ** n


def fit_yule_nielsen(patches: Patches) -> tuple[float, float]:
    """The n with the least mean CIEDE2000 over all patches, and that mean."""

    def error(n: float) -> float:
        return float(delta(patches.lab, to_lab(neugebauer(patches, patches.ink, n))).mean())

    best = min((round(n, 2) for n in np.arange(1, 5, 0.05)), key=error)
    return best, error(best)


def black_curve(patches: Patches) -> Array:
    """Y relative to paper at gray 0 (full black ink) to 255 (paper).

    A smooth curve through L* of the ramp, exact at paper and solid: measured ramps are uneven,
    above all the newsprint one, and a gray wedge would show it.
    """
    device, xyz, _ = patches.ramp("K")
    k, light = device / 100, to_lab(D50 * xyz[:, 1:2])[:, 0]
    inner = (k > 0) & (k < 1)
    chord = light[0] + (light[-1] - light[0]) * k
    bump = (k * (1 - k))[:, None] * np.vander(k, 5)
    weights = np.linalg.lstsq(bump[inner], (light - chord)[inner], rcond=None)[0]
    fine = 1 - np.arange(256) / 255
    smooth = light[0] + (light[-1] - light[0]) * fine
    smooth = smooth + (fine * (1 - fine))[:, None] * np.vander(fine, 5) @ weights
    luminance = ((smooth + 16) / 116) ** 3
    return cast(Array, luminance / luminance[-1])


# --- ICC profiles -----------------------------------------------------------------------------


def fixed(values: Iterable[float]) -> bytes:
    """s15Fixed16Numbers."""
    return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)


def xyz_tag(values: Iterable[float]) -> bytes:
    """XYZType."""
    return b"XYZ \0\0\0\0" + fixed(values)


def curve_tag(values: Array) -> bytes:
    """curveType: values 0 to 1, evenly spaced."""
    steps = np.round(np.clip(values, 0, 1) * 65535).astype(">u2").tobytes()
    return b"curv\0\0\0\0" + struct.pack(">I", len(values)) + steps


def description_tag(text: str) -> bytes:
    """textDescriptionType, ASCII only."""
    ascii_text = text.encode("ascii") + b"\0"
    head = b"desc\0\0\0\0" + struct.pack(">I", len(ascii_text)) + ascii_text
    return head + bytes(4 + 4 + 2 + 1 + 67)


def icc_profile(kind: str, space: str, tags: Mapping[str, bytes], attributes: int = 0) -> bytes:
    """An ICC version 2.2 profile with XYZ connection space; equal tags are stored once."""
    start = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    places: dict[bytes, int] = {}
    for name, data in tags.items():
        if data not in places:
            places[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
        table += struct.pack(">4sII", name.encode(), places[data], len(data))
    header = struct.pack(
        ">I4xI4s4s4s6H4s16xQI12s",
        start + len(body),
        0x02200000,
        kind.encode(),
        space.encode(),
        b"XYZ ",
        *DATE,
        b"acsp",
        attributes,
        1,  # media-relative colorimetric
        fixed(D50),
    )
    return header.ljust(128, b"\0") + table + body


def dated(profile: bytes) -> bytes:
    """The profile with ``DATE`` in its header."""
    return profile[:24] + struct.pack(">6H", *DATE) + profile[36:]


def gray_profile(condition: Print, patches: Patches) -> bytes:
    """Monochrome output profile of the black ink, 0 full ink to 1 paper."""
    tags = {
        "desc": description_tag(f"pressworthy {condition.name} gray (from {condition.data})"),
        "cprt": b"text\0\0\0\0" + ZLIB.format(condition.data).encode("ascii") + b"\0",
        "wtpt": xyz_tag(patches.solid("")[0] / 100),
        "kTRC": curve_tag(black_curve(patches)),
    }
    return icc_profile("prtr", "GRAY", tags, MATTE if condition.matte else 0)


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
        "cprt": b"text\0\0\0\0CC0 1.0: no copyright\0",
        "wtpt": xyz_tag(D50),
    }
    tags |= {f"{name}XYZ": xyz_tag(matrix[:, i]) for i, name in enumerate("rgb")}
    tags |= {f"{name}TRC": curve for name in "rgb"}
    return icc_profile("mntr", "RGB ", tags)


# --- ArgyllCMS --------------------------------------------------------------------------------


def argyll(*command: str, rows: Array | None = None, cwd: Path | None = None) -> str:
    """Standard output of an ArgyllCMS program, fed rows of numbers."""
    lines = "" if rows is None else "\n".join(" ".join(f"{v:.6f}" for v in r) for r in rows)
    done = subprocess.run(command, input=lines, capture_output=True, text=True, cwd=cwd)
    if done.returncode:
        raise RuntimeError(f"{command[0]}: {done.stdout[-500:]} {done.stderr[-500:]}")
    return done.stdout


def look_up(profile: Path, rows: Array, direction: str, intent: str) -> Array:
    """Colours through a profile; device values are in %.

    Direction is ``f`` (device to Lab) or ``b`` (Lab to device), intent ``r``, ``a`` or ``p``.
    """
    flags = (f"-f{direction}", f"-i{intent}", "-pl", "-s100")
    lines = argyll("xicclu", *flags, str(profile), rows=rows).splitlines()
    found = [line.rpartition("->")[2].partition("[")[0].split() for line in lines if "->" in line]
    return np.array(found, float)


def cmyk_profile(condition: Print) -> bytes:
    """The profile colprof makes of the condition's data, with the fixed date."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "data.ti3").write_text(clean(condition.data), encoding="ascii")
        argyll(
            *(
                "colprof",
                "-nc",
                "-qm",
                "-bh",
                f"-r{condition.noise}",
                f"-l{condition.ink_limit - condition.ink_margin}",
            ),
            *condition.black.split(),
            *("-s", str(HERE / "srgb" / "rgb.icc"), "-cmt", "-dpp"),
            *(("-Zm",) if condition.matte else ()),
            *("-D", f"pressworthy {condition.name} (from {condition.data})"),
            *("-C", ZLIB.format(condition.data)),
            *("-O", "cmyk.icc", "data"),
            cwd=folder,
        )
        return dated((folder / "cmyk.icc").read_bytes())


def gamut_volume(profile: Path, intent: str) -> float:
    """Volume in cubic CIELAB units inside the surface that iccgamut finds (default resolution)."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "profile.icc"  # iccgamut writes its surface beside the profile
        copy.write_bytes(profile.read_bytes())
        report = argyll("iccgamut", "-v", "-ff", f"-i{intent}", "-pl", str(copy))
    return float(report.partition("Total volume of gamut is ")[2].split()[0])


# --- condition.yaml ---------------------------------------------------------------------------


def quoted(text: str) -> str:
    """A double-quoted YAML string."""
    return json.dumps(text)


def triple(lab: Iterable[float]) -> str:
    """CIELAB as a YAML sequence."""
    return "[" + ", ".join(f"{round(float(v), 2) + 0.0:.2f}" for v in lab) + "]"


def files(folder: Path, names: Mapping[str, str]) -> list[str]:
    """The ``profiles`` mapping: file and SHA-256 by colour space."""
    lines = ["profiles:"]
    for space, name in names.items():
        digest = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        lines += [f"  {space}:", f"    file: {name}", f"    sha256: {quoted(digest)}"]
    return lines


def describe_print(condition: Print, patches: Patches) -> str:
    """condition.yaml of a printing condition."""
    folder = HERE / condition.name
    cmyk = folder / "cmyk.icc"
    inks = look_up(cmyk, np.zeros((1, 3)), "b", "p")
    darkest = look_up(cmyk, inks, "f", "a")[0]
    recipe = " ".join(f"{name}{value:.0f}" for name, value in zip(INKS, inks[0], strict=True))
    n, error = fit_yule_nielsen(patches)
    part = "ISO 12647-3" if "12647-3" in condition.standard else "ISO 12647-2"
    steps = (condition.resolution / (condition.ruling * 2.54)) ** 2
    lines = [
        "# Made by build_conditions.py; do not edit. Lab is CIELAB, D50, 2 degree observer.",
        f"name: {condition.name}",
        f"title: {quoted(condition.title)}",
        "medium: print",
        f"standard: {quoted(condition.standard)}",
        f"paper class: {quoted(condition.paper_class)}",
        f"ruling: {condition.ruling} lines/cm  # {condition.ruling_ground}",
        f"device resolution: {condition.resolution} dpi"
        f"  # common practice; {steps:.0f} tone steps at this ruling ({part}: at least 150)",
        "screen angles:  # common practice: black at 45, strong inks 30 apart, yellow between",
        *(
            f"  {INKS[ink]}: {angle} deg"
            for ink, angle in {"C": 75, "M": 15, "Y": 0, "K": 45}.items()
        ),
        f"ink limit: {condition.ink_limit} %  # {condition.ink_ground}: the house's setting",
        f"paper: {triple(patches.solid('')[1])}  # Lab, measured",
        f"black: {triple(patches.solid('K')[1])}  # Lab of solid black, measured",
        f"darkest: {triple(darkest)}  # Lab of black through the perceptual table: {recipe}",
        "solids:  # Lab, measured; the aims of the standard where it sets them",
        *(f"  {name}: {triple(patches.solid(key)[1])}" for key, name in SOLIDS.items()),
        "tone value increase:  # measured; Murray-Davies on colorimetric reflectance",
    ]
    for ink, name in INKS.items():
        gains = tone_value_increase(patches, ink)
        lines.append(
            f"  {name}: {{" + ", ".join(f"{t} %: {gain:.1f} %" for t, gain in gains.items()) + "}"
        )
    lines += [
        f"yule-nielsen n: {n:.2f}"
        f"  # fitted: least mean dE00 ({error:.2f}) of the Neugebauer model over all patches",
        f"gamut volume: {gamut_volume(cmyk, 'a'):.0f}"
        "  # cubic Lab units; iccgamut, absolute colorimetric, within the ink limit",
        *files(folder, {"cmyk": "cmyk.icc", "gray": "gray.icc"}),
        "source:",
        f"  data: {quoted(condition.data)}",
        f"  attribution: {quoted(condition.attribution)}",
        '  licence: "zlib; altered, see NOTICE.md"',
        "caution: \"A simulation of an average press. Not a contract proof: the printer's own "
        'profile and advice come first."',
    ]
    return "\n".join(lines) + "\n"


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
        f"title: {quoted(screen.title)}",
        "medium: screen",
        f"standard: {quoted(screen.standard)}",
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
        *files(folder, {"rgb": "rgb.icc"}),
        "source:",
        f"  data: {quoted(screen.ground)}",
        '  licence: "CC0 1.0"',
        'caution: "A space, not a measured screen: the reader\'s screen will differ."',
    ]
    return "\n".join(lines) + "\n"


def describe_inks(patches: Patches) -> str:
    """inks.json: primaries and ramps for simulating the print, a row a line."""

    def row(values: Iterable[float]) -> str:
        return json.dumps([round(float(v), 4) for v in values])

    def block(opening: str, items: Iterable[str], closing: str) -> str:
        return opening + "\n    " + ",\n    ".join(items) + "\n  " + closing

    primaries = (f"{quoted(name)}: {row(patches.solid(name)[0])}" for name in overprints())
    ramps = (
        f"{quoted(ink)}: "
        + block("[", (row((d, *v)) for d, v in zip(*patches.ramp(ink)[:2], strict=True)), "]")
        for ink in INKS
    )
    parts = [f'"primaries": {block("{", primaries, "}")}', f'"ramps": {block("{", ramps, "}")}']
    return "{\n  " + ",\n  ".join(parts) + "\n}\n"


# --- accuracy ---------------------------------------------------------------------------------


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
            + spread(delta(rows.lab, look_up(cmyk, rows.ink, "f", "a"))),
            "  B2A1 then A2B1, in gamut     "
            + spread(delta(inside, look_up(cmyk, back, "f", "r"))),
            "  gray, lightness only         " + spread(delta(lab, only_light)),
            "  gray, with the ink's own hue " + spread(delta(lab, print_gray)),
            f"  most ink: colorimetric {totals[0]:.1f} %, perceptual {totals[1]:.1f} %"
            f" (limit {condition.ink_limit} %)",
            f"  sizes: cmyk.icc {cmyk.stat().st_size}, gray.icc {gray.stat().st_size} bytes",
        ]
    )


# --- the whole --------------------------------------------------------------------------------


def build_print(condition: Print) -> None:
    """Write all files of a printing condition."""
    folder = HERE / condition.name
    folder.mkdir(exist_ok=True)
    patches = read_patches(condition.data).mean()
    (folder / "gray.icc").write_bytes(gray_profile(condition, patches))
    (folder / "cmyk.icc").write_bytes(cmyk_profile(condition))
    (folder / "inks.json").write_text(describe_inks(patches), encoding="ascii")
    text = describe_print(condition, patches)
    (folder / "condition.yaml").write_text(text, encoding="ascii")


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
            list(pool.map(build_print, prints))
    for condition in prints:
        rows = read_patches(condition.data)
        print(accuracy(condition, rows, rows.mean()))


if __name__ == "__main__":
    main()
