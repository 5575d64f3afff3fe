"""Pictures of a pull as bytes: AVIF within a budget, and PNG for what is drawn over them."""

from __future__ import annotations

import io
from collections.abc import Mapping
from math import ceil

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

MOST_PULL_BYTES = 290_000
"""Of all pictures of a pull together: written as base64 they take a third more, under 400 kB."""

_QUALITIES = (64, 56, 48, 40, 32, 24, 16)

View = NDArray[np.uint8]
"""sRGB, (height, width, 3)."""


def avif(view: View, quality: int) -> bytes:
    image = pyvips.Image.new_from_array(view)
    # the least effort takes a tenth of the time for a tenth more bytes
    return bytes(image.heifsave_buffer(compression="av1", Q=quality, effort=0))


def within(budget: int, views: Mapping[str, View]) -> dict[str, bytes]:
    """Return the views at about the best quality at which all of them keep within the budget."""
    at = _QUALITIES.index(48)
    made = _at_quality(views, _QUALITIES[at])
    # a step down the qualities leaves about five sixths of the bytes
    size = sum(map(len, made.values()))
    steps = ceil(np.log(size / max(budget, 1)) / np.log(6 / 5))
    wanted = min(max(at + steps, 0), len(_QUALITIES) - 1)
    while wanted != at:
        at = wanted
        made = _at_quality(views, _QUALITIES[at])
        if sum(map(len, made.values())) > budget:
            wanted = min(at + 1, len(_QUALITIES) - 1)
    return made


def drawing(mask: NDArray[np.bool_], colour: tuple[int, int, int]) -> bytes:
    """Return a PNG that is of one colour in the mask, clear elsewhere."""
    image = Image.fromarray(mask.astype(np.uint8), "P")
    image.putpalette([255, 255, 255, *colour])
    stream = io.BytesIO()
    image.save(stream, "PNG", transparency=0, bits=1, optimize=True)
    return stream.getvalue()


def _at_quality(views: Mapping[str, View], quality: int) -> dict[str, bytes]:
    return {name: avif(view, quality) for name, view in views.items()}
