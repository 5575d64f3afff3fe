"""The print look of a copy: the page as the reader sees it, and its dots from close by.

A copy's pixels say how much of each ink they ask for. `tones_of` reads that from the pixels;
everything here works on such tones, (height, width, 1) of black or (height, width, 4) of CMYK,
uint8 from 0, bare paper, to 255, solid ink, at the output's ppi.

- `dots_light`: linear XYZ of a part of the page, dot by dot; from it the marked proof makes its
  views, and `close_view` those of the pages in docs/, sRGB at any magnification;
- `printed_luminance`: luminance before the eye, what `transfer` compares with a reference, which is
  the master's luminance, or `flat_luminance` of the unsharpened copy;
- `page_light`: linear XYZ of the size of the copy, as the eye gets it from the reader's distance,
  the dots blurred as far as the eye blurs them, and `reading_view`, the same as sRGB: for tests and
  benchmarks, which hold the model against what was measured elsewhere.

A reading view takes the exact mean of the dots over each pixel and lets light spread among those
means; a close view lays every dot at the device's resolution. Both print every single ink's flat
tints as they were measured; tests compare the two. None of it is a contract proof.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.lab import D50
from pressworthy.colour.spaces import SPACES, srgb_codes
from pressworthy.print import halftone
from pressworthy.print.eye import as_seen
from pressworthy.print.halftone import InkSet, Screen
from pressworthy.print.optics import SPREAD, lit
from pressworthy.values.condition import Condition
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]
Tones = NDArray[np.uint8]

_INK_NAMES = ("cyan", "magenta", "yellow", "black")
_BLACK = 3
_TILE = 512
_MARGIN_MM = 2.7  # 30 of the spread's d, and 8 periods of the finest detail that the eye keeps


@dataclass(frozen=True, eq=False)
class Press:
    """A printing condition made ready for simulation.

    screens: one for each of cyan, magenta, yellow and black; device: dpi; spread: d of the paper in
    mm; distance: the reader's in mm.
    """

    inks: InkSet
    screens: tuple[Screen, ...]
    device: float
    spread: float
    distance: float


@dataclass(frozen=True)
class Window:
    """A part of a copy, in its pixels."""

    left: int
    top: int
    width: int
    height: int


def press_of(condition: Condition) -> Press:
    """Return the condition's press. Raises Unmeasured where it does not say enough of itself."""
    values = condition.values
    wanted = ("ruling", "device resolution", "screen angles", "viewing distance")
    if lacking := [name for name in wanted if name not in values]:
        raise Unmeasured(f"the condition {condition.name} states no {' and no '.join(lacking)}")
    if not condition.profiles:
        raise Unmeasured(f"the condition {condition.name} has no ICC profile")
    angles = tuple(float(values["screen angles"].get(name, 45)) for name in _INK_NAMES)
    inks = halftone.read_inks(next(iter(condition.profiles.values())).parent / "inks.json")
    return Press(
        inks=inks,
        screens=tuple(Screen(values["ruling"] / 10, angle) for angle in angles),
        device=float(values["device resolution"]),
        spread=float(values.get("light spread", SPREAD)),
        distance=float(values["viewing distance"]),
    )


