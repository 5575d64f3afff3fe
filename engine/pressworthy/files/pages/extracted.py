"""The pixels of a placed picture as the page shows them, in a file of their own."""

from __future__ import annotations

import ctypes
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.spaces import identify
from pressworthy.files.opening import MOST_MEGAPIXELS, decode, read_header
from pressworthy.files.pages.colours import CHANNELS, Colours, colours_of
from pressworthy.files.pages.document import objects_of, page_of
from pressworthy.files.pages.painted import NotFollowed, painted_on
from pressworthy.files.pages.placed import MOST_MEMORY, SECONDS, Placed
from pressworthy.files.pages.printing import intended_profile
from pressworthy.files.pages.samples import (
    SIMPLE,
    alpha,
    filters_of,
    looked_up,
    meant,
    ranges,
    unpacked,
)
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Header

STENCIL = "stencil"


@dataclass(frozen=True)
class Extracted:
    """A placed picture's pixels in a file of their own; `unread` tells why there are none.

    colours: the colour space by the PDF's name for it, or `STENCIL`.
    """

    path: Path
    header: Header
    colours: str
    unread: str = ""


def extract(placed: Placed, folder: Path) -> Extracted:
    """Return the picture's pixels as a file in `folder`: its own JPEG, or a TIFF.

    Values are those that its Decode array and its palette give, at full depth and unconverted;
    masks and opacity are its alpha. The profile is the picture's in the PDF, or the output
    intent's where its colours are the device's. Raises Unmeasured where not even the size can be
    trusted; where only pixels cannot be had, `unread` of the result says why.
    """
    if placed.width * placed.height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(f"more than {MOST_MEGAPIXELS} megapixels are not opened")
    try:
        image, resources = _dictionary(placed)
        if image.get("/ImageMask", False):
            colours = Colours(STENCIL)
        else:
            colours = colours_of(image.get("/ColorSpace"), resources)
        if colours.device and colours.icc is None:
            colours = replace(colours, icc=_intended(placed, colours.mode))
        return _extracted(placed, image, colours, folder)
    except (pikepdf.PdfError, NotFollowed, TypeError, ValueError, OverflowError) as error:
        raise Unmeasured(f"its objects are damaged: {error}") from None


def _extracted(placed: Placed, image: Any, colours: Colours, folder: Path) -> Extracted:
    try:
        if placed.unlike:
            raise Unmeasured(placed.unlike)
        page = page_of(placed.pdf, placed.index)
        path = _file(placed, _at(page, placed.trail), image, colours, folder)
    except Unmeasured as reason:
        return Extracted(folder / "none", _blank(placed, colours), colours.family, str(reason))
    header = read_header(path)
    # what the PDF says counts: it does not look at a JPEG's own profile, turn or resolution
    header = replace(header, icc=colours.icc, orientation=1, ppi=None, xmp=None, iptc=None)
    if _is_line_art(image, colours) and not header.alpha:
        header = replace(header, depth=1)
    return Extracted(path, header, colours.family)


def _is_line_art(image: Any, colours: Colours) -> bool:
    """Tell whether a picture has one bit of gray; JBIG2 has no more and need not say so."""
    last = filters_of(image)[-1:]
    # a fax says so by its filter too (ISO 32000-2, table 87)
    depth = 1 if last in (["CCITTFaxDecode"], ["JBIG2Decode"]) else image.get("/BitsPerComponent")
    return depth == 1 and colours.mode == "gray" and colours.palette is None


def _dictionary(placed: Placed) -> tuple[Any, Any]:
    """Return the picture's dictionary, and the resources in which its names are looked up."""
    if placed.stored != (0, 0):
        return objects_of(placed.pdf).get_object(placed.stored), None
    painted = painted_on(placed.pdf, placed.index, time.monotonic() + SECONDS)
    one = painted[placed.number - 1]
    return one.image, one.resources


def _at(page: Any, trail: Sequence[int]) -> Any:
    import pypdfium2.raw as raw

    item = raw.FPDFPage_GetObject(page, trail[0])
    for i in trail[1:]:
        item = raw.FPDFFormObj_GetObject(item, i)
    return item


def _intended(placed: Placed, mode: str) -> bytes | None:
    """Return the output intent's profile where it is for such colours."""
    icc = intended_profile(placed.pdf, placed.index)
    try:
        return icc if icc and parse(icc).space == mode else None
    except DamagedProfile:
        return None


def _blank(placed: Placed, colours: Colours) -> Header:
    return Header(
        format="PDF", width=placed.width, height=placed.height, mode=colours.mode or "named inks",
        depth=8, alpha=placed.opacity < 1, orientation=1, pages=1, ppi=None, file_bytes=0,
        icc=colours.icc, exif=None, xmp=None, iptc=None,
    )  # fmt: skip


