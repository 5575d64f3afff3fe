"""Linear light: a master's pixels into linear ROMM RGB, and from there to an output's colours.

ROMM RGB (ISO 22028-2) is the working space of every prepared copy: it holds the colours of real
surfaces, so neither tone nor sharpening drives a colour out of it before the output's own ICC
profile has its say. Averages of linear values are averages of light, so it is also the space to
resample in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.computed import stacked, strips, values_of
from pressworthy.colour.convert import as_vips, coded_into, to_xyz
from pressworthy.colour.icc import IccProfile, parse
from pressworthy.colour.lab import D50
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.separation import held_to
from pressworthy.colour.spaces import SPACES
from pressworthy.values.condition import Profile
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import unmeasured

TOP = 65535
ROMM = SPACES["ROMM RGB"]
_AVERAGED_ROWS = 16
MODES = {1: "gray", 3: "RGB", 4: "CMYK"}


@dataclass(frozen=True)
class Light:
    """A picture in linear light: a libvips image of 1 or 3 bands, 0..65535.

    matrix: (3, bands), from its bands to linear ROMM RGB. Only the matrix differs from space to
    space, and resampling commutes with it, so the pixels are multiplied by it once they are few.
    """

    image: Any
    matrix: NDArray[np.float64]

    def luminance(self) -> Any:
        """Return the relative luminance Y, 1 band, 0..65535."""
        row = ROMM.colorants[:, 1] @ self.matrix
        return self.image.recomb([row.tolist()])

    def romm(self) -> Iterator[NDArray[np.float32]]:
        """Yield linear ROMM RGB, 0..65535, a few rows at a time, (rows, width, 3), downwards."""
        return self._times(self.matrix.T)

    def mixed(self, weights: NDArray[np.float64]) -> Any:
        """Return the sum of linear ROMM RGB by `weights` (3,), a libvips image of 16 bits.

        It is computed now and lies in memory, 1 band, 0..65535.
        """
        lit = self._times((weights @ self.matrix)[:, None])
        codes = (np.clip(rows[..., 0], 0, TOP).astype(np.uint16) for rows in lit)
        return pyvips.Image.new_from_array(stacked(codes, self.image.height))

    def _times(self, matrix: NDArray[np.float64]) -> Iterator[NDArray[np.float32]]:
        factors = matrix.astype(np.float32)
        for rows in strips(self.image):
            values = rows.reshape(-1, rows.shape[2]).astype(np.float32)
            yield (values @ factors).reshape(*rows.shape[:2], -1)


def averaged(image: Any, factor: int) -> NDArray[np.float32]:
    """Return a libvips image at 1/`factor` of its size, (height, width, bands), by plain means.

    Sizes are rounded as libvips does where it shrinks; the last pixels count for those that lack.
    """
    across, lines_there, bands = image.width, image.height, image.bands
    # halves up
    height, width = (max(1, (2 * px + factor) // (2 * factor)) for px in (lines_there, across))
    dtype = np.dtype(pyvips.vimage.FORMAT_TO_TYPESTR[image.format])
    means = np.tile(np.eye(bands, dtype=np.float32), (factor, 1)) / factor**2
    done = np.empty((height, width, bands), np.float32)
    region = pyvips.Region.new(image)
    for first in range(0, height, _AVERAGED_ROWS):
        rows = min(_AVERAGED_ROWS, height - first)
        there = min(rows * factor, lines_there - first * factor)
        data = region.fetch(0, first * factor, across, there)
        values = np.frombuffer(data, dtype).reshape(there, across, bands)
        if lack := rows * factor - there:
            values = np.pad(values, ((0, lack), (0, 0), (0, 0)), "edge")
        lines = values.reshape(rows, factor, -1).sum(1, dtype=np.float32)
        lines = lines.reshape(rows, across, bands)[:, : width * factor]
        # few are left to be moved
        if lack := width * factor - lines.shape[1]:
            lines = np.pad(lines, ((0, 0), (0, lack), (0, 0)), "edge")
        np.matmul(lines.reshape(rows, width, -1), means, out=done[first : first + rows])
    return done


def to_light(
    image: Any,
    mode: str,
    profile: bytes | str,
    *,
    intent: str,
    black_point: bool,
    at_once: bool = False,
) -> Light:
    """Return the pixels of a master, RGB, CMYK, gray or Lab of 8 or 16 bits, as linear light.

    profile: ICC profile bytes, or ``"srgb"`` for sRGB and a gray of the same tone curve.
    A profile of colorants and tone curves is applied exactly, through a table a channel; any other
    by LittleCMS at 16 bits. at_once: here and now, by a transform that stays open; setting one up
    takes as long as 300,000 pixels do. Raises Unmeasured where the profile cannot be used.
    """
    if image.format not in ("uchar", "ushort") and mode != "Lab":
        raise Unmeasured(f"{mode} pixels of type {image.format} are not converted")
    if shaped := _shaped(mode, profile):
        curves, matrix = shaped
        return Light(_tabled(image, curves), matrix)
    data = rgb_profile("sRGB") if isinstance(profile, str) else profile
    if at_once and mode != "Lab":
        xyz = to_xyz(values_of(image), mode, data, intent=intent, black_point=black_point)
        return Light(pyvips.Image.new_from_array(xyz) * (TOP / 100), _to_romm())
    image = image.copy()
    if mode != "Lab":
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", data)
        try:
            image = image.icc_import(
                embedded=True,
                intent=intent,
                pcs="lab",
                black_point_compensation=black_point,
            )
        except pyvips.Error as error:
            why = f"LittleCMS refuses the ICC profile: {error.detail}"
            raise unmeasured(error, why) from None
    else:
        image = image.colourspace("lab")
    # not pcs="xyz" above: libvips then scales X and Z to another white than the PCS's
    image = image.Lab2XYZ(temp=(D50 * 100).tolist())
    return Light(image.cast("float") * (TOP / 100), _to_romm())


@lru_cache(maxsize=4)
def luminance_table(
    mode: str, profile: bytes | str, dtype: np.dtype[Any]
) -> NDArray[np.float32] | None:
    """Return what each code of a channel adds to the relative luminance, (channels, codes).

    As `to_light` has it, white 1; None where the profile, or the mode, is more than colorants and
    tone curves. dtype: of the codes, uint8 or uint16.
    """
    shaped = _shaped(mode, profile)
    if shaped is None:
        return None
    curves, matrix = shaped
    steps = np.linspace(0, 1, np.iinfo(dtype).max + 1)
    light = np.clip([curve(steps) for curve in curves], 0, 1)
    return np.asarray(light * (ROMM.colorants[:, 1] @ matrix)[:, None], np.float32)


def from_light(
    romm: Iterable[NDArray[np.float32]],
    height: int,
    profile: Profile,
    *,
    intent: str,
    black_point: bool,
    depth: int = 8,
    most_ink: float | None = None,
) -> Any:
    """Return linear ROMM RGB in the colours of an output's ICC profile, a libvips image in memory.

    romm: `height` rows downwards, some at a time, (rows, width, 3) of 0..65535; they are written
    over.
    most_ink: the largest sum of inks, %, where the output is in CMYK and there is a limit; the
    separation is then made anew if the profile's own passes it. LittleCMS computes at 16 bits, by a
    transform that stays open; `depth` is that of the result. The profile is embedded in it. Raises
    Unmeasured where the profile cannot be used.
    """
    target, own = held_to(profile, most_ink), rgb_profile(ROMM.name)
    how: Any = {"intent": intent, "black_point": black_point, "depth": depth}
    try:
        into = coded_into(target, own, _coded, **how)
    except pyvips.Error as error:
        raise unmeasured(error, f"LittleCMS refuses {profile.name}: {error.detail}") from None
    colours = (into(np.clip(rows, 0, TOP, out=rows).astype(np.uint16)) for rows in romm)
    values = stacked(colours, height)
    done = as_vips(values, MODES[values.shape[2]])
    # what inks print is told by the condition's own profile, however they were mixed
    done.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile.read_bytes())
    return done


def in_black(luminance: Any, profile: Profile, *, black_point: bool, depth: int = 8) -> Any:
    """Return relative luminance (1 band, 0..65535) as CMYK in which only black prints.

    By the tone scale that the CMYK profile itself gives its black ink. black_point: lay the
    picture's black on the solid ink (ISO 18619). The profile is embedded in the result. Raises
    Unmeasured where LittleCMS refuses it.
    """
    levels = np.arange(256)
    inks = np.zeros((1, 256, 4), np.uint8)
    inks[0, :, 3] = levels
    data = profile.read_bytes()
    ramp = to_light(as_vips(inks, "CMYK"), "CMYK", data, intent="relative", black_point=False)
    shown = np.minimum.accumulate(ramp.luminance().numpy().ravel() / TOP)
    wanted = np.linspace(0, 1, TOP + 1)
    if black_point:
        wanted = shown[-1] + (shown[0] - shown[-1]) * wanted
    top, dtype = (255, np.uint8) if depth == 8 else (TOP, np.uint16)
    black = np.interp(wanted, shown[::-1], levels[::-1]) * (top / 255)
    key = luminance.cast("ushort").maplut(table(np.round(black).astype(dtype)))
    none = key * 0
    image = none.bandjoin([none, none, key]).cast(key.format).copy(interpretation="cmyk")
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", data)
    return image


def table(values: NDArray[Any]) -> Any:
    """Return a look-up table of one band for libvips' maplut."""
    return pyvips.Image.new_from_array(np.ascontiguousarray(values)[None, :])


