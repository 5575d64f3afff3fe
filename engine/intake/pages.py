"""Page PDFs (ISO 32000): every placed picture, where it stands and at what size, and its pixels.

The size on the page comes from the whole chain of matrices, so turned, sheared, mirrored and
nested pictures are measured along their own two axes; clip paths and form boundaries tell which
part shows. PDFium reads the file; what is out of its reach is looked for in `pages_beyond`.
"""

from __future__ import annotations

import ctypes
import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.finding import Unmeasured
from pressworthy.intake.opening import MOST_MEGAPIXELS, decode, read_header
from pressworthy.intake.pages_beyond import beyond, intended_profile, user_unit
from pressworthy.picture import Header
from pressworthy.placement import EDGES, Crop, Placement
from pressworthy.units import MM_PER_INCH, figure

POINT_MM = MM_PER_INCH / 72
TOUCH_MM = 0.35
"""An edge this near the trim, a point, is meant to be at it (common practice, no source)."""

STENCIL = "stencil"
MOST_PAGES = 2000
MOST_PLACED = 20_000
MOST_OBJECTS = 2_000_000
MOST_DEPTH = 25
SECONDS = 60
MOST_MEMORY = 4_000_000_000

Matrix = tuple[float, float, float, float, float, float]
Point = tuple[float, float]
Polygon = Sequence[Point]
_QUARTERS: dict[int, Matrix] = {
    0: (1, 0, 0, 1, 0, 0),
    90: (0, -1, 1, 0, 0, 0),
    180: (-1, 0, 0, -1, 0, 0),
    270: (0, 1, -1, 0, 0, 0),
}
_SQUARE: Polygon = ((0, 0), (1, 0), (1, 1), (0, 1))
_SIMPLE = {"ASCIIHexDecode", "ASCII85Decode", "RunLengthDecode", "FlateDecode", "LZWDecode"}
_CHANNELS = {"gray": 1, "RGB": 3, "CMYK": 4}


class UnreadPages(Exception):  # noqa: N818 - said to a person as it is
    """The PDF as a whole cannot be read, with the reason."""


@dataclass(frozen=True)
class Placed:
    """One picture as one page shows it.

    page: its label, or its number; number: of the picture on its page, in painting order.
    trail: index of the object on the page and in each nested form. width, height: px stored.
    placement: what shows of it, None where nothing does, with the reason in `unseen`, or where
    that cannot be measured, with the reason in `beyond`.
    facts: figures for the report: lengths in mm, angles in degrees.
    """

    pdf: Path
    index: int
    page: str
    number: int
    trail: tuple[int, ...]
    width: int
    height: int
    filters: tuple[str, ...]
    placement: Placement | None
    unseen: str = ""
    beyond: str = ""
    facts: dict[str, Any] = field(default_factory=dict)

    def name(self) -> str:
        """Return what reports call it, the same in every run."""
        return f"{self.pdf.name}, page {self.page}, picture {self.number}"


@dataclass(frozen=True)
class Extracted:
    """A placed picture's pixels in a file of their own; `unread` tells why there are none.

    colours: the colour space by the PDF's name for it, or `STENCIL`.
    """

    path: Path
    header: Header
    colours: str
    unread: str = ""


def limit_process() -> None:
    """Bound processor time and memory of this process, which is to read a stranger's PDF."""
    try:
        import resource
    except ImportError:  # no such limits on this system; the watchdog of the workers is left
        return
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 1))
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def survey(pdf: Path) -> tuple[Placed, ...]:
    """Return every picture placed on the pages, in their order. Raises UnreadPages."""
    document = _open(pdf)
    if len(document) > MOST_PAGES:
        raise UnreadPages(f"{len(document)} pages; more than {MOST_PAGES} are not read")
    if user_unit(pdf):
        raise UnreadPages("it uses UserUnit, so that its points are no points; this is not read")
    end = time.monotonic() + SECONDS
    placed: list[Placed] = []
    labels: list[str] = []
    for index in range(len(document)):
        try:
            page = document[index]
        except Exception as error:
            raise UnreadPages(f"page {index + 1} is damaged: {error}") from None
        placed += _on_page(pdf, document, page, index, end)
        if len(placed) > MOST_PLACED:
            raise UnreadPages(f"more than {MOST_PLACED} placed pictures")
        labels.append(document.get_page_label(index) or str(index + 1))
        page.close()
    document.close()
    for index, place in beyond(pdf):
        number = 1 + sum(one.index == index for one in placed)
        why = f"a picture stands in {place}, where it cannot be measured; look at it yourself"
        lost = Placed(pdf, index, labels[index], number, (), 0, 0, (), None, beyond=why)
        placed.append(lost)
    return tuple(sorted(placed, key=lambda one: (one.index, one.number)))