def _file(placed: Placed, item: Any, image: Any, colours: Colours, folder: Path) -> Path:
    """Write the picture's pixels to a file in `folder` and return it. Raises Unmeasured."""
    last = next((name for name in placed.filters if name not in SIMPLE), "")
    if colours.family == STENCIL:
        raise Unmeasured("a stencil: painted in one colour, it holds no picture of its own")
    if last in ("CCITTFaxDecode", "JBIG2Decode", "JPXDecode"):
        values, samples = _painted(item, image, last, colours), None
    elif last not in ("", "DCTDecode"):
        raise Unmeasured(f"the compression {last} is not opened")
    elif not colours.mode:
        raise Unmeasured(f"its colour space is {colours.family}; such colours are not measured")
    else:
        own = folder / "picture.jpg"
        samples, depth, plain = _samples(placed, item, image, colours, last, own)
        if plain and placed.opacity >= 1 and not {"/SMask", "/Mask"} & set(image.keys()):
            return own
        if colours.palette is not None:
            values = looked_up(samples, depth, image, colours.palette)
        else:
            values = meant(samples, depth, ranges(image, samples.shape[2]))
    shown = alpha(image, (placed.width, placed.height), samples, folder)
    if placed.opacity < 1:
        over = np.full(values.shape[:2], placed.opacity, np.float32)
        shown = over if shown is None else shown * over
    return _written(values, shown, folder)


def _samples(
    placed: Placed, item: Any, image: Any, colours: Colours, last: str, own: Path
) -> tuple[NDArray[Any], int, bool]:
    """Return the stored samples, their depth, and whether the file `own` already shows them so."""
    channels = 1 if colours.palette is not None else CHANNELS[colours.mode]
    if not last:
        depth = int(image.get("/BitsPerComponent", 8))
        data = _data(item)
        return unpacked(data, placed.width, placed.height, channels, depth), depth, False
    own.write_bytes(_data(item))
    picture = decode(own)
    if (picture.width, picture.height) != (placed.width, placed.height):
        raise Unmeasured("its JPEG has another size than its dictionary states")
    if picture.bands != channels:
        raise Unmeasured(f"its JPEG has {picture.bands} channels, {colours.family} {channels}")
    samples = picture.numpy().reshape(placed.height, placed.width, channels)
    # libvips turns the inks of every JPEG over
    turned = channels == 4
    way = (1.0, 0.0) if turned else (0.0, 1.0)
    plain = colours.palette is None and ranges(image, channels) == (way,) * channels
    return 255 - samples if turned else samples, 8, plain


def _painted(item: Any, image: Any, last: str, colours: Colours) -> NDArray[Any]:
    """Return the picture as PDFium paints it, where that leaves its values as they are."""
    if colours.mode not in ("gray", "RGB"):
        raise Unmeasured(f"{last} in {colours.family} is not opened")
    indexed = colours.palette is not None
    wide = colours.icc and identify(parse(colours.icc)) != "sRGB"
    if wide and (indexed or last == "JPXDecode"):
        # PDFium hands it out as painted: converted, and cut to the gamut of sRGB
        raise Unmeasured(f"{last} in an ICC profile other than sRGB is not opened")
    if last == "JPXDecode" and (indexed or int(image.get("/SMaskInData", 0))):
        raise Unmeasured("JPXDecode with a palette, or a mask inside, is not opened")
    values = _bitmap(item)
    values = values.reshape(*values.shape[:2], -1)
    # two grays are painted as colours
    return values[..., :1] if colours.mode == "gray" else values


def _written(values: NDArray[Any], shown: NDArray[np.float32] | None, folder: Path) -> Path:
    """Write a TIFF of (height, width, channels) values, and of how much of them shows."""
    kinds = {1: ("b-w", "grey16"), 3: ("srgb", "rgb16")}
    kind = kinds.get(values.shape[2], ("cmyk", "cmyk"))[values.dtype == np.uint16]
    if shown is not None:
        top = np.iinfo(values.dtype).max
        band = np.round(shown[..., None] * top).astype(values.dtype)
        values = np.concatenate([values, band], axis=2)
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values))
    path = folder / "picture.tif"
    image.copy(interpretation=kind).tiffsave(str(path), compression="none")
    return path


def _data(item: Any) -> bytes:
    import pypdfium2.raw as raw

    # PDFium fills a buffer of the very length, and aborts at a smaller one
    length = raw.FPDFImageObj_GetImageDataDecoded(item, None, 0)
    if length > MOST_MEMORY:
        raise Unmeasured("its data are larger than can be held")
    buffer = (ctypes.c_ubyte * length)()
    raw.FPDFImageObj_GetImageDataDecoded(item, buffer, length)
    return bytes(buffer)


def _bitmap(item: Any) -> NDArray[Any]:
    """Return the picture as PDFium paints it, (height, width[, 3]) uint8, gray or sRGB."""
    import pypdfium2 as pdfium
    import pypdfium2.raw as raw

    handle = raw.FPDFImageObj_GetBitmap(item)
    if not handle:
        raise Unmeasured("the picture is damaged: it cannot be decoded")
    values: NDArray[Any] = pdfium.PdfBitmap.from_raw(handle).to_numpy().copy()
    return values if values.ndim == 2 else np.ascontiguousarray(values[..., 2::-1])
