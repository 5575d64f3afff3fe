"""The ICC profile a picture carries, recognised and, where there is none, assumed."""

from __future__ import annotations

from pressworthy.colour.icc import DamagedProfile, IccProfile, parse
from pressworthy.colour.spaces import identify
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture, measurement

NOT_OF_PICTURES = ("device link", "abstract", "named colour")
"""Classes that lead from one profile to another, or hold single colours (ISO 15076-1)."""


def describes_pictures(profile: IccProfile) -> bool:
    """Tell whether an ICC profile is of a class that a picture's numbers can be made for."""
    return profile.kind not in NOT_OF_PICTURES


@measurement(anywhere=True)
def embedded_profile(picture: Picture) -> IccProfile | None:
    """Return the embedded ICC profile, or None where there is none. Raises DamagedProfile."""
    return parse(picture.header.icc) if picture.header.icc else None


@measurement(anywhere=True)
def rgb_space(picture: Picture) -> str:
    """Return the standard name of the embedded RGB space, or "". Raises DamagedProfile."""
    profile = embedded_profile(picture)
    return identify(profile) if profile else ""


@measurement(anywhere=True)
def assumed_space(picture: Picture) -> str:
    """Return the standard name of the RGB space that a person vouches for, or ""."""
    vouched = _vouched(picture)
    return identify(parse(vouched)) if vouched else ""


def _vouched(picture: Picture) -> bytes | None:
    """Return the ICC profile a person vouches for, which can be done for RGB alone."""
    return picture.assumed if picture.header.mode == "RGB" else None


@measurement(anywhere=True)
def profile_for_pixels(picture: Picture) -> bytes | str:
    """Return the ICC profile to read the pixels with: the one vouched for, or the embedded one.

    Without a profile RGB and gray are read as sRGB and its gray, CMYK by the output's condition;
    the rule icc-profile reports that. Raises Unmeasured where the embedded one cannot be used.
    """
    mode = picture.header.mode
    try:
        vouched = _vouched(picture)
        profile = parse(vouched) if vouched else embedded_profile(picture)
    except DamagedProfile as error:
        raise Unmeasured(f"its ICC profile is damaged: {error}") from None
    if profile is None:
        if mode == "CMYK":
            cmyk = picture.output.condition.profiles.get("cmyk")
            if cmyk is None:
                raise Unmeasured("CMYK without an ICC profile: its colours are unknown")
            return cmyk.read_bytes()
        return "srgb"
    if profile.space != mode:
        raise Unmeasured(f"its ICC profile is for {profile.space}, its pixels are {mode}")
    return profile.data


def describe_profile(picture: Picture) -> str:
    """Return the embedded ICC profile in a few words: measured name first, then its own text."""
    try:
        profile = embedded_profile(picture)
        space = rgb_space(picture)
    except DamagedProfile:
        return "damaged"
    if profile is None:
        return "none"
    text = profile.description()[:80] or "no description"
    return f"{space} ({text})" if space and space != text else text
