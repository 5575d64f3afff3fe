"""The ends of the tone scale that this press loses.

Below a certain dot the plate holds nothing and a delicate light breaks off to bare paper; above a
certain dot the gaps fill and the shadows close. Counted is the share of the picture whose tones
lie there: not bare paper, yet every ink under the smallest dot; or the black, or all three
colours, over the largest.

Put it right: lift the lights just into the smallest dot and open the shadows on a copy, and ask
the printer which dots the press holds.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pressworthy.measure.place import where
from pressworthy.measure.press import FULL, sample_inks
from pressworthy.measure.ticket import mend
from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from pressworthy.values.waiver import accept

OPTIONS = {
    "smallest dot": quantity("%", "the press holds no smaller one", least=0, most=50),
    "largest dot": quantity("%", "larger ones fill in", least=50, most=100),
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
    most = inks.max(axis=2)
    lights = (most > _PAPER) & (most < options["smallest dot"])
    shadows = inks[..., -1] > options["largest dot"]
    if inks.shape[2] == 4:
        shadows |= inks[..., :3].min(axis=2) > options["largest dot"]
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


rule = Rule("tone-range", check, OPTIONS, CODES, __doc__ or "")
