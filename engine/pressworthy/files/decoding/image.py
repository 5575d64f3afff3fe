"""What libvips does not decode, as the libvips image it would have been."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.values.units import MM_PER_INCH

LOADER, DEPTH, SPACE = "vips-loader", "pressworthy-depth", "pressworthy-space"
PAGES = "n-pages"
ICC, EXIF, XMP = "icc-profile-data", "exif-data", "xmp-data"


class Undecoded(Exception):  # noqa: N818 - an outcome, not an error
    """A library could not read the pixels; says what, in its words."""


@dataclass(frozen=True)
class Facts:
    """What a file says of its pixels before they are decoded.

    loader: the format's short name here; bands: channels, alpha among them; depth: bits a channel.
    ppi: the stated resolution, or None; space: the RGB space named beside an ICC profile, or "".
    blocks: metadata by libvips' names.
    """

    loader: str
    width: int
    height: int
    bands: int
    depth: int
    pages: int = 1
    ppi: tuple[float, float] | None = None
    space: str = ""
    blocks: Mapping[str, bytes | None] = field(default_factory=dict)

    def blank(self) -> Any:
        """Return an image of these facts whose pixels are not decoded, and black."""
        black = pyvips.Image.black(self.width, self.height, bands=self.bands)
        return self._told(black.cast("uchar" if self.depth <= 8 else "ushort"))

    def image(self, values: NDArray[Any] | bytes, *, premultiplied: bool = False) -> Any:
        """Return the image of decoded values, uint8, or uint16 of `depth` bits, in rows.

        premultiplied: whether colours are multiplied by the alpha.
        """
        kind = "uchar" if self.depth <= 8 else "ushort"
        image = pyvips.Image.new_from_memory(values, self.width, self.height, self.bands, kind)
        most = (1 << self.depth) - 1
        top = 255 if kind == "uchar" else 65535
        if self.depth > 8 and most != top:
            image = image.maplut(_stretched(most))
        if premultiplied:
            image = image.unpremultiply(max_alpha=top).rint().cast(kind)
        return self._told(image)

    def _told(self, image: Any) -> Any:
        wide = self.depth > 8
        gray, colour = ("grey16", "rgb16") if wide else ("b-w", "srgb")
        space = {1: gray, 2: gray, 3: colour, 4: colour}[self.bands]
        across, down = (one / MM_PER_INCH for one in self.ppi or (MM_PER_INCH, MM_PER_INCH))
        image = image.copy(interpretation=space, xres=across, yres=down)
        strings = {LOADER: self.loader, SPACE: self.space}
        if self.ppi:
            strings["resolution-unit"] = "in"
        for name, text in strings.items():
            image.set_type(pyvips.GValue.gstr_type, name, text)
        for name, number in {DEPTH: self.depth, PAGES: self.pages}.items():
            image.set_type(pyvips.GValue.gint_type, name, number)
        for name, block in self.blocks.items():
            if block:
                image.set_type(pyvips.GValue.blob_type, name, block)
        # the decoders have turned it, and libvips reads EXIF's word of it
        image.set_type(pyvips.GValue.gint_type, "orientation", 1)
        return image


def _stretched(most: int) -> Any:
    values = np.arange(65536, dtype=np.float64) * (65535 / most)
    table = np.rint(np.minimum(values, 65535)).astype(np.uint16)
    return pyvips.Image.new_from_array(table.reshape(1, -1))