def extract(placed: Placed, folder: Path) -> Extracted:
    """Return the picture's stored pixels as a file in `folder`: its own JPEG, or a TIFF.

    Colours stay as stored, at full depth; the profile is the picture's in the PDF, or the output
    intent's where its colours are the device's. Raises Unmeasured where not even the size can be
    trusted; where only pixels cannot be had, `unread` of the result says why.
    """
    import pypdfium2.raw as raw

    if placed.width * placed.height > MOST_MEGAPIXELS * 1_000_000:
        raise Unmeasured(f"more than {MOST_MEGAPIXELS} megapixels are not opened")
    document = _open(placed.pdf)
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
        path = _pixels(placed, item, facts, family, mode, folder)
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


def _open(pdf: Path) -> Any:
    import pypdfium2

    try:
        with pdf.open("rb") as stream:
            start = stream.read(1024)
    except OSError as error:
        raise UnreadPages(f"cannot be read: {error.strerror}") from None
    if b"%PDF-" not in start:
        raise UnreadPages("not a PDF")
    try:
        document = pypdfium2.PdfDocument(pdf)
        pages = len(document)
    except pypdfium2.PdfiumError as error:
        secret = "assword" in str(error) or "ecurity" in str(error)
        told = "encrypted: it needs a password" if secret else f"damaged: {error}"
        raise UnreadPages(told) from None
    if not pages:
        raise UnreadPages("it has no pages")
    return document


def _on_page(pdf: Path, document: Any, page: Any, index: int, end: float) -> Iterator[Placed]:
    import pypdfium2.raw as raw

    turn = _QUARTERS[page.get_rotation() % 360]
    media, trim, bleed = (
        _bounds([_map(turn, x, y) for x, y in _corners(box)])
        for box in (page.get_mediabox(), page.get_trimbox(), page.get_bleedbox())
    )
    label = document.get_page_label(index) or str(index + 1)
    window = (_corners(media),)
    found = _walk(raw.FPDFPage_CountObjects, raw.FPDFPage_GetObject, page, turn, window, end)
    for number, (trail, item, matrix, clips) in enumerate(found, 1):
        width, height = ctypes.c_uint(), ctypes.c_uint()
        raw.FPDFImageObj_GetImagePixelSize(item, width, height)
        filters = tuple(_filters(item))
        placed = Placed(pdf, index, label, number, trail, width.value, height.value, filters, None)
        yield _stood(placed, matrix, clips, trim, bleed)


def _walk(
    count: Any, get: Any, owner: Any, matrix: Matrix, clips: Sequence[Polygon], end: float
) -> Iterator[tuple[tuple[int, ...], Any, Matrix, list[Polygon]]]:
    """Yield trail, object, matrix to the page and clips on the page of every picture in `owner`."""
    import pypdfium2.raw as raw

    seen = 0
    stack: list[tuple[Any, Any, Any, Matrix, list[Polygon], tuple[int, ...], int]]
    stack = [(count, get, owner, matrix, list(clips), (), 0)]
    # depth first and in order: what a form holds comes where the form is painted
    while stack:
        count, get, owner, matrix, clips, trail, start = stack.pop()
        for i in range(start, count(owner)):
            seen += 1
            if seen > MOST_OBJECTS or (seen % 1000 == 0 and time.monotonic() > end):
                raise UnreadPages("its pages hold more objects than can be looked through")
            item = get(owner, i)
            kind = raw.FPDFPageObj_GetType(item)
            if kind not in (raw.FPDF_PAGEOBJ_IMAGE, raw.FPDF_PAGEOBJ_FORM):
                continue
            own = [*clips, *([_map(matrix, *p) for p in clip] for clip in _clips(item))]
            chained = _times(_matrix(item), matrix)
            if kind == raw.FPDF_PAGEOBJ_IMAGE:
                yield (*trail, i), item, chained, own
                continue
            if len(trail) >= MOST_DEPTH:
                raise UnreadPages(f"forms nested deeper than {MOST_DEPTH} levels")
            stack.append((count, get, owner, matrix, clips, trail, i + 1))
            stack.append(
                (
                    raw.FPDFFormObj_CountObjects,
                    raw.FPDFFormObj_GetObject,
                    item,
                    chained,
                    own,
                    (*trail, i),
                    0,
                )
            )
            break


