"""The slip with the switches: what is shown, and which pictures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pressworthy.jobs.proofing import Sheet
from pressworthy.report.marked_proof.drawn import sign
from pressworthy.report.marked_proof.markup import Markup, joined, tag
from pressworthy.report.marked_proof.remarks import WORDS, Marked
from pressworthy.values.report import reading

VIEWS = {
    "supplied": "as supplied",
    "soft": "soft proof",
    "print": "print look",
    "mono": "mono",
}


OPENS = "print"


STATES = {"before": "before", "after": "after"}


def slip(pictures: Sequence[Marked], sheets: Sequence[Sheet]) -> Markup:
    """Return the switches: what is shown, and which pictures."""
    views = joined(
        _choice("radio", "view", f"v-{name}", label, checked=name == OPENS, key=str(index))
        for index, (name, label) in enumerate(VIEWS.items(), 1)
    )
    states = joined(
        _choice("radio", "state", f"s-{name}", label, checked=name == "after")
        for name, label in STATES.items()
    )
    shown = {picture.kind for picture in pictures}
    kinds = joined(
        _choice("checkbox", "kind", f"k-{kind}", WORDS[kind].lower(), checked=True, mark=kind)
        for kind in WORDS
        if kind in shown
    )
    pages = sorted({p.verdict.page for p in pictures if p.verdict.page}, key=reading)
    houses = [sheet.house.name for sheet in sheets]
    choose = [
        _select("page", "Page", "all pages", [(page, page) for page in pages]) if pages else "",
        _select("house", "House", "all houses", [(str(i), h) for i, h in enumerate(houses)])
        if len(houses) > 1
        else "",
    ]
    overlays = {
        "gamut": any("gamut" in p.pull.overlays for p in pictures),
        "ink": any("ink" in p.pull.overlays for p in pictures),
    }
    labels = {"gamut": "beyond the press", "ink": "too much ink"}
    marks = joined(
        _choice("checkbox", "mark", f"o-{name}", labels[name], key=name[0])
        for name, there in overlays.items()
        if there
    )
    return tag(
        "details",
        tag("summary", "View and filter"),
        tag(
            "form",
            _group("View", views),
            _group("Sharpening", states, key="b"),
            _group("Paper", _choice("checkbox", "paper", "paper", "its own white", True, key="w")),
            _group("Hatch", marks) if marks else "",
            _group("Close-ups", _choice("checkbox", "large", "large", "three times", key="m")),
            _group("Marked", kinds, class_="scripted"),
            tag("span", *choose, class_="scripted choose"),
            tag(
                "span",
                tag("span", f"{len(pictures)} of {len(pictures)} shown", id="count", role="status"),
                class_="scripted",
            ),
            _group(
                "Keys",
                _choice("checkbox", "keys", "keys", "on", True),
                tag("span", "j next, k back", class_="hint"),
                class_="scripted keys",
            ),
        ),
        open=True,
        class_="slip",
    )


def _group(legend: str, *content: object, class_: str = "", key: str = "") -> Markup:
    return tag(
        "fieldset",
        tag("legend", legend, *([" ", tag("kbd", key)] if key else [])),
        *content,
        class_=class_ or None,
    )


def _choice(
    kind: str,
    name: str,
    identity: str,
    label: str,
    checked: bool = False,
    *,
    key: str = "",
    mark: str = "",
) -> Markup:
    return tag(
        "label",
        tag("input", type=kind, name=name, id=identity, checked=checked, autocomplete="off"),
        sign(mark) if mark else "",
        tag("span", label),
        tag("kbd", key) if key else "",
        class_=f"kind {mark}" if mark else None,
    )


def _select(identity: str, label: str, every: str, values: Iterable[tuple[str, str]]) -> Markup:
    return tag(
        "label",
        tag("span", label),
        tag(
            "select",
            tag("option", every, value=""),
            *(tag("option", text, value=value) for value, text in values),
            id=f"only-{identity}",
            autocomplete="off",
        ),
    )
