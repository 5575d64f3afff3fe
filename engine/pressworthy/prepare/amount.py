"""How much a printing condition needs sharpening, derived instead of believed.

Two charts, a scene of dead leaves and a slanted edge, are sharpened as `prepare` does it, brought
into the output's inks, printed by simulation and compared with what the same paper would show if
it had neither dots nor blur. The amount wanted is the one whose contrast transfer lies nearest to
1, each cycle/degree weighted by the eye's sensitivity to it. The paper's shorter tonal range is no
part of this: no sharpening can give it back.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.lightness import luminance
from pressworthy.colour.linear import TOP, from_light
from pressworthy.house import House, amount_from_elsewhere
from pressworthy.prepare.charts import dead_leaves, slanted_edge
from pressworthy.prepare.order import section_of
from pressworthy.prepare.sharpen import Sharpening, radius_for, sharpen
from pressworthy.print.eye import cpiq
from pressworthy.print.printlook import (
    Press,
    Tones,
    flat_luminance,
    press_of,
    printed_luminance,
    tones_of,
)
from pressworthy.print.transfer import BANDS, Transfer, transfer
from pressworthy.values.faults import Fault, KeyPath, SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import figure

AMOUNTS = tuple(step / 4 for step in range(13))

MOST_STRAY = 0.15
"""How far a stated amount may lie from the derived one without a word: on coated paper a quarter to
either side moves the misfit by 0.02, and no eye parts 0.15 (common practice)."""

_SIDE = 384


@dataclass(frozen=True)
class Curve:
    """What each amount does, and the best.

    radius: of the sharpening, sigma in px; blur: of the press, d in mm.
    transfers: one for each of `amounts`; misfits: weighted root mean square distances from 1.
    amount: where that is least, to 0.01.
    """

    radius: float
    blur: float
    amounts: tuple[float, ...]
    transfers: tuple[Transfer, ...]
    misfits: tuple[float, ...]
    amount: float


def derive(house: House, blur: float | None = None, amounts: Sequence[float] = AMOUNTS) -> Curve:
    """Return the curve of a house's output, with its radius, threshold and halo limit.

    blur: all that the press blurs, d in mm; the condition's own where None.
    amounts: those tried, ascending; the best is looked for between the first and the last.
    Raises SetupError where the output is no print or the house does not say how copies are made,
    Unmeasured where its condition cannot be simulated.
    """
    press, printed = _press(house, blur), _printing(house, blur)
    transfers = tuple(map(printed, amounts))
    return Curve(
        radius=_sharpening(house, 0).radius,
        blur=press.blur,
        amounts=tuple(amounts),
        transfers=transfers,
        misfits=tuple(map(_misfit, transfers)),
        amount=_best(amounts, transfers),
    )


def amount_for(house: House) -> float:
    """Return the amount by which a house's copies are sharpened: stated, or derived for its output.

    Raises as `derive` does. Deriving takes some seconds, once in a process for each kind of output.
    """
    section = section_of(house)
    return float(section["amount"]) if "amount" in section else derived_amount(house)


def with_amount(house: House) -> House:
    """Return the house with its amount, so that no worker has to derive it."""
    if house.prepare is None or "amount" in house.prepare:
        return house
    return replace(house, prepare={**house.prepare, "amount": amount_for(house)})


def derived_amount(house: House) -> float:
    """Return the amount that `derive` finds, tried only where it may lie. Raises as that does."""
    section, output = section_of(house), house.output
    asked = [output.condition.fingerprint([output.colour]), output.colour, output.ppi]
    asked += [output.viewing_distance, output.medium, output.most_ink]
    asked += [section[name] for name in ("radius", "threshold", "halo", "intent")]
    return _derived(_Asked(json.dumps([*asked, section["black point compensation"]]), house))


def stray(house: House) -> Fault | None:
    """Return what is to be told of the amount that a house states, None where that is nothing.

    It may stray from the derived one by `MOST_STRAY`; the model is no measurement of a press.
    """
    section = house.prepare
    if section is None or "amount" not in section or house.output.medium != "print":
        return None
    path: KeyPath = ("prepare", "amount")
    tell = partial(Fault, house.origins.get(path), path)
    strip = f"pressworthy sharpening --house {shlex.quote(house.chain[-1])} --strip strip.pdf"
    try:
        derived, stated = derived_amount(house), float(section["amount"])
    except (Unmeasured, OSError) as reason:
        if not amount_from_elsewhere(house):
            return None
        return tell(
            "was stated for another viewing distance, and none can be derived for this one: "
            f"{reason}; settle it on paper by `{strip}`"
        )
    if abs(stated - derived) <= MOST_STRAY:
        return None
    return tell(
        f"{stated:g} is stated, {derived:.2f} is derived for {house.output.condition.name} "
        f"at {figure(house.output.ppi, 'ppi')}, read from "
        f"{figure(house.output.viewing_distance, 'mm')}; write that, unless a test strip settled "
        f"yours (`{strip}`)"
    )


@dataclass(frozen=True)
class _Asked:
    """A house, told from others by what its derived amount hangs on."""

    key: str
    house: House = field(compare=False)


@lru_cache(maxsize=64)
def _derived(asked: _Asked) -> float:
    """Go down from the trade's amount of 1 to where the misfit is least."""
    printed = cache(_printing(asked.house, None))

    def off(at: int) -> float:
        return _misfit(printed(AMOUNTS[at])) if 0 <= at < len(AMOUNTS) else float("inf")

    at = AMOUNTS.index(1.0)
    step = -1 if off(at - 1) < off(at) else 1
    while off(at + step) < off(at):
        at += step
    tried = AMOUNTS[max(at - 1, 0) : at + 2]
    return _best(tried, [printed(amount) for amount in tried])


