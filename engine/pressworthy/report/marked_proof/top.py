"""The top of the page: title, the issue at a glance, what to do first."""

from __future__ import annotations

from collections.abc import Sequence

from pressworthy.jobs.proofing import Sheet
from pressworthy.report.marked_proof.drawn import link, many, sign
from pressworthy.report.marked_proof.markup import Markup, joined, tag
from pressworthy.report.marked_proof.remarks import WORDS, Marked, Remark, spaced
from pressworthy.values import cautions
from pressworthy.values.report import Report

MOST_TO_DO = 8


def masthead(sheets: Sequence[Sheet]) -> Markup:
    houses = [sheet.house for sheet in sheets]
    publishers = dict.fromkeys(house.publisher for house in houses if house.publisher)
    return tag(
        "header",
        tag("p", joined(["Marked proof", *publishers], " · "), class_="kicker"),
        tag("h1", ", ".join(house.name for house in houses)),
        joined(tag("p", house.about, class_="about") for house in houses if house.about),
        tag("p", cautions.PROOF, class_="caution"),
        class_="masthead",
    )


def glance(sheet: Sheet, pictures: Sequence[Marked], *, several: bool) -> Markup:
    counts = sheet.report.counts()
    told = {
        "stop": "must not go to press",
        "unjudged": "not fully judged",
        "query": "to be looked at",
        "note": "with a note only",
        "passed": "passed",
    }
    title = f"{sheet.report.house} at a glance" if several else "At a glance"
    lines = [
        tag(
            "li",
            sign(kind),
            tag("b", counts[kind]),
            f" {text}",
            class_=f"kind {kind}",
        )
        for kind, text in told.items()
        if counts[kind]
    ]
    if let := sum(any(r.kind == "waived" for r in picture.remarks) for picture in pictures):
        text = " with something accepted"
        lines.append(tag("li", sign("waived"), tag("b", let), text, class_="kind waived"))
    house = sheet.house
    return tag(
        "section",
        tag("h2", title),
        tag(
            "div",
            tag(
                "div",
                tag("p", many(len(pictures), "picture"), class_="many"),
                tag("ul", *lines, class_="counts"),
                tag("p", sheet.report.output, class_="output"),
                _off(sheet.report),
                class_="sums",
            ),
            tag("div", tag("h3", "What to do first"), _to_do(sheet, pictures), class_="todo"),
            tag("div", tag("h3", "At one scale"), _plan(pictures), class_="plan"),
            class_="three",
        ),
        class_="glance",
        aria_label=f"{house.name} at a glance",
    )


def _off(report: Report) -> Markup:
    lines = [f"{spaced(rule)} is off: {reason}" for rule, reason in report.off.items()]
    return joined(tag("p", line, class_="off") for line in lines)


def _to_do(sheet: Sheet, pictures: Sequence[Marked]) -> Markup:
    """Return the first things to do: what preparing mends, then findings by weight and number."""
    items = []
    all_remarks = [remark for picture in pictures for remark in picture.remarks]
    mended = sum(remark.mended for remark in all_remarks)
    if mended:
        # a list names its pictures, and says for which house
        listed = any(picture.verdict.name for picture in pictures)
        given = "--list …" if listed else f"… --house {sheet.house.name}"
        words = f"pressworthy prepare {given} --into …".split(" ")
        items.append(
            tag(
                "li",
                tag("b", "Prepare the copies."),
                f" That puts right {mended} of {many(len(all_remarks), 'remark')}: ",
                tag("code", joined((tag("span", word) for word in words), " ")),
            )
        )
    groups: dict[tuple[str, str], list[tuple[Marked, Remark]]] = {}
    for picture in pictures:
        for remark in picture.remarks:
            if not remark.mended and remark.kind != "waived":
                groups.setdefault((remark.kind, remark.what), []).append((picture, remark))
    weights = {"stop": 0, "unjudged": 1, "query": 2, "note": 3}
    ranked = sorted(groups.items(), key=lambda item: (weights[item[0][0]], -len(item[1])))
    for (kind, what), members in ranked[: MOST_TO_DO - len(items)]:
        remedy = members[0][1].remedy
        links = dict.fromkeys(picture.number for picture, _ in members)
        items.append(
            tag(
                "li",
                sign(kind),
                tag("b", many(len(links), "picture")),
                f", {what}{': unmeasured' if not members[0][1].limit else ''}. {remedy} ",
                tag("span", joined((link(number) for number in links), ", "), class_="links"),
                class_=f"kind {kind}",
            )
        )
    left = len(ranked) - (MOST_TO_DO - bool(mended))
    if left > 0:
        items.append(
            tag("li", f"Then {many(left, 'further matter')}, see the pictures.", class_="then")
        )
    if not items:
        return tag("p", "Nothing. All pictures may go to press as they are.")
    return tag("ol", *items)


def _plan(pictures: Sequence[Marked]) -> Markup:
    """Return every picture as an empty box at one scale, worst mark drawn in."""
    widest = max((p.pull.mm[0] for p in pictures if p.pull.mm), default=100.0)
    boxes = []
    for picture in pictures:
        width, height = picture.pull.mm or (widest / 3, widest / 4)
        scale = 6.4 / widest
        page = f", page {picture.verdict.page}" if picture.verdict.page else ""
        boxes.append(
            tag(
                "li",
                tag(
                    "a",
                    tag("span", picture.number, class_="n"),
                    sign(picture.kind),
                    href=f"#p{picture.number}",
                    class_=f"box kind {picture.kind}",
                    style=f"width:{max(width * scale, 1.9):.2f}rem;"
                    f"height:{max(height * scale, 1.9):.2f}rem",
                    aria_label=f"{picture.number}, {picture.name}{page}: {WORDS[picture.kind]}",
                    title=picture.name,
                ),
            )
        )
    return tag("ul", *boxes, class_="boxes")
