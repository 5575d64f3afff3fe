"""RGB spaces by the numbers of ITU-T H.273, as PNG and HEIC state them."""

from __future__ import annotations

UNSPECIFIED = 2

# primaries and transfer function, tables 2 and 3
_CODED = {
    (1, 13): "sRGB",
    (12, 13): "Display P3",
    **{(9, curve): "Rec.2020" for curve in (1, 14, 15)},
    (9, 16): "Rec.2100 PQ",
    (9, 18): "Rec.2100 HLG",
}


def space_of(primaries: int, transfer: int) -> str:
    """Return the name of the RGB space, or ""."""
    return _CODED.get((primaries, transfer), "")
