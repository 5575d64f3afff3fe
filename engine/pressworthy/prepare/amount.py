"""How much a printing condition needs sharpening, derived instead of believed.

Two charts, a scene of dead leaves and a slanted edge, are sharpened as `prepare` does it, brought
into the output's inks, printed by simulation and compared with what the same paper would show if
it had neither dots nor spread. The amount wanted is the one whose contrast transfer lies nearest to
1, each cycle/degree weighted by the eye's sensitivity to it. The paper's shorter tonal range is no
part of this: no sharpening can give it back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.lightness import luminance
from pressworthy.colour.linear import TOP, from_light
from pressworthy.house import House
from pressworthy.prepare.charts import dead_leaves, slanted_edge
from pressworthy.prepare.sharpen import Sharpening, radius_for, sharpen
from pressworthy.print.eye import cpiq
from pressworthy.print.printlook import Tones, flat_luminance, press_of, printed_luminance, tones_of
from pressworthy.print.transfer import BANDS, Transfer, transfer
from pressworthy.values.faults import SetupError
from pressworthy.values.units import figure

AMOUNTS = tuple(step / 4 for step in range(13))
_SIDE = 384


@dataclass(frozen=True)
class Curve:
    """What each amount does, and the best.

    radius: of the sharpening, sigma in px; spread: of light in the paper, d in mm.
    transfers: one for each of `amounts`; misfits: weighted root mean square distances from 1.
    amount: where that is least, to 0.01.
    """

    radius: float
    spread: float
    amounts: tuple[float, ...]
    transfers: tuple[Transfer, ...]
    misfits: tuple[float, ...]
    amount: float


def derive(house: House, spread: float | None = None, amounts: Sequence[float] = AMOUNTS) -> Curve:
    """Return the curve of a house's output, with its radius, threshold and halo limit.

    spread: how far light spreads in the paper, d in mm; the condition's own where None.
    amounts: those tried, ascending; the best is looked for between the first and the last.
    Raises SetupError where the output is no print or the house does not say how copies are made,
    Unmeasured where its condition cannot be simulated.
    """
    section, output = house.prepare, house.output
    if output.medium != "print":
        raise SetupError([f"{house.name}: a screen has no ink; its amount is the house's choice"])
    if section is None:
        raise SetupError([f"{house.name}: the house profile has no section 'prepare'"])
    press = press_of(output.condition)
    if spread is not None:
        press = replace(press, spread=spread)
    radius = radius_for(output.viewing_distance, output.ppi, section["radius"])
    charts = _charts()
    plain = Sharpening(radius, 0, section["threshold"], section["halo"])
    references = [flat_luminance(_tones(chart, plain, house), press) for chart in charts]
    transfers = []
    for amount in amounts:
        how = Sharpening(radius, amount, section["threshold"], section["halo"])
        prints = [
            printed_luminance(_tones(chart, how, house), output.ppi, press) for chart in charts
        ]
        pairs = zip(references, prints, strict=True)
        transfers.append(transfer(pairs, output.ppi, output.viewing_distance))
    responses = np.array([one.response for one in transfers])
    weights = cpiq(transfers[0].frequencies)
    steps = np.linspace(amounts[0], amounts[-1], round((amounts[-1] - amounts[0]) * 100) + 1)
    between = np.array([np.interp(steps, amounts, ring) for ring in responses.T]).T
    return Curve(
        radius=radius,
        spread=press.spread,
        amounts=tuple(amounts),
        transfers=tuple(transfers),
        misfits=tuple(misfit(responses, weights).tolist()),
        amount=float(steps[np.argmin(misfit(between, weights))]),
    )


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
    assert house.prepare is not None
    sharpened = sharpen(pyvips.Image.new_from_array(chart), how).numpy()
    light = luminance(np.clip(sharpened, 0, 100).astype(np.float64)) * TOP
    band = pyvips.Image.new_from_array(light.astype(np.float32))
    colour = house.output.colour
    finished = from_light(
        band.bandjoin([band, band]),
        house.output.condition.profiles[colour],
        intent=house.prepare["intent"],
        black_point=house.prepare["black point compensation"],
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
        f"{figure(values['device resolution'], 'dpi')}, light spreads {curve.spread:g} mm "
        "in the paper",
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
