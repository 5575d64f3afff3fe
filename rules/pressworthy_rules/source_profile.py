"""The source profile: do the pixels look as if they were made for the ICC profile they carry?

A profile assigned by mistake turns hues and stretches or dulls every colour, and nothing in the
file says so. The values themselves are weighed, unconverted, for sRGB, opRGB, Display P3 and ROMM
RGB; the finding rests on how much better another space explains them than the tagged one, in nats
(natural logarithms of a probability ratio). One picture is weak evidence, so a second witness is
asked for: the metadata, colours that do not exist, or the same doubt in the whole delivery.
At one wrong profile in a hundred, about three flags in four on single pictures are false.

Put it right: ask the supplier; assign the true profile on a copy (prepare --assume NAME=SPACE).
Nothing is ever re-tagged by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from pressworthy.measure.metadata import stated_space
from pressworthy.measure.source_space import SourceSpace, pooled, source_space, thresholds
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "imaginary": quantity("%", "share of pixels that may be no real colours", least=0, most=100),
    "smallest delivery": {
        "type": "integer", "minimum": 3, "maximum": 1000,
        "description": "pictures of one folder and profile from which they are judged together",
    },
}  # fmt: skip
CODES = {
    "wrong": "another profile explains the pixels better, and a second witness agrees",
    "unlikely": "another profile explains the pixels much better",
    "doubtful": "another profile explains the pixels better",
    "untagged": "no ICC profile; how likely each space is by the pixels",
    "delivery-wrong": "the whole delivery seems to carry a wrong profile",
    "delivery-doubtful": "the whole delivery may carry a wrong profile of nearly the same colours",
    "odd-one-out": "the picture whose profile is most in doubt among its neighbours",
}
ALIKE = frozenset({"sRGB", "Display P3"})
"""Two spaces whose confusion shifts colours by about 2 dE and hardly shows in print."""


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.header.mode != "RGB" or picture.assumed:
        return  # no RGB space to be taken for another, or a person has decided
    seen = source_space(picture)
    if not seen.tag:
        chances = ", ".join(f"{name} {chance:.0%}" for name, chance in seen.ranking())
        remedy = "It is read as sRGB until the supplier says which space it was made in."
        yield Finding("untagged", chances, "an embedded ICC profile", remedy=remedy)
        return
    best, gain, limits = seen.best(), seen.gain(), thresholds(seen.tag)
    stated = stated_space(picture)
    imaginary = seen.readings[seen.tag].imaginary * 100
    witnesses = []
    if stated == best and gain > (0 if best == "opRGB" else limits.note / 2):
        witnesses.append(f"the metadata says {stated}")
    if imaginary > options["imaginary"] and gain > limits.note:
        witnesses.append(f"{imaginary:.1f} % of its pixels would be no real colours")
    if witnesses:
        yield _finding("wrong", seen, limits.note, "; ".join(witnesses))
    elif gain > limits.query and "ROMM RGB" in (seen.tag, best):
        yield _finding("unlikely", seen, limits.query)
    elif gain > limits.note:
        yield _finding("doubtful", seen, limits.note)


def evidence(picture: Picture) -> dict[str, Any] | None:
    """Return tag, ln p by space and gain: what a picture says in the judgement of its delivery."""
    if picture.header.mode != "RGB" or picture.assumed:
        return None
    seen = source_space(picture)
    return {"tag": seen.tag, "log_p": seen.log_p, "gain": seen.gain()} if seen.tag else None


def check_set(seen: Mapping[str, Any], options: Options) -> Mapping[str, Sequence[Finding]]:
    """Judge together the pictures of one folder that carry the same profile."""
    deliveries: dict[tuple[str, str], list[str]] = {}
    for path, one in seen.items():
        deliveries.setdefault((str(Path(path).parent), one["tag"]), []).append(path)
    found: dict[str, Sequence[Finding]] = {}
    for (_, tag), paths in deliveries.items():
        if len(paths) < options["smallest delivery"]:
            continue
        best, gain, limit = pooled(tag, [seen[path]["log_p"] for path in paths])
        if gain > limit:
            code = "delivery-doubtful" if {tag, best} <= ALIKE else "delivery-wrong"
            remedy = (
                f"{len(paths)} pictures of this folder are tagged {tag}; together they look most "
                f"like {best}. Ask the supplier before any of them is converted."
            )
            found |= {p: [Finding(code, gain, limit, "nats", remedy)] for p in paths}
            continue
        first, second, *_ = sorted(paths, key=lambda path: -seen[path]["gain"])
        most, least = seen[first]["gain"], thresholds(tag).note
        # a lower limit would find more and name a picture in most honest deliveries
        if most > least:
            remedy = (
                f"Of {len(paths)} pictures tagged {tag} here look at this one first; the next in "
                f"doubt is {Path(second).name} with {seen[second]['gain']:.1f} nats."
            )
            found[first] = [Finding("odd-one-out", most, least, "nats", remedy)]
    return found


def _finding(code: str, seen: SourceSpace, limit: float, witness: str = "") -> Finding:
    tag, best = seen.tag, seen.best()
    called = "sRGB or Display P3" if best in ALIKE and tag not in ALIKE else best
    now, then = seen.readings[tag], seen.readings[best]
    words = [f"Tagged {tag}, it looks most like {called}" + (f"; {witness}" if witness else "")]
    words.append(f"vivid colours have chroma {now.chroma:.0f} as tagged, {then.chroma:.0f} then")
    if now.skin_hue == now.skin_hue and then.skin_hue == then.skin_hue:
        words.append(
            f"skin-like tones have hue {now.skin_hue:.0f} and chroma {now.skin_chroma:.0f} as "
            f"tagged, {then.skin_hue:.0f} and {then.skin_chroma:.0f} then (skin is near 46 and 23)"
        )
    if now.beyond > 0.002:
        words.append(f"{now.beyond:.1%} lie beyond what real surfaces show, {then.beyond:.1%} then")
    remedy = ". ".join(word[0].upper() + word[1:] for word in words)
    remedy += f". Ask the supplier; to see it so, prepare with --assume 'NAME={best}', or name "
    remedy += f"{best} in the list's column assume."
    return Finding(code, seen.gain(), limit, "nats", remedy)


rule = Rule(
    "source-profile", check, OPTIONS, CODES, __doc__ or "",
    masters_only=True, evidence=evidence, check_set=check_set,
)  # fmt: skip
