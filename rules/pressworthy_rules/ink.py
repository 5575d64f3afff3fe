"""Total ink: no more on the paper than it takes and the press can dry.

Too much ink sets off on the next sheet, tears the web and closes the shadows. The sum of C, M, Y
and K is measured in a CMYK file as it stands, at full resolution, or in the picture as `prepare`
would separate it. Printers' limits differ: the house asks its own and sets it.

Put it right: prepare a copy, best from the RGB master, through the printer's own ICC profile. Where
that asks for more than the limit, the copy is separated anew: black takes over the gray that cyan,
magenta and yellow make between them, and colours print as before. Do not scale the inks of a CMYK
file by hand.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.measure.press import ink_coverage
from pressworthy.measure.ticket import again, pixel_hash, ticket
from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import figure, quantity

OPTIONS = {
    "limit": quantity("%", "largest sum of all inks", least=100, most=400),
    "specks": quantity("%", "share of the picture that may lie over the limit", least=0, most=100),
}
CODES = {
    "too-much-ink": "areas carry more ink than the limit",
    "specks-of-ink": "single spots carry more ink than the limit",
}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    coverage, limit = ink_coverage(picture), options["limit"]
    over = coverage.share_over(limit) * 100
    if not over:
        return
    remedy = (
        f"{figure(over)} % of the picture is over the limit; the 99.9th percentile is "
        f"{figure(coverage.p999, '%')}. {_mend(picture, limit)}"
    )
    code = "too-much-ink" if over > options["specks"] else "specks-of-ink"
    yield Finding(code, coverage.most, limit, "%", remedy, bound=Bound.MOST)


def _mend(picture: Picture, limit: float) -> str:
    kept = picture.output.most_ink
    if made := ticket(picture):
        anew = again(picture)
        if pixel_hash(picture) != made.pixels:
            return f"{_spoken(anew)}, with --force: without it an edited copy is left as it is."
        if picture.header.format == "JPEG":
            return f"Have copies written as TIFF by the house profile, and {anew}."
        return f"{_spoken(anew)}."
    if kept is not None and kept <= limit and (picture.assumed or picture.header.icc):
        return f"Prepare a copy, whose inks keep to {figure(kept, '%')}."
    return "Ask for the RGB master, and the printer for an ICC profile that keeps to the limit."


def _spoken(words: str) -> str:
    return words[0].upper() + words[1:]


rule = Rule("ink", check, OPTIONS, CODES, __doc__ or "", version="2", mended=tuple(CODES))