def tones_of(pixels: NDArray[Any], mode: str) -> Tones:
    """Return the tones of a copy's pixels, mode gray or CMYK, 8 or 16 bits. Raises Unmeasured."""
    if mode not in ("gray", "CMYK") or pixels.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"{mode} pixels of type {pixels.dtype} say nothing of ink")
    values = pixels.reshape(*pixels.shape[:2], -1)
    if values.dtype == np.uint16:
        values = ((values.astype(np.uint32) + 128) // 257).astype(np.uint8)
    return 255 - values if mode == "gray" else values


def reading_view(
    tones: Tones,
    ppi: float,
    condition: Condition,
    *,
    distance: float | None = None,
    paper_white: bool = True,
) -> NDArray[np.uint8]:
    """Return the page as read, sRGB (height, width, 3) of the copy's own size.

    distance: the reader's in mm, the condition's where None. paper_white: show the paper's own
    colour; otherwise paper is the screen's white. Raises Unmeasured.
    """
    press = press_of(condition)
    out = np.empty((*tones.shape[:2], 3), np.uint8)
    away = distance or press.distance
    for rows, columns, light in _tiles(tones, ppi, press, away):
        out[rows, columns] = to_srgb(light, press, paper_white=paper_white)
    return out


def page_light(
    tones: Tones, ppi: float, condition: Condition, *, distance: float | None = None
) -> Floats:
    """Return the page as read, linear XYZ (3, height, width), D50, perfect white 1."""
    press = press_of(condition)
    out = np.empty((3, *tones.shape[:2]), np.float32)
    for rows, columns, light in _tiles(tones, ppi, press, distance or press.distance):
        out[:, rows, columns] = light
    return out


def close_view(
    tones: Tones,
    ppi: float,
    condition: Condition,
    window: Window,
    width: int,
    *,
    paper_white: bool = True,
) -> NDArray[np.uint8]:
    """Return the dots of a part of the page, sRGB, brought to `width` px across.

    Raises Unmeasured, ValueError where the window lies outside the copy.
    """
    press = press_of(condition)
    light = dots_light(tones, ppi, condition, window)
    image = pyvips.Image.new_from_array(np.ascontiguousarray(np.moveaxis(light, 0, -1)))
    scale = width / image.width
    kernel = "nearest" if scale > 2 else "linear"
    scaled = image.resize(scale, kernel=kernel).numpy()
    return to_srgb(np.moveaxis(scaled, -1, 0), press, paper_white=paper_white)


def dots_light(
    tones: Tones,
    ppi: float,
    condition: Condition,
    window: Window | None = None,
    *,
    spread: float | None = None,
) -> Floats:
    """Return every dot of a part of the page, linear XYZ (3, height, width) in device pixels.

    spread: d in mm, the paper's where None, 0 for a paper that spreads no light. A part of more
    than 64 megapixels of the device is refused by ValueError.
    """
    press = press_of(condition)
    window = window or Window(0, 0, tones.shape[1], tones.shape[0])
    if (
        min(window.left, window.top) < 0
        or window.left + window.width > tones.shape[1]
        or window.top + window.height > tones.shape[0]
    ):
        raise ValueError(f"{window} lies outside a copy of {tones.shape[1]} x {tones.shape[0]} px")
    scale = press.device / ppi
    if window.width * window.height * scale**2 > 64e6:
        raise ValueError(f"{window} is too large for a view of its dots")
    spread = press.spread if spread is None else spread
    margin = int(np.ceil(_MARGIN_MM / 4 * ppi / MM_PER_INCH))
    top, bottom = _device(window.top, window.height, margin, scale)
    left, right = _device(window.left, window.width, margin, scale)
    rows = np.clip(((np.arange(top, bottom) + 0.5) / scale).astype(int), 0, tones.shape[0] - 1)
    columns = np.clip(((np.arange(left, right) + 0.5) / scale).astype(int), 0, tones.shape[1] - 1)
    part = tones[rows[:, None], columns[None, :]]
    mix = np.zeros(part.shape[:2], np.uint8)
    for band, ink in enumerate(_inks(tones)):
        screen = press.screens[ink]
        areas = _coverages(press.inks, ink, screen, 0.0, spread)
        tile = halftone.threshold_tile(screen, press.device)
        side = len(tile)
        over = tile[(np.arange(top, bottom) % side)[:, None], np.arange(left, right) % side]
        mix |= (over < areas[part[..., band]]).astype(np.uint8) << ink
    roots = _roots(press.inks).T.astype(np.float32)
    light = lit(roots[:, mix], MM_PER_INCH / press.device, spread)
    y, x = round(window.top * scale) - top, round(window.left * scale) - left
    height, width = round(window.height * scale), round(window.width * scale)
    return _paper(press)[:, None, None] * light[:, y : y + height, x : x + width]


def printed_luminance(tones: Tones, ppi: float, press: Press, *, fine: int = 4) -> Floats:
    """Return the luminance of the print before any eye, `fine` samples to a pixel each way.

    (height * fine, width * fine), perfect white 1; periodic at its borders, so window it.
    """
    pitch = MM_PER_INCH / ppi / fine
    ink = _transmittance(tones, (0, 0), pitch, fine, press, (1,))
    return np.asarray(lit(ink, pitch, press.spread)[0] * _paper(press)[1])


def flat_luminance(tones: Tones, press: Press) -> Floats:
    """Return the luminance (height, width) that the same inks show where all is flat.

    This is the paper's own rendering without dots and without loss of detail: light is taken as
    fully mixed within a pixel.
    """
    areas = [
        _coverages(press.inks, ink, press.screens[ink], 0.0, press.spread).astype(np.float32)[
            tones[..., band]
        ]
        for band, ink in enumerate(_inks(tones))
    ]
    return np.asarray(_mixed(areas, press, (1,))[0] ** 2 * _paper(press)[1])


def to_srgb(light: Floats, press: Press, *, paper_white: bool) -> NDArray[np.uint8]:
    """Return linear XYZ (3, height, width) as sRGB (height, width, 3) for showing."""
    matrix = np.linalg.inv(SPACES["sRGB"].colorants.T)
    if not paper_white:
        matrix = matrix @ np.diag(D50 / _paper(press))
    flat = matrix.astype(np.float32) @ light.reshape(3, -1)
    index = np.clip(flat * 65535 + 0.5, 0, 65535).astype(np.uint16)
    coded = srgb_codes()[index].reshape(3, *light.shape[1:])
    return np.ascontiguousarray(np.moveaxis(coded, 0, -1))


def _tiles(
    tones: Tones, ppi: float, press: Press, distance: float
) -> Iterator[tuple[slice, slice, Floats]]:
    """Yield rows, columns and XYZ (3, height, width) of every part of the page as read."""
    pitch = MM_PER_INCH / ppi
    margin = int(np.ceil(_MARGIN_MM / pitch))
    height, width = tones.shape[:2]
    for top in range(0, height, _TILE):
        for left in range(0, width, _TILE):
            tall, wide = min(_TILE, height - top), min(_TILE, width - left)
            down = np.clip(np.arange(top - margin, top + tall + margin), 0, height - 1)
            along = np.clip(np.arange(left - margin, left + wide + margin), 0, width - 1)
            part = tones[down[:, None], along]
            start = (top - margin, left - margin)
            ink = _transmittance(part, start, pitch, 1, press, (0, 1, 2))
            seen = as_seen(lit(ink, pitch, press.spread), pitch, distance)
            light = _paper(press)[:, None, None] * seen
            inner = slice(margin, margin + tall), slice(margin, margin + wide)
            yield slice(top, top + tall), slice(left, left + wide), light[:, *inner]


def _transmittance(
    tones: Tones,
    origin: tuple[int, int],
    pitch: float,
    fine: int,
    press: Press,
    channels: tuple[int, ...],
) -> Floats:
    """Return the mean transmittance of the ink, one way, (channels, height, width).

    origin: row and column of the first sample; fine: samples to a pixel of `tones` each way.
    """
    areas = [
        _inked(tones[..., band], origin, pitch, fine, press, ink)
        for band, ink in enumerate(_inks(tones))
    ]
    return _mixed(areas, press, channels)


def _mixed(areas: list[Floats], press: Press, channels: tuple[int, ...]) -> Floats:
    """Return the transmittance (channels, height, width) where inks cover `areas`."""
    roots = _roots(press.inks)[:, list(channels)].astype(np.float32)
    if len(areas) == 1:
        solid = roots[1 << _BLACK][:, None, None]
        return np.asarray(1 - (1 - solid) * areas[0])
    cyan, magenta, yellow, black = (area.ravel() for area in areas)
    # Demichel's sixteen products, as four times four
    first = np.stack(
        [(1 - cyan) * (1 - magenta), cyan * (1 - magenta), (1 - cyan) * magenta, cyan * magenta]
    )
    second = np.stack(
        [(1 - yellow) * (1 - black), yellow * (1 - black), (1 - yellow) * black, yellow * black]
    )
    out = np.empty((len(channels), len(cyan)), np.float32)
    for row, table in zip(out, roots.T, strict=True):
        np.einsum("in,in->n", first, table.reshape(4, 4).T @ second, out=row)
    return out.reshape(len(channels), *areas[0].shape)


def _inked(
    tones: Tones,
    origin: tuple[int, int],
    pitch: float,
    fine: int,
    press: Press,
    ink: int,
) -> Floats:
    """Return what share of each sample the dots of one ink cover."""
    screen = press.screens[ink]
    table = _shares(press.inks, ink, screen, pitch, press.spread)
    height, width = (length * fine for length in tones.shape)
    # u = p x + q y and v = p y - q x, with (p, q) the screen's vector
    px, qx = halftone.phases(screen, pitch, origin[1], width)
    py, qy = halftone.phases(screen, pitch, origin[0], height)
    shift = np.uint32(32 - halftone.PHASES.bit_length() + 1)
    across = (px[None, :] + qy[:, None]) >> shift
    index = (py[:, None] - qx[None, :]) >> shift
    index *= np.uint32(halftone.PHASES)
    index += across
    base = tones.astype(np.uint32) * np.uint32(halftone.PHASES**2)
    if fine > 1:
        base = base.repeat(fine, axis=0).repeat(fine, axis=1)
    index += base
    return table.take(index)


def _inks(tones: Tones) -> tuple[int, ...]:
    return (_BLACK,) if tones.shape[2] == 1 else (0, 1, 2, 3)


def _device(start: int, length: int, margin: int, scale: float) -> tuple[int, int]:
    return round((start - margin) * scale), round((start + length + margin) * scale)


@lru_cache(maxsize=64)
def _coverages(
    inks: InkSet, ink: int, screen: Screen, pitch: float, spread: float
) -> NDArray[np.float64]:
    return halftone.coverages(inks.ramps[ink], screen, pitch, spread)


@lru_cache(maxsize=24)
def _shares(inks: InkSet, ink: int, screen: Screen, pitch: float, spread: float) -> Floats:
    areas = _coverages(inks, ink, screen, pitch, spread)
    return halftone.shares(screen, areas, pitch).ravel()


def _roots(inks: InkSet) -> NDArray[np.float64]:
    """Return the one-way transmittance (16, 3) of paper and overprints."""
    return np.asarray(np.sqrt(inks.primaries / inks.primaries[0]))


def _paper(press: Press) -> Floats:
    return np.asarray(press.inks.primaries[0], np.float32)