def _at(page: Any, trail: Sequence[int]) -> Any:
    import pypdfium2.raw as raw

    item = raw.FPDFPage_GetObject(page, trail[0])
    for i in trail[1:]:
        item = raw.FPDFFormObj_GetObject(item, i)
    return item


def _stood(
    placed: Placed, matrix: Matrix, clips: Sequence[Polygon], trim: Sequence[float],
    bleed: Sequence[float],
) -> Placed:  # fmt: skip
    """Return the picture with its place on the page worked out."""
    a, b, c, d, _, _ = matrix
    across, down = math.hypot(a, b), math.hypot(c, d)
    if not across or not down or abs(a * d - b * c) < 1e-9 * across * down:
        return replace(placed, unseen="it is placed at no size")
    ppi = placed.width / across * 72, placed.height / down * 72
    facts: dict[str, Any] = {
        "placed": [round(across * POINT_MM, 3), round(down * POINT_MM, 3)],
        "ppi": [round(part, 2) for part in ppi],
        "turn": round(math.degrees(math.atan2(b, a)), 2) + 0.0,
        "shear": round(_shear(a, b, c, d), 2) + 0.0,
        "mirrored": a * d - b * c < 0,
        "compression": placed.filters[-1] if placed.filters else "none",
    }
    shape: Polygon = [_map(matrix, *corner) for corner in _SQUARE]
    for clip in clips:
        shape = _cut(shape, clip)
    if len(_cut(shape, _corners(trim))) < 3:
        told = "clipped away" if len(shape) < 3 else "wholly outside the trim box"
        return replace(placed, unseen=f"{told}: no reader sees it", facts=facts)
    bounds = _bounds(shape)
    to_trim, to_bleed = (_inside(bounds, box) for box in (trim, bleed))
    facts["trim"] = {edge: round(mm, 3) + 0.0 for edge, mm in to_trim.items()}
    facts["bleed box"] = {edge: round(mm, 3) + 0.0 for edge, mm in to_bleed.items()}
    back = _inverse(matrix)
    left, bottom, right, top = _bounds([_map(back, *point) for point in shape])
    crop = Crop(left, 1 - top, right - left, top - bottom)
    facts["shown"] = [round(v, 5) + 0.0 for v in (crop.left, crop.top, crop.width, crop.height)]
    placement = _placement(across, down, crop, to_trim, (a, b, c, d), placed.page)
    return replace(placed, facts=facts, placement=replace(placement, source=_words(facts)))


def _placement(
    across: float, down: float, crop: Crop, to_trim: dict[str, float],
    axes: tuple[float, float, float, float], page: str,
) -> Placement:  # fmt: skip
    """Return the box and bleed: what shows, less what lies beyond the trim."""
    a, b, c, d = axes
    outward = {"right": (a, b), "left": (-a, -b), "top": (c, d), "bottom": (-c, -d)}
    normals = {"right": (1, 0), "left": (-1, 0), "top": (0, 1), "bottom": (0, -1)}
    edges, beyond = set(), []
    for edge, mm in to_trim.items():
        if mm <= TOUCH_MM:
            nx, ny = normals[edge]
            # the picture's own edge that points most nearly the page's way
            edges.add(max(outward, key=lambda e: _along(outward[e], nx, ny)))
            beyond.append(max(0.0, -mm))
    width, height = across * crop.width * POINT_MM, down * crop.height * POINT_MM
    bleed = min(beyond, default=0.0)
    sides = len(edges & {"left", "right"}), len(edges & {"top", "bottom"})
    most = min([size / n for size, n in zip((width, height), sides, strict=True) if n] or [bleed])
    # a turned picture may reach beyond the trim with a corner wider than itself
    bleed = min(bleed, 0.49 * most)
    return Placement(
        width - bleed * sides[0],
        height - bleed * sides[1],
        bleed,
        frozenset(edges),
        crop,
        page,
        exact=True,
    )


def _along(vector: Point, x: float, y: float) -> float:
    return (vector[0] * x + vector[1] * y) / math.hypot(*vector)


def _shear(a: float, b: float, c: float, d: float) -> float:
    """Return by how many degrees the axes are off the right angle."""
    between = math.degrees(math.atan2(d, c) - math.atan2(b, a)) % 180
    return between - 90


def _words(facts: dict[str, Any]) -> str:
    across, down = facts["ppi"]
    text = f"{figure(across)} x {figure(down, 'ppi')} on the page"
    if facts["turn"]:
        text += f", turned {facts['turn']:g} degrees"
    if facts["mirrored"]:
        text += ", mirrored"
    if abs(facts["shear"]) > 0.05:
        text += f", sheared {facts['shear']:g} degrees"
    return text


