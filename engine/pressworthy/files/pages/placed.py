"""Every placed picture of a page PDF (ISO 32000): where it stands and at what size.

The size on the page comes from the whole chain of matrices, so turned, sheared, mirrored and
nested pictures are measured along their own two axes; clip paths and form boundaries tell which
part shows. PDFium reads the file; what is out of its reach is looked for in `beyond`.
"""

from __future__ import annotations

import ctypes
import math
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, astuple, dataclass, field, replace
from pathlib import Path
from typing import Any

import pikepdf

from pressworthy.files.pages.beyond import beyond, user_unit
from pressworthy.files.pages.colours import spot_inks
from pressworthy.files.pages.document import UnreadPages, opened, page_of
from pressworthy.files.pages.over import over_on
from pressworthy.files.pages.painted import MOST_DEPTH, NotFollowed, Painted, painted_on
from pressworthy.files.pages.plane import (
    Matrix,
    Point,
    Polygon,
    bounds_of,
    convex,
    corners,
    cut,
    inverse,
    mapped,
    times,
)
from pressworthy.files.pages.printing import printing_of
from pressworthy.values.on_page import OnPage
from pressworthy.values.placement import EDGES, Crop, Placement
from pressworthy.values.units import MM_PER_INCH, figure

POINT_MM = MM_PER_INCH / 72
TOUCH_MM = 0.35
"""An edge this near the trim, a point, is meant to be at it (common practice, no source)."""

MOST_PAGES = 2000
MOST_PLACED = 20_000
MOST_OBJECTS = 2_000_000
SECONDS = 60
MOST_MEMORY = 4_000_000_000

_QUARTERS: dict[int, Matrix] = {
    0: (1, 0, 0, 1, 0, 0),
    90: (0, -1, 1, 0, 0, 0),
    180: (-1, 0, 0, -1, 0, 0),
    270: (0, 1, -1, 0, 0, 0),
}
_SQUARE: Polygon = ((0, 0), (1, 0), (1, 1), (0, 1))


Trim = tuple[float, float] | str
"""Where pages without a TrimBox are cut: width and height in mm about the middle of the MediaBox,
or the box that is the trim, `crop` or `media` (ISO 32000-1, 14.11.2)."""

BY_DEFAULT = "default"
"""The trim of pages that state none is the CropBox, as the standard has it, and is told so."""


@dataclass(frozen=True)
class Placed:
    """One picture as one page shows it.

    page: its label, or its number; number: of the picture on its page, in painting order.
    trail: index of the object on the page and in each nested form. width, height: px stored.
    stored: number and generation of its stream, (0, 0) where it stands in the content itself.
    opacity: 0 to 1, that it is painted with; unlike: why what shows is not what its data tell, so
    that its pixels cannot be measured, "" where they can.
    placement: what shows of it, None where nothing does, with the reason in `unseen`, or where
    that cannot be measured, with the reason in `beyond`.
    on_page: what its page says of the printing, without the profile of its output intent.
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
    stored: tuple[int, int] = (0, 0)
    opacity: float = 1.0
    unlike: str = ""
    on_page: OnPage = field(default_factory=OnPage)
    facts: dict[str, Any] = field(default_factory=dict)

    def name(self) -> str:
        """Return what reports call it, the same in every run."""
        return f"{self.pdf.name}, page {self.page}, picture {self.number}"

    def rounded(self) -> Placement | None:
        """Return its placement to a millionth, as matrices leave the last digits open."""
        place = self.placement
        if place is None or not isinstance(place.crop, Crop):
            return place
        crop = Crop(*(round(share, 6) for share in astuple(place.crop)))
        mm = {name: round(getattr(place, name), 6) for name in ("width", "height", "bleed")}
        return replace(place, crop=crop, **mm)


def limit_process() -> None:
    """Bound processor time and memory of this process, which is to read a stranger's PDF."""
    try:
        import resource
    except ImportError:  # no such limits on this system; the watchdog of the workers is left
        return
    for what, most in (
        (resource.RLIMIT_CPU, (SECONDS, SECONDS + 1)),
        (resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY)),
    ):
        # macOS bounds no memory, and no process may raise a lower bound that it was given
        with suppress(ValueError, OSError):
            resource.setrlimit(what, most)


