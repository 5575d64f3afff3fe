"""The sheet: every picture at its relative size, with what belongs to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pressworthy.colour.lab import D50
from pressworthy.colour.lightness import printed
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import DOTS_MM, Pull
from pressworthy.print.softproof import NOTICED, soft_proof, srgb
from pressworthy.report.marked_proof import plots
from pressworthy.report.marked_proof.drawn import sign, uri
from pressworthy.report.marked_proof.markup import Markup, joined, tag
from pressworthy.report.marked_proof.remarks import WORDS, Marked, Remark
from pressworthy.report.marked_proof.slip import STATES, VIEWS
from pressworthy.values.finding import Verdict
from pressworthy.values.units import figure


def sheet_of(index: int, sheet: Sheet, pictures: Sequence[Marked], *, several: bool) -> Markup:
    widest = max((p.pull.mm[0] for p in pictures if p.pull.mm), default=0.0)
    condition = sheet.house.output.condition
    paper = srgb(soft_proof(D50.reshape(1, 1, 3).astype("float32"), condition))[0, 0]
    heading = tag(
        "h2",
        f"{sheet.report.house}: the pictures" if several else "The pictures",
    )
    return tag(
        "section",
        heading,
        joined(_picture(index, sheet, picture, widest) for picture in pictures),
        class_="sheet",
        style=f"--paper:rgb({','.join(str(int(v)) for v in paper)});--off:url(#off-{index})",
        data_house=index,
    )


def _picture(index: int, sheet: Sheet, picture: Marked, widest: float) -> Markup:
    verdict, pull = picture.verdict, picture.pull
    identity = f"p{picture.number}"
    page = f"page {verdict.page}" if verdict.page else ""
    return tag(
        "article",
        tag(
            "header",
            tag(
                "h3",
                tag("span", picture.number, class_="n"),
                " ",
                tag("span", picture.name, class_="name"),
                id=f"{identity}-name",
            ),
            tag("p", joined(_facts(verdict, page), " · "), class_="facts"),
        ),
        tag(
            "div",
            tag("div", _plate(picture, widest), _words(pull), class_="shown"),
            _margin(picture),
            _apparatus(sheet, picture),
            class_="galley",
        ),
        id=identity,
        class_=f"picture {picture.kind}",
        tabindex="-1",
        aria_labelledby=f"{identity}-name",
        data_kind=picture.kind,
        data_page=verdict.page,
        data_house=index,
    )


def _facts(verdict: Verdict, page: str) -> Iterator[str]:
    facts = verdict.facts
    if page:
        yield page
    if verdict.placement:
        yield verdict.placement
    if "width" in facts:
        yield f"{facts['width']} × {facts['height']} px"
        yield f"{facts['mode']} {facts['format']}, ICC profile: {facts['icc']}"


def _plate(picture: Marked, widest: float) -> Markup:
    pull = picture.pull
    if not pull.views:
        return tag("p", f"Cannot be shown: {pull.why}", class_="blank")
    share = pull.mm[0] / widest * 100 if pull.mm and widest else 50.0
    width, height = pull.size
    served: dict[str, list[str]] = {name: [] for name in pull.views}
    for view in VIEWS:
        for state in STATES:
            served[serving(pull, view, state)].append(f"{view}-{state}")
    images = [
        tag(
            "img",
            src=uri(data),
            alt=f"{picture.name}, {_label(name)}",
            width=width,
            height=height,
            loading="lazy",
            decoding="async",
            class_="own" if name == "supplied" else "on-paper",
            data_s=" ".join(served[name]),
        )
        for name, data in pull.views.items()
        if served[name]
    ]
    overlays = [
        tag(
            "img",
            src=uri(data),
            alt={"gamut": "hatched: colours beyond the press", "ink": "hatched: too much ink"}[
                name
            ],
            width=width,
            height=height,
            loading="lazy",
            decoding="async",
            class_=f"over o-{name}",
        )
        for name, data in pull.overlays.items()
    ]
    return tag(
        "div",
        tag(
            "div",
            *images,
            *overlays,
            _trim(pull),
            class_="plate",
            style=f"--share:{share:.2f}%;--ratio:{width}/{height}",
        ),
        tag("span", class_="leader", aria_hidden="true"),
        class_="bench",
    )


def serving(pull: Pull, view: str, state: str) -> str:
    """Return the name of the picture that stands for a view, the nearest one where it has none."""
    suffix = "-before" if state == "before" else ""
    wanted = [f"{view}{suffix}", view, f"soft{suffix}", "soft", "supplied"]
    return next(name for name in (*wanted, *pull.views) if name in pull.views)


def _label(name: str) -> str:
    view, _, before = name.partition("-")
    return VIEWS[view] + (", before sharpening" if before else "")


def _trim(pull: Pull) -> Markup:
    """Return the line at which the page is cut, where the picture bleeds."""
    if not pull.mm or not any(pull.bleed):
        return Markup("")
    width, height = pull.mm
    top, right, bottom, left = pull.bleed
    inset = (top / height, right / width, bottom / height, left / width)
    cut = " ".join(f"{share * 100:.2f}%" for share in inset)
    return tag("span", class_="trim", style=f"inset:{cut}", aria_hidden="true")


def _words(pull: Pull) -> Markup:
    parts = []
    if pull.caption or pull.credit:
        credit = tag("span", pull.credit, class_="credit") if pull.credit else ""
        parts.append(
            tag("p", pull.caption, " " if pull.caption and credit else "", credit, class_="caption")
        )
    if pull.views and pull.why:
        parts.append(tag("p", f"No copy is made of it: {pull.why}.", class_="why"))
    return joined(parts)


def _margin(picture: Marked) -> Markup:
    if not picture.remarks:
        return tag(
            "div",
            tag("p", sign("passed"), " Nothing to mark.", class_="kind passed"),
            class_="margin",
        )
    return tag("ol", *(_remark(remark) for remark in picture.remarks), class_="margin")


def _remark(remark: Remark) -> Markup:
    return tag(
        "li",
        sign(remark.kind),
        tag(
            "p",
            tag("b", remark.measured, class_="measured"),
            " ",
            tag("span", remark.limit, class_="limit") if remark.limit else "",
            class_="figures",
        ),
        tag("p", tag("span", WORDS[remark.kind], class_="word"), " ", remark.what, class_="what"),
        tag("p", remark.remedy, class_="remedy") if remark.remedy else "",
        tag("p", remark.fate, class_="fate") if remark.fate else "",
        class_=f"mark kind {remark.kind}" + (" mended" if remark.mended else ""),
    )


def _apparatus(sheet: Sheet, picture: Marked) -> Markup:
    pull = picture.pull
    parts = [*_close_ups(picture), *_plots(sheet, pull), _copy_made(pull, sheet)]
    shown = joined(parts)
    return tag("div", shown, class_="apparatus") if shown else shown


def _close_ups(picture: Marked) -> Iterator[Markup]:
    pull = picture.pull
    if not pull.close or pull.close_mm is None:
        return
    across, down = pull.close_mm
    dots = "dots" in pull.close
    size = f"--w:{across:.2f}mm;--h:{down:.2f}mm"
    scale = f"{figure(across)} × {figure(down, 'mm')} of the page at its true size, as read"
    labels = {"-before": "before", "": "sharpened"}
    pairs = [("read", size, scale if dots else "the sharpest part, pixel for pixel")]
    if dots:
        wide = min(DOTS_MM[0], across)
        times = across / wide
        pairs.append(
            ("dots", size, f"{figure(wide, 'mm')} of its middle, dot by dot, ×{figure(times)}")
        )
    for name, style, caption in pairs:
        halves = [
            tag(
                "div",
                tag(
                    "img",
                    src=uri(pull.close[f"{name}{suffix}"]),
                    alt=f"{picture.name}, close-up, {label}: {caption}",
                    class_="on-paper",
                    loading="lazy",
                    decoding="async",
                ),
                tag("span", label),
                class_="half",
            )
            for suffix, label in labels.items()
            if f"{name}{suffix}" in pull.close
        ]
        yield tag(
            "figure",
            tag("div", *halves, class_="halves"),
            tag("figcaption", caption[0].upper() + caption[1:], "."),
            class_=f"close {name}",
            style=style,
        )


def _plots(sheet: Sheet, pull: Pull) -> Iterator[Markup]:
    if pull.tones:
        black, paper = sheet.house.output.span
        window = sheet.house.rules.get("luminance")
        bounds = None
        if window:
            ends = (window.options["darkest median"], window.options["lightest median"])
            bounds = printed(ends[0], black, paper), printed(ends[1], black, paper)
        told = tag("b", f"Median L* {figure(pull.median)}")
        rest = f" in print; paper {figure(paper)}, darkest {figure(black)}."
        if bounds:
            rest += f" Bracket: where the house wants it, {bounds[0]:.0f} to {bounds[1]:.0f}."
        yield tag(
            "figure",
            plots.tones(pull.tones, pull.supplied_tones, pull.median, (black, paper), bounds),
            tag("figcaption", told, rest, " Line: as supplied, on a screen."),
            class_="plot",
        )
    if pull.sharp and pull.plain:
        yield tag(
            "figure",
            plots.transfers(pull.plain, pull.sharp),
            tag(
                "figcaption",
                tag("b", f"{pull.sharp.acutance:.0%}"),
                f" of the contrast reaches the reader, {pull.plain.acutance:.0%} without "
                "sharpening: by fineness of detail, weighted by the eye's sensitivity.",
            ),
            class_="plot",
        )


def _copy_made(pull: Pull, sheet: Sheet) -> Markup:
    lines = []
    limit = sheet.house.output.condition.values.get("ink limit")
    if pull.most_ink is not None:
        of = f" of {figure(limit, '%')} allowed" if limit else ""
        lines.append(tag("li", tag("b", figure(pull.most_ink, "%")), f" most ink{of}"))
    if pull.colours_moved is not None:
        lines.append(
            tag(
                "li",
                tag("b", f"{pull.colours_moved:.1%}"),
                f" of what the page shows is beyond the output's colours, by more than "
                f"{NOTICED:g} dE00",
            )
        )
    lines += [tag("li", step) for step in pull.steps]
    if not lines:
        return Markup("")
    title = "The prepared copy" if pull.steps else "As it would print"
    return tag("div", tag("p", title, class_="head"), tag("ul", *lines), class_="made")