def _shaped(mode: str, profile: bytes | str) -> tuple[list[Any], NDArray[np.float64]] | None:
    """Return the tone curves of a mode's channels, and `Light.matrix` of what they make.

    None where the profile, or the mode, is more than colorants and curves.
    """
    parsed = parse(rgb_profile("sRGB") if isinstance(profile, str) else profile)
    if mode == "RGB" and (curves := _curves(parsed, ("rTRC", "gTRC", "bTRC"))):
        colorants = parsed.colorants()
        assert colorants is not None
        return curves, _to_romm() @ colorants.T
    if mode == "gray" and isinstance(profile, str):
        return [SPACES["sRGB"].decode], np.ones((3, 1))
    if mode == "gray" and (curves := _curves(parsed, ("kTRC",))):
        return curves, np.ones((3, 1))
    return None


def _curves(profile: IccProfile, names: tuple[str, ...]) -> list[Any] | None:
    """Return the tone curves, or None where the profile is more than colorants and curves."""
    # towards a PCS of Lab, which gray profiles may have, a tone curve gives L* and not light
    if {"A2B0", "A2B1"} & profile.tags.keys() or profile.pcs != "XYZ":
        return None
    if len(names) == 3 and profile.colorants() is None:
        return None
    curves = [profile.tone_curve(name) for name in names]
    ends = np.array([0.0, 1.0])
    for curve in curves:
        # an ink's curve ends above black: that is for black point compensation to settle
        if curve is None or not np.allclose(curve(ends), ends, atol=1e-4):
            return None
    return curves


def _tabled(image: Any, curves: list[Any]) -> Any:
    size = 256 if image.format == "uchar" else 65536
    steps = np.linspace(0, 1, size)
    columns = [np.round(np.clip(curve(steps), 0, 1) * TOP).astype(np.uint16) for curve in curves]
    return image.maplut(
        pyvips.Image.new_from_array(np.ascontiguousarray(np.stack(columns, axis=-1)[None]))
    )


def _to_romm() -> NDArray[np.float64]:
    return np.asarray(np.linalg.inv(ROMM.colorants.T), np.float64)


def _coded(romm: Any) -> Any:
    """Return linear ROMM RGB of 16 bits, a libvips image, as its profile has it."""
    return romm.maplut(table(encoding()))


@cache
def encoding() -> NDArray[np.uint16]:
    """Return ROMM RGB's tone curve, (65536,), ISO 22028-2: linear below 1/512, else ^(1/1.8)."""
    linear = np.linspace(0, 1, TOP + 1)
    coded = np.where(linear < 1 / 512, 16 * linear, linear ** (1 / 1.8))
    return np.asarray(np.round(coded * TOP), np.uint16)