def survey(pdf: Path, trim: Trim = "") -> tuple[Placed, ...]:
    """Return every picture placed on the pages, in their order.

    trim: of pages that state none. Raises UnreadPages, also where a page with pictures has none.
    """
    document = opened(pdf)
    if len(document) > MOST_PAGES:
        raise UnreadPages(f"{len(document)} pages; more than {MOST_PAGES} are not read")
    if user_unit(pdf):
        raise UnreadPages("it uses UserUnit, so that its points are no points; this is not read")
    end = time.monotonic() + SECONDS
    placed: list[Placed] = []
    labels: list[str] = []
    uncut: list[str] = []
    for index in range(len(document)):
        page = page_of(pdf, index)
        labels.append(document.get_page_label(index) or str(index + 1))
        box = trim_box(page, trim, labels[-1])
        on_page = [*_on_page(pdf, document, page, index, end, box, trim)]
        on_page = _followed(pdf, index, on_page, end)
        placed += on_page
        if len(placed) > MOST_PLACED:
            raise UnreadPages(f"more than {MOST_PLACED} placed pictures")
        if on_page and box is None:
            uncut.append(labels[-1])
    if uncut:
        pages = f"page {uncut[0]} has" if len(uncut) == 1 else f"{len(uncut)} pages have"
        raise UnreadPages(
            f"{pages} no TrimBox, so that nothing tells where the paper is cut and what bleeds; "
            "export the PDF with one, or give --trim: a size, such as 210x297mm, in the middle of "
            "the page, or crop or media for that box of the PDF"
        )
    for index, holder in beyond(pdf):
        number = 1 + sum(one.index == index for one in placed)
        why = f"a picture stands in {holder}, where it cannot be measured; look at it yourself"
        lost = Placed(
            pdf, index, labels[index], number, (), 0, 0, (), None, beyond=why,
            on_page=_said(pdf, index, page_of(pdf, index), trim),
        )  # fmt: skip
        placed.append(lost)
    return tuple(sorted(placed, key=lambda one: (one.index, one.number)))


def trim_box(page: Any, trim: Trim, label: str) -> Sequence[float] | None:
    """Return left, bottom, right and top of the trim, in points before the page is turned."""
    if box := page.get_trimbox(fallback_ok=False):
        return tuple(box)
    if not isinstance(trim, tuple):
        boxes = dict.fromkeys(("crop", BY_DEFAULT), page.get_cropbox)
        boxes["media"] = page.get_mediabox
        return tuple(boxes[trim]()) if trim else None
    left, bottom, right, top = page.get_mediabox()
    size = [mm / POINT_MM for mm in (trim[::-1] if page.get_rotation() % 180 else trim)]
    over = [side - have for side, have in zip(size, (right - left, top - bottom), strict=True)]
    if max(over) * POINT_MM > TOUCH_MM:
        wide, high = (figure(mm) for mm in trim)
        raise UnreadPages(f"page {label} is smaller than --trim {wide} x {high} mm; give its trim")
    return (left - over[0] / 2, bottom - over[1] / 2, right + over[0] / 2, top + over[1] / 2)


def _on_page(
    pdf: Path,
    document: Any,
    page: Any,
    index: int,
    end: float,
    box: Sequence[float] | None,
    cut: Trim,
) -> Iterator[Placed]:
    import pypdfium2.raw as raw

    turn = _QUARTERS[page.get_rotation() % 360]
    media, trim, bleed = (
        bounds_of([mapped(turn, x, y) for x, y in corners(box)])
        for box in (page.get_mediabox(), box or page.get_mediabox(), page.get_bleedbox())
    )
    label = document.get_page_label(index) or str(index + 1)
    window = (corners(media),)
    told = _said(pdf, index, page, cut)
    objects = _walk(raw.FPDFPage_CountObjects, raw.FPDFPage_GetObject, page, turn, window, end)
    for number, (trail, item, matrix, clips) in enumerate(objects, 1):
        width, height = ctypes.c_uint(), ctypes.c_uint()
        raw.FPDFImageObj_GetImagePixelSize(item, width, height)
        filters = tuple(_filters(item))
        placed = Placed(
            pdf, index, label, number, trail, width.value, height.value, filters, None,
            on_page=told,
        )  # fmt: skip
        yield _stood(placed, matrix, clips, trim, bleed)


def _said(pdf: Path, index: int, page: Any, trim: Trim) -> OnPage:
    """Return what a page says of its printing, and where its trim is from."""
    stated = page.get_trimbox(fallback_ok=False) is not None
    origin = "stated" if stated else "assumed" if trim in ("", BY_DEFAULT) else "given"
    return replace(printing_of(pdf, index), trim=origin)


def _followed(pdf: Path, index: int, on_page: list[Placed], end: float) -> list[Placed]:
    """Return the pictures of a page with what its content says of how each is painted."""
    if not on_page:
        return []
    try:
        painted = painted_on(pdf, index, end)
        if [one.size for one in painted] != [(one.width, one.height) for one in on_page]:
            raise NotFollowed("two readers find other pictures in it")
    except NotFollowed as reason:
        why = f"how its page paints it cannot be followed: {reason}"
        return [replace(one, placement=None, beyond=why) for one in on_page]
    told = [_as_painted(one, how) for one, how in zip(on_page, painted, strict=True)]
    try:
        over = over_on(pdf, index, end)
    except NotFollowed:
        # what lies over pictures is told where it can be
        return told
    if not over:
        return told
    return [
        replace(one, on_page=replace(one.on_page, **asdict(above)))
        for one, above in zip(told, over, strict=True)
    ]


