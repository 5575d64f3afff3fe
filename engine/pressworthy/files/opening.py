"""The one place where picture files are opened: their headers, and their pixels.

libvips reads geometry and pixels at full depth; Pillow reads what libvips does not tell (JPEG
quantisation tables, whether a resolution is stated at all).
"""

from __future__ import annotations

import hashlib
import math
import os
import re
import stat
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

from pressworthy.files import coded, png
from pressworthy.files.boxes import has_packed_words
from pressworthy.files.decoding import heic, jpeg2000, jpeg_xl
from pressworthy.files.decoding.image import DEPTH, SPACE, Undecoded
from pressworthy.files.formats import AVIF, HEIC, JPEG_2000, RAW, XL, nature, unread
from pressworthy.files.memory import refuse_beyond, to_decode
from pressworthy.files.metadata import xmp
from pressworthy.files.tiff import directory
from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import unmeasured
from pressworthy.values.picture import Header
from pressworthy.values.units import MM_PER_INCH

MOST_MEGAPIXELS = 1000
"""Larger pictures are refused before decoding: a bomb, or a job for a person."""

JFIF_ROUNDS = 1.27 + 0.01
"""By how many ppi a whole number per cm may miss, and EXIF's fractions."""

IN_MEMORY_BYTES = 330_000_000
"""Decoded pictures above this wait in a temporary file, so that a worker stays small."""

DAMAGED = "the file is damaged or cut short"

FORMATS = {"jpeg": "JPEG", "tiff": "TIFF", "png": "PNG", "webp": "WebP", "heif": AVIF,
           "heic": HEIC, "jp2": JPEG_2000, "jxl": XL}  # fmt: skip
_BY_LIBVIPS = ("jpeg", "tiff", "png", "webp")
_BY_OTHERS = {HEIC: heic.read, JPEG_2000: jpeg2000.read, XL: jpeg_xl.read}
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
_PHOTOMETRIC, _ICC_LAB = 0x0106, (9,)
_EXTRA_SAMPLES, _ALPHA = 0x0152, (1, 2)
# ImageDescription, Artist, Copyright, and the pointer to the EXIF directory
_TIFF_WORDS = {0x010E, 0x013B, 0x8298, 0x8769}
_RAN_OUT = "VipsJpeg: Corrupt JPEG data: premature end of data segment\n"
"""What libjpeg, through libvips, calls the end of a scan's data before that of its frame."""
_LOST, _LEFT_OUT = "pressworthy-lost", "pressworthy-left-out"
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
    image = _open(path, "truncated", pixels=False)
    if image.width * image.height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(
            f"it states {image.width} x {image.height} px; more than {MOST_MEGAPIXELS} megapixels "
            "are not opened"
        )
    mode = _mode(image)
    loader = str(image.get("vips-loader"))
    kind = next(name for key, name in FORMATS.items() if loader.startswith(key))
    more = _pillow_facts(path)
    # Pillow knows whether a resolution is stated, libvips reads both of its axes
    stated = more.ppi is not None or _field(image, "resolution-unit") is not None
    ppi = (image.xres * MM_PER_INCH, image.yres * MM_PER_INCH)
    if kind == "JPEG" and _field(image, "resolution-unit") == "cm":
        # JFIF has whole numbers only: 118 px/cm stand for 300 ppi
        ppi = (float(round(ppi[0])), float(round(ppi[1])))
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
        xmp=_xmp(path, kind, _field(image, "xmp-data")),
        iptc=_field(image, "iptc-data"),
        quantisation=more.quantisation,
        extra_channels=_field(image, _LEFT_OUT) or 0,
        stated_space=png.stated_space(path) if kind == "PNG" else _field(image, SPACE) or "",
        other_ppi=_other(more.jfif_ppi, ppi),
        subsampled=str(_field(image, "jpeg-chroma-subsample") or "").startswith("4:2"),
    )


