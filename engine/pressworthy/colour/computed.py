"""Pixels of a libvips image computed here, in the thread that asks for them.

libvips computes in threads of its own. One in which it has encoded an AVIF goes on at a quarter of
its speed where the processor minds code for wide registers before code for narrow ones (measured on
an AMD EPYC: a Gaussian blur takes 28 ms, and 120 there), and a worker is one of as many as there
are processors. What is computed here is never the slower one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

_PIXELS = 1 << 15  # fetched at a time: what is computed on the way stays in the processor's cache
_PROFILE = "icc-profile-data"


def values_of(image: Any) -> NDArray[Any]:
    """Return the pixels of a libvips image, (height, width, bands), read once downwards.

    Raises pyvips.Error where they cannot be computed.
    """
    return stacked(strips(image), image.height)


def stacked(parts: Iterable[NDArray[Any]], height: int) -> NDArray[Any]:
    """Return rows that come some at a time as one array of `height`, none held beside it."""
    done, top = np.empty(0), 0
    for rows in parts:
        if not top:
            done = np.empty((height, *rows.shape[1:]), rows.dtype)
        done[top : top + len(rows)] = rows
        top += len(rows)
    return done


def strips(image: Any) -> Iterator[NDArray[Any]]:
    """Yield the pixels of a libvips image a few rows at a time, (rows, width, bands), downwards.

    As many rows of any image that is as wide. Raises as `values_of`.
    """
    width, height, bands = image.width, image.height, image.bands
    dtype = pyvips.vimage.FORMAT_TO_TYPESTR[image.format]
    region = pyvips.Region.new(image)
    most = max(1, _PIXELS // width)
    for top in range(0, height, most):
        rows = min(most, height - top)
        yield np.frombuffer(region.fetch(0, top, width, rows), dtype).reshape(rows, width, bands)


def in_memory(image: Any) -> Any:
    """Return a libvips image in memory, with its profile and no other metadata.

    Raises as `values_of`.
    """
    values = values_of(image)
    made = pyvips.Image.new_from_memory(
        values.data, image.width, image.height, image.bands, image.format
    ).copy(interpretation=image.interpretation)
    if image.get_typeof(_PROFILE):
        made.set_type(pyvips.GValue.blob_type, _PROFILE, image.get(_PROFILE))
    return made
