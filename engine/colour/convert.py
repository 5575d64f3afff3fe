"""Colour conversion through ICC profiles, by LittleCMS inside libvips.

Intent and black point compensation are named at every call; nothing relies on a default.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.finding import Unmeasured

_INTERPRETATION = {
    ("RGB", 8): "srgb",
    ("RGB", 16): "rgb16",
    ("CMYK", 8): "cmyk",
    ("CMYK", 16): "cmyk",
    ("gray", 8): "b-w",
    ("gray", 16): "grey16",
}


def to_lab(values: NDArray[Any], mode: str, profile: bytes | str) -> NDArray[np.float32]:
    """Return CIELAB (D50, relative colorimetric, no black point compensation).

    values: (height, width, channels) of uint8 or uint16, mode RGB, CMYK or gray.
    profile: ICC profile bytes, or ``"srgb"`` for sRGB and a gray of the same tone curve.
    Raises Unmeasured where LittleCMS refuses the profile.
    """
    if mode == "Lab" or values.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"{mode} pixels of type {values.dtype} are not converted")
    if mode == "gray" and profile == "srgb":
        values, mode = np.repeat(values[..., :1], 3, axis=2), "RGB"
    image = as_vips(values, mode)
    if isinstance(profile, bytes):
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    try:
        imported = image.icc_import(
            embedded=isinstance(profile, bytes),
            input_profile="srgb",
            intent="relative",
            pcs="lab",
            black_point_compensation=False,
        )
        return np.asarray(imported.numpy(), np.float32)
    except pyvips.Error as error:
        raise Unmeasured(f"LittleCMS refuses the ICC profile: {_first_line(error)}") from None


def as_vips(values: NDArray[Any], mode: str) -> Any:
    """Return an array of uint8 or uint16 as a libvips image that knows its colour mode."""
    depth = 8 * values.dtype.itemsize
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values))
    return image.copy(interpretation=_INTERPRETATION[mode, depth])


def _first_line(error: pyvips.Error) -> str:
    return (str(error.detail).strip() or "no detail").splitlines()[0]
