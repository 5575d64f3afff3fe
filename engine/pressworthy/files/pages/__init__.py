"""Page PDFs: how they look, the pictures placed on them, and their pixels."""

from pressworthy.files.pages.document import UnreadPages
from pressworthy.files.pages.drawn import PdfPage, drawn, pages_in
from pressworthy.files.pages.extracted import STENCIL, Extracted, extract
from pressworthy.files.pages.placed import (
    MOST_MEMORY,
    SECONDS,
    Placed,
    Trim,
    limit_process,
    survey,
)

__all__ = [
    "MOST_MEMORY",
    "SECONDS",
    "STENCIL",
    "Extracted",
    "PdfPage",
    "Placed",
    "Trim",
    "UnreadPages",
    "drawn",
    "extract",
    "limit_process",
    "pages_in",
    "survey",
]
