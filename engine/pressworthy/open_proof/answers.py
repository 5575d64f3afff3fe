"""What a person can do about a remark, beside it in the margin; and the letters to suppliers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from pressworthy.report.marked_proof.remarks import Marked, Remark
from pressworthy.values.placement import EDGES, Crop, Focus, PlacementRequest
from pressworthy.values.units import figure

ANSWERS: Mapping[str, tuple[str, ...]] = {
    "acutance": ("sharpen",),
    "bleed": ("crop",),
    "compression": ("supplier",),
    "credit": ("supplier",),
    "foreign-condition": ("supplier",),
    "grayscale": ("mixes",),
    "icc-profile": ("spaces", "supplier"),
    "luminance": ("tones", "supplier"),
    "resolution": ("largest", "crop", "supplier"),
    "sharpening": ("sharpen",),
    "source-profile": ("spaces", "supplier"),
    "tone-range": ("tones",),
    "true-resolution": ("largest", "supplier"),
}
"""Rule -> what answers it, beside accepting it; one that is not named here can be accepted."""

ACCEPTED = ("stop", "query", "unjudged")
"""Kinds of remark that wait for a person."""


@dataclass(frozen=True)
class Answer:
    """What can be done about one remark. names: of `ANSWERS`, and ``accept`` or ``withdraw``."""

    finding: str
    names: tuple[str, ...]


def answers_to(remark: Remark) -> Answer:
    """Return what can be done about a remark."""
    finding = remark.findings[0] if remark.findings else ""
    if remark.kind == "waived":
        return Answer(finding, ("withdraw",))
    if remark.mended or not finding:
        return Answer(finding, ())
    rule = finding.partition("/")[0]
    accept = ("accept",) if remark.kind in ACCEPTED else ()
    # what is only to be known asks for nothing but a look
    known = ANSWERS.get(rule, ()) if remark.kind in ACCEPTED else ()
    return Answer(finding, (*known, *accept))


def cells_of(request: PlacementRequest, assume: str) -> dict[str, str]:
    """Return a picture's line as its list would have it, field -> text."""
    width, height = (f"{mm:g}" for mm in request.size) if request.size else ("", "")
    crop = request.crop
    mix = request.gray_mix
    return {
        "page": request.page,
        "width": width,
        "height": height,
        "bleed": f"{request.bleed:g}" if request.edges else "",
        "edges": " ".join(edge for edge in EDGES if edge in request.edges),
        "fit": request.fit,
        "crop": _joined((crop.left, crop.top, crop.width, crop.height))
        if isinstance(crop, Crop)
        else "",
        "focus": _joined((crop.x, crop.y)) if isinstance(crop, Focus) else "",
        "assume": assume,
        "tone": request.tone,
        "sharpen": "yes" if request.sharpen else "no",
        "gray mix": mix if isinstance(mix, str) else " ".join(map(figure, mix)),
    }


def _joined(numbers: Iterable[float]) -> str:
    return " ".join(f"{number:g}" for number in numbers)


@dataclass(frozen=True)
class Letter:
    """What to ask one supplier; text: escaped, with its lines; pictures: their numbers."""

    supplier: str
    text: Markup
    pictures: tuple[int, ...]


def letters(pictures: Sequence[Marked]) -> list[Letter]:
    """Return one letter for each supplier of whom something is to be asked.

    A supplier is known by the credit that the file itself states.
    """
    asked: dict[str, list[Marked]] = {}
    for picture in pictures:
        if any("supplier" in answers_to(remark).names for remark in picture.remarks):
            asked.setdefault(picture.pull.credit, []).append(picture)
    return [
        Letter(supplier, _letter(supplier, theirs), tuple(one.number for one in theirs))
        for supplier, theirs in sorted(asked.items())
    ]


def _letter(supplier: str, pictures: Sequence[Marked]) -> Markup:
    lines = [f"To {supplier}:" if supplier else "To whoever supplied these pictures:", ""]
    for picture in pictures:
        facts = picture.verdict.facts
        size = f", {facts['width']} x {facts['height']} px" if "width" in facts else ""
        icc = f", ICC profile in the file: {facts['icc']}" if "icc" in facts else ""
        lines.append(f"{picture.name}{size}{icc}")
        for remark in picture.remarks:
            if "supplier" in answers_to(remark).names:
                wanted = f"; {remark.limit}" if remark.limit else ""
                lines.append(f"  {remark.what}: {remark.measured}{wanted}.")
                lines.append(f"  {_question(remark)}")
        lines.append("")
    lines.append(
        "Please answer, or send the file again; do not convert, enlarge or sharpen it for us."
    )
    return Markup("\n").join(lines)


def _question(remark: Remark) -> str:
    rule = remark.findings[0].partition("/")[0]
    return {
        "icc-profile": "In which RGB space was it made?",
        "source-profile": "In which RGB space was it made?",
        "resolution": "Is there a larger file, straight from the camera?",
        "true-resolution": "Is there a file as large as this one that was never enlarged?",
        "luminance": "Is there a better exposed file, or another frame?",
        "compression": "Is there a file that was compressed less?",
        "credit": "Who made it, and how are they to be named?",
    }.get(rule, "Can you say more of it?")
