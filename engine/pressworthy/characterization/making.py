"""Making a printing condition from measured patches, and telling how well it fits them."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pressworthy.characterization.described import (
    Description,
    describe,
    describe_inks,
    steps_at,
)
from pressworthy.characterization.model import fit_yule_nielsen
from pressworthy.characterization.patches import INKS, Array, Patches, read_measurements
from pressworthy.characterization.profiles import (
    DRAFT,
    QUALITY,
    Separation,
    cmyk_profile,
    gray_profile,
    has_argyll,
)
from pressworthy.colour import icc
from pressworthy.colour.condition import WORDS, is_profile
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.gamut_volume import gamut_volume
from pressworthy.colour.ink_table import ink_tables
from pressworthy.colour.own_profile import USUAL_DOTS, printed_lab
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.separation import most_asked_for
from pressworthy.values.faults import SetupError
from pressworthy.values.units import parse

FILES = ("cmyk.icc", "gray.icc", "inks.json", "condition.yaml")
GAMUT = "cubic CIELAB units; all mixes of the inks by the profile, on its paper"
_BOUNDS = {"lines/cm": (10, 200), "%": (100, 400), "dpi": (100, 10_000)}
STEPS = (
    "the profile of black ink alone",
    "the CMYK profile",
    "what it prints, and how well it fits",
)
"""What is made one after the other; the second takes nearly all the time."""


@dataclass(frozen=True)
class Press:
    """What no chart says of a press, so that a person states it.

    ruling: lines/cm; limit: largest sum of all inks, %; resolution: of the platesetter, dpi, None
    to assume the usual one. under: M0 to M3 (ISO 13655), "" as the chart's file says; title: press
    and paper in one line, "" to call it by the chart; matte: so is the paper; draft: a coarse
    profile in a minute.
    """

    ruling: float
    limit: float
    resolution: float | None = None
    under: str = ""
    title: str = ""
    matte: bool = False
    draft: bool = False


def stated(text: str, unit: str) -> float:
    """Return what a person states of a press, in lines/cm, % or dpi. Raises ValueError."""
    low, high = _BOUNDS[unit]
    found = parse(text, unit, bare=unit)
    if not low <= found <= high:
        raise ValueError(f"{text!r}: {low} to {high} {unit} can be")
    return found


def refuse_name(name: str) -> None:
    """Raise SetupError where no condition can be called so."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name) or name in WORDS:
        raise SetupError([f"{name!r}: a condition's name is of letters, digits, '-' and '.'"])
    if is_profile(name):
        raise SetupError([f"{name!r}: that is what an ICC profile is called, and no condition"])


@dataclass(frozen=True)
class Fit:
    """How well a CMYK profile says what was measured, dE00, and what its figures hide.

    patches: measured; worst: inks, %, of the largest difference; repeats: mean dE00 between equal
    patches and their own mean, None where none repeats. model: of the Neugebauer model, and its n.
    uneven: inks whose measured ramp is somewhere no darker at more ink.
    """

    patches: int
    mean: float
    p95: float
    most: float
    worst: tuple[float, ...]
    repeats: float | None
    model: tuple[float, float]
    most_ink: float
    uneven: tuple[str, ...]


def make_from(
    chart: Path, name: str, press: Press, into: Path, at: Callable[[str], None] = lambda _: None
) -> tuple[Path, Fit, str]:
    """Make a condition from a file of measurements, in a folder of its name; see `make`.

    Returns that folder, how well it fits, and under what light it was measured, "" where that is
    told nowhere. Raises SetupError.
    """
    refuse_name(name)
    measured = read_measurements(chart)
    resolution = press.resolution or USUAL_DOTS["device resolution"]
    under = press.under or measured.under
    steps = steps_at(resolution, press.ruling)
    said = Description(
        name=name,
        title=press.title or f"{name}, from {measured.descriptor}",
        ruling=press.ruling,
        resolution=resolution,
        ink_limit=press.limit,
        under=under,
        source={
            "data": f"{chart.name}: {measured.descriptor}",
            "originator": measured.originator or "not told",
        },
        caution="One press, as it was measured. The printer's own advice comes first.",
        notes={
            "ruling": "as asked for",
            "ink limit": "as asked for",
            "device resolution": steps
            if press.resolution
            else f"assumed, common practice; {steps}",
            "measured under": "as asked for" if press.under else "as the chart's file says",
        },
    )
    rights = "made from the measurements named; their owner's terms hold"
    effort = DRAFT if press.draft else QUALITY
    fit = make(
        said, measured.patches, Separation(press.limit), rights, into / name, matte=press.matte,
        effort=effort, at=at,
    )  # fmt: skip
    return into / name, fit, under


