"""Pictures of a pull as bytes: AVIF for the screen, JPEG for paper, PNG for what is laid over.

A browser lays JPEG into a PDF as it is, and any other kind without compression.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

from pressworthy.colour.computed import values_of

MOST_PULL_BYTES = 440_000
"""Of all pictures of a pull together: written as base64 they take a third more, under 600 kB."""

MOST_PAPER_BYTES = 110_000
PAPER_PX = 1000
"""Most px of the longer edge, and bytes, of a picture on paper: about 200 ppi on A4."""

SMALL_PX = 240

_FORETOLD = {64: 0.81, 56: 0.62, 48: 0.455, 40: 0.348, 32: 0.258, 24: 0.193, 16: 0.142}
"""Quality of AVIF -> its bytes, to one of a JPEG of quality 70:
measured, within a tenth on drawn scenes; down to a third of that where all is noise."""

_STRIP, _EACH = 32, 4  # rows, and one strip of so many is looked at
_PAPER_QUALITIES = (82, 74, 66, 58, 50, 42, 34, 26)
_SMALL_QUALITY = 70
_FULL_CHROMA = 90  # from this quality on colours are as fine as lightness

View = NDArray[np.uint8]
"""sRGB, (height, width, 3)."""


def avif(view: View, quality: int) -> bytes:
    image = pyvips.Image.new_from_array(view)
    # the least effort takes a tenth of the time for a tenth more bytes
    return bytes(image.heifsave_buffer(compression="av1", Q=quality, effort=0))


def jpeg(view: View, quality: int) -> bytes:
    """Return a JPEG of baseline, by the usual Huffman tables.

    Its own would take one byte in a hundred off a large one, and two thirds of the time more. Of
    few pixels libvips takes twice as long as Pillow.
    """
    stream = io.BytesIO()
    chroma = "4:4:4" if quality >= _FULL_CHROMA else "4:2:0"
    Image.fromarray(view).save(stream, "JPEG", quality=quality, subsampling=chroma)
    return stream.getvalue()


def small(view: View) -> bytes:
    """Return a view as a JPEG for the plan."""
    return jpeg(_at_most(view, SMALL_PX), _SMALL_QUALITY)


def for_paper(view: View) -> bytes:
    """Return a view as a JPEG, at the best quality that keeps within `MOST_PAPER_BYTES`."""
    shown = _at_most(view, PAPER_PX)
    jpegs: Iterator[bytes] = (jpeg(shown, quality) for quality in _PAPER_QUALITIES)
    least = b""
    for least in jpegs:
        if len(least) <= MOST_PAPER_BYTES:
            break
    return least


def within(budget: int, views: Mapping[str, View]) -> dict[str, bytes]:
    """Return the views at about the best quality at which all of them keep within the budget."""
    size = sum(map(_as_jpeg, views.values()))
    avifs: dict[str, bytes] = {}
    for quality, share in _FORETOLD.items():
        if size * share > budget and quality > min(_FORETOLD):
            continue
        avifs = {name: avif(view, quality) for name, view in views.items()}
        if sum(map(len, avifs.values())) <= budget:
            break
    return avifs


def _as_jpeg(view: View) -> float:
    """Return about how many bytes a view takes as a JPEG, by some of its rows."""
    tops = range(0, len(view), _EACH * _STRIP)
    strips = np.concatenate([view[top : top + _STRIP] for top in tops])
    return len(jpeg(strips, _SMALL_QUALITY)) * len(view) / len(strips)


def drawing(mask: NDArray[np.bool_], colour: tuple[int, int, int]) -> bytes:
    """Return a PNG that is of one colour in the mask, clear elsewhere."""
    image = Image.fromarray(mask.astype(np.uint8), "P")
    image.putpalette([255, 255, 255, *colour])
    stream = io.BytesIO()
    image.save(stream, "PNG", transparency=0, bits=1)
    return stream.getvalue()


def _at_most(view: View, px: int) -> View:
    """Return a view whose longer edge is of so many px, or of fewer."""
    image = pyvips.Image.new_from_array(view).copy(interpretation="srgb")
    return values_of(image.thumbnail_image(px, height=px, size="down"))
