"""A test strip as one page of PDF, for a person and a press to settle an amount of sharpening.

Its patches are pictures at exactly the output's ppi, in the output's own inks (DeviceCMYK or
DeviceGray), with the condition's ICC profile as the page's output intent (ISO 32000-1, 14.11.5):
what converts them once more has spoilt the test.
"""

from __future__ import annotations

import io
import textwrap

import numpy as np
import pikepdf

from pressworthy.house import House
from pressworthy.prepare.strip import Patch, Strip
from pressworthy.report.lettering import Lettering
from pressworthy.values.units import MM_PER_INCH, figure

A4_MM = (210.0, 297.0)
POINT = 72 / MM_PER_INCH
"""Points to a millimetre."""

_SIDE, _TOP, _GUTTER, _COLUMNS = 15.0, 18.0, 6.0, 3
_FIRST_ROW, _ROW = 44.0, 100.0
_FOOT = 246.0
_TITLE, _AMOUNT, _TEXT, _SMALL = 20.0, 13.0, 8.5, 7.5
_LEAD = 1.4

CAUTION = (
    "The printer's advice comes first. Derived amounts come from a model of an average press; this "
    "page asks yours."
)


def page(strip: Strip, house: House) -> bytes:
    """Return the PDF of a strip, made for `house`."""
    pdf = pikepdf.Pdf.new()
    width, height = (side * POINT for side in A4_MM)
    sheet = pdf.add_blank_page(page_size=(width, height))
    sheet.TrimBox = pikepdf.Array([0, 0, width, height])
    letters, pictures = Lettering(), {}
    black = "0 g 0 G" if house.output.colour == "gray" else "0 0 0 1 k 0 0 0 1 K"
    drawn = [black, *_head(letters, strip, house), *_foot(letters, house)]
    for number, patch in enumerate(strip.patches):
        name = f"/P{number}"
        pictures[name] = _picture(pdf, patch)
        row, column = divmod(number, _COLUMNS)
        across, down = (side / strip.ppi * 72 for side in (patch.image.width, patch.image.height))
        left = (_SIDE + column * (across / POINT + _GUTTER)) * POINT
        bottom = height - (_FIRST_ROW + row * _ROW) * POINT - down
        drawn.append(f"q {across:.5f} 0 0 {down:.5f} {left:.4f} {bottom:.4f} cm {name} Do Q")
        drawn += _label(letters, patch, strip, house, left, bottom)
    sheet.Contents = pdf.make_stream("\n".join(drawn).encode("ascii"))
    sheet.Resources = pikepdf.Dictionary(
        XObject=pikepdf.Dictionary(pictures), Font=pikepdf.Dictionary(L=letters.font(pdf))
    )
    pdf.Root.OutputIntents = pikepdf.Array([_intent(pdf, house)])
    pdf.docinfo["/Title"] = f"Sharpening test strip, {house.name}"
    written = io.BytesIO()
    pdf.save(written, deterministic_id=True)
    return written.getvalue()


def _picture(pdf: pikepdf.Pdf, patch: Patch) -> pikepdf.Stream:
    image = patch.image
    assert image.format == "uchar" and image.bands in (1, 4)
    space = pikepdf.Name.DeviceCMYK if image.bands == 4 else pikepdf.Name.DeviceGray
    return pikepdf.Stream(
        pdf,
        np.ascontiguousarray(image.numpy()).tobytes(),
        Type=pikepdf.Name.XObject,
        Subtype=pikepdf.Name.Image,
        Width=image.width,
        Height=image.height,
        BitsPerComponent=8,
        ColorSpace=space,
    )


def _intent(pdf: pikepdf.Pdf, house: House) -> pikepdf.Dictionary:
    condition, colour = house.output.condition, house.output.colour
    profile = pdf.make_stream(condition.profiles[colour].read_bytes())
    profile.N = 1 if colour == "gray" else 4
    return pikepdf.Dictionary(
        Type=pikepdf.Name.OutputIntent,
        S=pikepdf.Name.GTS_PDFX,
        OutputConditionIdentifier=condition.name,
        Info=str(condition.values.get("title", condition.name)),
        DestOutputProfile=profile,
    )