def _press(house: House, blur: float | None) -> Press:
    if house.output.medium != "print":
        raise SetupError([f"{house.name}: a screen has no ink; its amount is the house's choice"])
    if house.prepare is None:
        raise SetupError([f"{house.name}: the house profile has no section 'prepare'"])
    press = press_of(house.output.condition)
    return press if blur is None else replace(press, blur=blur)


def _sharpening(house: House, amount: float) -> Sharpening:
    section, output = section_of(house), house.output
    radius = radius_for(output.viewing_distance, output.ppi, section["radius"])
    return Sharpening(radius, amount, section["threshold"], section["halo"])


def _printing(house: House, blur: float | None) -> Callable[[float], Transfer]:
    """Return what the charts' transfer is in print at an amount of sharpening."""
    press, output = _press(house, blur), house.output
    charts, plain = _charts(), _sharpening(house, 0)
    references = [flat_luminance(_tones(chart, plain, house), press) for chart in charts]

    def printed(amount: float) -> Transfer:
        how = _sharpening(house, amount)
        prints = (
            printed_luminance(_tones(chart, how, house), output.ppi, press) for chart in charts
        )
        pairs = zip(references, prints, strict=True)
        return transfer(pairs, output.ppi, output.viewing_distance)

    return printed


def _best(amounts: Sequence[float], transfers: Sequence[Transfer]) -> float:
    """Return the amount whose transfer, drawn straight between those tried, is nearest to 1."""
    steps = np.linspace(amounts[0], amounts[-1], round((amounts[-1] - amounts[0]) * 100) + 1)
    responses = np.array([one.response for one in transfers])
    between = np.array([np.interp(steps, amounts, ring) for ring in responses.T]).T
    weights = cpiq(transfers[0].frequencies)
    return round(float(steps[np.argmin(misfit(between, weights))]), 2)


def _misfit(seen: Transfer) -> float:
    return float(misfit(seen.response, cpiq(seen.frequencies)))


def misfit(responses: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the weighted RMS distance from 1 of responses (..., n)."""
    return np.asarray(np.sqrt(((responses - 1) ** 2 * weights).sum(axis=-1) / weights.sum()))


@cache
def _charts() -> tuple[NDArray[np.float32], ...]:
    """Return L* of the charts, (height, width)."""
    scene = dead_leaves(_SIDE, _SIDE, seed=1, noise=0, smallest=3).mean(axis=2) * (100 / 255)
    return scene, slanted_edge(_SIDE, _SIDE)


def _tones(chart: NDArray[np.float32], how: Sharpening, house: House) -> Tones:
    """Return the inks of a neutral chart, sharpened and converted as `prepare` does it."""
    section = section_of(house)
    sharpened = sharpen(chart, how)
    light = luminance(np.clip(sharpened, 0, 100).astype(np.float64)) * TOP
    colour = house.output.colour
    finished = from_light(
        [np.repeat(light.astype(np.float32)[..., None], 3, axis=2)],
        len(light),
        house.output.condition.profiles[colour],
        intent=section["intent"],
        black_point=section["black point compensation"],
        most_ink=house.output.most_ink,
    )
    return tones_of(finished.numpy(), "gray" if colour == "gray" else "CMYK")


def curve_table(curve: Curve, house: House, command: str) -> str:
    """Return the curve for a terminal: what each amount does, its misfit drawn, and the choice.

    command: what made it, written beside the chosen amount as a house profile's comment.
    """
    output, values = house.output, house.output.condition.values
    bands = "".join(f"{f'{low}-{high}':>7}" for low, high in BANDS)
    lines = [
        f"{house.name}: {output.colour} at {figure(output.ppi, 'ppi')}, read from "
        f"{figure(output.viewing_distance, 'mm')}",
        f"{output.condition.name}: {figure(values['ruling'], 'lines/cm')}, "
        f"{figure(values['device resolution'], 'dpi')}, {values.get('dots', 'euclidean')} dots, "
        "press and paper blur by "
        f"{curve.blur:g} mm",
        *([assumed] if (assumed := output.condition.assumption()) else []),
        f"Radius {curve.radius:.2f} px. Share of the contrast that outlives screen and paper,",
        "by cycles/degree:",
        "",
        f"amount {bands}  acutance  misfit",
    ]
    for amount, seen, off in zip(curve.amounts, curve.transfers, curve.misfits, strict=True):
        shares = "".join(f"{'-' if share != share else f'{share:.2f}':>7}" for share in seen.values)
        bar = "#" * round(off * 60)
        lines.append(f"{amount:6.2f} {shares}  {seen.acutance:8.2f}  {off:6.3f} {bar}")
    return "\n".join(
        [
            *lines,
            "",
            "Nearest to 1, weighted by the eye's contrast sensitivity:",
            f"  amount: {curve.amount:.2f}  # {command}",
        ]
    )
