"""The colour space of a picture in a PDF (ISO 32000-1, 8.6)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pikepdf
from numpy.typing import NDArray

from pressworthy.colour.icc import MOST_PROFILE_BYTES, DamagedProfile, parse

CHANNELS = {"gray": 1, "RGB": 3, "CMYK": 4}
_SHORT = {"G": "DeviceGray", "RGB": "DeviceRGB", "CMYK": "DeviceCMYK", "I": "Indexed"}
"""Names that pictures inside the content may use (ISO 32000-1, table 94)."""
_MODES = {
    "DeviceGray": "gray", "CalGray": "gray", "DeviceRGB": "RGB", "CalRGB": "RGB",
    "DeviceCMYK": "CMYK",
}  # fmt: skip
_NO_SPOTS = {"Cyan", "Magenta", "Yellow", "Black", "None"}
_OTHERS = {"Lab", "Separation", "DeviceN", "Pattern"}


@dataclass(frozen=True, eq=False)
class Colours:
    """family: the space by the PDF's name for it, "none" where it has none that is known.

    mode: gray, RGB or CMYK, of what is shown, "" for any other. device: whether its colours are
    the device's. palette: (colours, channels) uint8 of an Indexed space, in that mode.
    """

    family: str
    mode: str = ""
    icc: bytes | None = None
    device: bool = False
    palette: NDArray[np.uint8] | None = field(default=None, repr=False)


def colours_of(space: Any, resources: Any) -> Colours:
    """Return what a picture's /ColorSpace says; resources: where its name is looked up."""
    if isinstance(space, pikepdf.Name):
        name = str(space)[1:]
        held = resources.get("/ColorSpace") if isinstance(resources, pikepdf.Dictionary) else None
        if isinstance(held, pikepdf.Dictionary) and str(space) in held:
            there = held[str(space)]
            # a name that names another one ends here
            return _named(str(there)[1:]) if isinstance(there, pikepdf.Name) else _listed(there)
        return _named(name)
    return _listed(space)


def _named(name: str) -> Colours:
    name = _SHORT.get(name, name)
    if name in _MODES:
        return Colours(name, _MODES[name], device=name.startswith("Device"))
    return Colours(name if name in _OTHERS else "none")


def _listed(space: Any) -> Colours:
    if not isinstance(space, pikepdf.Array) or not len(space):
        return Colours("none")
    name = str(space[0])[1:]
    if name == "ICCBased" and len(space) > 1 and isinstance(space[1], pikepdf.Stream):
        return _by_profile(space[1])
    if _SHORT.get(name, name) == "Indexed" and len(space) > 3:
        return _indexed(space)
    return _named(name)


def _by_profile(stream: Any) -> Colours:
    try:
        icc = stream.read_bytes()[:MOST_PROFILE_BYTES]
        mode = parse(icc).space
    except (pikepdf.PdfError, DamagedProfile):
        return Colours("ICCBased")
    if CHANNELS.get(mode) != stream.get("/N"):
        mode = ""
    return Colours("ICCBased", mode, icc)


def _indexed(space: Any) -> Colours:
    base = space[1]
    under = _named(str(base)[1:]) if isinstance(base, pikepdf.Name) else _listed(base)
    if not under.mode or under.palette is not None:
        return Colours("Indexed")
    table = space[3]
    packed = table.read_bytes() if isinstance(table, pikepdf.Stream) else bytes(table)
    channels = CHANNELS[under.mode]
    count = min(int(space[2]) + 1, len(packed) // channels, 256)
    if count < 1:
        return Colours("Indexed")
    palette = np.frombuffer(packed, np.uint8, count * channels).reshape(count, channels)
    return Colours("Indexed", under.mode, under.icc, under.device, palette)


def spot_inks(space: Any, resources: Any, depth: int = 0) -> tuple[str, ...]:
    """Return the names of the spot inks that a colour space prints in (ISO 32000-2, 8.6.6.4).

    The four process inks are none, whatever space names them, and neither is None, which marks
    nothing; All, the ink of register marks, prints on every plate and is told.
    """
    held = resources.get("/ColorSpace") if isinstance(resources, pikepdf.Dictionary) else None
    if isinstance(space, pikepdf.Name) and isinstance(held, pikepdf.Dictionary):
        space = held.get(str(space))
    if not isinstance(space, pikepdf.Array) or len(space) < 2 or depth > 1:
        return ()
    family = str(space[0])[1:]
    if _SHORT.get(family, family) == "Indexed":
        return spot_inks(space[1], resources, depth + 1)
    if family == "Separation":
        names = [space[1]]
    elif family == "DeviceN" and isinstance(space[1], pikepdf.Array):
        names = list(space[1])
    else:
        return ()
    inks = (str(name)[1:] for name in names if isinstance(name, pikepdf.Name))
    return tuple(dict.fromkeys(ink for ink in inks if ink not in _NO_SPOTS))
