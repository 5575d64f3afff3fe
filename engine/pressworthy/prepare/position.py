"""Where a picture was taken, carried over only for a house that keeps it."""

from __future__ import annotations

import warnings
from fractions import Fraction
from typing import Any

from PIL import Image

from pressworthy.values.picture import Picture

_GPS = 0x8825  # EXIF pointer to the GPS directory, CIPA DC-008


def position(master: Picture) -> dict[str, str]:
    """Return the master's EXIF position as XMP properties (ISO 16684-1), or nothing."""
    if not master.header.exif:
        return {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            block = Image.Exif()
            block.load(master.header.exif)
            tags = block.get_ifd(_GPS)
            return {
                "GPSLatitude": _coordinate(tags[2], tags[1]),
                "GPSLongitude": _coordinate(tags[4], tags[3]),
            }
        except Exception:
            # Pillow raises many kinds on mangled EXIF; a doubtful position is none
            return {}


def _coordinate(parts: Any, letter: str) -> str:
    degrees, minutes, seconds = (Fraction(part) for part in parts)
    # in millionths of a minute, as they are written: rounded later they might come to 60 minutes
    whole, rest = divmod(round((degrees * 60 + minutes + seconds / 60) * 1_000_000), 60_000_000)
    return f"{whole},{rest / 1_000_000:.6f}{letter.strip(chr(0))}"
