"""The ends of the tone scale that this press loses.

Below a certain dot the plate holds nothing and a delicate light breaks off to bare paper; above a
certain dot the gaps fill and the shadows close. Counted is the share of the picture that is lost
by it: lightened by more than can be seen where it is not bare paper, yet every ink under the
smallest dot; or darkened by as much where every dot over the largest fills in to a solid. Nothing
is lost in what is black as supplied or within a hair of a solid, in bare paper, nor in the plain
ground of a cut-out or a studio (see luminance).

Put it right: lift the lights just into the smallest dot and open the shadows on a copy, and ask
the printer which dots the press holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce

import numpy as np

from pressworthy.measure.lightness import ground, is_ink
from pressworthy.measure.place import where
from pressworthy.measure.press import (
    FULL,
    lightness_gained,
    lightness_lost,
    sample_inks,
    sample_lab,
)
from pressworthy.measure.ticket import mend
from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "smallest dot": quantity("%", "the press holds no smaller one", least=0, most=50),
    "largest dot": quantity("%", "larger ones fill in", least=50, most=100),
    "visible": quantity("L*", "least printed lightness whose loss counts", least=0, most=20),
    "area": quantity("%", "largest share of the picture lost at either end", least=0, most=100),
}
CODES = {
    "lost-highlights": "delicate lights break off to bare paper",
    "lost-shadows": "shadow detail fills in",
}
# less ink than this is bare paper, meant to be
_PAPER = 0.5


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.output.colour == "rgb":
        raise Unmeasured("a screen has no dots")
    inks = sample_inks(picture).astype(np.float32) * (100 / FULL)
    if picture.output.colour == "gray":
        inks = 100 - inks
    # band by band: numpy is slow along a short last axis
    most = reduce(np.maximum, np.moveaxis(inks, 2, 0))
    lights = (most > _PAPER) & (most < options["smallest dot"])
    if lights.any():
        lights &= lightness_gained(picture, options["smallest dot"]) > options["visible"]
        lights &= ~ground(picture)[::2, ::2]
    shadows = lightness_lost(picture, options["largest dot"]) > options["visible"]
    if not is_ink(picture):
        shadows &= sample_lab(picture)[..., 0] > options["visible"]
    for code, mask, what in (
        ("lost-highlights", lights, f"dots under {options['smallest dot']:g} %"),
        ("lost-shadows", shadows, f"dots over {options['largest dot']:g} %"),
    ):
        share = float(mask.mean() * 100)
        if share > options["area"]:
            remedy = (
                f"Mostly {where(mask)}, in {what}. {mend('Bring these tones inside', picture)}; "
                f"the printer knows which dots the press holds. Or {accept(f'tone-range/{code}')}."
            )
            yield Finding(code, share, options["area"], "%", remedy, bound=Bound.MOST)


rule = Rule("tone-range", check, OPTIONS, CODES, __doc__ or "", version="4")
