"""The ICC profile: there, whole, of the right kind, and agreeing with what else the file says.

The numbers in a picture mean nothing without the profile they were made for; a wrong one turns an
orange lurid and a face lobster-red. RGB spaces are recognised by their colorants and tone curve,
within 0.002, never by the profile's own description.

Put it right: ask the supplier which space the picture was made in and assign that profile on a
copy; never guess, and never convert a picture whose profile is in doubt.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.spaces import SPACES
from pressworthy.measure.icc import assumed_space, describe_profile, embedded_profile, rgb_space
from pressworthy.measure.metadata import stated_space
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule

OPTIONS = {
    "spaces": {
        "type": "array",
        "items": {"enum": list(SPACES)},
        "minItems": 1,
        "description": "the RGB spaces that pictures may be delivered in",
    },
}
CODES = {
    "missing": "no ICC profile, and nothing else tells what the colours mean",
    "missing-but-stated": "no ICC profile, but the file's metadata names its RGB space",
    "damaged": "the ICC profile cannot be used",
    "wrong-class": "an ICC profile that does not describe pictures",
    "wrong-space": "the ICC profile is for another colour mode than the pixels",
    "unusual-space": "an RGB space the house does not take",
    "vouched-for": "a person says which RGB space it was made in, whatever is embedded",
    "contradicts-exif": "the ICC profile and the EXIF entries name different spaces",
}
ASSIGN = "Ask the supplier which space it was made in, and assign that ICC profile on a copy."


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if space := assumed_space(picture):
        told = f"{describe_profile(picture)}, read as {space}"
        remedy = "A person vouches for it: --assume, or the picture list."
        yield Finding("vouched-for", told, "an ICC profile that says so", remedy=remedy)
        return
    mode = picture.header.mode
    stated = stated_space(picture)
    try:
        profile = embedded_profile(picture)
        space = rgb_space(picture)
    except DamagedProfile as error:
        yield Finding("damaged", str(error), "a whole ICC profile", remedy=ASSIGN)
        return
    if profile is None and mode == "Lab":
        return
    if profile is None and mode == "RGB" and stated:
        yield Finding(
            "missing-but-stated",
            f"none; metadata says {stated}",
            "an embedded ICC profile",
            remedy=f"Assign {stated} on a copy once the supplier confirms it.",
        )
    elif profile is None:
        yield Finding("missing", "none", "an embedded ICC profile", remedy=_remedy(picture))
    elif profile.kind in ("device link", "abstract", "named colour"):
        yield Finding(
            "wrong-class",
            f"{profile.kind} profile",
            "input, display, output or space profile",
            remedy=ASSIGN,
        )
    elif profile.space != mode:
        yield Finding("wrong-space", f"{profile.space} profile", f"{mode} pixels", remedy=ASSIGN)
    elif mode == "RGB":
        if space not in options["spaces"]:
            yield Finding(
                "unusual-space",
                space or profile.description() or "an unknown RGB space",
                ", ".join(options["spaces"]),
                remedy="Convert a copy into one of the house's spaces; keep the original.",
            )
        if stated and space and stated != space:
            yield Finding(
                "contradicts-exif",
                f"ICC {space}, metadata {stated}",
                "one and the same space",
                remedy="Ask the supplier which is true; one of the two was not updated.",
            )


def _remedy(picture: Picture) -> str:
    if picture.page_object:
        return (
            "Export the page so that its pictures keep their ICC profiles, or with the printer's "
            "output intent."
        )
    if picture.header.mode == "CMYK":
        return "Ask for which printing condition it was made, and assign that ICC profile."
    return ASSIGN


rule = Rule("icc-profile", check, OPTIONS, CODES, __doc__ or "")
