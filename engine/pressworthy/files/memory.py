"""How much memory a picture may take here: foretold by its header, kept by the system."""

from __future__ import annotations

import ctypes
import math
import sys
from contextlib import suppress
from functools import cache
from typing import Any

from pressworthy.values.machine import MachineTrouble

BUDGET = 1_500_000_000
"""Bytes that decoding one picture may take, unless a person says otherwise."""

WORKING = 1_500_000_000
"""Bytes beside the budget before the system refuses more: libraries, threads, measuring."""

_SAMPLES = {"4:2:0": 1.5, "4:2:2": 2.0, "4:4:0": 2.0, "4:1:1": 1.5}
"""Samples a pixel of a JPEG with reduced colour; libvips names the ratio."""

KEPT = 64 << 20
"""Bytes of freed memory that a worker keeps for its next picture."""

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Of <malloc.h>."""
_LARGEST = 32 << 20
"""Bytes of the largest piece that glibc lets be kept."""

_budget = BUDGET


def allow(budget: int) -> None:
    """Let decoding one picture take that many bytes in this process."""
    global _budget
    _budget = budget


def bound(budget: int) -> None:
    """Have Linux refuse this process what goes beyond, as a last net, for good.

    Files that are mapped into memory do not count: a large picture waits in one.
    """
    if sys.platform == "linux":
        import resource

        most = budget + WORKING
        # no process may raise a lower bound that it was given
        with suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, (most, most))


@cache
def keep_freed(most: int = KEPT) -> None:
    """Have this process keep what it frees, up to `most` bytes, for what it takes next.

    The C library of most Linux systems hands it back otherwise, and of the next picture the system
    clears every page anew: a tenth of what the check of 30 megapixels takes.
    """
    if sys.platform == "linux":
        # others have no such function
        with suppress(OSError, AttributeError):
            library = ctypes.CDLL(None)
            library.mallopt(_TRIM_THRESHOLD, most)
            library.mallopt(_MMAP_THRESHOLD, _LARGEST)


def refuse_beyond(needed: float) -> None:
    """Raise MachineTrouble where a picture needs more bytes than this process may take."""
    if needed > _budget:
        wanted = math.ceil(needed / 1e8) / 10
        raise MachineTrouble(
            f"to decode it takes about {wanted:.1f} GB of memory, and {_budget / 1e9:.1f} GB are "
            f"allowed: export it anew as a plain JPEG or TIFF, or give --memory {wanted:.1f}GB"
        )


def to_decode(image: Any, bytes_a_value: int) -> float:
    """Return about how many bytes the decoder holds of a libvips image just opened.

    What waits in memory decoded comes on top. Measured, not promised, by the libraries installed.
    """
    loader, pixels = str(image.get("vips-loader")), int(image.width) * int(image.height)
    raw = pixels * int(image.bands) * bytes_a_value
    interlaced = _field(image, "interlaced")
    if loader.startswith("jpeg"):
        # a progressive one is held whole, two bytes a coefficient
        ratio = str(_field(image, "jpeg-chroma-subsample") or "")
        return pixels * _SAMPLES.get(ratio, int(image.bands)) * 2 if interlaced else 0
    if loader.startswith("png"):
        return raw if interlaced else 0
    if loader.startswith("webp"):
        return pixels * 5
    if loader.startswith("heif"):
        return pixels * 12 * bytes_a_value
    if loader == "heic":
        return pixels * 6 * bytes_a_value
    if loader in ("jp2", "jxl"):
        # whole, in four bytes a value, and once more as it is handed out
        return pixels * int(image.bands) * (4 + 2 * bytes_a_value)
    rows = int(_field(image, "tile-height") or 0)
    return 2 * rows * raw / max(int(image.height), 1)


def _field(image: Any, name: str) -> Any:
    return image.get(name) if image.get_typeof(name) else None