def make(
    said: Description,
    patches: Patches,
    separation: Separation,
    copyright_: str,
    target: Path,
    *,
    matte: bool = False,
    effort: tuple[str, ...] = QUALITY,
    at: Callable[[str], None] = lambda _: None,
) -> Fit:
    """Write a condition's folder at `target`, whole or not at all, and return how well it fits.

    at: is told each of `STEPS` as it begins. Raises SetupError where the folder is there, ArgyllCMS
    is missing, or it cannot be written.
    """
    if target.exists():
        raise SetupError([f"{target}: is there already; nothing is written over"])
    if not has_argyll():
        raise SetupError(
            [
                "ArgyllCMS makes the CMYK profile, and its colprof is not installed; install "
                "ArgyllCMS (Debian: argyll) and ask again, nothing was written"
            ]
        )
    mean = patches.mean()
    title = f"{said.name} (from {said.source.get('data', 'measurements')})"
    source = rgb_profile("sRGB")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".", dir=target.parent) as scratch:
            folder = Path(scratch) / target.name
            folder.mkdir()
            at(STEPS[0])
            gray = gray_profile(mean, f"{title} gray", copyright_, matte=matte)
            (folder / "gray.icc").write_bytes(gray)
            at(STEPS[1])
            cmyk = cmyk_profile(
                patches, separation, source, title, copyright_, matte=matte, effort=effort
            )
            (folder / "cmyk.icc").write_bytes(cmyk)
            at(STEPS[2])
            (folder / "inks.json").write_text(describe_inks(mean), encoding="ascii")
            black = next(ink_tables(icc.parse(cmyk))).black() * 100
            darkest = printed_lab(black[None], cmyk)[0]
            gamut = gamut_volume(cmyk), GAMUT
            text = describe(said, mean, folder, black, darkest, gamut)
            (folder / "condition.yaml").write_text(text, encoding="ascii")
            fit = fit_of(folder / "cmyk.icc", patches)
            folder.rename(target)
    except OSError as error:
        raise SetupError([f"{target}: {error.strerror or error}"]) from None
    return fit


def fit_of(profile: Path, patches: Patches) -> Fit:
    """Return how well a CMYK profile fits the patches as measured. Raises Unmeasured."""
    mean = patches.mean()
    apart = delta_e_2000(printed_lab(patches.ink, profile.read_bytes()), patches.lab)
    worst = patches.ink[int(apart.argmax())].tolist()
    return Fit(
        patches=len(apart),
        mean=float(apart.mean()),
        p95=float(np.percentile(apart, 95)),
        most=float(apart.max()),
        worst=tuple(worst),
        repeats=_repeats(patches, mean),
        model=fit_yule_nielsen(mean),
        most_ink=most_asked_for(profile),
        uneven=tuple(name for ink, name in INKS.items() if _uneven(mean.ramp(ink)[1])),
    )


def _repeats(patches: Patches, mean: Patches) -> float | None:
    _, group, count = np.unique(patches.ink, axis=0, return_inverse=True, return_counts=True)
    index = np.ravel(group)
    again = count[index] > 1
    if not again.any():
        return None
    return float(delta_e_2000(patches.lab[again], mean.lab[index[again]]).mean())


def _uneven(xyz: Array) -> bool:
    # in the light that the ink takes most of
    channel = int((xyz[-1] / xyz[0]).argmin())
    return bool((np.diff(xyz[:, channel]) > 0).any())


def report(fit: Fit, limit: float) -> str:
    """Return a report of fit for a terminal."""
    worst = " ".join(f"{ink}{value:.0f}" for ink, value in zip("CMYK", fit.worst, strict=True))
    n, error = fit.model
    lines = [
        f"{fit.patches:,} patches; the CMYK profile prints them to {fit.mean:.2f} dE00 on average, "
        f"95 % to {fit.p95:.2f},",
        f"all to {fit.most:.2f} (the worst: {worst}). The conditions that come with this program "
        "keep to 0.30 on average.",
    ]
    if fit.repeats is not None:
        lines.append(f"Equal patches of the chart lie {fit.repeats:.2f} dE00 from their own mean.")
    lines.append(
        "The Neugebauer model, of which the print look is made, keeps to "
        f"{error:.2f} dE00 (n {n:.2f})."
    )
    lines.append(
        f"Its tables ask for {fit.most_ink:.0f} % of ink at most; the limit is {limit:g} %."
    )
    if fit.uneven:
        lines.append(
            f"Measured unevenly: {', '.join(fit.uneven)}; somewhere more ink is no darker. "
            "Look at the chart before you trust it."
        )
    return "\n".join(lines)
