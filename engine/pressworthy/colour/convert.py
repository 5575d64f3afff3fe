"""Colour conversion through ICC profiles, by LittleCMS inside libvips.

Intent and black point compensation are named at every call; nothing relies on a default.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import unmeasured

_INTERPRETATION = {
    ("RGB", 8): "srgb",
    ("RGB", 16): "rgb16",
    ("CMYK", 8): "cmyk",
    ("CMYK", 16): "cmyk",
    ("gray", 8): "b-w",
    ("gray", 16): "grey16",
}


def to_lab(
    values: NDArray[Any], mode: str, profile: bytes | str, *, black_point: bool = False
) -> NDArray[np.float32]:
    """Return CIELAB (D50), relative colorimetric.

    values: (height, width, channels) of uint8 or uint16, mode RGB, CMYK or gray.
    profile: ICC profile bytes, or ``"srgb"`` for sRGB and a gray of the same tone curve.
    black_point: lay the profile's black on L* 0 (ISO 18619). Raises Unmeasured where LittleCMS
    refuses the profile.
    """
    image = _tagged(values, mode, profile)
    try:
        imported = image.icc_import(
            embedded=True,
            intent="relative",
            pcs="lab",
            black_point_compensation=black_point,
        )
        return np.asarray(imported.numpy(), np.float32)
    except pyvips.Error as error:
        why = f"LittleCMS refuses the ICC profile: {_first_line(error)}"
        raise unmeasured(error, why) from None


def convert(
    values: NDArray[Any],
    mode: str,
    profile: bytes | str,
    target: Path,
    *,
    intent: str = "relative",
    black_point: bool = True,
) -> NDArray[np.uint16]:
    """Return the values in the colours of the `target` profile, (height, width, its channels).

    16 bits: 0 is no ink and 65535 full ink in CMYK, 0 is black in gray and RGB.
    Raises Unmeasured where LittleCMS refuses one of the profiles.
    """
    try:
        done = _tagged(values, mode, profile).icc_transform(
            str(target),
            embedded=True,
            intent=intent,
            black_point_compensation=black_point,
            depth=16,
        )
        array = done.numpy()
    except pyvips.Error as error:
        why = f"LittleCMS refuses an ICC profile: {_first_line(error)}"
        raise unmeasured(error, why) from None
    return np.asarray(array.reshape(*array.shape[:2], -1), np.uint16)


def _tagged(values: NDArray[Any], mode: str, profile: bytes | str) -> Any:
    if mode == "Lab" or values.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"{mode} pixels of type {values.dtype} are not converted")
    if mode == "gray" and isinstance(profile, str):
        values, mode = np.repeat(values[..., :1], 3, axis=2), "RGB"
    image = as_vips(values, mode)
    data = rgb_profile("sRGB") if isinstance(profile, str) else profile
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", data)
    return image


def as_vips(values: NDArray[Any], mode: str) -> Any:
    """Return an array of uint8 or uint16 as a libvips image that knows its colour mode."""
    depth = 8 * values.dtype.itemsize
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values))
    return image.copy(interpretation=_INTERPRETATION[mode, depth])


def _first_line(error: pyvips.Error) -> str:
    return (str(error.detail).strip() or "no detail").splitlines()[0]