def _xmp(path: Path, kind: str, packet: bytes | None) -> bytes | None:
    """Return the XMP packet, with what a JPEG has of it in further segments.

    Raises Unmeasured where a file in boxes has one that its reader does not unpack: read without
    it, the maker's name would seem to be missing.
    """
    if kind in (HEIC, AVIF) and not packet and has_packed_words(path):
        raise Unmeasured(
            f"{kind} whose metadata are compressed, which is not read here; export a TIFF or JPEG"
        )
    if kind != "JPEG" or not packet or xmp.EXTENDED not in packet:
        return packet
    return xmp.joined(packet, xmp.extension(coded.segments_of(path, 0xE1)))


def _other(
    jfif: tuple[float, float] | None, used: tuple[float, float]
) -> tuple[float, float] | None:
    """Return what JFIF states where another resolution, EXIF's, is used."""
    if jfif is None or max(abs(a - b) for a, b in zip(jfif, used, strict=True)) <= JFIF_ROUNDS:
        return None
    return jfif


def decode(path: Path) -> Any:
    """Return the picture's pixels, decoded once and whole, as a libvips image.

    `lost_in` it tells what its reader filled in. Raises Unmeasured where the file is damaged or
    cut short, or compressed in a way that is not read here, MachineTrouble where memory or disk do
    not hold it.
    """
    kind = nature(path)
    try:
        _refuse_lost_strips(path, kind)
        return _with_lost_scans(_read_strictly(path, kind), path, kind)
    except (pyvips.Error, UnicodeDecodeError) as error:
        raise unmeasured(error, _unread(kind, error, DAMAGED)) from None
    except OSError as error:
        raise unmeasured(error, f"cannot be read: {error.strerror}") from None


def lost_in(image: Any) -> str:
    """Return what of a decoded picture its reader could not read and filled in, "" for nothing."""
    return _field(image, _LOST) or ""


