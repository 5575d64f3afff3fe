"""The print look of a copy: its dots, and the light that they leave.

A copy's pixels say how much of each ink they ask for. `tones_of` reads that from the pixels;
everything here works on such tones, (height, width, 1) of black or (height, width, 4) of CMYK,
uint8 from 0, bare paper, to 255, solid ink, at the output's ppi.

- `dots_light`: linear XYZ of a part of the page, every dot at the device's resolution;
- `printed_light`: linear XYZ of the page from the exact mean of the dots over each sample; of its
  luminance alone, `printed_luminance`, `transfer` makes a comparison with a reference;
- `flat_luminance`: luminance as the same inks show it where all is flat, such a reference.

They differ in how the ink lies; from ink to light there is one way, `_shown`. It prints every
single ink's flat tints as they were measured. No eye is in it: that is `eye.as_seen`. None of it is
a contract proof.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from pressworthy.print import halftone
from pressworthy.print.halftone import Screen
from pressworthy.print.inks import BLACK, XYZ, InkSet, Y, inks_of, mixed
from pressworthy.print.optics import BLUR, REACH_MM, lit, quick
from pressworthy.values.condition import Condition
from pressworthy.values.finding import Unmeasured
from pressworthy.values.units import MM_PER_INCH

Floats = NDArray[np.float32]
Tones = NDArray[np.uint8]

MOST_DOTS_PX = 64e6
"""Device pixels of which a view is made at once: its arrays take some 3 GB."""

_CACHED = 1 << 15
"""Samples whose inks are mixed at a time."""

_INK_NAMES = ("cyan", "magenta", "yellow", "black")


@dataclass(frozen=True, eq=False)
class Press:
    """A printing condition made ready for simulation.

    screens: one for each of cyan, magenta, yellow and black; device: dpi; blur: d of the press in
    mm.
    """

    inks: InkSet
    screens: tuple[Screen, ...]
    device: float
    blur: float


@dataclass(frozen=True)
class Part:
    """A part of a copy, in its pixels."""

    left: int
    top: int
    width: int
    height: int


def press_of(condition: Condition) -> Press:
    """Return the condition's press. Raises Unmeasured where it does not say enough of itself."""
    values = condition.values
    wanted = ("ruling", "device resolution", "screen angles")
    if lacking := [name for name in wanted if name not in values]:
        why = f"the condition {condition.name} states no {' and no '.join(lacking)}"
        if "ruling" in lacking:
            why += "; write 'ruling: ... lines/cm' under output, as the printer has it"
        raise Unmeasured(why)
    angles = tuple(float(values["screen angles"].get(name, 45)) for name in _INK_NAMES)
    device, shape = float(values["device resolution"]), str(values.get("dots", "euclidean"))
    return Press(
        inks=inks_of(condition),
        screens=tuple(
            halftone.stochastic(ink, device)
            if shape == "stochastic"
            else Screen(values["ruling"] / 10, angle, shape)
            for ink, angle in enumerate(angles)
        ),
        device=device,
        blur=float(values.get("press blur", BLUR)),
    )


