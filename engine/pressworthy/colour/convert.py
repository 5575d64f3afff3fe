"""Colour conversion through ICC profiles, by LittleCMS inside libvips.

Intent and black point compensation are named at every call; nothing relies on a default.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.icc_writing import curve_tag, icc_profile, named
from pressworthy.colour.lab import D50
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.values.condition import MadeProfile, Profile
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
_TYPES = {"uchar": np.uint8, "ushort": np.uint16, "float": np.float32}
_ROW, _ROWS = 512, 64
_MOST_OPEN = 24
"""Transforms that a process keeps open: about a megabyte each."""


def to_lab(
    values: NDArray[Any], mode: str, profile: bytes | str, *, black_point: bool = False
) -> NDArray[np.float32]:
    """Return CIELAB (D50), relative colorimetric.

    values: (height, width, channels) of uint8 or uint16, mode RGB, CMYK or gray.
    profile: ICC profile bytes, or ``"srgb"`` for sRGB and a gray of the same tone curve.
    black_point: lay the profile's black on L* 0 (ISO 18619). Raises Unmeasured where LittleCMS
    refuses the profile.
    """
    values, mode, data = _readable(values, mode, profile)
    try:
        way = _into_lab(mode, values.dtype, values.shape[2], data, black_point)
        return np.asarray(way(values), np.float32)
    except pyvips.Error as error:
        why = f"LittleCMS refuses the ICC profile: {_first_line(error)}"
        raise unmeasured(error, why) from None


def to_lightness(
    values: NDArray[Any], mode: str, profile: bytes | str, *, black_point: bool = False
) -> NDArray[np.float32]:
    """Return L* alone (height, width), as `to_lab` has it, in two thirds of its time."""
    gray = convert(values, mode, profile, _lightness(), black_point=black_point)[..., 0]
    return gray * np.float32(100 / 65535)


@cache
def _lightness() -> MadeProfile:
    """Return an ICC profile of a gray that is L*, 0 to 100."""
    tags = named("L*") | {"kTRC": curve_tag(np.array([0.0, 1.0]))}
    return MadeProfile("L*", "a gray that is L*", icc_profile("prtr", "GRAY", tags, pcs="Lab "))


def to_xyz(
    values: NDArray[Any], mode: str, profile: bytes, *, intent: str, black_point: bool
) -> NDArray[np.float32]:
    """Return XYZ (D50, white of Y 100); as `to_lab`. Raises Unmeasured as that does."""
    values, mode, data = _readable(values, mode, profile)
    kind = values.dtype, values.shape[2]
    try:
        return np.asarray(_into_xyz(mode, *kind, data, intent, black_point)(values), np.float32)
    except pyvips.Error as error:
        why = f"LittleCMS refuses the ICC profile: {_first_line(error)}"
        raise unmeasured(error, why) from None


def convert(
    values: NDArray[Any],
    mode: str,
    profile: bytes | str,
    target: Profile,
    *,
    intent: str = "relative",
    black_point: bool = True,
) -> NDArray[np.uint16]:
    """Return the values in the colours of the `target` profile, (height, width, its channels).

    16 bits: 0 is no ink and 65535 full ink in CMYK, 0 is black in gray and RGB.
    Raises Unmeasured where LittleCMS refuses one of the profiles.
    """
    values, mode, data = _readable(values, mode, profile)
    kind = values.dtype, values.shape[2]
    try:
        way = _into_profile(mode, *kind, data, _target(target), intent, black_point)
        return np.asarray(way(values), np.uint16)
    except pyvips.Error as error:
        why = f"LittleCMS refuses an ICC profile: {_first_line(error)}"
        raise unmeasured(error, why) from None


def coded_into(
    target: Profile,
    profile: bytes,
    coded: Callable[[Any], Any],
    *,
    intent: str,
    black_point: bool,
    depth: int,
) -> Callable[[NDArray[np.uint16]], NDArray[Any]]:
    """Return what brings values (height, width, 3) of 16 bits to the colours of a `target` profile.

    coded: what makes libvips images of them into those of the RGB `profile`. depth: of the result,
    8 or 16 bits. Raises pyvips.Error where LittleCMS refuses one of the profiles.
    """
    kind = "RGB", np.dtype(np.uint16), 3
    return _into_profile(*kind, profile, _target(target), intent, black_point, depth, coded)


@dataclass(frozen=True)
class _Target:
    """A profile to convert into: known by its bytes, for it may lie elsewhere the next time."""

    content: bytes
    profile: Profile = field(compare=False)


def _target(profile: Profile) -> _Target:
    if isinstance(profile, MadeProfile):
        return _Target(hashlib.sha256(profile.data).digest(), profile)
    name = str(profile)
    content = _content(name, profile.stat().st_mtime_ns) if profile.is_file() else name.encode()
    return _Target(content, profile)


@lru_cache(_MOST_OPEN)
def _content(path: str, changed: int) -> bytes:
    return hashlib.sha256(Path(path).read_bytes()).digest()


@contextmanager
def _in_file(profile: Profile) -> Iterator[Path]:
    """Give the path of an ICC profile, one that lasts as long as the `with` where it lies in none.

    libvips reads the profile to convert into from a file alone, when it is told of it.
    """
    if isinstance(profile, Path):
        yield profile
        return
    with TemporaryDirectory(prefix="pressworthy-") as folder:
        path = Path(folder) / "made.icc"
        path.write_bytes(profile.data)
        yield path


class _Way:
    """One ICC transform, kept open: LittleCMS takes longer to set one up than to use it.

    It stands between a buffer and what libvips makes of it, made anew for each filling.
    """

    def __init__(
        self, mode: str, dtype: np.dtype[Any], bands: int, data: bytes, ahead: Callable[[Any], Any]
    ) -> None:
        self._buffer = np.zeros((_ROWS * _ROW, bands), dtype)
        image = as_vips(self._buffer.reshape(_ROWS, _ROW, bands), mode)
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", data)
        self._image, self._made = image, ahead(image)
        self._one_at_a_time = threading.Lock()

    def __call__(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return what the transform makes of values (height, width, channels), of libvips' type."""
        flat = values.reshape(-1, values.shape[2])
        with self._one_at_a_time:
            parts = [self._part(flat[i : i + len(self._buffer)]) for i in _starts(len(flat))]
        return np.concatenate(parts).reshape(*values.shape[:2], -1)

    def _part(self, values: NDArray[Any]) -> NDArray[Any]:
        self._buffer[: len(values)] = values
        self._image.invalidate()
        rows = -(-len(values) // _ROW)
        made = pyvips.Region.new(self._made).fetch(0, 0, _ROW, rows)
        dtype = _TYPES[self._made.format]
        return np.frombuffer(made, dtype).reshape(rows * _ROW, -1)[: len(values)]


@lru_cache(_MOST_OPEN)
def _into_lab(mode: str, dtype: np.dtype[Any], bands: int, data: bytes, black_point: bool) -> _Way:
    def ahead(image: Any) -> Any:
        return image.icc_import(
            embedded=True,
            intent="relative",
            pcs="lab",
            black_point_compensation=black_point,
        )

    return _Way(mode, dtype, bands, data, ahead)


@lru_cache(_MOST_OPEN)
def _into_xyz(
    mode: str, dtype: np.dtype[Any], bands: int, data: bytes, intent: str, black_point: bool
) -> _Way:
    def ahead(image: Any) -> Any:
        lab = image.icc_import(
            embedded=True, intent=intent, pcs="lab", black_point_compensation=black_point
        )
        # not pcs="xyz" above: libvips then scales X and Z to another white than the PCS's
        return lab.Lab2XYZ(temp=(D50 * 100).tolist())

    return _Way(mode, dtype, bands, data, ahead)


@lru_cache(_MOST_OPEN)
def _into_profile(
    mode: str,
    dtype: np.dtype[Any],
    bands: int,
    data: bytes,
    target: _Target,
    intent: str,
    black_point: bool,
    depth: int = 16,
    coded: Callable[[Any], Any] | None = None,
) -> _Way:
    def ahead(image: Any) -> Any:
        with _in_file(target.profile) as path:
            return (coded(image) if coded else image).icc_transform(
                str(path),
                embedded=True,
                intent=intent,
                black_point_compensation=black_point,
                depth=depth,
            )

    return _Way(mode, dtype, bands, data, ahead)


def _starts(length: int) -> range:
    return range(0, max(length, 1), _ROWS * _ROW)


def _readable(
    values: NDArray[Any], mode: str, profile: bytes | str
) -> tuple[NDArray[Any], str, bytes]:
    """Return values, mode and profile as LittleCMS takes them. Raises Unmeasured."""
    if mode == "Lab" or values.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"{mode} pixels of type {values.dtype} are not converted")
    if mode == "gray" and isinstance(profile, str):
        values, mode = np.repeat(values[..., :1], 3, axis=2), "RGB"
    return values, mode, rgb_profile("sRGB") if isinstance(profile, str) else profile


def as_vips(values: NDArray[Any], mode: str) -> Any:
    """Return an array of uint8 or uint16 as a libvips image that knows its colour mode."""
    depth = 8 * values.dtype.itemsize
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values))
    return image.copy(interpretation=_INTERPRETATION[mode, depth])


def _first_line(error: pyvips.Error) -> str:
    return (str(error.detail).strip() or "no detail").splitlines()[0]
