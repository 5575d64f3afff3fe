"""Pixels at the placed size: neither too few nor needlessly many, and the same on both axes.

Too few pixels print soft or jagged; far more than the output needs are thrown away by the
ripping software, unsharpened, and slow every step before it. Pixels are compared with
round(mm x ppi / 25.4) for the box, so that a correct picture never fails by a rounding; where the
picture reaches into the bleed, box and bleed together count. A picture whose two axes come to
different ppi is stretched out of shape.

Put it right: supply more pixels or place it smaller; prepare a copy at the output's ppi; crop it
to the shape of its box.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.placement import pixels_for
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import MM_PER_INCH, figure, quantity

OPTIONS = {
    "below": quantity("%", "how far under the output's ppi a picture may fall", least=0, most=90),
    "above": quantity("%", "how far over the output's ppi before it is reported", least=0),
    "distortion": quantity("%", "largest difference between the two axes", least=0),
}
CODES = {
    "too-few-pixels": "fewer pixels than the output needs at this size",
    "too-many-pixels": "more pixels than the output can use at this size",
    "distorted": "stretched: width and height come to different ppi",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.placement is None:
        raise Unmeasured("no placed size is known: give --size, or a file that states its ppi")
    wanted = picture.output.ppi
    place = picture.placement
    covered = place.covered()
    box = covered if place.exact else (place.width, place.height)
    shown = place.shown(*picture.header.upright())
    needed = [pixels_for(mm, wanted * (1 - options["below"] / 100)) for mm in box]
    bleeds = all(round(px) >= pixels_for(mm, wanted) for px, mm in zip(shown, covered, strict=True))

    def ppi_on(size: tuple[float, float]) -> list[float]:
        return [px / mm * MM_PER_INCH for px, mm in zip(shown, size, strict=True)]

    ppi = ppi_on(covered if bleeds else box)
    if any(round(px) < need for px, need in zip(shown, needed, strict=True)):
        full = " x ".join(str(pixels_for(mm, wanted)) for mm in covered)
        small = min(px / mm for px, mm in zip(shown, box, strict=True)) * MM_PER_INCH / wanted
        yield Finding(
            "too-few-pixels",
            min(ppi),
            wanted,
            "ppi",
            f"Supply at least {full} px, or place it no larger than "
            f"{figure(box[0] * small)} x {figure(box[1] * small)} mm.",
        )
    most = wanted * (1 + options["above"] / 100)
    if all(round(px) > pixels_for(mm, most) for px, mm in zip(shown, covered, strict=True)):
        yield Finding(
            "too-many-pixels",
            min(ppi),
            most,
            "ppi",
            f"Prepare a copy at {figure(wanted)} ppi: "
            + " x ".join(str(pixels_for(mm, wanted)) for mm in covered)
            + " px.",
        )
    # too few pixels may still be those of box and bleed, so either shape will do
    ppi = ppi if bleeds else min(ppi, ppi_on(covered), key=_stretch)
    stretch = _stretch(ppi)
    # half a pixel of rounding on each side is no distortion
    rounding = 100 * (0.5 / shown[0] + 0.5 / shown[1])
    if stretch - rounding > options["distortion"]:
        yield Finding(
            "distorted",
            stretch,
            options["distortion"],
            "%",
            f"{figure(ppi[0])} ppi across, {figure(ppi[1])} ppi down: crop the picture to the "
            "shape of its box (--focus X,Y) instead of stretching it.",
        )


def _stretch(ppi: list[float]) -> float:
    return (max(ppi) / min(ppi) - 1) * 100


rule = Rule("resolution", check, OPTIONS, CODES, __doc__ or "")
