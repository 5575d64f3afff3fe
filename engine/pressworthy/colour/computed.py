"""Pixels of a libvips image computed here, in the thread that asks for them.

libvips computes in threads of its own. One in which it has encoded an AVIF goes on at a quarter of
its speed where the processor minds code for wide registers before code for narrow ones (measured on
an AMD EPYC: a Gaussian blur takes 28 ms, and 120 there), and a worker is one of as many as there
are processors. What is computed here is never the slower one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

_ROWS = 64  # fetched at a time: what is computed on the way stays in the processor's cache
_PROFILE = "icc-profile-data"


def values_of(image: Any) -> NDArray[Any]:
    """Return the pixels of a libvips image, (height, width, bands), read once downwards.

    Raises pyvips.Error where they cannot be computed.
    """
    width, height, bands = image.width, image.height, image.bands
    values = np.empty((height, width, bands), pyvips.vimage.FORMAT_TO_TYPESTR[image.format])
    region = pyvips.Region.new(image)
    for top in range(0, height, _ROWS):
        rows = values[top : top + _ROWS]
        data = region.fetch(0, top, width, len(rows))
        rows[:] = np.frombuffer(data, values.dtype).reshape(rows.shape)
    return values


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
