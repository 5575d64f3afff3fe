"""The marked proof's two small plots: where their lines go; the templates draw them as SVG."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pressworthy.colour.lightness import printed
from pressworthy.house import House
from pressworthy.jobs.pull import BINS, Pull
from pressworthy.print.transfer import Transfer
from pressworthy.values.units import figure

MOST_CYCLES = 24
MOST_SHARE = 1.5
LEVELS = (0.5, 1.0)

_WORDS_L = 25
"""L* that the plumb line's words take on the plot."""

Ticks = tuple[tuple[str, str], ...]
"""(x, label) of each tick."""


@dataclass(frozen=True)
class Frame:
    """A plot's size, and where within it the curve's corners lie, in SVG units."""

    width: int = 300
    height: int = 132
    left: int = 26
    right: int = 292
    top: int = 20
    bottom: int = 106

    def x(self, share: float) -> float:
        return self.left + (self.right - self.left) * share

    def y(self, share: float) -> float:
        return self.bottom - (self.bottom - self.top) * share


FRAME = Frame()


@dataclass(frozen=True)
class TonesPlot:
    """Histogram of printed L*, the supplied picture's as a line over it.

    median, paper, darkest and wanted: L* as figures, the first three also as whole numbers; wanted
    are the ends of the house's window as they print; strokes, supplied: the histogram and the line,
    as SVG paths; ends, bracket, median_x: x of what they mark, in SVG units; words_x, words_anchor:
    where the plumb line's words begin or end.
    """

    median: str
    paper: str
    darkest: str
    median_whole: str
    paper_whole: str
    darkest_whole: str
    wanted: tuple[str, str]
    strokes: str
    supplied: str
    ends: tuple[str, str]
    bracket: tuple[str, str]
    median_x: str
    words_x: str
    words_anchor: str
    ticks: Ticks
    frame: Frame = FRAME


@dataclass(frozen=True)
class Curve:
    """A curve of contrast transfer as an SVG path; acutance in %; where its label stands."""

    acutance: str
    path: str
    label_x: str
    label_y: str


@dataclass(frozen=True)
class Level:
    """A level line; whole: all contrast reaches the reader."""

    whole: bool
    y: str
    label: str
    label_y: str


@dataclass(frozen=True)
class TransfersPlot:
    """Contrast transfer over cycles/degree, without and with sharpening."""

    unsharpened: Curve
    prepared: Curve
    levels: tuple[Level, ...]
    ticks: Ticks
    frame: Frame = FRAME


def tones_plot(pull: Pull, house: House) -> TonesPlot:
    """Return the plot of a pull's tones, which it must have."""
    darkest, paper = house.output.span
    wanted = [printed(end, darkest, paper) for end in house.output.median]
    # one tall bar, such as a white ground, must not flatten all others
    high = max(sorted([*pull.tones, *pull.supplied_tones])[-3], 1e-9) * 1.1

    def x(lightness: float) -> float:
        return FRAME.x(lightness / 100)

    def y(share: float) -> float:
        return FRAME.y(min(share / high, 1))

    # on the side of which they speak, where there is room for them
    left = pull.median > _WORDS_L
    step = 100 / BINS
    strokes = "".join(
        f"M{_coordinate(x((i + 0.5) * step))} {FRAME.bottom - 1}V{_coordinate(y(share))}"
        for i, share in enumerate(pull.tones)
        if share > high / 50
    )
    return TonesPlot(
        median=figure(pull.median),
        paper=figure(paper),
        darkest=figure(darkest),
        median_whole=f"{pull.median:.0f}",
        paper_whole=f"{paper:.0f}",
        darkest_whole=f"{darkest:.0f}",
        wanted=(f"{wanted[0]:.0f}", f"{wanted[1]:.0f}"),
        strokes=strokes,
        supplied=_path((x((i + 0.5) * step), y(s)) for i, s in enumerate(pull.supplied_tones)),
        ends=(_coordinate(x(darkest)), _coordinate(x(paper))),
        bracket=(_coordinate(x(wanted[0])), _coordinate(x(wanted[1]))),
        median_x=_coordinate(x(pull.median)),
        words_x=_coordinate(x(pull.median) + (-4 if left else 4)),
        words_anchor="end" if left else "start",
        ticks=tuple((_coordinate(x(at)), str(at)) for at in (0, 25, 50, 75, 100)),
    )


def transfers_plot(plain: Transfer, sharp: Transfer) -> TransfersPlot:
    """Return the plot of two transfers, before and after sharpening."""
    return TransfersPlot(
        unsharpened=_curve(plain, above=False),
        prepared=_curve(sharp, above=True),
        levels=tuple(
            Level(
                share == 1,
                _coordinate(_share_y(share)),
                f"{share:.0%}",
                _coordinate(_share_y(share) + 3),
            )
            for share in LEVELS
        ),
        ticks=tuple((_coordinate(_cycles_x(at)), str(at)) for at in (0, 4, 8, 12, 16, 20, 24)),
    )


def _curve(transfer: Transfer, *, above: bool) -> Curve:
    """Return a transfer as a curve with its label at its end, above it or below it.

    Each point is the median of itself and its neighbours: where a picture holds nothing of one
    fineness, the dots alone would draw a dip.
    """
    points = [
        (_cycles_x(cycles), _share_y(share))
        for cycles, share in zip(transfer.frequencies, _steadied(transfer.response), strict=True)
        if cycles <= MOST_CYCLES
    ]
    end = [y for _, y in points[-7:]]
    label_y = min(end) - 5 if above else max(end) + 12
    return Curve(
        f"{transfer.acutance:.0%}",
        _path(points),
        _coordinate(points[-1][0]),
        _coordinate(label_y),
    )


def _cycles_x(cycles: float) -> float:
    return FRAME.x(cycles / MOST_CYCLES)


def _share_y(share: float) -> float:
    return FRAME.y(min(max(share, 0), MOST_SHARE) / MOST_SHARE)


def _steadied(response: Iterable[float]) -> list[float]:
    given = [float(share) for share in response]
    ends = [given[0], *given, given[-1]]
    return [sorted(ends[i : i + 3])[1] for i in range(len(given))]


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{_coordinate(x)} {_coordinate(y)}" for x, y in points)


def _coordinate(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
