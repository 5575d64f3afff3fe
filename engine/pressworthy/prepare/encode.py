"""A finished copy as the bytes of a file: TIFF, JPEG, WebP or AVIF, to a byte budget if need be."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import Any

import pyvips

from pressworthy.files.opening import field_names
from pressworthy.values.units import MM_PER_INCH

_KEPT = {b"icc-profile-data"}
_IF_SMALLER = " if smaller"
_PARTS, _ROWS = 8, 8
"""Where a copy is tried: so many rows in so many parts of it, one in forty of an A4 page."""


def dress(image: Any, *, ppi: float, xmp: bytes, iptc: bytes | None) -> Any:
    """Return the image with its resolution and words; all other metadata left behind."""
    image = image.copy(xres=ppi / MM_PER_INCH, yres=ppi / MM_PER_INCH)
    for name in field_names(image):
        if image.get_typeof(name) and name not in _KEPT and name not in _GEOMETRY:
            image.remove(name)
    image.set_type(pyvips.GValue.gstr_type, "resolution-unit", "in")
    image.set_type(pyvips.GValue.blob_type, "xmp-data", xmp)
    if iptc:
        image.set_type(pyvips.GValue.blob_type, "iptc-data", iptc)
    return image


def encode(image: Any, file: Mapping[str, Any]) -> bytes:
    """Return the file's bytes, at the best quality whose size is within the byte budget.

    file: the house's format, its compression or quality, least quality and budget in kB. Where
    even the least quality is over the budget its bytes are returned: the rules will say so.
    """
    kind = file["format"]
    if kind == "TIFF":
        asked = file["compression"]
        packing = asked.removesuffix(_IF_SMALLER)
        return _tiff(image, packing if packing == asked or _shortens(packing, image) else "none")
    low, high = file.get("least quality", file["quality"]), file["quality"]
    budget = file.get("byte budget", float("inf")) * 1000
    image = image.copy_memory()
    best = _save(image, kind, high)
    if len(best) <= budget or low >= high:
        return best
    best = _save(image, kind, low)
    while high - low > 1 and len(best) <= budget:
        middle = (low + high) // 2
        tried = _save(image, kind, middle)
        if len(tried) <= budget:
            low, best = middle, tried
        else:
            high = middle
    return best


def encode_line_art(image: Any) -> bytes:
    """Return the bytes of a TIFF in 1 bit, packed as faxes are (ITU-T T.6, Group 4)."""
    return _tiff(image, "ccittfax4", bitdepth=1)


def _shortens(packing: str, image: Any) -> bool:
    """Tell whether a packing makes a TIFF shorter, by some rows from all over the image."""
    rows = min(_ROWS, image.height)
    tops = sorted({(image.height - rows) * part // (_PARTS - 1) for part in range(_PARTS)})
    # not in threads, which would compute more
    region = pyvips.Region.new(image)
    data = b"".join(region.fetch(0, top, image.width, rows) for top in tops)
    size = image.width, rows * len(tops), image.bands
    tried = pyvips.Image.new_from_memory(data, *size, image.format)
    tried = tried.copy(interpretation=image.interpretation)
    return len(_tiff(tried, packing)) < len(_tiff(tried, "none"))


def _tiff(image: Any, compression: str, **more: Any) -> bytes:
    """Return the bytes of a TIFF; libvips, asked for them, would hold them twice."""
    file, target = BytesIO(), pyvips.TargetCustom()
    target.on_write(file.write)
    # a TIFF's directory is gone back to
    target.on_read(file.read)
    target.on_seek(file.seek)
    image.tiffsave_target(
        target, compression=compression, predictor="horizontal", resunit="inch", **more
    )
    return file.getvalue()


def _save(image: Any, kind: str, quality: int) -> bytes:
    if kind == "JPEG":
        screen = image.interpretation == "srgb"
        return bytes(
            image.jpegsave_buffer(
                Q=quality,
                optimize_coding=True,
                interlace=screen,
                subsample_mode="auto" if screen else "off",
            )
        )
    if kind == "WebP":
        return bytes(image.webpsave_buffer(Q=quality, effort=5, smart_subsample=True))
    return bytes(image.heifsave_buffer(compression="av1", Q=quality, effort=4))


_GEOMETRY = {
    b"width", b"height", b"bands", b"format", b"coding", b"interpretation",
    b"xoffset", b"yoffset", b"xres", b"yres", b"filename", b"vips-sequential",
}  # fmt: skip
