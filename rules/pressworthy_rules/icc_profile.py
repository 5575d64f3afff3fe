"""The ICC profile: there, whole, of the right kind, and agreeing with what else the file says.

Numbers mean nothing without the profile they were made for; a wrong one turns an orange lurid. RGB
spaces are known by colorants and tone curve, within 0.002, never by a name.

Put it right: ask which space it was made in and name that in the list's column assume; never guess.
What was converted from a wrong profile is wrong for good.
"""

from __future__ import annotations

from collections.abc import Iterator

from pressworthy.colour.icc import DamagedProfile
from pressworthy.colour.spaces import SPACES
from pressworthy.measure import icc
from pressworthy.measure.metadata import stated_space
from pressworthy.measure.ticket import again
from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule, some_of

OPTIONS = {"spaces": some_of(SPACES, "the RGB spaces that pictures may be delivered in")}
CODES = {
    "missing": "no ICC profile, and nothing else tells what the colours mean",
    "missing-but-stated": "no ICC profile, but the file's metadata names its RGB space",
    "damaged": "the ICC profile cannot be used",
    "wrong-class": "an ICC profile that does not describe pictures",
    "wrong-space": "the ICC profile is for another colour mode than the pixels",
    "unusual-space": "an RGB space the house does not take",
    "vouched-for": "a person says which RGB space it was made in, whatever is embedded",
    "contradicts-exif": "the ICC profile and EXIF, or a PNG's own words, name different spaces",
}
ASSUME = "Ask the supplier which space it was made in, and name that in the list's column assume."
TRUE = """Ask first whether that profile is true; to compare, prepare with --assume 'NAME=sRGB'. \
If it is, prepare a copy: it is converted for its output. If not, name the true space in the \
list's column assume."""
ASK = "Ask the supplier to save it again with the ICC profile it was made in."
EXPORT = "Export the page with its pictures' ICC profiles, or with the printer's output intent."
VOUCHED = "Nothing to do: a person vouches for it in the list's column assume."
WANTED, OF_PICTURES = "an embedded ICC profile", "input, display, output or space profile"


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    mode, stated, anew = picture.header.mode, stated_space(picture), again(picture)
    assign = f"Use it no more: {anew}." if anew else ASSUME if mode == "RGB" else ASK
    if vouched := icc.assumed_space(picture):
        told = f"{icc.describe_profile(picture)}, read as {vouched}"
        yield Finding("vouched-for", told, "an ICC profile that says so", remedy=VOUCHED)
        return
    try:
        profile, space = icc.embedded_profile(picture), icc.rgb_space(picture)
    except DamagedProfile as error:
        yield Finding("damaged", str(error), "a whole ICC profile", remedy=assign)
        return
    if profile is None and mode == "RGB" and stated:
        confirm = f"Name {stated} in the list's column assume once the supplier confirms it."
        remedy = confirm if stated in SPACES else ASSUME
        yield Finding("missing-but-stated", f"none; metadata says {stated}", WANTED, remedy=remedy)
    elif profile is None:
        if mode != "Lab" and not picture.header.is_line_art:  # which mean the same everywhere
            remedy = EXPORT if picture.page_object else assign
            lost = f"; the export dropped its file's, {picture.dropped}" if picture.dropped else ""
            yield Finding("missing", f"none{lost}", WANTED, remedy=remedy)
    elif not icc.describes_pictures(profile):
        yield Finding("wrong-class", f"{profile.kind} profile", OF_PICTURES, remedy=assign)
    elif profile.space != mode:
        yield Finding("wrong-space", f"{profile.space} profile", f"{mode} pixels", remedy=assign)
    elif mode == "RGB":
        contradicted = bool(stated and space and stated != space)
        if space not in options["spaces"]:
            name = space or profile.description() or "an unknown RGB space"
            taken, remedy = ", ".join(options["spaces"]), ASSUME if contradicted else TRUE
            yield Finding("unusual-space", name, taken, remedy=remedy)
        if contradicted:
            told = f"ICC {space}, metadata {stated}"
            yield Finding("contradicts-exif", told, "one and the same space", remedy=ASSUME)


rule = Rule("icc-profile", check, OPTIONS, CODES, __doc__ or "", "3", mended=("unusual-space",))