def lost_in_step(path: Path) -> str:
    """Return what is lost of a JPEG that its reader reads on out of step, "" for nothing.

    Its coded data are read once more, to an eighth of its size. Raises OSError.
    """
    longer = coded.lengthened(path) if nature(path) == "JPEG" else None
    if longer is None:
        return ""
    try:
        small = _jpeg(longer.data, shrink=8).copy_memory()
        rows = small.numpy().reshape(small.height, small.width, -1)[longer.end() // 8 - 1 :]
        if longer.has_left_over(rows[1:]):
            return "data are left over after its last row: some before them are lost or changed"
        if longer.may_run_out(rows[:1], rows[1:]):
            strict = _jpeg(longer.data, fail_on="warning")
            # libvips looks for warnings before it reads the next 8 rows
            strict.crop(0, 0, longer.width, longer.told_at() + 8).copy_memory()
    except pyvips.Error as error:
        return _detail(error)
    return ""


class InStep:
    """A JPEG decoded while it is read, once, downwards, and whether its data end where it does.

    image: the picture, as `stream` gives it; where its colours are coarser downwards, those of its
    last row are a quarter made up. It is read by `fetch`, in whole rows where they are kept.
    """

    def __init__(self, longer: coded.Lengthened) -> None:
        self._longer = longer
        # of all that its decoder minds, libvips notes the first
        pyvips.vips_lib.vips_error_clear()
        self._whole = _jpeg(longer.data, fail_on="error")
        self._region = pyvips.Region.new(self._whole)
        self._well = False
        self.image = self._whole.crop(0, 0, longer.width, longer.height)
        self._rows: NDArray[np.uint8] | None = None

    def keep(self) -> bool:
        """Keep the rows that are fetched, for `whole`; tell whether memory may hold them.

        Raises MachineTrouble where it does not.
        """
        shape = self.image.height, self.image.width, self.image.bands
        if math.prod(shape) > IN_MEMORY_BYTES:
            return False
        refuse_beyond(to_decode(self._whole, 1) + math.prod(shape))
        self._rows = np.empty(shape, np.uint8)
        return True

    def fetch(self, left: int, top: int, width: int, height: int) -> Any:
        """Return the pixels as a Region does."""
        fetched = self._fetched(left, top, width, height)
        if self._rows is not None:
            kept = self._rows[top : top + height]
            kept[:] = np.frombuffer(fetched, np.uint8).reshape(kept.shape)
        return fetched

    def whole(self) -> Any:
        """Return the picture as `decode` does, of the rows that were fetched and kept."""
        image = pyvips.Image.new_from_array(self._rows)
        return image.copy(interpretation=self.image.interpretation)

    def _fetched(self, left: int, top: int, width: int, height: int) -> Any:
        told_at = self._longer.told_at()
        if not top < told_at < top + height:
            return self._region.fetch(left, top, width, height)
        before = bytes(self._region.fetch(left, top, width, told_at - top))
        self._well = not _minded()
        return before + bytes(self._region.fetch(left, told_at, width, top + height - told_at))

    def has_ended(self) -> bool:
        """Tell, when all of the picture was read, whether nothing of it can be lost.

        All its data are decoded before anything is minded, which then is that they have come to an
        end, at the picture's own.
        """
        longer = self._longer
        well = self._well if longer.told_at() < longer.height else not _minded()
        end = longer.end()
        rows = self._region.fetch(0, end, longer.width, self._whole.height - end)
        below = np.frombuffer(rows, np.uint8).reshape(-1, longer.width, self._whole.bands)
        over = longer.has_left_over(below[4::8, 4::8])
        return well and not over and _minded() == _RAN_OUT


def in_step(path: Path, *, exactly: bool, kept: bool = False) -> InStep | None:
    """Return the picture where it is a JPEG that tells whether it is whole, None for any other.

    exactly: with its last row as `stream` gives it; kept: see `InStep`, None for one that is to
    wait in a file. Raises OSError and pyvips.Error, MachineTrouble where memory does not hold it.
    """
    longer = coded.lengthened(path) if nature(path) == "JPEG" else None
    if longer is None or (exactly and not longer.is_exact()):
        return None
    found = InStep(longer)
    if kept and not found.keep():
        return None
    return found


def _minded() -> str:
    """Return what libvips has noted since its notes were cleared."""
    return str(pyvips.ffi.string(pyvips.vips_lib.vips_error_buffer()).decode("utf-8", "replace"))


def _jpeg(data: bytes | bytearray, **how: Any) -> Any:
    source = pyvips.Source.new_from_memory(data)
    return pyvips.Image.jpegload_source(source, access="sequential", **how)


def _filled_in(image: Any, lost: str) -> Any:
    image = image.copy()
    image.set_type(pyvips.GValue.gstr_type, _LOST, lost)
    return image


def _read_strictly(path: Path, kind: str) -> Any:
    """Return the pixels, with what was lost where they can only be read less strictly."""
    try:
        return _held(_open(path, "warning"))
    except (pyvips.Error, UnicodeDecodeError, Unmeasured) as error:
        told = _detail(error)
    image = _held(_open(path, "error"))
    return image if kind == "JPEG" and coded.is_of_no_weight(told) else _filled_in(image, told)


def _refuse_lost_strips(path: Path, kind: str) -> None:
    # libvips reads what lies where they should be
    if kind == "TIFF" and (strips := coded.lost_strips(path)):
        raise Unmeasured(f"{DAMAGED}: {strips}")


def _with_lost_scans(image: Any, path: Path, kind: str) -> Any:
    scans = coded.lost_scans(path) if kind == "JPEG" else ""
    return _filled_in(image, scans) if scans else image


def _held(image: Any) -> Any:
    value = _DEPTHS.get(image.format, 32) // 8
    raw = image.width * image.height * image.bands * value
    refuse_beyond(to_decode(image, value) + min(raw, IN_MEMORY_BYTES))
    if raw <= IN_MEMORY_BYTES:
        return image.copy_memory()
    scratch = pyvips.Image.new_temp_file("%s.v")
    image.write(scratch)
    return scratch


def stream(path: Path, *, strict: bool = False) -> Any:
    """Return the picture as a libvips image that is decoded while it is read, once, downwards.

    strict: also what its reader would mend ends the reading. Raises Unmeasured where it does not
    open, or parts of a TIFF are missing, MachineTrouble where memory does not hold it; other damage
    shows only as pyvips.Error while reading.
    """
    kind = nature(path)
    _refuse_lost_strips(path, kind)
    image = _open(path, "warning" if strict else "error")
    refuse_beyond(to_decode(image, _DEPTHS.get(image.format, 32) // 8))
    return _with_lost_scans(image, path, kind) if strict else image


def reduced(path: Path, least: int) -> Any:
    """Return the picture as `stream` does, a JPEG by 2, 4 or 8 smaller, `least` px or more a side.

    Such a JPEG takes a fraction of the time: its blocks are never decoded whole.
    """
    image = _open(path, "error")
    if not str(image.get("vips-loader")).startswith("jpeg"):
        return image
    side = min(image.width, image.height)
    return _open(path, "error", shrink=next((by for by in (8, 4, 2) if side >= by * least), 1))


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
    digest = digest_of(image)
    digest.update(values or image.write_to_memory())
    return str(digest.hexdigest())


def digest_of(image: Any) -> Any:
    """Return the hash that `hash_pixels` begins: of size, bands and depth, before any pixel."""
    return hashlib.sha256(f"{image.width} {image.height} {image.bands} {image.format}".encode())


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
        return error, f"a folder that cannot be opened: {error.strerror}; let this user read it"
    return IsADirectoryError(), "a folder, no picture"


def _open(path: Path, fail_on: str, *, pixels: bool = True, **more: Any) -> Any:
    """Return the picture as a libvips image, without its pixels where they are not asked for."""
    try:
        # a Source takes any file name; a plain name would read "a[1].jpg" as a name with options
        name: Any = os.fsencode(path)
        source = pyvips.Source.new_from_file(name)
        loader = _loader(source).lower()
        how: Any = {"access": "sequential", "fail_on": fail_on, **more}
        if "uhdr" in loader:
            # a JPEG with a gain map for bright screens: the picture without it is what prints
            return pyvips.Image.jpegload_source(source, **how)
        if not any(key in loader for key in _BY_LIBVIPS):
            kind = nature(path)
            if kind in _BY_OTHERS:
                return _BY_OTHERS[kind](path, pixels=pixels)
            if kind not in FORMATS.values():
                raise Unmeasured(f"not a picture format read here: {unread(path)}")
        if "tiff" in loader and nature(path) == RAW:
            raise Unmeasured(f"not a picture format read here: {unread(path)}")
        image = pyvips.Image.new_from_source(source, "", **how)
        return _with_alpha_alone(_fixed(_lab(image, path)), path) if "tiff" in loader else image
    except (pyvips.Error, UnicodeDecodeError, Undecoded) as error:
        kind = nature(path)
        why = f"not a picture format read here: {unread(path)}"
        if kind in FORMATS.values():
            told = DAMAGED if kind in _BY_OTHERS else f"a {kind} file that cannot be read"
            why = _unread(kind, error, told)
        raise unmeasured(error, why) from None
    except OSError as error:
        raise unmeasured(error, f"cannot be read: {error.strerror}") from None


def _lab(image: Any, path: Path) -> Any:
    """Return a TIFF of Lab in libvips' form of 16 bits, any other as it is.

    That is L* x 327.67 and a*, b* x 256. ICCLab (TIFF 6.0's photometric 9, by the note of 1995 on
    it) adds 128 to a* and b*, and at 16 bits has L* 100 at 65280, as ICC.1:2022 table 12 has.
    """
    if image.coding == "labq":
        image = image.LabQ2LabS()
    elif directory(path).get(_PHOTOMETRIC) == _ICC_LAB and image.bands >= 3:
        wide = image.format == "ushort"
        lightness = 32767 / (65280 if wide else 255)
        scale, zero = (1, -32768) if wide else (256, -32768)
        lab = image[:3].linear([lightness, scale, scale], [0, zero, zero]).rint().cast("short")
        # channels beyond the colours, as those of other Lab files
        image = lab.bandjoin(image[3:].cast("short")) if image.bands > 3 else lab
        image = image.copy(interpretation="labs")
    return image


def _fixed(image: Any) -> Any:
    """Return a TIFF whose values say how light they are. Raises Unmeasured of others."""
    if image.format in (*TOPS, "char", "short") or image.interpretation == "lab":
        return image
    values = "floating values" if image.format in ("float", "double") else "values"
    raise Unmeasured(
        f"TIFF of {values} of {_DEPTHS.get(image.format, 64)} bits, whose white no standard fixes; "
        "save it in 16 bits, with its ICC profile"
    )


def _with_alpha_alone(image: Any, path: Path) -> Any:
    """Return a TIFF with its colours, and of the channels beyond them with its alpha alone.

    Of ExtraSamples only 1 and 2 are alpha (TIFF 6.0, section 18); saved selections and spot inks
    are 0. libvips has already taken out what the first of these multiplied in.
    """
    colours = _BANDS.get(_mode(image), image.bands)
    kinds = directory(path).get(_EXTRA_SAMPLES, ())[: image.bands - colours]
    alpha = [colours + i for i, kind in enumerate(kinds) if kind in _ALPHA][:1]
    left_out = image.bands - colours - len(alpha)
    if left_out <= 0:
        return image
    kept = image[:colours].bandjoin([image[band] for band in alpha]) if alpha else image[:colours]
    kept = kept.copy(interpretation=image.interpretation)
    kept.set_type(pyvips.GValue.gint_type, _LEFT_OUT, left_out)
    return kept


def _unread(kind: str, error: Exception, why: str) -> str:
    """Return the reason why a file of a known kind has no pixels."""
    told = _detail(error)
    if re.search("unsupported.*codec|has not been built in|decoder plugin", told, re.I):
        return f"{kind}, which the libraries installed here do not decode; export a TIFF or JPEG"
    if "samples out of range" in told:
        return f"{kind} of more than 32 bits a value; save it in 16 bits, with its ICC profile"
    if "bad labq format" in told:
        return f"{kind} of Lab in 8 bits, which is not read here; save it in 16 bits, or as RGB"
    if found := re.search(r"(\w+) compression support is not configured", told):
        return (
            f"{kind} in {found[1]} compression, which is not read here; "
            "save it with LZW, ZIP (deflate) or none"
        )
    return f"{why}: {told}"


def _loader(source: Any) -> str:
    name = pyvips.vips_lib.vips_foreign_find_load_source(source.pointer)
    return "" if name == pyvips.ffi.NULL else str(pyvips.ffi.string(name).decode())


def _mode(image: Any) -> str:
    mode = _MODES.get(image.interpretation)
    if mode and image.bands >= _BANDS[mode]:
        return mode
    return {1: "gray", 2: "gray", 3: "RGB"}.get(image.bands, f"{image.bands} channels")


def _depth(image: Any) -> int:
    if told := _field(image, DEPTH):
        return int(told)
    # libvips unpacks fewer than 8 bits to 8, and 10 and 12 of AVIF to 16; colours of a palette have
    # 8 however few they are
    unpacked = image.bands < 3 or image.interpretation == "labs" or image.format == "ushort"
    packed = _field(image, "bits-per-sample") if unpacked else None
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
    jfif_ppi: tuple[float, float] | None = None


def _pillow_facts(path: Path) -> _PillowFacts:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(path) as image:
                tables = getattr(image, "quantization", None) or {}
                quantisation = tuple(tuple(tables[key]) for key in sorted(tables))
                across, down = (float(v) for v in image.info.get("dpi", (0, 0)))
                exif = _tiff_exif(image) if image.format == "TIFF" else None
                jfif = _jfif_ppi(image.info)
        except Exception:
            # Pillow raises many kinds on odd files; libvips has already found this one readable
            return _PillowFacts()
    stated = 1 < across < 1e5 and 1 < down < 1e5
    return _PillowFacts((across, down) if stated else None, quantisation, exif, jfif)


def _jfif_ppi(info: Any) -> tuple[float, float] | None:
    """Return the resolution a JPEG's JFIF head states, or None."""
    across, down = info.get("jfif_density", (0, 0))
    an_inch = {1: 1.0, 2: MM_PER_INCH / 10}.get(info.get("jfif_unit", 0), 0.0)
    return (across * an_inch, down * an_inch) if an_inch and across > 1 and down > 1 else None


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
