"""Two printing conditions side by side: paper, solids, tone values, gray balance, gamut.

Everything is read from the CMYK profiles' tables from inks to colours, so that both are read
alike, be they a condition with aims of its own or nothing but a printer's ICC profile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pressworthy.colour.chart import GRAYS, chart
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.gamut_volume import gamut_volume
from pressworthy.colour.own_profile import increases, printed_lab, solids
from pressworthy.colour.tone_value import INKS, TONES
from pressworthy.values.condition import Condition, Lab
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import figure


@dataclass(frozen=True)
class Print:
    """What a condition prints: CIELAB (D50) on its paper; increases and gamut as their modules say.

    grays: of cyan, magenta and yellow of `GRAYS`.
    """

    name: str
    paper: Lab
    solids: dict[str, Lab]
    increases: dict[str, dict[int, float]]
    grays: dict[str, Lab]
    gamut: float


@dataclass(frozen=True)
class Comparison:
    """Two conditions, and how far the same inks print apart on them, dE00.

    patches: how many mixes of the chart were compared; worst: inks, %, of the largest difference.
    """

    first: Print
    second: Print
    colours: dict[str, float]
    patches: int
    mean: float
    p95: float
    most: float
    worst: tuple[float, float, float, float]


def compare(first: Condition, second: Condition) -> Comparison:
    """Return two printing conditions side by side. Raises Unmeasured where one is not in CMYK."""
    one, other = _print(first), _print(second)
    mixes = chart()
    differences = delta_e_2000(*(printed_lab(mixes, _profile(each)) for each in (first, second)))
    pairs = {"paper": (one.paper, other.paper)}
    pairs |= {name: (lab, other.solids[name]) for name, lab in one.solids.items()}
    pairs |= {name: (lab, other.grays[name]) for name, lab in one.grays.items()}
    c, m, y, k = mixes[int(differences.argmax())].tolist()
    return Comparison(
        first=one,
        second=other,
        colours={name: float(delta_e_2000(*map(np.array, pair))) for name, pair in pairs.items()},
        patches=len(mixes),
        mean=float(differences.mean()),
        p95=float(np.percentile(differences, 95)),
        most=float(differences.max()),
        worst=(c, m, y, k),
    )


def _profile(condition: Condition) -> bytes:
    if "cmyk" not in condition.profiles:
        raise Unmeasured(f"{condition.name} has no CMYK profile; conditions are compared by those")
    return condition.profiles["cmyk"].read_bytes()


def _print(condition: Condition) -> Print:
    profile = _profile(condition)

    def labs(mixes: Any) -> list[Lab]:
        return [(lab[0], lab[1], lab[2]) for lab in printed_lab(np.array(mixes), profile).tolist()]

    return Print(
        name=condition.name,
        paper=labs([[0, 0, 0, 0]])[0],
        solids=solids(profile),
        increases=increases(profile),
        grays=dict(zip(map(_spelled, GRAYS), labs([(*gray, 0) for gray in GRAYS]), strict=True)),
        gamut=gamut_volume(profile),
    )


def _spelled(gray: tuple[int, int, int]) -> str:
    return "C{} M{} Y{}".format(*gray)


def as_json(done: Comparison) -> dict[str, Any]:
    """Return a comparison for other programs: CIELAB, %, cubic CIELAB units and dE00."""

    def one(side: Print) -> dict[str, Any]:
        return {
            "name": side.name,
            "paper": _rounded(side.paper),
            "solids": {name: _rounded(lab) for name, lab in side.solids.items()},
            "tone value increase": {
                ink: {f"{tone} %": round(gain, 2) for tone, gain in gains.items()}
                for ink, gains in side.increases.items()
            },
            "gray balance": {name: _rounded(lab) for name, lab in side.grays.items()},
            "gamut volume": round(side.gamut),
        }

    return {
        "conditions": [one(done.first), one(done.second)],
        "dE00": {name: round(apart, 2) for name, apart in done.colours.items()},
        "chart": {
            "mixes": done.patches,
            "mean": round(done.mean, 2),
            "95 %": round(done.p95, 2),
            "most": round(done.most, 2),
            "worst": dict(zip("CMYK", done.worst, strict=True)),
        },
    }


def _rounded(lab: Lab) -> list[float]:
    return [round(part, 2) + 0.0 for part in lab]


def as_text(done: Comparison) -> str:
    """Return a comparison for a terminal."""
    one, other = done.first, done.second
    lines = [f"{'':<18} {one.name[:24]:>24} {other.name[:24]:>24} {'dE00':>7}"]

    def colour(name: str, lab: Lab, against: Lab) -> str:
        sides = (" ".join(f"{part + 0.0:6.1f}" for part in side) for side in (lab, against))
        return (
            f"{name:<18} "
            + " ".join(f"{side:>24}" for side in sides)
            + (f" {done.colours[name]:7.2f}")
        )

    lines += ["L* a* b*", colour("paper", one.paper, other.paper)]
    lines += [colour(name, lab, other.solids[name]) for name, lab in one.solids.items()]
    lines += ["gray balance, L* a* b* of these inks, %"]
    lines += [colour(name, lab, other.grays[name]) for name, lab in one.grays.items()]
    tones = "/".join(map(str, TONES))
    lines += [f"tone value increase, % at {tones}"]
    for ink in INKS:
        sides = (
            " ".join(f"{gain:5.1f}" for gain in side.increases[ink].values())
            for side in (one, other)
        )
        lines.append(f"{ink:<18} " + " ".join(f"{side:>24}" for side in sides))
    lines += [
        "",
        f"{'gamut volume':<18} {one.gamut:>24,.0f} {other.gamut:>24,.0f}"
        f" {100 * (other.gamut / one.gamut - 1):+6.1f} %",
        "",
        f"The {done.patches:,} mixes of the 1,617 patches of ISO 12642-2 print apart by "
        f"{figure(done.mean)} dE00 on average, 95 % of them by at most {figure(done.p95)};",
        f"the most is {figure(done.most)}, at "
        + " ".join(f"{ink}{value:.0f}" for ink, value in zip("CMYK", done.worst, strict=True))
        + ".",
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"
