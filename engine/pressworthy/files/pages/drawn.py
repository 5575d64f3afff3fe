"""Pages of a PDF as they look: how large each is, and what PDFium draws of it within its trim.

PDFium draws in the RGB of a screen: spot colours, overprint, transparency and CMYK are as it takes
them, not as a press would. Nothing here is a proof of colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.files.pages.beyond import user_unit
from pressworthy.files.pages.document import UnreadPages, opened, page_of
from pressworthy.files.pages.placed import MOST_PAGES, POINT_MM, trim_box

MOST_PPI = 200.0
"""Small pages are not drawn finer than this: a screen shows no more."""

UNKNOWN_MM = 210.0, 297.0
"""The size of a page that cannot be read: A4, ISO 216."""

MOST_POINTS = 1e6
"""Of a page's side: 350 m."""

UNCUT = "crop"
"""The box that is drawn of a page without a TrimBox."""


@dataclass(frozen=True)
class PdfPage:
    """A page as its reader has it: trimmed and upright.

    page: its label, or its number; width, height: of the trim in mm; stated: whether the PDF says
    where the trim is.
    """

    index: int
    page: str
    width: float
    height: float
    stated: bool


def pages_in(pdf: Path) -> tuple[PdfPage, ...]:
    """Return the pages of a PDF in their order. Raises UnreadPages."""
    document = opened(pdf)
    if len(document) > MOST_PAGES:
        raise UnreadPages(f"{len(document)} pages; more than {MOST_PAGES} are not read")
    if user_unit(pdf):
        raise UnreadPages("it uses UserUnit, so that its points are no points; this is not read")
    return tuple(_page(pdf, document, index) for index in range(len(document)))


def _page(pdf: Path, document: Any, index: int) -> PdfPage:
    label = document.get_page_label(index) or str(index + 1)
    try:
        page = page_of(pdf, index)
    except UnreadPages:
        # the others are drawn; why this one is not is told in its place
        return PdfPage(index, label, *UNKNOWN_MM, False)
    stated = page.get_trimbox(fallback_ok=False) is not None
    left, bottom, right, top = _box(page, label)
    size = (right - left) * POINT_MM, (top - bottom) * POINT_MM
    width, height = size[::-1] if page.get_rotation() % 180 else size
    return PdfPage(index, label, width, height, stated)


def _box(page: Any, label: str) -> tuple[float, float, float, float]:
    """Return left, bottom, right, top of what is drawn, in points before the page is turned."""
    box = trim_box(page, UNCUT, label)
    if box and all(
        1 <= end - start <= MOST_POINTS for start, end in zip(box, box[2:], strict=False)
    ):
        left, bottom, right, top = box
        return left, bottom, right, top
    # a box of no size, or of none that is a number, is damage: as PDFium takes it
    size = page.get_size()
    across, down = size[::-1] if page.get_rotation() % 180 else size
    return 0.0, 0.0, max(across, 1.0), max(down, 1.0)


def drawn(pdf: Path, index: int, most_px: int) -> tuple[NDArray[np.uint8], float]:
    """Return a page within its trim as sRGB (height, width, 3) on white, and its ppi.

    most_px: of the longer edge. Notes of readers (annotations) are left out. The page stays cut to
    its trim in this process. Raises UnreadPages.
    """
    import pypdfium2

    page = page_of(pdf, index)
    box = _box(page, str(index + 1))
    try:
        page.set_mediabox(*box)
        page.set_cropbox(*box)
        longest = max(page.get_size())
        if longest <= 0:
            raise UnreadPages(f"page {index + 1} has no size")
        scale = min(most_px / longest, MOST_PPI / 72)
        bitmap = page.render(
            scale=scale, draw_annots=False, may_draw_forms=False, rev_byteorder=True
        )
    except (pypdfium2.PdfiumError, ValueError, MemoryError) as error:
        raise UnreadPages(f"page {index + 1} cannot be drawn: {error}") from None
    values = bitmap.to_numpy()
    if values.ndim == 2:
        values = values[..., None]
    values = values[..., :3] if values.shape[2] >= 3 else values.repeat(3, axis=2)
    # a copy: the bitmap's own memory goes with it
    return np.array(values, np.uint8), scale * 72