def _filters(item: Any) -> Iterator[str]:
    import pypdfium2.raw as raw

    for i in range(raw.FPDFImageObj_GetImageFilterCount(item)):
        buffer = ctypes.create_string_buffer(64)
        raw.FPDFImageObj_GetImageFilter(item, i, buffer, len(buffer))
        yield buffer.value.decode("ascii", "replace")


def _matrix(item: Any) -> Matrix:
    import pypdfium2.raw as raw

    m = raw.FS_MATRIX()
    if not raw.FPDFPageObj_GetMatrix(item, m):
        raise UnreadPages("an object without a place")
    return (m.a, m.b, m.c, m.d, m.e, m.f)


def _clips(item: Any) -> Iterator[Polygon]:
    """Yield each clip path as a convex polygon: as it is, or else the rectangle around it."""
    import pypdfium2.raw as raw

    clip = raw.FPDFPageObj_GetClipPath(item)
    for i in range(max(0, raw.FPDFClipPath_CountPaths(clip)) if clip else 0):
        points: list[Point] = []
        plain = True
        for j in range(raw.FPDFClipPath_CountPathSegments(clip, i)):
            segment = raw.FPDFClipPath_GetPathSegment(clip, i, j)
            kind = raw.FPDFPathSegment_GetType(segment)
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            # a second start makes several shapes of one path
            again = bool(points) and kind == raw.FPDF_SEGMENT_MOVETO
            plain &= kind != raw.FPDF_SEGMENT_BEZIERTO and not again
            points.append((x.value, y.value))
        if len(points) > 2:
            yield points if plain and _convex(points) else _corners(_bounds(points))


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
        depth=8, floating=False, alpha=False, orientation=1, pages=1, ppi=None, file_bytes=0,
        icc=icc, exif=None, xmp=None, iptc=None,
    )  # fmt: skip


def _pixels(placed: Placed, item: Any, facts: Any, family: str, mode: str, folder: Path) -> Path:
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


def _corners(box: Sequence[float]) -> Polygon:
    left, bottom, right, top = box
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def _bounds(points: Polygon) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _inside(bounds: Sequence[float], box: Sequence[float]) -> dict[str, float]:
    """Return edge -> how many mm the bounds lie inside the box, less than 0 beyond it."""
    left, bottom, right, top = ((p - q) * POINT_MM for p, q in zip(bounds, box, strict=True))
    distances = {"top": -top, "right": -right, "bottom": bottom, "left": left}
    return {edge: distances[edge] for edge in EDGES}


def _map(matrix: Matrix, x: float, y: float) -> Point:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def _times(first: Matrix, then: Matrix) -> Matrix:
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return (
        a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s,
        e * p + f * r + t, e * q + f * s + u,
    )  # fmt: skip


def _inverse(matrix: Matrix) -> Matrix:
    a, b, c, d, e, f = matrix
    size = a * d - b * c
    p, q, r, s = d / size, -b / size, -c / size, a / size
    return p, q, r, s, -(e * p + f * r), -(e * q + f * s)


def _area(points: Polygon) -> float:
    """Return twice the signed area, more than 0 counter-clockwise."""
    return sum(
        x * v - u * y for (x, y), (u, v) in zip(points, [*points[1:], points[0]], strict=True)
    )


def _turns(points: Polygon) -> Iterator[float]:
    around = [*points, *points[:2]]
    for (a, b), (c, d), (e, f) in zip(around, around[1:], around[2:], strict=False):
        yield (c - a) * (f - d) - (d - b) * (e - c)


def _convex(points: Polygon) -> bool:
    turns = list(_turns(list(dict.fromkeys(points))))
    return min(turns, default=0) >= 0 or max(turns) <= 0


def _cut(shape: Polygon, by: Polygon) -> Polygon:
    """Return what of the polygon `shape` lies in the convex polygon `by` (Sutherland, Hodgman)."""
    by = list(dict.fromkeys(by))
    if len(by) < 3:
        return ()
    by = by if _area(by) > 0 else by[::-1]
    for (x, y), (u, v) in zip(by, [*by[1:], by[0]], strict=True):
        side = [(u - x) * (q - y) - (v - y) * (p - x) for p, q in shape]
        kept: list[Point] = []
        for i, (p, q) in enumerate(shape):
            before, now = side[i - 1], side[i]
            if (before < 0) != (now < 0):
                share = before / (before - now)
                r, s = shape[i - 1]
                kept.append((r + share * (p - r), s + share * (q - s)))
            if now >= 0:
                kept.append((p, q))
        shape = kept
    return shape