def tones_of(pixels: NDArray[Any], mode: str) -> Tones:
    """Return the tones of a copy's pixels, mode gray or CMYK, 8 or 16 bits. Raises Unmeasured."""
    if mode not in ("gray", "CMYK") or pixels.dtype not in (np.uint8, np.uint16):
        raise Unmeasured(f"{mode} pixels of type {pixels.dtype} say nothing of ink")
    values = pixels.reshape(*pixels.shape[:2], -1)
    if values.dtype == np.uint16:
        values = ((values.astype(np.uint32) + 128) // 257).astype(np.uint8)
    return 255 - values if mode == "gray" else values


def dots_light(tones: Tones, ppi: float, press: Press, part: Part | None = None) -> Floats:
    """Return every dot of a part of the page, linear XYZ (3, height, width) in device pixels.

    XYZ is of D50, perfect white 1. part: the whole where None; ValueError where it lies outside the
    copy, or takes more than 64 megapixels of the device.
    """
    part = part or Part(0, 0, tones.shape[1], tones.shape[0])
    if (
        min(part.left, part.top) < 0
        or part.left + part.width > tones.shape[1]
        or part.top + part.height > tones.shape[0]
    ):
        raise ValueError(f"{part} lies outside a copy of {tones.shape[1]} x {tones.shape[0]} px")
    scale = press.device / ppi
    if part.width * part.height * scale**2 > MOST_DOTS_PX:
        raise ValueError(f"{part} is too large for a view of its dots")
    # no eye here: a quarter is as far as the press alone blurs
    margin = int(np.ceil(REACH_MM / 4 * ppi / MM_PER_INCH))
    top, bottom = _device(part.top, part.height, margin, scale)
    left, right = _device(part.left, part.width, margin, scale)
    rows = np.clip(((np.arange(top, bottom) + 0.5) / scale).astype(int), 0, tones.shape[0] - 1)
    columns = np.clip(((np.arange(left, right) + 0.5) / scale).astype(int), 0, tones.shape[1] - 1)
    overprint = np.zeros((len(rows), len(columns)), np.uint8)
    for band, ink in enumerate(_inks(tones)):
        areas = _coverages(press.inks, ink, press.screens[ink], 0.0, press.blur)
        asked = areas.astype(np.float32)[tones[..., band]].take(columns, 1).take(rows, 0)
        tile = halftone.threshold_tile(press.screens[ink], press.device)
        side = len(tile)
        over = tile.take(np.arange(left, right) % side, 1).take(np.arange(top, bottom) % side, 0)
        overprint |= (over < asked).view(np.uint8) << ink
    ink_layer = press.inks.roots().T.take(overprint, 1)
    light = _shown(ink_layer, MM_PER_INCH / press.device, press, XYZ, press.blur)
    y, x = round(part.top * scale) - top, round(part.left * scale) - left
    height, width = round(part.height * scale), round(part.width * scale)
    return light[:, y : y + height, x : x + width]


def printed_luminance(tones: Tones, ppi: float, press: Press, *, fine: int = 4) -> Floats:
    """Return the luminance of the print before any eye, `fine` samples to a pixel each way.

    (height * fine, width * fine), perfect white 1; periodic at its borders, so window it.
    """
    return np.asarray(printed_light(tones, ppi, press, fine=fine, channels=Y)[0])


def printed_light(
    tones: Tones, ppi: float, press: Press, *, fine: int, channels: Sequence[int] = XYZ
) -> Floats:
    """Return the light (channels, height * fine, width * fine), see `printed_luminance`."""
    pitch = MM_PER_INCH / ppi / fine
    inked = [_Dots.of(ink, press, pitch, tones.shape, fine) for ink in _inks(tones)]

    def areas(rows: slice) -> list[Floats]:
        return [dots.over(tones[rows, :, band], rows) for band, dots in enumerate(inked)]

    ink_layer = _mixed(areas, tones, fine, press, channels)
    return _shown(ink_layer, _usual(pitch, fine), press, channels, press.blur)


def flat_luminance(tones: Tones, press: Press) -> Floats:
    """Return the luminance (height, width) that the same inks show where all is flat.

    This is the paper's own rendering without dots and without loss of detail: light is taken as
    fully mixed within a pixel.
    """
    tables = [
        _coverages(press.inks, ink, press.screens[ink], 0.0, press.blur).astype(np.float32)
        for ink in _inks(tones)
    ]

    def areas(rows: slice) -> list[Floats]:
        return [table.take(tones[rows, :, band]) for band, table in enumerate(tables)]

    return np.asarray(_shown(_mixed(areas, tones, 1, press, Y), 0.0, press, Y, 0.0)[0])


def _mixed(
    areas: Callable[[slice], Sequence[Floats]],
    tones: Tones,
    fine: int,
    press: Press,
    channels: Sequence[int],
) -> Floats:
    """Return the transmittance (channels, height * fine, width * fine) where inks cover `areas`.

    areas: gives them for some rows of `tones`, so few at a time that the processor's cache holds
    all that is made of them.
    """
    height, width = tones.shape[:2]
    done = np.empty((len(channels), height * fine, width * fine), np.float32)
    step = max(1, _CACHED // (width * fine**2))
    for top in range(0, height, step):
        rows = slice(top, min(top + step, height))
        light = mixed(areas(rows), press.inks, channels)
        done[:, rows.start * fine : rows.stop * fine] = light.reshape(
            len(channels), -1, width * fine
        )
    return done


def _shown(ink: Floats, pitch: float, press: Press, channels: Sequence[int], blur: float) -> Floats:
    """Return the light (channels, height, width) of paper under ink of this transmittance."""
    light = lit(ink, pitch, blur)
    light *= press.inks.paper()[list(channels), None, None]
    return light


@dataclass(frozen=True, eq=False)
class _Dots:
    """The dots of one ink over samples of a copy, `fine` to a pixel each way.

    shares: what they cover of a sample, (tones, kinds), see `halftone.kinds`; places: of which kind
    of place in the screen's cell each is, (height, fine, width * fine).
    """

    shares: Floats
    places: NDArray[np.uint16]

    @classmethod
    def of(cls, ink: int, press: Press, pitch: float, shape: tuple[int, ...], fine: int) -> Self:
        """Return the dots of an ink for tones of a shape, and samples of `pitch` mm."""
        screen = press.screens[ink]
        shares = _shares(press.inks, ink, screen, _usual(pitch, fine), press.blur)
        return cls(shares, _places(screen, pitch, *shape[:2], fine))

    def over(self, tones: Tones, rows: slice) -> Floats:
        """Return what share of each sample is covered in some rows of tones (height, width).

        (height, fine, width * fine).
        """
        places = self.places[rows]
        first = (tones.astype(np.int32) * np.int32(self.shares.shape[1])).repeat(
            places.shape[1], axis=1
        )
        # no index wraps, but numpy takes so without a look at each
        return self.shares.take(first[:, None] + places, mode="wrap")


@lru_cache(maxsize=8)
def _places(screen: Screen, pitch: float, height: int, width: int, fine: int) -> NDArray[np.uint16]:
    """Return of which kind the places of a copy's samples are, (height, fine, width * fine).

    The inks of two sizes are kept: of a copy's tiles and its close-ups, for both of its states.
    """
    (px, qx), (py, qy) = (halftone.phases(screen, pitch, size * fine) for size in (width, height))
    shift = np.uint32(32 - screen.phases.bit_length() + 1)
    # u = p x + q y and v = p y - q x, with (p, q) the screen's vector
    places = (py[:, None] - qx) >> shift
    places *= np.uint32(screen.phases)
    places += (px + qy[:, None]) >> shift
    return halftone.kinds(screen).take(places).reshape(height, fine, width * fine)


def _usual(pitch: float, fine: int) -> float:
    """Return the pitch of whole pixels to the inch, `fine` samples to each, next to `pitch` mm.

    Tables for it serve all pictures of an output, whose ppi differ by the rounding of their size.
    """
    return MM_PER_INCH / max(1, round(MM_PER_INCH / pitch / fine)) / fine


def _inks(tones: Tones) -> tuple[int, ...]:
    return (BLACK,) if tones.shape[2] == 1 else (0, 1, 2, 3)


def _device(start: int, length: int, margin: int, scale: float) -> tuple[int, int]:
    """Return first device pixel and end of a part and its margin, a length quick to transform."""
    first, end = round((start - margin) * scale), round((start + length + margin) * scale)
    return first, first + quick(end - first)


@lru_cache(maxsize=64)
def _coverages(
    inks: InkSet, ink: int, screen: Screen, pitch: float, blur: float
) -> NDArray[np.float64]:
    return halftone.coverages(inks.ramps[ink], screen, pitch, blur)


@lru_cache(maxsize=24)
def _shares(inks: InkSet, ink: int, screen: Screen, pitch: float, blur: float) -> Floats:
    areas = _coverages(inks, ink, screen, pitch, blur)
    return halftone.shares(screen, areas, pitch)
