"""A page PDF opened: by PDFium for its pages, by pikepdf for its objects.

What was opened last stays open in this process, so that the next picture of the same pages finds
its document, and mostly its page, as they are.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import pikepdf


class UnreadPages(Exception):  # noqa: N818 - said to a person as it is
    """The PDF as a whole cannot be read, with the reason."""


def opened(pdf: Path) -> Any:
    """Return the PDF as PDFium reads it. Raises UnreadPages."""
    return _opened(*as_it_stands(pdf))


def page_of(pdf: Path, index: int) -> Any:
    """Return a page as PDFium reads it. Raises UnreadPages."""
    return _page(*as_it_stands(pdf), index)


def objects_of(pdf: Path) -> pikepdf.Pdf:
    """Return the PDF as a tree of objects. Raises pikepdf.PdfError."""
    return _objects(*as_it_stands(pdf))


def as_it_stands(pdf: Path) -> tuple[Path, int, int]:
    """Return the file with what tells it from another one under its name."""
    try:
        facts = pdf.stat()
        with pdf.open("rb") as stream:
            start = stream.read(1024)
    except OSError as error:
        raise UnreadPages(f"cannot be read: {error.strerror}") from None
    if b"%PDF-" not in start:
        raise UnreadPages("not a PDF")
    return pdf, facts.st_mtime_ns, facts.st_size


@lru_cache(maxsize=1)
def _opened(pdf: Path, _changed: int, _size: int) -> Any:
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(pdf)
        pages = len(document)
    except pypdfium2.PdfiumError as error:
        secret = "assword" in str(error) or "ecurity" in str(error)
        fault = "encrypted: it needs a password" if secret else f"damaged: {error}"
        raise UnreadPages(fault) from None
    if not pages:
        raise UnreadPages("it has no pages")
    return document


@lru_cache(maxsize=1)
def _page(pdf: Path, changed: int, size: int, index: int) -> Any:
    try:
        return _opened(pdf, changed, size)[index]
    except UnreadPages:
        raise
    except Exception as error:
        raise UnreadPages(f"page {index + 1} is damaged: {error}") from None


@lru_cache(maxsize=1)
def _objects(pdf: Path, _changed: int, _size: int) -> pikepdf.Pdf:
    return pikepdf.open(pdf)
