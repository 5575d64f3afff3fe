"""The one place where picture files are opened: their headers, and their pixels.

libvips reads geometry and pixels at full depth; Pillow reads what libvips does not tell (JPEG
quantisation tables, whether a resolution is stated at all).
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyvips
from PIL import Image

from pressworthy.files.formats import AVIF, HEIC, RAW, nature
from pressworthy.files.memory import refuse_beyond, to_decode
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import unmeasured
from pressworthy.values.picture import Header
from pressworthy.values.units import MM_PER_INCH

MOST_MEGAPIXELS = 1000
"""Larger pictures are refused before decoding: a bomb, or a job for a person."""

IN_MEMORY_BYTES = 330_000_000
"""Decoded pictures above this wait in a temporary file, so that a worker stays small."""

FORMATS = {"jpeg": "JPEG", "tiff": "TIFF", "png": "PNG", "webp": "WebP", "heif": HEIC}
_MODES = {
    "srgb": "RGB",
    "rgb": "RGB",
    "rgb16": "RGB",
    "scrgb": "RGB",
    "cmyk": "CMYK",
    "b-w": "gray",
    "grey16": "gray",
    "multiband": "",
    "lab": "Lab",
    "labs": "Lab",
}
_BANDS = {"RGB": 3, "CMYK": 4, "gray": 1, "Lab": 3}
TOPS = {"uchar": 255, "ushort": 65535}
"""The largest value of libvips' formats of whole numbers, what white is in RGB."""
# ImageDescription, Artist, Copyright, and the pointer to the EXIF directory
_TIFF_WORDS = {0x010E, 0x013B, 0x8298, 0x8769}
_UNSTATED = (MM_PER_INCH, MM_PER_INCH)  # what libvips gives where a file states nothing
_DEPTHS = {"uchar": 8, "char": 8, "ushort": 16, "short": 16, "uint": 32, "int": 32,
           "float": 32, "double": 64}  # fmt: skip

pyvips.cache_set_max(0)  # a picture is read once; libvips' own cache would only hold memory
Image.MAX_IMAGE_PIXELS = MOST_MEGAPIXELS * 1_000_000


def read_header(path: Path) -> Header:
    """Return the header of the picture at `path`.

    Raises Unmeasured with the reason where it is no picture this program reads.
    """
    size = _regular_size(path)
    image = _open(path)
    if image.width * image.height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(
            f"it states {image.width} x {image.height} px; more than {MOST_MEGAPIXELS} megapixels "
            "are not opened"
        )
    mode = _mode(image)
    loader = str(image.get("vips-loader"))
    kind = next(name for key, name in FORMATS.items() if loader.startswith(key))
    if kind == HEIC and "av1" in str(_field(image, "heif-compression") or ""):
        kind = AVIF
    more = _pillow_facts(path)
    # Pillow knows whether a resolution is stated, libvips reads both of its axes
    stated = more.ppi is not None or _field(image, "resolution-unit") is not None
    ppi = (image.xres * MM_PER_INCH, image.yres * MM_PER_INCH)
    return Header(
        format=kind,
        width=image.width,
        height=_field(image, "page-height") or image.height,
        mode=mode,
        depth=_depth(image),
        alpha=image.bands > _BANDS.get(mode, image.bands),
        orientation=_orientation(_field(image, "orientation")),
        pages=_field(image, "n-pages") or 1,
        ppi=ppi if stated and min(ppi) > 1 and max(ppi) < 1e5 and ppi != _UNSTATED else None,
        file_bytes=size,
        icc=_field(image, "icc-profile-data"),
        exif=_field(image, "exif-data") or more.exif,
        xmp=_field(image, "xmp-data"),
        iptc=_field(image, "iptc-data"),
        quantisation=more.quantisation,
    )


