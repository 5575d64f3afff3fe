"""The stored pixels of a placed picture, in a file of their own."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.spaces import identify
from pressworthy.files.opening import MOST_MEGAPIXELS, decode, read_header
from pressworthy.files.pages.beyond import intended_profile
from pressworthy.files.pages.placed import MOST_MEMORY, Placed, opened
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Header

STENCIL = "stencil"
_SIMPLE = {"ASCIIHexDecode", "ASCII85Decode", "RunLengthDecode", "FlateDecode", "LZWDecode"}
_CHANNELS = {"gray": 1, "RGB": 3, "CMYK": 4}


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
    """Return the picture's stored pixels as a file in `folder`: its own JPEG, or a TIFF.

    Colours stay as stored, at full depth; the profile is the picture's in the PDF, or the output
    intent's where its colours are the device's. Raises Unmeasured where not even the size can be
    trusted; where only pixels cannot be had, `unread` of the result says why.
    """
    import pypdfium2.raw as raw

    if placed.width * placed.height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(f"more than {MOST_MEGAPIXELS} megapixels are not opened")
    document = opened(placed.pdf)
    page = document[placed.index]
    item = _at(page, placed.trail)
    facts = raw.FPDF_IMAGEOBJ_METADATA()
    raw.FPDFImageObj_GetImageMetadata(item, page, facts)
    icc = _icc(item, page)
    family, mode = _colours(facts.colorspace, icc)
    if family == "none" and facts.bits_per_pixel <= 1:
        family = STENCIL
    if icc is None and family.startswith("Device"):
        icc = _intended(placed.pdf, mode)
    blank = _blank(placed, mode, icc)
    try:
        path = _pixels(placed, item, family, mode, icc, folder)
    except Unmeasured as reason:
        return Extracted(folder / "none", blank, family, str(reason))
    finally:
        page.close()
        document.close()
    header = read_header(path)
    # what the PDF says counts: it does not look at a JPEG's own profile, turn or resolution
    return Extracted(
        path, replace(header, icc=icc, orientation=1, ppi=None, xmp=None, iptc=None), family
    )


def _at(page: Any, trail: Sequence[int]) -> Any:
    import pypdfium2.raw as raw

    item = raw.FPDFPage_GetObject(page, trail[0])
    for i in trail[1:]:
        item = raw.FPDFFormObj_GetObject(item, i)
    return item


def _icc(item: Any, page: Any) -> bytes | None:
    import pypdfium2.raw as raw

    length = ctypes.c_ulong()
    if not raw.FPDFImageObj_GetIccProfileDataDecoded(item, page, None, 0, length):
        return None
    if not length.value:
        return None
    buffer = (ctypes.c_ubyte * length.value)()
    raw.FPDFImageObj_GetIccProfileDataDecoded(item, page, buffer, length.value, length)
    return bytes(buffer)


def _intended(pdf: Path, mode: str) -> bytes | None:
    """Return the output intent's profile where it is for such colours."""
    icc = intended_profile(pdf)
    try:
        return icc if icc and parse(icc).space == mode else None
    except DamagedProfile:
        return None


def _colours(space: int, icc: bytes | None) -> tuple[str, str]:
    """Return the colour space family by the PDF's name, and the mode of its pixels or ""."""
    import pypdfium2.raw as raw

    names = {
        raw.FPDF_COLORSPACE_DEVICEGRAY: ("DeviceGray", "gray"),
        raw.FPDF_COLORSPACE_CALGRAY: ("CalGray", "gray"),
        raw.FPDF_COLORSPACE_DEVICERGB: ("DeviceRGB", "RGB"),
        raw.FPDF_COLORSPACE_CALRGB: ("CalRGB", "RGB"),
        raw.FPDF_COLORSPACE_DEVICECMYK: ("DeviceCMYK", "CMYK"),
        raw.FPDF_COLORSPACE_LAB: ("Lab", ""),
        raw.FPDF_COLORSPACE_SEPARATION: ("Separation", ""),
        raw.FPDF_COLORSPACE_DEVICEN: ("DeviceN", ""),
        raw.FPDF_COLORSPACE_INDEXED: ("Indexed", "RGB"),
        raw.FPDF_COLORSPACE_PATTERN: ("Pattern", ""),
    }
    if space == raw.FPDF_COLORSPACE_ICCBASED:
        try:
            mode = parse(icc).space if icc else ""
        except DamagedProfile:
            mode = ""
        return "ICCBased", mode if mode in _CHANNELS else ""
    return names.get(space, ("none", ""))


def _blank(placed: Placed, mode: str, icc: bytes | None) -> Header:
    return Header(
        format="PDF", width=placed.width, height=placed.height, mode=mode or "named inks",
        depth=8, alpha=False, orientation=1, pages=1, ppi=None, file_bytes=0,
        icc=icc, exif=None, xmp=None, iptc=None,
    )  # fmt: skip


