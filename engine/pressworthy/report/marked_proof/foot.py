"""The foot of the page, and what the page draws with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from pressworthy import __version__
from pressworthy.jobs.proofing import Sheet
from pressworthy.print.softproof import paper_off
from pressworthy.report.marked_proof.drawn import SIGNS, sign
from pressworthy.report.marked_proof.markup import Markup, joined, tag
from pressworthy.report.marked_proof.remarks import WORDS
from pressworthy.values import cautions


def foot(sheets: Sequence[Sheet]) -> Markup:
    signs = [
        tag("li", sign(kind), " ", tag("b", WORDS[kind]), f": {text}", class_=f"kind {kind}")
        for kind, text in {
            "stop": "must not go to press like this.",
            "query": "a person must look and decide.",
            "note": "worth knowing.",
            "unjudged": "not measured, which is never a pass.",
            "waived": "found, and accepted by a person.",
            "passed": "every rule of the house passes it.",
        }.items()
    ]
    return tag(
        "footer",
        tag("h2", "How to read this sheet"),
        tag("ul", *signs, class_="key"),
        tag(
            "p",
            "All pictures of a house are drawn at one scale; the dashed line is the trim. "
            "Close-ups are as large as on the page where your screen shows ",
            tag("span", class_="rule", role="img", aria_label="this line"),
            " as 20 mm: set the browser's zoom by a ruler. As supplied: the master as a screen "
            "shows it. Soft proof: the prepared copy's colours on its paper. Print look: the same "
            "after paper and eye have taken their share of fine detail; only close-ups show dots. "
            "Mono: in black ink alone. Before and after: without and with the sharpening for this "
            "output.",
        ),
        joined(tag("p", line) for line in sheets[0].report.left_over()),
        tag("p", cautions.PROOF, class_="caution"),
        tag("p", joined(_chains(sheets)), class_="chain"),
    )


def _chains(sheets: Sequence[Sheet]) -> Iterator[str]:
    for sheet in sheets:
        names = " < ".join(Path(name).name for name in reversed(sheet.report.chain))
        yield f"House profile {sheet.report.house}: {names}. "
    yield f"pressworthy {__version__}."


def symbols(sheets: Sequence[Sheet]) -> Markup:
    """Return what the page draws with: the signs, and the filters that take a paper's white off."""
    signs = [
        tag("symbol", tag("path", d=path), id=f"sign-{kind}", viewBox="0 0 24 24")
        for kind, path in SIGNS.items()
    ]
    filters = []
    for index, sheet in enumerate(sheets):
        rows = paper_off(sheet.house.output.condition)
        matrix = [*(f"{v:.5f}" for v in rows[0]), 0, 0, *(f"{v:.5f}" for v in rows[1]), 0, 0,
                  *(f"{v:.5f}" for v in rows[2]), 0, 0, 0, 0, 0, 1, 0]  # fmt: skip
        filters.append(
            tag(
                "filter",
                tag("feColorMatrix", type="matrix", values=" ".join(map(str, matrix))),
                id=f"off-{index}",
                **{"color-interpolation-filters": "linearRGB"},
            )
        )
    return tag("svg", *signs, *filters, width=0, height=0, class_="symbols", aria_hidden="true")