def _head(letters: Lettering, strip: Strip, house: House) -> list[str]:
    output = house.output
    condition = output.condition
    title = condition.name
    if "title" in condition.values:
        title = f"{condition.values['title']} ({title})"
    radius_mm = strip.radius / strip.ppi * MM_PER_INCH
    lines = [
        f"For {house.name}: {title}, {output.colour} at "
        f"{figure(strip.ppi, 'ppi')}, read from {output.viewing_distance / 10:.0f} cm.",
        f"One detail six times. Unsharp mask on lightness, radius {strip.radius:.2f} px "
        f"({radius_mm:.3f} mm); only the amount differs.",
    ]
    placed = [letters.line(_SIDE * POINT, _from_top(_TOP + 3), _TITLE, "Sharpening test strip")]
    placed += _lines(letters, lines, _TOP + 11, _TEXT)
    return [*placed, _rule(_FIRST_ROW - 6)]


def _label(
    letters: Lettering, patch: Patch, strip: Strip, house: House, left: float, bottom: float
) -> list[str]:
    name = f"amount {patch.amount:.2f}" if patch.amount else "not sharpened"
    y = bottom - 1.3 * _AMOUNT
    drawn = [letters.line(left, y, _AMOUNT, name)]
    if patch.told:
        after = left + letters.width(f"{name}  ", _AMOUNT)
        drawn.append(letters.line(after, y, _TEXT, patch.told))
    how = f"radius {strip.radius:.2f} px, {figure(strip.ppi, 'ppi')}"
    for text in (how, f"{house.name}, {house.output.condition.name}"):
        y -= _LEAD * _SMALL
        drawn.append(letters.line(left, y, _SMALL, text))
    return drawn


def _foot(letters: Lettering, house: House) -> list[str]:
    distance = f"{house.output.viewing_distance / 10:.0f} cm"
    advice = (
        "Print this page at its true size on the press and the paper in question, its inks as they "
        f"are, converted by nothing. Look at it by daylight from {distance}. Too little: lashes, "
        "small letters and leaves look soft beside the next patch. Too much: light lines stand "
        "along the letters and the lashes, and the skin turns grainy. Write the amount of the best "
        "patch into the house profile, in its section prepare, as amount; between two that are "
        "alike, the middle."
    )
    span = (A4_MM[0] - 2 * _SIDE) * POINT
    lines = _wrapped(letters, advice, span, _TEXT) + _wrapped(letters, CAUTION, span, _TEXT)
    drawn = [_rule(_FOOT), *_lines(letters, lines, _FOOT + 6, _TEXT)]
    # a measure of true size
    y, start, end = _from_top(A4_MM[1] - 13), _SIDE * POINT, (_SIDE + 50) * POINT
    drawn.append(f"0.5 w {start:.3f} {y:.3f} m {end:.3f} {y:.3f} l S")
    for at in (start, end):
        drawn.append(f"{at:.3f} {y - 3:.3f} m {at:.3f} {y + 3:.3f} l S")
    return [*drawn, letters.line(end + 6, y - 2.6, _SMALL, "50 mm at its true size")]


def _wrapped(letters: Lettering, text: str, span: float, size: float) -> list[str]:
    """Return the lines of a text, none wider than `span` points."""
    columns = len(text)
    while True:
        lines = textwrap.wrap(text, columns)
        if all(letters.width(line, size) <= span for line in lines):
            return lines
        columns -= 1


def _lines(letters: Lettering, lines: list[str], top: float, size: float) -> list[str]:
    """Return lines set below each other; top: of the first's baseline in mm from the page's."""
    return [
        letters.line(_SIDE * POINT, _from_top(top) - number * _LEAD * size, size, line)
        for number, line in enumerate(lines)
    ]


def _rule(top: float) -> str:
    y = _from_top(top)
    return f"0.4 w {_SIDE * POINT:.3f} {y:.3f} m {(A4_MM[0] - _SIDE) * POINT:.3f} {y:.3f} l S"


def _from_top(mm: float) -> float:
    return (A4_MM[1] - mm) * POINT
