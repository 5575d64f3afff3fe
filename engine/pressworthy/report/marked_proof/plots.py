"""The marked proof's two small plots, drawn as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pressworthy.jobs.pull import BINS
from pressworthy.print.transfer import Transfer
from pressworthy.report.marked_proof.markup import Markup, joined, tag

WIDTH, HEIGHT = 300, 132
LEFT, RIGHT, TOP, BOTTOM = 26, 292, 8, 106
MOST_CYCLES = 24
MOST_SHARE = 1.5


def tones(
    printed: Sequence[float],
    supplied: Sequence[float],
    median: float,
    ends: tuple[float, float],
    wanted: tuple[float, float] | None,
) -> Markup:
    """Return the histogram of printed L*, the supplied picture's as a line over it.

    printed, supplied: shares by L* in equal steps from 0 to 100; median, ends (darkest and paper)
    and wanted: L*.
    """
    # one tall bar, such as a white ground, must not flatten all others
    high = max(sorted([*printed, *supplied])[-3], 1e-9) * 1.1

    def x(value: float) -> float:
        return LEFT + (RIGHT - LEFT) * value / 100

    def y(share: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(share / high, 1)

    step = 100 / BINS
    bars = [
        tag(
            "rect",
            x=_f(x(i * step) + 0.4),
            y=_f(y(share)),
            width=_f((RIGHT - LEFT) / BINS - 0.8),
            height=_f(BOTTOM - y(share)),
        )
        for i, share in enumerate(printed)
        if share > high / 200
    ]
    line = _path((x((i + 0.5) * step), y(share)) for i, share in enumerate(supplied))
    marks = [tag("path", d=f"M{_f(x(end))} {BOTTOM}V{TOP}", class_="end") for end in ends]
    if wanted:
        low, top = (x(value) for value in wanted)
        marks.append(
            tag("path", d=f"M{_f(low)} {TOP}v-4H{_f(top)}v4", class_="wanted", fill="none")
        )
    at = x(median)
    marks.append(tag("path", d=f"M{_f(at)} {BOTTOM + 1}l-4 7h8z", class_="median"))
    label = (
        f"Histogram of lightness in print: median L* {median:.0f}, from the darkest ink at "
        f"{ends[0]:.0f} to the paper at {ends[1]:.0f}"
    )
    return _plot(
        label,
        tag("g", *bars, class_="bars"),
        tag("path", d=line, class_="line dashed"),
        *marks,
        _axis("L*", [(x(v), str(v)) for v in (0, 25, 50, 75, 100)]),
    )


def transfers(plain: Transfer, sharp: Transfer) -> Markup:
    """Return contrast transfer over cycles/degree, without and with sharpening.

    Each point is the median of itself and its neighbours: where a picture holds nothing of one
    fineness, the dots alone would draw a dip.
    """

    def x(cycles: float) -> float:
        return LEFT + (RIGHT - LEFT) * cycles / MOST_CYCLES

    def y(share: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(max(share, 0), MOST_SHARE) / MOST_SHARE

    curves = []
    for one, name in ((plain, "line dashed"), (sharp, "line")):
        points = [
            (x(cycles), y(share))
            for cycles, share in zip(one.frequencies, _steadied(one.response), strict=True)
            if cycles <= MOST_CYCLES
        ]
        curves.append(tag("path", d=_path(points), class_=name))
        last = [at for _, at in points[-7:]]
        word = "as prepared" if one is sharp else "unsharpened"
        at = min(last) - 5 if one is sharp else max(last) + 12
        curves.append(tag("text", word, x=_f(points[-1][0]), y=_f(at), text_anchor="end"))
    levels = [
        tag("path", d=f"M{LEFT} {_f(y(share))}H{RIGHT}", class_="level" if share == 1 else "grid")
        for share in (0.5, 1)
    ]
    names = [
        tag("text", f"{share:.0%}", x=LEFT - 3, y=_f(y(share) + 3), text_anchor="end")
        for share in (0.5, 1)
    ]
    label = (
        f"Contrast that reaches the reader by cycles per degree: {sharp.acutance:.0%} as prepared, "
        f"{plain.acutance:.0%} unsharpened"
    )
    return _plot(
        label,
        *levels,
        *names,
        *curves,
        _axis("cycles/degree", [(x(v), str(v)) for v in (0, 4, 8, 12, 16, 20, 24)]),
    )


def _steadied(response: Iterable[float]) -> list[float]:
    given = [float(share) for share in response]
    ends = [given[0], *given, given[-1]]
    return [sorted(ends[i : i + 3])[1] for i in range(len(given))]


def _axis(name: str, ticks: Iterable[tuple[float, str]]) -> Markup:
    marks = []
    for at, text in ticks:
        marks.append(tag("path", d=f"M{_f(at)} {BOTTOM}v3", class_="tick"))
        marks.append(tag("text", text, x=_f(at), y=BOTTOM + 14, text_anchor="middle"))
    marks.append(tag("path", d=f"M{LEFT} {BOTTOM}H{RIGHT}", class_="tick"))
    marks.append(tag("text", name, x=RIGHT, y=BOTTOM + 25, text_anchor="end", class_="name"))
    return joined(marks)


def _plot(label: str, *parts: Markup) -> Markup:
    return tag("svg", *parts, viewBox=f"0 0 {WIDTH} {HEIGHT}", role="img", aria_label=label)


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{_f(x)} {_f(y)}" for x, y in points)


def _f(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
