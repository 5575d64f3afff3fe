"""Stored samples of a picture, what its Decode array makes of them, and its masks.

ISO 32000-1, 8.9.5.2 (Decode), 8.9.6 (masks) and 11.6.5.3 (soft masks).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
from numpy.typing import NDArray
from PIL import Image

from pressworthy.files.opening import MOST_MEGAPIXELS, decode
from pressworthy.values.finding import Unmeasured

SIMPLE = {"ASCIIHexDecode", "ASCII85Decode", "RunLengthDecode", "FlateDecode", "LZWDecode"}


def unpacked(data: bytes, width: int, height: int, channels: int, depth: int) -> NDArray[Any]:
    """Return samples (height, width, channels), uint8 or uint16, of rows as a PDF packs them."""
    row = (width * channels * depth + 7) // 8
    # writers add a line end or two
    if depth not in (1, 2, 4, 8, 16) or not 0 <= len(data) - row * height <= 2:
        raise Unmeasured("the picture is damaged or cut short: its data do not fit its size")
    rows = np.frombuffer(data, np.uint8, row * height).reshape(height, row)
    if depth == 16:
        return rows.view(">u2").astype(np.uint16).reshape(height, width, channels)
    if depth < 8:
        bits = np.unpackbits(rows, axis=1)[:, : width * channels * depth]
        weights = 1 << np.arange(depth - 1, -1, -1)
        rows = (bits.reshape(height, width * channels, depth) @ weights).astype(np.uint8)
    return rows.reshape(height, width, channels)


def ranges(image: Any, channels: int, top: float = 1.0) -> tuple[tuple[float, float], ...]:
    """Return what the least and the largest sample of each channel mean; by default 0 and `top`."""
    given = image.get("/Decode")
    if not isinstance(given, pikepdf.Array):
        return ((0.0, top),) * channels
    if len(given) < 2 * channels:
        raise Unmeasured("its Decode array is too short")
    numbers = [float(one) for one in list(given)[: 2 * channels]]
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))


def meant(
    samples: NDArray[Any], depth: int, decoded: Sequence[tuple[float, float]]
) -> NDArray[Any]:
    """Return the values that samples stand for, 0 to 255, or 65535 at 16 bits."""
    top = 65535 if depth == 16 else 255
    if depth >= 8 and all(pair == (0, 1) for pair in decoded):
        return samples
    steps = np.arange(2**depth) / (2**depth - 1)
    tables = [
        np.round(top * np.clip(low + steps * (high - low), 0, 1)).astype(samples.dtype)
        for low, high in decoded
    ]
    channels = [table[samples[..., i]] for i, table in enumerate(tables)]
    return np.stack(channels, axis=-1)


def looked_up(samples: NDArray[Any], depth: int, image: Any, palette: NDArray[Any]) -> NDArray[Any]:
    """Return the colours of a palette that samples stand for, (height, width, channels) uint8."""
    most = 2**depth - 1
    ((low, high),) = ranges(image, 1, most)
    places = np.round(low + np.arange(most + 1) / most * (high - low))
    colours: NDArray[Any] = palette[np.clip(places, 0, len(palette) - 1).astype(int)]
    return np.asarray(colours[samples[..., 0]])


def alpha(
    image: Any, size: tuple[int, int], samples: NDArray[Any] | None, folder: Path
) -> NDArray[np.float32] | None:
    """Return how much of the picture shows, 0 to 1, (height, width); None where nothing masks it.

    size: width and height; samples: as stored, None where they are not at hand. Raises Unmeasured.
    """
    soft, hard = image.get("/SMask"), image.get("/Mask")
    if isinstance(soft, pikepdf.Stream):
        if "/Matte" in soft:
            raise Unmeasured("its soft mask has a matte; such pictures are not measured")
        return _sized(_of_mask(soft, folder), size, Image.Resampling.BILINEAR)
    if isinstance(hard, pikepdf.Stream):
        # a stencil paints where its value is 0
        return _sized(1 - _of_mask(hard, folder), size, Image.Resampling.BOX)
    if isinstance(hard, pikepdf.Array):
        if samples is None or len(hard) < 2 * samples.shape[2]:
            raise Unmeasured("its colour-key mask cannot be worked out")
        key = [int(one) for one in hard]
        inside = [
            (samples[..., i] >= key[2 * i]) & (samples[..., i] <= key[2 * i + 1])
            for i in range(samples.shape[2])
        ]
        return np.asarray(~np.logical_and.reduce(inside), np.float32)
    return None


def _of_mask(mask: Any, folder: Path) -> NDArray[np.float32]:
    """Return a mask's values, 0 to 1, (height, width)."""
    width, height = int(mask.get("/Width", 0)), int(mask.get("/Height", 0))
    if width < 1 or height < 1 or width * height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(f"its mask states {width} x {height} px")
    names = filters_of(mask)
    ((low, high),) = ranges(mask, 1)
    try:
        if names == ["DCTDecode"]:
            file = folder / "mask.jpg"
            file.write_bytes(mask.read_raw_bytes())
            samples, depth = decode(file).numpy(), 8
        elif all(name in SIMPLE for name in names):
            depth = 1 if mask.get("/ImageMask") else int(mask.get("/BitsPerComponent", 8))
            samples = unpacked(mask.read_bytes(), width, height, 1, depth)
        else:
            raise Unmeasured(f"the compression {names[-1]} of its mask is not opened")
    except pikepdf.PdfError as error:
        raise Unmeasured(f"its mask is damaged: {error}") from None
    if samples.size != width * height:
        raise Unmeasured("its mask is no gray picture of its stated size")
    shares = samples.reshape(height, width).astype(np.float32) / (2**depth - 1)
    return np.asarray(np.clip(low + shares * (high - low), 0, 1), np.float32)


def filters_of(stream: Any) -> list[str]:
    """Return the names of a stream's filters, in the order they are undone."""
    given = stream.get("/Filter")
    several = given if isinstance(given, pikepdf.Array) else [] if given is None else [given]
    return [str(name)[1:] for name in several]


def _sized(
    values: NDArray[np.float32], size: tuple[int, int], how: Image.Resampling
) -> NDArray[np.float32]:
    if values.shape == size[::-1]:
        return values
    return np.clip(np.asarray(Image.fromarray(values).resize(size, how), np.float32), 0, 1)