def _as_painted(placed: Placed, how: Painted) -> Placed:
    try:
        inks = spot_inks(how.image.get("/ColorSpace"), how.resources)
    except (pikepdf.PdfError, TypeError, ValueError):
        # that its objects are damaged is told where its pixels are taken out
        inks = ()
    placed = replace(
        placed, stored=how.image.objgen, opacity=how.opacity, unlike=how.unlike,
        on_page=replace(placed.on_page, inks=inks),
    )  # fmt: skip
    if how.hidden and not placed.unseen:
        unseen = f"on the hidden layer {how.hidden}: no reader sees it"
    elif how.opacity <= 0 and not placed.unseen:
        unseen = "painted wholly transparent: no reader sees it"
    else:
        return placed
    return replace(placed, placement=None, unseen=unseen)


def _walk(
    count: Any, get: Any, owner: Any, matrix: Matrix, clips: Sequence[Polygon], end: float
) -> Iterator[tuple[tuple[int, ...], Any, Matrix, list[Polygon]]]:
    """Yield trail, object, matrix to the page and clips on the page of every picture in `owner`."""
    import pypdfium2.raw as raw

    walked = 0
    stack: list[tuple[Any, Any, Any, Matrix, list[Polygon], tuple[int, ...], int]]
    stack = [(count, get, owner, matrix, list(clips), (), 0)]
    # depth first and in order: what a form holds comes where the form is painted
    while stack:
        count, get, owner, matrix, clips, trail, start = stack.pop()
        for i in range(start, count(owner)):
            walked += 1
            if walked > MOST_OBJECTS or (walked % 1000 == 0 and time.monotonic() > end):
                raise UnreadPages("its pages hold more objects than can be looked through")
            item = get(owner, i)
            kind = raw.FPDFPageObj_GetType(item)
            if kind not in (raw.FPDF_PAGEOBJ_IMAGE, raw.FPDF_PAGEOBJ_FORM):
                continue
            own = [*clips, *([mapped(matrix, *p) for p in clip] for clip in _clips(item))]
            chained = times(_matrix(item), matrix)
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


def _stood(
    placed: Placed, matrix: Matrix, clips: Sequence[Polygon], trim: Sequence[float],
    bleed: Sequence[float],
) -> Placed:  # fmt: skip
    """Return the picture with its place on the page worked out."""
    a, b, c, d, _, _ = matrix
    across, down = math.hypot(a, b), math.hypot(c, d)
    if not across or not down or abs(a * d - b * c) < 1e-9 * across * down:
        return replace(placed, unseen="it is placed at no size")
    if not placed.width or not placed.height:
        lost = f"it states {placed.width} x {placed.height} px: the page shows nothing of it"
        return replace(placed, placement=None, beyond=lost)
    ppi = placed.width / across * 72, placed.height / down * 72
    facts: dict[str, Any] = {
        "placed": [round(across * POINT_MM, 3), round(down * POINT_MM, 3)],
        "ppi": [round(part, 2) for part in ppi],
        "turn": round(math.degrees(math.atan2(b, a)), 2) + 0.0,
        "shear": round(_shear(a, b, c, d), 2) + 0.0,
        "mirrored": a * d - b * c < 0,
        "compression": placed.filters[-1] if placed.filters else "none",
        "trim box": placed.on_page.trim,
    }
    shape: Polygon = [mapped(matrix, *corner) for corner in _SQUARE]
    for clip in clips:
        shape = cut(shape, clip)
    if len(cut(shape, corners(trim))) < 3:
        hidden = "clipped away" if len(shape) < 3 else "wholly outside the trim box"
        return replace(placed, unseen=f"{hidden}: no reader sees it", facts=facts)
    bounds = bounds_of(shape)
    to_trim, to_bleed = (_inside(bounds, box) for box in (trim, bleed))
    facts["trim"] = {edge: round(mm, 3) + 0.0 for edge, mm in to_trim.items()}
    facts["bleed box"] = {edge: round(mm, 3) + 0.0 for edge, mm in to_bleed.items()}
    back = inverse(matrix)
    left, bottom, right, top = bounds_of([mapped(back, *point) for point in shape])
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
    if facts["trim box"] != "stated":
        text += f", its trim as {facts['trim box']}"
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
            yield points if plain and convex(points) else corners(bounds_of(points))


def _inside(bounds: Sequence[float], box: Sequence[float]) -> dict[str, float]:
    """Return edge -> how many mm the bounds lie inside the box, less than 0 beyond it."""
    left, bottom, right, top = ((p - q) * POINT_MM for p, q in zip(bounds, box, strict=True))
    distances = {"top": -top, "right": -right, "bottom": bottom, "left": left}
    return {edge: distances[edge] for edge in EDGES}