def _pixels(
    placed: Placed, item: Any, family: str, mode: str, icc: bytes | None, folder: Path
) -> Path:
    """Write the stored pixels to a file in `folder` and return it. Raises Unmeasured."""
    last = next((name for name in placed.filters if name not in _SIMPLE), "")
    if last == "DCTDecode":
        path = folder / "picture.jpg"
        path.write_bytes(_data(item))
        if mode and _turned_over(item, decode(path)):
            path = _written(decode(path).invert(), mode, folder)
        return path
    if family == STENCIL:
        raise Unmeasured("a stencil: painted in one colour, it holds no picture of its own")
    if family == "Indexed" or last in ("CCITTFaxDecode", "JBIG2Decode", "JPXDecode"):
        if mode not in ("gray", "RGB"):
            raise Unmeasured(f"{last or family} in {family} is not opened")
        if last == "JPXDecode" and icc and identify(parse(icc)) != "sRGB":
            # PDFium hands it out as painted: converted, and cut to the gamut of sRGB
            raise Unmeasured("JPXDecode in an ICC profile other than sRGB is not opened")
        values = _bitmap(item)
        return _written(pyvips.Image.new_from_array(values), _mode_of(values), folder)
    if last:
        raise Unmeasured(f"the compression {last} is not opened")
    if not mode:
        raise Unmeasured(f"its colour space is {family}; such colours are not measured")
    values = _unpacked(_data(item), placed.width, placed.height, _CHANNELS[mode])
    image = pyvips.Image.new_from_array(values)
    if _turned_over(item, image):
        image = image.invert()
    return _written(image, mode, folder)


def _mode_of(values: NDArray[Any]) -> str:
    return "gray" if values.ndim == 2 or values.shape[2] == 1 else "RGB"


def _written(image: Any, mode: str, folder: Path) -> Path:
    wide = image.format == "ushort"
    kinds = {"gray": "grey16" if wide else "b-w", "RGB": "rgb16" if wide else "srgb"}
    path = folder / "picture.tif"
    image.copy(interpretation=kinds.get(mode, "cmyk")).tiffsave(str(path), compression="none")
    return path


def _data(item: Any) -> bytes:
    import pypdfium2.raw as raw

    length = raw.FPDFImageObj_GetImageDataDecoded(item, None, 0)
    if length > MOST_MEMORY:
        raise Unmeasured("its data are larger than can be held")
    buffer = (ctypes.c_ubyte * length)()
    raw.FPDFImageObj_GetImageDataDecoded(item, buffer, length)
    return bytes(buffer)


def _unpacked(data: bytes, width: int, height: int, channels: int) -> NDArray[Any]:
    """Return (height, width, channels) uint8 or uint16 of rows packed as a PDF packs them."""
    for depth in (8, 16, 1, 2, 4):
        row = (width * channels * depth + 7) // 8
        # writers add a line end or two
        if 0 <= len(data) - row * height <= 2:
            break
    else:
        raise Unmeasured("the picture is damaged or cut short: its data do not fit its size")
    rows = np.frombuffer(data, np.uint8, row * height).reshape(height, row)
    if depth == 16:
        return rows.view(">u2").astype(np.uint16).reshape(height, width, channels)
    if depth < 8:
        bits = np.unpackbits(rows, axis=1)[:, : width * channels * depth]
        weights = 1 << np.arange(depth - 1, -1, -1)
        levels = bits.reshape(height, width * channels, depth) @ weights
        rows = (levels * (255 // (2**depth - 1))).astype(np.uint8)
    return rows.reshape(height, width, channels)


def _bitmap(item: Any) -> NDArray[Any]:
    """Return the picture as PDFium paints it, (height, width[, 3]) uint8, gray or sRGB."""
    import pypdfium2 as pdfium
    import pypdfium2.raw as raw

    handle = raw.FPDFImageObj_GetBitmap(item)
    if not handle:
        raise Unmeasured("the picture is damaged: it cannot be decoded")
    values: NDArray[Any] = pdfium.PdfBitmap.from_raw(handle).to_numpy().copy()
    return values if values.ndim == 2 else np.ascontiguousarray(values[..., 2::-1])


def _turned_over(item: Any, image: Any) -> bool:
    """Return whether the page shows the stored values upside down, by its Decode array.

    PDFium tells no Decode array, so what it paints is compared with what is stored.
    """
    painted = _bitmap(item).astype(np.float32)
    painted = painted if painted.ndim == 2 else painted.mean(axis=2)
    stored = image.numpy().astype(np.float32)
    stored = stored.reshape(*stored.shape[:2], -1)
    light = -stored.sum(axis=2) if stored.shape[2] == 4 else stored.mean(axis=2)
    if painted.shape != light.shape:
        return False
    return float(((painted - painted.mean()) * (light - light.mean())).sum()) < 0
