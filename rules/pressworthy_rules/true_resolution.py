"""True resolution: pictures that were enlarged before they came, and have fewer real pixels.

Enlarging adds pixels and no detail, so that a picture may pass the resolution rule and still print
soft. Interpolation leaves a period in the pixels: where it is found, the enlargement is proven, and
its factor named where it can be one only. Where detail only ends early, a soft lens does the same:
that is suspicion and never more. Measured on full-resolution tiles, never on a resized copy.
Pixels repeated two, three or four times are found too. Resizing by learned methods leaves no such
trace, and strong JPEG compression hides one.

Put it right: ask for the picture at the size it was taken, or place it smaller.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.resolution import fit
from pressworthy.measure.upscaling import true_resolution
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import MM_PER_INCH, quantity

OPTIONS = {
    "enlarged": {
        "type": "number", "minimum": 1, "maximum": 4,
        "description": "largest enlargement that is let pass, as a factor",
    },
    "suspicion": quantity("%", "probability from which detail ends too early", least=50, most=100),
}  # fmt: skip
CODES = {
    "enlarged": "proven to be enlarged, with too little real resolution for its place",
    "enlarged-but-enough": "proven to be enlarged; its real resolution still suffices",
    "ends-early": "its detail ends before its pixels do: soft or enlarged",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.is_line_art:
        return  # whose edges end with its pixels, enlarged or not
    seen, most = true_resolution(picture), options["enlarged"]
    width, height = picture.header.upright()
    real = f"{round(width / seen.factor)} x {round(height / seen.factor)} px"
    fits = f"Its detail would fit into {real}, give or take a fifth. "
    if seen.proven and (seen.factor > most or not seen.sure):
        ppi, wanted = _ppi(picture), picture.output.ppi
        enough = ppi is not None and ppi / seen.factor >= wanted
        at_size = f", {ppi / seen.factor:.0f} ppi as placed" if ppi is not None else ""
        remedy = f"It has about {real} of its own{at_size}. " if seen.sure else fits
        remedy += "Ask for it as it was taken"
        if ppi and not enough and (box := fit(picture).largest_box(wanted * seen.factor, 0.0)):
            remedy += f", or place it no larger than {box[0]} x {box[1]} mm"
        code = "enlarged-but-enough" if enough else "enlarged"
        if seen.sure:
            yield Finding(code, seen.factor, most, "x", f"{remedy}.", bound=Bound.MOST)
        else:
            yield Finding(code, "by an unsure factor", f"at most {most:g} x", remedy=f"{remedy}.")
    elif not seen.proven and (chance := seen.probability * 100) > options["suspicion"]:
        remedy = f"{fits}Soft or enlarged: look at it at full size. "
        remedy += "Is it out of focus, meant to be soft, or blown up?"
        yield Finding("ends-early", chance, options["suspicion"], "%", remedy, bound=Bound.MOST)


def _ppi(picture: Picture) -> float | None:
    """Return the lower of the resolutions across and down at the placed size."""
    place = picture.placement
    if place is None:
        return None
    part = place.part(*picture.header.upright())
    return min(px / mm for px, mm in zip(part, place.covered(), strict=True)) * MM_PER_INCH


rule = Rule("true-resolution", check, OPTIONS, CODES, __doc__ or "", version="5",
            masters_only=True)  # fmt: skip
