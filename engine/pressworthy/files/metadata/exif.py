"""EXIF (CIPA DC-008): its tags by number, and where a picture was taken."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from PIL import Image

from pressworthy.values.units import MM_PER_INCH

_DETAILS, _GPS, _INTEROPERABILITY = 0x8769, 0x8825, 0xA005  # pointers to directories
_INTEROPERABILITY_AT = 0x10000


def read(block: bytes | None) -> dict[int, Any]:
    """Return the tags of the first directory and its sub-directories, by number.

    Interoperability's tag 1 stands under 0x10001, so that it does not clash.
    """
    tags: dict[int, Any] = {}
    if not block:
        return tags
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            exif = _loaded(block)
            tags.update(exif)
            tags.update(exif.get_ifd(_DETAILS))
            more = exif.get_ifd(_INTEROPERABILITY)
            tags.update({_INTEROPERABILITY_AT + number: value for number, value in more.items()})
        except Exception:
            # Pillow raises many kinds on mangled EXIF; what was read before stays
            return tags
    return tags


def stated_space(tags: Mapping[int, Any]) -> str:
    """Return the RGB space the tags ColorSpace and InteroperabilityIndex name, or ""."""
    index = tags.get(_INTEROPERABILITY_AT + 1, "")
    index = index.decode("latin-1") if isinstance(index, bytes) else str(index)
    colour_space = tags.get(0xA001)
    if index.startswith("R03"):
        return "opRGB"
    if colour_space == 1 or (index.startswith("R98") and colour_space is None):
        return "sRGB"
    return ""


def resolution(block: bytes | None) -> tuple[float, float] | None:
    """Return the ppi (across, down) that the first directory states, or None."""
    tags = read(block)
    an_inch = {2: 1.0, 3: MM_PER_INCH / 10}.get(tags.get(0x0128, 2), 0.0)
    try:
        across, down = (float(tags[tag]) * an_inch for tag in (0x011A, 0x011B))
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    return (across, down) if 1 < across < 1e5 and 1 < down < 1e5 else None


def position(block: bytes | None) -> dict[str, str]:
    """Return the position as XMP writes it, GPSLatitude and GPSLongitude, or nothing."""
    if not block:
        return {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            tags = _loaded(block).get_ifd(_GPS)
            return {
                "GPSLatitude": coordinate(tags[2], tags[1]),
                "GPSLongitude": coordinate(tags[4], tags[3]),
            }
        except Exception:
            # Pillow raises many kinds on mangled EXIF; a doubtful position is none
            return {}


def coordinate(parts: Any, letter: str) -> str:
    """Return degrees, minutes and seconds and N, S, E or W as degrees and minutes."""
    degrees, minutes, seconds = (Fraction(part) for part in parts)
    # in millionths of a minute, as they are written: rounded later they might come to 60 minutes
    whole, rest = divmod(round((degrees * 60 + minutes + seconds / 60) * 1_000_000), 60_000_000)
    return f"{whole},{rest / 1_000_000:.6f}{letter.strip(chr(0))}"


def _loaded(block: bytes) -> Image.Exif:
    exif = Image.Exif()
    exif.load(block)
    return exif