def decode(path: Path) -> Any:
    """Return the picture's pixels, decoded once and whole, as a libvips image.

    Raises Unmeasured where the file is damaged or cut short, MachineTrouble where memory or disk
    do not hold it.
    """
    image = _open(path)
    value = _DEPTHS.get(image.format, 32) // 8
    raw = image.width * image.height * image.bands * value
    refuse_beyond(to_decode(image, value) + min(raw, IN_MEMORY_BYTES))
    try:
        if raw <= IN_MEMORY_BYTES:
            return image.copy_memory()
        scratch = pyvips.Image.new_temp_file("%s.v")
        image.write(scratch)
        return scratch
    except (pyvips.Error, UnicodeDecodeError) as error:
        why = _unread(nature(path), error, "the file is damaged or cut short")
        raise unmeasured(error, why) from None


def stream(path: Path) -> Any:
    """Return the picture as a libvips image that is decoded while it is read, once, downwards.

    Raises Unmeasured where it does not open, MachineTrouble where memory does not hold it; damage
    shows only as pyvips.Error while reading.
    """
    image = _open(path)
    refuse_beyond(to_decode(image, _DEPTHS.get(image.format, 32) // 8))
    return image


def opaque(image: Any, mode: str) -> Any:
    """Return a libvips image of `mode` laid on paper by its alpha, the first channel beyond them.

    Channels beyond that one are left out.
    """
    bands: Any = _BANDS.get(mode, image.bands)
    if image.bands == bands:
        return image
    # libvips takes the alpha of 16-bit inks for one of 8 bits
    top = TOPS.get(image.format) or (1.0 if image.interpretation == "scrgb" else 255)
    paper = {"CMYK": [0] * 4, "Lab": [32767 if image.format == "short" else 100, 0, 0]}
    return image[: bands + 1].flatten(background=paper.get(mode, [top] * bands), max_alpha=top)


def is_inked(image: Any, bands: int) -> Any:
    """Return where a libvips image of `bands` channels and alpha is picture: 255, else 0.

    Where it is more than half transparent the paper shows.
    """
    top = TOPS.get(image.format) or (1.0 if image.interpretation == "scrgb" else 255)
    return image[bands] * 2 >= top


def upright(image: Any, orientation: int) -> Any:
    """Return a libvips image turned as the EXIF orientation 1 to 8 says."""
    image = image.copy()
    image.set_type(pyvips.GValue.gint_type, "orientation", orientation)
    return image.autorot()


def hash_pixels(image: Any, values: bytes | None = None) -> str:
    """Return the SHA-256 of a libvips image's size, bands, depth and pixels, as hexadecimal.

    values: its pixels, where they are at hand.
    """
    digest = hashlib.sha256(f"{image.width} {image.height} {image.bands} {image.format}".encode())
    digest.update(values or image.write_to_memory())
    return digest.hexdigest()


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, opened for reading only. Raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _regular_size(path: Path) -> int:
    try:
        facts = path.stat()
    except FileNotFoundError:
        broken = path.is_symlink()
        raise Unmeasured(
            f"a link to nothing: {path.readlink()}" if broken else "no such file"
        ) from None
    except OSError as error:
        raise unmeasured(error, f"cannot be read: {error.strerror}") from None
    if stat.S_ISDIR(facts.st_mode):
        raise unmeasured(*_folder(path))
    if not stat.S_ISREG(facts.st_mode):
        raise Unmeasured("not a regular file")
    if facts.st_size == 0:
        raise Unmeasured("the file is empty")
    if not os.access(path, os.R_OK):
        raise Unmeasured("cannot be read: permission denied")
    return facts.st_size


def _folder(path: Path) -> tuple[Exception, str]:
    """Return why a folder stands where a picture should, as an error and in words."""
    try:
        os.scandir(path).close()
    except OSError as error:
        return error, f"a folder that cannot be opened: {error.strerror}; nothing in it was seen"
    return IsADirectoryError(), "a folder, no picture"


def _open(path: Path) -> Any:
    try:
        # a Source takes any file name; a plain name would read "a[1].jpg" as a name with options
        name: Any = os.fsencode(path)
        source = pyvips.Source.new_from_file(name)
        loader = _loader(source).lower()
        how: Any = {"access": "sequential", "fail_on": "truncated"}
        if "uhdr" in loader:
            # a JPEG with a gain map for bright screens: the picture without it is what prints
            return pyvips.Image.jpegload_source(source, **how)
        if not any(key in loader for key in FORMATS):
            raise Unmeasured(f"not a picture format read here: {nature(path)}")
        if "tiff" in loader and nature(path) == RAW:
            raise Unmeasured(f"not a picture format read here: {RAW}")
        return pyvips.Image.new_from_source(source, "", **how)
    except (pyvips.Error, UnicodeDecodeError) as error:
        kind = nature(path)
        why = f"not a picture format read here: {kind}"
        if kind in (*FORMATS.values(), AVIF):
            why = _unread(kind, error, f"a {kind} file that cannot be read")
        raise unmeasured(error, why) from None


def _unread(kind: str, error: Exception, why: str) -> str:
    """Return the reason why a file of a known kind has no pixels."""
    told = _detail(error)
    if re.search("unsupported.*codec", told, re.I):
        return f"{kind}, which the libraries installed here do not decode; export a TIFF or JPEG"
    return f"{why}: {told}"


def _loader(source: Any) -> str:
    name = pyvips.vips_lib.vips_foreign_find_load_source(source.pointer)
    if name == pyvips.ffi.NULL:
        raise pyvips.Error("unknown format")
    return str(pyvips.ffi.string(name).decode())


def _mode(image: Any) -> str:
    mode = _MODES.get(image.interpretation)
    if mode and image.bands >= _BANDS[mode]:
        return mode
    return {1: "gray", 2: "gray", 3: "RGB"}.get(image.bands, f"{image.bands} channels")


def _depth(image: Any) -> int:
    # libvips unpacks fewer than 8 bits to 8; colours of a palette have 8 however few they are
    packed = _field(image, "bits-per-sample") if image.bands < 3 else None
    depth = _DEPTHS.get(image.format, 32)
    return min(packed, depth) if packed else depth


def field_names(image: Any) -> list[bytes]:
    """Return the names of an image's metadata; those that come from its file need not be text."""
    array = pyvips.vips_lib.vips_image_get_fields(image.pointer)
    names: list[bytes] = []
    while (name := array[len(names)]) != pyvips.ffi.NULL:
        names.append(pyvips.ffi.string(name))
        pyvips.glib_lib.g_free(name)
    pyvips.glib_lib.g_free(array)
    return names


def _field(image: Any, name: str) -> Any:
    return image.get(name) if image.get_typeof(name) else None


def _orientation(value: Any) -> int:
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


@dataclass(frozen=True)
class _PillowFacts:
    """What libvips does not tell: stated ppi, JPEG tables, and the EXIF entries of a TIFF."""

    ppi: tuple[float, float] | None = None
    quantisation: tuple[tuple[int, ...], ...] = ()
    exif: bytes | None = None


def _pillow_facts(path: Path) -> _PillowFacts:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(path) as image:
                tables = getattr(image, "quantization", None) or {}
                quantisation = tuple(tuple(tables[key]) for key in sorted(tables))
                across, down = (float(v) for v in image.info.get("dpi", (0, 0)))
                exif = _tiff_exif(image) if image.format == "TIFF" else None
        except Exception:
            # Pillow raises many kinds on odd files; libvips has already found this one readable
            return _PillowFacts()
    stated = 1 < across < 1e5 and 1 < down < 1e5
    return _PillowFacts((across, down) if stated else None, quantisation, exif)


def _tiff_exif(image: Image.Image) -> bytes:
    tags = image.getexif()
    for tag in list(tags):
        if tag not in _TIFF_WORDS:
            del tags[tag]
    return tags.tobytes()


def _detail(error: Exception) -> str:
    # libvips may quote bytes of the file that are no text, so that its own words are lost
    said = str(getattr(error, "detail", "") or error)
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    return "; ".join(dict.fromkeys(lines))[:200] or "no detail"
