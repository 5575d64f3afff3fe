"""What a picture says of itself in words: creator to caption, EXIF's tags, the space it names."""

from __future__ import annotations

from typing import Any

from pressworthy.files.metadata import exif as exif_block
from pressworthy.files.metadata.words import Words, read_words
from pressworthy.values.picture import Picture, measurement


@measurement(anywhere=True)
def words(picture: Picture) -> Words:
    """Return the descriptive metadata; unreadable blocks count as absent."""
    header = picture.header
    return read_words(header.xmp, header.iptc, exif(picture))


@measurement(anywhere=True)
def exif(picture: Picture) -> dict[int, Any]:
    """Return the EXIF tags of the first directory and its sub-directories, by number.

    Interoperability's tag 1 stands under 0x10001, so that it does not clash.
    """
    return exif_block.read(picture.header.exif)


@measurement(anywhere=True)
def stated_space(picture: Picture) -> str:
    """Return the RGB space that the file names, or "".

    In a PNG by cICP, sRGB, gAMA and cHRM; elsewhere by EXIF (CIPA DC-008 ColorSpace,
    InteroperabilityIndex).
    """
    return picture.header.stated_space or exif_block.stated_space(exif(picture))
